"""From a netlist to the layout that it is the netlist of.

Each part becomes an entry of its section, its fields the entry's keys, and the nets say what it is wired to. The
entries are given to the reader of layouts as if they had been written in a file, each at its place in the netlist,
so that all that is checked and said of a layout is checked and said here too.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from netlister import kinds
from netlister.kinds import KindError
from netlister.layout import devices
from netlister.layout.devices import DEVICES
from netlister.layout.read import read_nodes
from netlister.layout.schema import COMPONENT, COMPONENTS, FORMAT
from netlister.layout.use import used_files
from netlister.netlists.building import Building
from netlister.netlists.drawing import Text, key_of
from netlister.netlists.joints import Joints
from netlister.netlists.nets import DrawnNets
from netlister.netlists.values import entry, mapping, pairs, row, scalar, sequence, texts, written
from netlister.quantity import shown
from netlister.source import Allow, Reader, UnusableError, suggest

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from pathlib import Path

    from netlister.kinds import Library
    from netlister.layout.model import Layout
    from netlister.netlists.drawing import DrawnNetlist, DrawnPart
    from netlister.source import TextNode

CONTACT = "contact"
_LAST = 10**10
_NEAR = 0.75  # how like a known field's name another is before it counts as a slip


def layout_of(drawing: DrawnNetlist, folder: Path | None = None) -> Layout:
    """The layout of a netlist. Raises UnusableError with every fault and its place."""
    build = Rebuild(drawing, folder)
    build.all()
    if build.faults:
        raise UnusableError(dict.fromkeys(build.faults))
    layout = read_nodes(drawing.source, build.root(), folder)
    layout.allows = build.allows
    layout.netlist = True
    layout.drawn = build.nets.drawn()
    for part in drawing.parts:
        if part.name.text != part.reference.text and not is_contact(key_of(part.kind.text)):
            known = layout.drawn.get(part.name.text)
            layout.drawn[part.name.text] = f"{known} and {part.reference.text}" if known else part.reference.text
    return layout


def _order(part: DrawnPart) -> tuple[int, int, str, int]:
    """The line and column of a part's entry in a layout, by its field `Place`, then its reference; else that alone."""
    reference = part.reference.text
    letters = reference.rstrip("0123456789")
    number = int(reference[len(letters) :][:18] or 0)
    place = part.fields.get("place")
    numbers = ["", ""] if place is None else place.text.rsplit(":", 2)[1:]
    if len(numbers) == 2 and all(n.isascii() and n.isdigit() and len(n) < 10 for n in numbers):  # noqa: PLR2004
        return int(numbers[0]), int(numbers[1]), letters, number
    return _LAST, 0, letters, number


def is_contact(kind: str) -> bool:
    """Whether a symbol is a contact; there are several, for the positions of several kinds of turnouts."""
    return kind == CONTACT or kind.startswith(f"{CONTACT}-")


def _unnumber(part: DrawnPart, known: Collection[str]) -> None:
    """Give a part the symbol of which its own is a variant: editors name those `supply_1`, `supply_2` and so on."""
    kind, _, number = part.kind.text.rpartition("_")
    if number.isdigit() and kind in known and part.kind.text not in known:
        part.kind = part.kind._replace(text=kind)


class Rebuild(Building):
    """The sections of a layout, from the parts of a netlist."""

    # ---- all of it

    def all(self) -> None:
        """Turn every part into entries, in the order of the layout that the netlist was written from, where it was."""
        self.drawing.parts.sort(key=_order)
        for part in self.drawing.parts:
            _unnumber(part, {*DEVICES, CONTACT})
            self.by_kind[key_of(part.kind.text)].append(part)
        self._whole()
        self.library = self._library()
        for part in self.drawing.parts:
            _unnumber(part, self.library.names())
        track = self._sort_out()
        for part in track:
            self._find_kind(part)
        if any(kind is None for _, kind in self.pieces.values()) and not self.faults:
            self._faults_of_track()
        if self.faults:
            return
        self._positions()
        kinds_of = {name: kind for name, (_, kind) in self.pieces.items() if kind is not None}
        self.nets = DrawnNets(self.drawing, kinds_of, self._own_terminals(), self._known(), self.fault)
        self._supplies()
        self._buses()
        self._contacts()
        self._movers()
        for name, (part, _) in self.pieces.items():
            self._piece(name, part)
        Joints(self).all()
        self._feeds()
        self._devices()
        self._components()
        self._plugs()
        for part in self.by_kind["wire"]:
            self.wire(part)
        for part in self.nets.wires:
            self.wire(part)
        for one, other, span in self.nets.ties():
            pair = [self.given("from", one, span), self.given("to", other, span)]
            self.lists["wires"].append(mapping(pair, span))

    def root(self) -> TextNode:
        """The whole as the reader of layouts takes it."""
        start = self.start
        whole = [self.given("format", FORMAT, start), *self.top]
        if self.boards:
            entries = []
            for board, things in self.boards.items():
                span = things[0][1]
                items = [scalar(name, s) for name, s in things]
                entries.append((scalar(board, span), sequence(items, span)))
            self.named["boards"] = entries
        for section, entries in self.named.items():
            if entries:
                whole.append(entry(section, start, mapping(entries, start)))
        for section, items in self.lists.items():
            if items:
                whole.append(entry(section, start, sequence(items, start)))
        return mapping(whole, start)

    # ---- which symbol is what

    def _sort_out(self) -> list[DrawnPart]:
        """The pieces of track; faults for parts of unknown symbols and for fields that are nearly known."""
        track = []
        known = self.library.names()
        for part in self.drawing.parts:
            kind = key_of(part.kind.text)
            if kind in DEVICES:
                self._check_pins(part, DEVICES[kind].pins)
                self._check_fields(part, DEVICES[kind].fields)
            elif is_contact(kind):
                self._check_fields(part, (*devices.CONTACT_FIELDS, *(f for f in part.fields if f[:9] == "terminal-")))
            elif part.kind.text in known:
                track.append(part)
                options = self.library.takes(part.kind.text).options
                sets = [field for field in part.fields if field.startswith(("set-", "thrown-by-"))]
                self._check_fields(part, (*devices.PIECE_FIELDS, *options, *sets))
            else:
                names = [*known, *DEVICES, CONTACT]
                hint = suggest(part.kind.text, names) or "; draw with the symbols that 'netlister symbols' writes"
                message = (
                    f"'{shown(part.reference.text)}' is of the symbol '{shown(part.kind.text)}', which is not known"
                )
                self.fault(part.kind.span, message + hint)
            self._common_fields(part, kind)
        return track

    def _check_pins(self, part: DrawnPart, pins: tuple[str, ...]) -> None:
        for name, pin in part.pins.items():
            if name not in pins:
                kind = key_of(part.kind.text)
                listed = f"; its pins are {', '.join(pins)}" if len(pins) < 12 else ""  # noqa: PLR2004
                message = f"'{shown(part.reference.text)}', a '{shown(kind)}', has no pin '{shown(name)}'"
                self.fault(pin.span, message + (suggest(name, pins) or listed))

    def _check_fields(self, part: DrawnPart, known: Iterable[str]) -> None:
        """A field that is not known is the draughtsman's own, unless other parts take it or it is nearly known."""
        keys = {*known, *devices.EVERY_PART}
        for field, value in part.fields.items():
            if field in keys:
                continue
            written = shown(part.named.get(field, field))
            near = get_close_matches(field, sorted(keys - {"place", "conducts"}), n=1, cutoff=_NEAR)
            if near:
                message = f"'{shown(part.reference.text)}' has a field '{written}' that is not known"
                self.fault(value.span, f"{message}; did you mean '{near[0]}'?")
            elif field in self._fields_of_others():
                message = f"'{shown(part.reference.text)}', a '{shown(part.kind.text)}', takes no field '{written}'"
                self.fault(value.span, f"{message}; leave it out")

    def _fields_of_others(self) -> set[str]:
        """The fields that any part takes."""
        if not self._others:
            self._others = {*devices.PIECE_FIELDS, *devices.CONTACT_FIELDS}
            self._others |= {key for device in DEVICES.values() for key in device.fields}
            self._others |= {option for name in self.library.names() for option in self.library.takes(name).options}
        return self._others

    def _common_fields(self, part: DrawnPart, kind: str) -> None:
        """Its baseboard, and what is allowed there."""
        board = part.fields.get("board")
        thing = part.fields.get("plug", part.name) if kind == "plug-pin" else part.name
        if board is not None and kind not in {"metal-joiner", "insulated-joiner", "feed", "lead", "wire", "contact"}:
            text = thing.text.partition(".")[0] if kind == "terminal" else thing.text
            for name in board.text.split(", "):
                things = self.boards.setdefault(name, [])
                if all(text != other for other, _ in things):
                    things.append((text, board.span))
        allow = part.fields.get("allow")
        if allow is not None:
            rule, _, reason = allow.text.partition(":")
            self.allows.append(Allow(rule.strip(), reason.strip(), part.reference.span))

    # ---- the layout as a whole

    def _whole(self) -> None:
        title = self.drawing.title
        for part in self.by_kind["layout"]:
            self.top += self.plain(part, "title", "notes", "rail", "gauge", "gap", "joiner", "contact", "blade")
            title = None if "title" in part.fields else title
            self.top += [e for e in (self.made(part, "limits", pairs), self.made(part, "use", row)) if e is not None]
            for key in ("never", "expect", "trains"):
                made = self.made(part, key, written)
                if made is not None and key == "trains":
                    self.named["trains"] += made[1].value
                elif made is not None:
                    self.top.append(made)
        if title is not None:
            self.top.append(self.given("title", title.text, title.span))

    def _library(self) -> Library:
        """The kinds, with those of the files that the layout uses; what is wrong with these is told later."""
        reader = Reader(self.drawing.source)
        for name, value in self.top:
            if name.value == "use":
                try:
                    return kinds.library(None, used_files(reader, value, self.folder))
                except UnusableError:
                    break
        return kinds.library(None, [])

    # ---- track

    def _options(self, part: DrawnPart) -> list[tuple[str, Text]]:
        """What an entry of a piece says, but for what only comes of nets."""
        found = {}
        listed = part.fields.get("options")
        if listed is not None:
            node = self.node(pairs, listed)
            for name, value in () if node is None else node.value:
                found[name.value] = Text(str(value.value), listed.span)
        takes = self.library.takes(part.kind.text)
        own = {*devices.PIECE_FIELDS, *takes.options} - {"options", "set", "thrown-by"}
        found.update({key: value for key, value in part.fields.items() if key in own})
        if "radius" in found or "angle" in found:
            found.pop("length", None)
        return list(found.items())

    def _find_kind(self, part: DrawnPart) -> None:
        """Note a piece with its kind for its hand and options, which say what pins it has."""
        options = dict(self._options(part))
        takes = self.library.takes(part.kind.text)
        chosen = tuple((name, options[name].text) for name in takes.options if name in options)
        hand = options["hand"].text if "hand" in options else ""
        try:
            kind = self.library.kind(part.kind.text, hand, chosen)
        except KindError:
            kind = None
        if bool(hand) != bool(takes.hands):
            kind = None
        if kind is not None:
            self._check_pins(part, kind.rails)
        name = part.name.text
        if name in self.pieces:
            first = self.pieces[name][0].reference
            message = (
                f"'{shown(name)}' is here a second time; '{shown(first.text)}' in line {first.span.line} has the name"
            )
            self.fault(part.name.span, message)
            return
        self.pieces[name] = (part, kind)

    def _faults_of_track(self) -> None:
        """Let the reader of layouts say what is wrong with the kinds, hands and options of the pieces."""
        entries = []
        for name, (part, _) in self.pieces.items():
            span = part.reference.span
            value = texts(span, [("kind", part.kind), *self._options(part)])
            entries.append((scalar(name, span), value))
        start = self.start
        used = [e for e in self.top if e[0].value == "use"]
        supply = mapping([self.given("type", "dcc", start), self.given("voltage", "1 V", start)], start)
        supplies = mapping([(scalar("?", start), supply)], start)
        whole = [
            *(self.given("format", FORMAT, start), *used),
            *(entry("supplies", start, supplies), entry("track", start, mapping(entries, start))),
        ]
        try:
            read_nodes(self.drawing.source, mapping(whole, start), self.folder)
        except UnusableError as error:
            self.faults += error.faults

    def _piece(self, name: str, part: DrawnPart) -> None:
        """The entry of a piece of track."""
        span = part.reference.span
        entries = [entry("kind", part.kind.span, scalar(part.kind.text, part.kind.span))]
        for key, value in self._options(part):
            entries.append(entry(key, value.span, scalar(value.text, value.span)))
        whole = self.made(part, "set", written)
        tracks = []
        for key, value in part.fields.items():
            if key.startswith("set-"):
                node = self.node(pairs, value)
                if node is not None:
                    tracks.append((scalar(key[len("set-") :], value.span), node))
        if tracks:
            whole = entry("set", span, mapping(tracks, span))
        if name in self.contacts:
            entries.append(entry("contacts", span, mapping(self.contacts.pop(name), span)))
        self.add("track", part, [*entries, whole], name)

    # ---- what moves

    def _positions(self) -> None:
        """The positions of everything that has some."""
        bars: dict[str, tuple[str, ...]] = {}
        for name, (_, kind) in self.pieces.items():
            for bar in () if kind is None else kind.bars:
                bars[f"{name}.{bar.name}".rstrip(".")] = bar.positions
        self.positions |= bars
        for part in self.by_kind["machine"]:
            value = part.fields.get("throws")
            node = None if value is None else self.node(row, value)
            for item in () if node is None else node.value[:1]:
                first = item.value if isinstance(item.value, str) else item.value[0][0].value
                self.positions[part.name.text] = bars.get(first, ())
        for name, thrown in self._thrown().items():
            self.positions.setdefault(name, bars.get(thrown[0].text, ()))
        for part in self.by_kind["switch"]:
            value = part.fields.get("positions")
            node = None if value is None else self.node(row, value)
            items = () if node is None else node.value
            self.positions[part.name.text] = tuple(str(item.value) for item in items)
        for part in self.by_kind["switch"]:
            if not self.positions[part.name.text] and "follows" in part.fields:
                self.positions[part.name.text] = self.positions.get(part.fields["follows"].text, ())

    def _thrown(self) -> dict[str, list[Text]]:
        """The machines that are only named by the turnouts that they throw, with these."""
        drawn = {part.name.text for part in self.by_kind["machine"]}
        found: dict[str, list[Text]] = {}
        for name, (part, _) in self.pieces.items():
            for key, value in part.fields.items():
                if key.startswith("thrown-by") and value.text not in drawn:
                    bar = key[len("thrown-by-") :]
                    found.setdefault(value.text, []).append(Text(f"{name}.{bar}" if bar else name, value.span))
        return found

    def _movers(self) -> None:
        """Machines, hand switches and relays, with their contacts."""
        drawn = self._thrown()
        for part in self.by_kind["machine"]:
            name = part.name.text
            self.add("machines", part, [self.made(part, "throws", row), *self.plain(part, "type"), self._own(name)])
        for name, bars in drawn.items():
            span = bars[0].span
            throws = sequence([scalar(bar.text, bar.span) for bar in bars], span)
            value = mapping([e for e in (entry("throws", span, throws), self._own(name)) if e is not None], span)
            self.named["machines"].append((scalar(name, span), value))
        for part in self.by_kind["switch"]:
            own = self._own(part.name.text)
            fields = self.plain(part, "follows", "type", "rest")
            self.add("switches", part, [self.made(part, "positions", row), *fields, own])

    def _own(self, name: str) -> tuple[TextNode, TextNode] | None:
        """The contacts of a machine or switch."""
        found = self.contacts.pop(name, None)
        return None if not found else entry("contacts", self.start, mapping(found, self.start))

    def _contacts(self) -> None:
        """Contacts, each under what moves it."""
        for part in self._contact_parts():
            owner, name = self._owner(part)
            if owner is not None:
                self._contact(part, key_of(part.kind.text), owner, name)

    def _contact(self, part: DrawnPart, kind: str, owner: str, name: str) -> None:
        span = part.reference.span
        entries = []
        for pin in part.pins.values():
            place = self._position(owner, pin.name)
            terminal = self.nets.contact(part, place, pin)
            if not self.positions[owner]:
                continue  # what is wrong with its owner is told there
            if place not in {"common", *self.positions[owner]}:
                self.fault(pin.span, self._no_pin(part, owner, place))
            elif terminal:
                entries.append(self.given(place, terminal, pin.span))
        entries += self.plain(part, "action")
        if kind.endswith("make-before-break") and "action" not in part.fields:
            entries.append(self.given("action", "make-before-break", part.kind.span))
        self.contacts[owner].append((scalar(name, span), mapping(entries, span)))

    def _no_pin(self, part: DrawnPart, owner: str, place: str) -> str:
        positions = ", ".join(self.positions[owner])
        message = (
            f"'{shown(part.reference.text)}' has a pin '{shown(place)}', and '{shown(owner)}' has no such position"
        )
        return f"{message}; its positions are {positions}"

    def _owner(self, part: DrawnPart) -> tuple[str | None, str]:
        """What moves a contact, and what the contact is called."""
        name = part.name.text
        moved = part.fields.get("moved-by")
        if moved is None:
            message = (
                f"'{shown(part.reference.text)}' does not say what moves it; write the name of a machine, a switch or "
                "a turnout in its field 'Moved by'"
            )
            self.fault(part.reference.span, message)
            return None, name
        owner = moved.text
        if owner not in self.positions:
            message = f"there is no machine, switch or turnout '{shown(owner)}'"
            movers = sorted(self.positions)
            listed = f"; there are {', '.join(movers)}" if 0 < len(movers) < 9 else ""  # noqa: PLR2004
            self.fault(moved.span, message + (suggest(owner, movers) or listed))
            return None, name
        return owner, name.removeprefix(owner + ".")

    # ---- supplies and what hangs on them

    def _supplies(self) -> None:
        for part in self.by_kind["supply"]:
            common = self.nets.commons.get(part.name.text)
            tie = self.given("common", common, part.reference.span) if common else None
            self.add("supplies", part, [*self.plain(part, *DEVICES["supply"].fields), tie])

    def _contact_parts(self) -> list[DrawnPart]:
        """All contacts, in the order of the netlist."""
        return [p for p in self.drawing.parts if is_contact(key_of(p.kind.text))]

    def _own_terminals(self) -> dict[tuple[str, str], str]:
        """Per pin of a contact, by reference and pin, the name of its own terminal."""
        found = {}
        for part in self._contact_parts():
            owner, name = self._owner(part)
            if owner is not None:
                for pin in part.pins:
                    found[part.reference.text, pin] = f"{owner}.{name}.{self._position(owner, pin)}"
        return found

    def _position(self, owner: str, pin: str) -> str:
        """The position that a pin of a contact stands for: by name, else by number."""
        positions = self.positions[owner]
        if pin not in {"common", *positions} and pin.isdigit() and 0 < int(pin) <= len(positions):
            return positions[int(pin) - 1]
        return pin

    def _known(self) -> set[str]:
        """The names that a layout knows, which no junction may begin with."""
        wiring = {
            "metal-joiner",
            "insulated-joiner",
            "feed",
            "lead",
            "wire",
            "contact",
            "terminal",
            "layout",
            "plug-pin",
        }
        found = {p.name.text for kind, parts in self.by_kind.items() if kind not in wiring for p in parts}
        found |= {p.fields["plug"].text if "plug" in p.fields else p.name.text for p in self.by_kind["plug-pin"]}
        return found | set(self.positions) | set(self.boards) | {name.value for name, _ in self.named["trains"]}

    def _buses(self) -> None:
        for part in self.by_kind["bus"]:
            colours = self.made(part, "colours", pairs)
            given = [(letter, part.fields.get(f"colour-{letter.lower()}")) for letter in "AB"]
            stated = [(letter, value) for letter, value in given if value is not None]
            if stated:
                colours = entry("colours", stated[0][1].span, texts(part.reference.span, stated))
            fields = self.plain(part, "wire", "length", "form", "from", "at", "breaker", "trip-time")
            supply = None
            if "from" not in part.fields:
                named = self.nets.bus_supply.get(part.name.text)
                supply = self.given("supply", named, part.reference.span) if named else None
                supply = supply or next(iter(self.plain(part, "supply")), None)
            self.add("buses", part, [supply, *fields, colours])

    def _feeds(self) -> None:
        from netlister.netlists.feeds import Feeds

        Feeds(self).all()

    def _devices(self) -> None:
        """Reversers and frog units."""
        for kind in ("automatic-reverser", "following-reverser"):
            for part in self.by_kind[kind]:
                source = self.nets.source(part, ("in-A", "in-B"))
                fields = self.plain(part, "time", "follows")
                if kind == "automatic-reverser":
                    fields.append(self.given("mode", "automatic", part.kind.span))
                if source is not None:
                    fields.append(self.given("from", source, part.reference.span))
                self.add("reversers", part, [*fields, self.made(part, "straight", row)])
        for part in self.by_kind["frog-unit"]:
            source = self.nets.source(part, ("A", "B"))
            frog = self.nets.frog(part)
            fields = self.plain(part, "time")
            if source is not None:
                fields.append(self.given("from", source, part.reference.span))
            if frog is None:
                message = f"'{shown(part.reference.text)}' feeds no frog; join its pin 'frog' to the frog of a turnout"
                self.fault(part.reference.span, message)
                continue
            self.add("frog-units", part, [*fields, self.given("feeds", frog, part.reference.span)])

    def _components(self) -> None:
        for kind in COMPONENTS:
            for part in self.by_kind[kind]:
                fields = self.plain(part, *(key.name for key in COMPONENT.row if key.field))
                self.add("components", part, [self.given("kind", kind, part.kind.span), *self.ends(part), *fields])

    def _plugs(self) -> None:
        plugs: dict[str, list[DrawnPart]] = {}
        for part in self.by_kind["plug-pin"]:
            plug, _, _ = part.name.text.partition(".")
            plug = part.fields["plug"].text if "plug" in part.fields else plug
            plugs.setdefault(plug, []).append(part)
        for plug, parts in plugs.items():
            first = parts[0]
            pins = []
            for part in parts:
                _, _, number = part.name.text.partition(".")
                number = part.fields["pin"].text if "pin" in part.fields else number or part.name.text
                both = [scalar(*self.nets.end(part, pin)) for pin in "12"]
                pins.append((scalar(number, part.reference.span), sequence(both, part.reference.span)))
            span = first.reference.span
            optional = next((p for p in parts if "optional" in p.fields), first)
            self.add(
                "plugs", first, [entry("pins", span, mapping(pins, span)), *self.plain(optional, "optional")], plug
            )
        for part in self.by_kind["plug"]:
            if part.name.text not in plugs:
                span = part.reference.span
                self.add("plugs", part, [entry("pins", span, mapping([], span)), *self.plain(part, "optional")])

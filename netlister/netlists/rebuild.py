"""From a netlist to the layout that it is the netlist of.

Each part becomes an entry of its section, its fields the entry's keys, and the nets say what it is wired to. The
entries are given to the reader of layouts as if they had been written in a file, each at its place in the netlist,
so that all that is checked and said of a layout is checked and said here too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.devices import DEVICES
from netlister.layout.drawing import DrawnAs
from netlister.layout.read import read_nodes
from netlister.layout.schema import COMPONENT, COMPONENTS, DATA, FORMAT, NAMED
from netlister.layout.terminal import named
from netlister.netlists.drawing import PlacedText, key_of
from netlister.netlists.joints import JointMaker
from netlister.netlists.nets import DrawnNets
from netlister.netlists.sorting import CONTACT, Sorting, is_contact
from netlister.netlists.values import entry, mapping, pairs, row, scalar, sequence, texts, written
from netlister.quantity import shown
from netlister.source import UnusableError, suggest

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from netlister.layout.drawing import DrawnLayout
    from netlister.layout.model import Layout
    from netlister.netlists.drawing import DrawnNetlist, DrawnPart
    from netlister.source import TextNode

_LAST = 10**10
"""The line of an entry that does not say where it stood: after all others."""


def layout_of(drawing: DrawnNetlist, folder: Path | None = None) -> Layout:
    """The layout of a netlist. Raises UnusableError with every fault and its place."""
    build = Rebuild(drawing, folder)
    build.all()
    if build.faults:
        raise UnusableError(dict.fromkeys(build.faults))
    layout = read_nodes(drawing.source, build.root(), folder)
    layout.allows = build.allows
    layout.drawing = build.record()
    return layout


def _order(part: DrawnPart) -> tuple[int, int, str, int]:
    """The order of parts: by the line and column in their field `Place`, those without it last; then by reference."""
    reference = part.reference.text
    letters = reference.rstrip("0123456789")
    number = int(reference[len(letters) :][:18] or 0)
    place = part.fields.get("place")
    numbers = ["", ""] if place is None else place.text.rsplit(":", 2)[1:]
    if len(numbers) == 2 and all(n.isascii() and n.isdigit() and len(n) < 10 for n in numbers):  # noqa: PLR2004
        return int(numbers[0]), int(numbers[1]), letters, number
    return _LAST, 0, letters, number


def _unnumber(part: DrawnPart, known: Collection[str]) -> None:
    """Name a part's kind without the number that editors add where a symbol was altered: `supply_1` is `supply`."""
    kind, _, number = part.kind.text.rpartition("_")
    if number.isdigit() and kind in known and part.kind.text not in known:
        part.kind = PlacedText(kind, part.kind.span)


class Rebuild(Sorting):
    """The sections of a layout, from the parts of a netlist."""

    # ---- all of it

    def all(self) -> None:
        """Turn every part into entries, in the order of the layout that the netlist was written from, where it was."""
        self.drawing.parts.sort(key=_order)
        devices = {*DEVICES, CONTACT}
        for part in self.drawing.parts:
            _unnumber(part, devices)
            self.by_kind[key_of(part.kind.text)].append(part)
        self.read_whole()
        self.library = self.read_library()
        pieces = frozenset(self.library.names())
        for part in self.drawing.parts:
            _unnumber(part, pieces)
        track = self.sort_out()
        for part in track:
            self.find_kind(part)
        if any(kind is None for _, kind in self.pieces.values()) and not self.faults:
            self.faults_of_track()
        if self.faults:
            return
        self._positions()
        kinds_of = {name: kind for name, (_, kind) in self.pieces.items() if kind is not None}
        self.nets = DrawnNets(self.drawing, kinds_of, self._own_terminals(), self._known(), self.fault)
        self._supplies()
        self._buses()
        self._contacts()
        self._moving()
        for name, (part, _) in self.pieces.items():
            self._piece(name, part)
        JointMaker(self).all()
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
            self.drawn.links.append("")

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

    def record(self) -> DrawnLayout:
        """What the entries are in the drawing."""
        drawn = self.drawn
        drawn.names = names = self.nets.drawn()
        drawn.leads = self.nets.leads
        drawn.nets = {named(*rail): net for net, rails in self.nets.rails.items() for rail in rails}
        for part in self.drawing.parts:
            reference, name, kind = part.reference.text, part.name.text, key_of(part.kind.text)
            drawn.parts[part.reference.span] = DrawnAs(reference, kind)
            if kind == "terminal":
                drawn.screws[name] = reference
            if name != reference and not is_contact(kind):
                names[name] = f"{names[name]} and {reference}" if name in names else reference
        return drawn

    # ---- track

    def _piece(self, name: str, part: DrawnPart) -> None:
        """The entry of a piece of track."""
        span = part.reference.span
        entries = [entry("kind", part.kind.span, scalar(part.kind.text, part.kind.span))]
        for key, value in self.options_of(part):
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

    def _thrown(self) -> dict[str, list[PlacedText]]:
        """The machines that have no part of their own, only turnouts that name them; per machine the tie bars."""
        drawn = {part.name.text for part in self.by_kind["machine"]}
        found: dict[str, list[PlacedText]] = {}
        for name, (part, _) in self.pieces.items():
            for key, value in part.fields.items():
                if key.startswith("thrown-by") and value.text not in drawn:
                    bar = key[len("thrown-by-") :]
                    found.setdefault(value.text, []).append(PlacedText(f"{name}.{bar}" if bar else name, value.span))
        return found

    def _moving(self) -> None:
        """Machines, hand switches and relays, with their contacts."""
        undrawn = self._thrown()
        for part in self.by_kind["machine"]:
            name = part.name.text
            self.add("machines", part, [self.made(part, "throws", row), *self.plain(part, "type"), self._own(name)])
        for name, bars in undrawn.items():
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
                continue  # what is wrong with its owner is reported there
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
            known = sorted(self.positions)
            listed = f"; there are {', '.join(known)}" if 0 < len(known) < 9 else ""  # noqa: PLR2004
            self.fault(moved.span, message + (suggest(owner, known) or listed))
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
        """The position of a pin of a contact: by name, else by number."""
        positions = self.positions[owner]
        if pin not in {"common", *positions} and pin.isdigit() and 0 < int(pin) <= len(positions):
            return positions[int(pin) - 1]
        return pin

    def _known(self) -> set[str]:
        """The names of all that the layout has; the name of a junction of wires must not begin with one of them."""
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
        data = {name.value for section in DATA if section in NAMED for name, _ in self.named[section]}
        return found | set(self.positions) | set(self.boards) | data

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
                joined_to = self.nets.bus_supply.get(part.name.text)
                supply = self.given("supply", joined_to, part.reference.span) if joined_to else None
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

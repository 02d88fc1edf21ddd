"""Which symbol of a netlist is what: parts of the layout, pieces of track and their kinds, and faults of the others."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from netlister import kinds
from netlister.kinds import KindError
from netlister.layout import devices
from netlister.layout.devices import DEVICES
from netlister.layout.read import read_nodes
from netlister.layout.schema import DATA, FORMAT, NAMED
from netlister.layout.use import used_files
from netlister.netlists.building import Building
from netlister.netlists.drawing import PlacedText, key_of
from netlister.netlists.values import entry, mapping, pairs, row, scalar, texts, written
from netlister.quantity import shown
from netlister.source import Allow, Reader, UnusableError, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.kinds import Library
    from netlister.netlists.drawing import DrawnPart, DrawnText

CONTACT = "contact"
_NEAR = 0.75  # how like a known field's name another is before it counts as a slip


def is_contact(kind: str) -> bool:
    """Whether a symbol is a contact; there are several, for the positions of several kinds of turnouts."""
    return kind == CONTACT or kind.startswith(f"{CONTACT}-")


class Sorting(Building):
    """Sorts the parts of a netlist by what they are, and finds the kinds of the pieces."""

    library: Library  # found with the layout as a whole

    # ---- which symbol is what

    def sort_out(self) -> list[DrawnPart]:
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

    def read_whole(self) -> None:
        """What stands in the title block and in the part `layout`: the entries that are no section."""
        title = self.drawing.title
        for part in self.by_kind["layout"]:
            self.top += self.plain(part, "title", "notes", "rail", "gauge", "gap", "joiner", "contact", "blade")
            title = None if "title" in part.fields else title
            self.top += [e for e in (self.made(part, "limits", pairs), self.made(part, "use", row)) if e is not None]
            for key in DATA:
                made = self.made(part, key, written)
                if made is not None and key in NAMED:
                    self.named[key] += made[1].value
                elif made is not None:
                    self.top.append(made)
        if title is not None:
            self.top.append(self.given("title", title.text, title.span))

    def read_library(self) -> Library:
        """The kinds, with those of the files that the layout uses; what is wrong with these is reported later."""
        reader = Reader(self.drawing.source)
        for name, value in self.top:
            if name.value == "use":
                try:
                    return kinds.library(None, used_files(reader, value, self.folder))
                except UnusableError:
                    break
        return kinds.library(None, [])

    # ---- track

    def options_of(self, part: DrawnPart) -> list[tuple[str, DrawnText]]:
        """What an entry of a piece says, but for what only comes of nets."""
        found: dict[str, DrawnText] = {}
        listed = part.fields.get("options")
        if listed is not None:
            node = self.node(pairs, listed)
            for name, value in () if node is None else node.value:
                found[name.value] = PlacedText(str(value.value), listed.span)
        takes = self.library.takes(part.kind.text)
        own = {*devices.PIECE_FIELDS, *takes.options} - {"options", "set", "thrown-by"}
        found.update({key: value for key, value in part.fields.items() if key in own})
        if "radius" in found or "angle" in found:
            found.pop("length", None)
        return list(found.items())

    def find_kind(self, part: DrawnPart) -> None:
        """Note a piece with its kind for its hand and options, which say what pins it has."""
        options = dict(self.options_of(part))
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

    def faults_of_track(self) -> None:
        """Let the reader of layouts say what is wrong with the kinds, hands and options of the pieces."""
        entries = []
        for name, (part, _) in self.pieces.items():
            span = part.reference.span
            value = texts(span, [("kind", part.kind), *self.options_of(part)])
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

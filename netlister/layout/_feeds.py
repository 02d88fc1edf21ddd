"""Feeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout._context import NO_WIRE, either
from netlister.layout._names import no_wire
from netlister.layout._power import NO_TRAINS, beyond, default_source, first_bus, refuse_accessory
from netlister.layout.model import Feed, Notice
from netlister.layout.schema import FEED, POLES
from netlister.quantity import shown
from netlister.source import Scalar, Sequence

if TYPE_CHECKING:
    from netlister.kinds.model import Kind
    from netlister.layout._context import Fields, LayoutReader
    from netlister.source import TextNode

FedSides = tuple[tuple[int, str, "TextNode | None"], ...]
"""Per pole (0 is A, 1 is B) that is fed: `left`, `right` or a rail, and where that is written."""

_LEFT_RIGHT: FedSides = ((0, "left", None), (1, "right", None))


def read_feeds(r: LayoutReader) -> None:
    """Read the section `feeds`."""
    section = r.sections.get("feeds")
    if section is None:
        return
    feeder = _Feeder(r)
    for node in r.entries(section[1], "a row of feeds"):
        feeder.read(node)


class _Feeder:
    """Reads feeds; holds what all of them share."""

    def __init__(self, r: LayoutReader) -> None:
        self.r = r
        self.default = default_source(r)
        self.sides: dict[Kind, tuple[str, str] | None] = {}
        self.told: set[int] = set()  # nodes of rails that have been found wrong

    def read(self, node: TextNode) -> None:
        """Read one entry."""
        r = self.r
        fields = r.fields(node, FEED.keys, "a feed")
        to = fields.get("to")
        if to is None:
            if r.lacks(node, fields, "to"):
                r.fault(node, "this feed has no 'to'; add the piece of track that it feeds")
            return
        source = self._source(node, fields)
        sides = self._sides(fields)
        wire = r.wire(fields, "a feed") if "wire" in fields or "length" in fields else NO_WIRE
        at, tap = fields.get("at"), fields.get("tap")
        place = None if at is None else r.length(fields, FEED["at"])
        tapped = None if tap is None else r.length(fields, FEED["tap"])
        name = r.name_id(fields["id"]) if "id" in fields else ""
        targets = r.one_or_more(to, "name a piece of track or an end of it") if type(to) is Sequence else (to,)
        if source is None:
            poles = ("", "")
        else:
            poles = r.sources[source]
            if tap is not None:
                self._check_tap(tap, tapped, source)
            elif source in r.layout.buses and r.layout.buses[source].wire.length is not None:
                self._no_tap(node, name, source, targets)
        frame = Feed(name, source or "", "", (), place, tapped, wire, r.place(node))
        for target in targets:
            self._feed(target, frame, poles, sides, at)

    def _source(self, node: TextNode, fields: Fields) -> str | None:
        """The bus, supply or reverser that is fed from, or None where that is faulty."""
        r = self.r
        written = fields.get("from")
        if written is None:
            if self.default is None and r.layout.buses:
                first = shown(first_bus(r))
                several = f"and there are several buses; name one, as in 'from: {first}'"
                r.fault(node, f"this feed has no 'from', {several if first else 'and ' + NO_TRAINS}")
            return self.default
        text = r.text(written, "the name of a bus, supply or reverser")
        if text is None or text in r.sources:
            return None if text is not None and refuse_accessory(r, written, text) else text
        if r.layout.supplies:
            r.unknown_name(written, text, "a bus, supply or reverser", r.sources)
        return None

    def _sides(self, fields: Fields) -> FedSides:
        """Which rail each pole feeds, as written."""
        found: list[tuple[int, str, TextNode | None]] = []
        for pole, letter in enumerate(POLES):
            node = fields.get(letter)
            if node is not None:
                text = self.r.text(node, f"the rail of pole {letter}")
                found.append((pole, text or "", node))
                if text == "":
                    self.r.fault(node, f"no rail is written for pole {letter}; write 'left', 'right' or a rail's name")
        return tuple(found) or _LEFT_RIGHT

    def _feed(
        self, target: TextNode, frame: Feed, poles: tuple[str, str], sides: FedSides, at: TextNode | None
    ) -> None:
        """Make the feed of one piece."""
        r = self.r
        if type(target) is not Scalar:
            r.text(target, "a piece of track or an end of it")
            return
        name, dot, end = target.value.partition(".")
        piece = r.layout.pieces.get(name)
        if piece is None:
            r.unknown_name(target, name, "a piece of track", r.layout.pieces)
            return
        kind = piece.kind
        if dot and end not in kind.ends:
            self._no_end(target, name, end, kind)
            return
        seen = (kind.ends[end].left, kind.ends[end].right) if dot else self._default(kind)
        if seen is None and _needs_end(kind, sides):
            self._several_ends(target, name, kind)
            return
        place = frame.at
        if at is not None:
            self._check_at(at, place, name)
        elif dot and kind.plain and not kind.ends[end].entering:
            place = piece.length  # an end named is where the feed is
        wires = []
        for pole, word, node in sides:
            rail = self._rail(name, kind, seen, word, node)
            if rail in kind.sealed:
                no_wire(self.r, node or target, name, rail)
            elif rail:
                rail = f"{name}.{rail}"
                wires.append((poles[pole], r.texts.setdefault(rail, rail)))
        r.layout.feeds.append(
            Feed(frame.name, frame.source, name, tuple(wires), place, frame.tap, frame.wire, frame.span, target.value)
        )

    def _default(self, kind: Kind) -> tuple[str, str] | None:
        try:
            return self.sides[kind]
        except KeyError:
            return self.sides.setdefault(kind, kind.sides)

    def _rail(self, name: str, kind: Kind, seen: tuple[str, str] | None, word: str, node: TextNode | None) -> str:
        """The rail that a word means, or nothing where it is faulty."""
        if seen is not None:
            if word == "left":
                return seen[0]
            if word == "right":
                return seen[1]
        if word in kind.rails or not word:
            return word
        r = self.r
        r = self.r
        if node is None or id(node) in self.told:
            return ""
        self.told.add(id(node))
        known = ["left", "right", *(rail for rail in kind.rails if rail not in {"left", "right"})]
        hint = f"'{shown(name)}' has no rail '{shown(word)}'"
        if word.startswith(name + ".") and word[len(name) + 1 :] in kind.rails:
            r.fault(node, f"write the rail alone: '{word[len(name) + 1 :]}'")
        else:
            r.unknown(node, word, hint, known)
        return ""

    def _several_ends(self, target: TextNode, name: str, kind: Kind) -> None:
        message = (
            f"'left' and 'right' say too little on '{shown(name)}', which can be looked along from several ends; "
            f"name an end, as in '{shown(name)}.{next(iter(kind.ends))}', or write a rail, as in 'A: {kind.rails[0]}'"
        )
        self.r.fault(target, message)

    def _no_end(self, target: TextNode, name: str, end: str, kind: Kind) -> None:
        r = self.r
        if end in kind.rails:
            message = f"'{shown(end)}' is a rail of '{shown(name)}', not an end"
            r.fault(target, f"{message}; write 'to: {shown(name)}' and 'A: {end}' or 'B: {end}'")
            return
        near = r.suggest(end, list(kind.ends)) or f"; write {either(f'{name}.{e}' for e in kind.ends)}"
        r.fault(target, f"'{shown(name)}' has no end '{shown(end)}'{near}")

    def _check_at(self, node: TextNode, place: float | None, name: str) -> None:
        piece = self.r.layout.pieces[name]
        if not piece.kind.plain:
            self.r.fault(node, f"'at' is a place along a rail-section; '{shown(name)}' is none, so leave 'at' out")
        elif place is not None and piece.length is not None and place > piece.length:
            self.r.fault(node, beyond("at", node, f"'{shown(name)}'", piece.length))

    def _check_tap(self, node: TextNode, tap: float | None, source: str) -> None:
        bus = self.r.layout.buses.get(source)
        if bus is None:
            if source in self.r.layout.supplies:
                what = f"'tap' is a place along a bus; '{shown(source)}' is a supply"
                self.r.fault(node, f"{what}; name its bus in 'from' or leave 'tap' out")
            return
        length = bus.wire.length
        if tap is not None and length is not None and tap > length:
            self.r.fault(node, beyond("tap", node, f"the bus '{shown(source)}'", length))

    def _no_tap(self, node: TextNode, name: str, source: str, targets: list[TextNode] | tuple[TextNode, ...]) -> None:
        r = self.r
        to = ", ".join(str(t.value) for t in targets[:3] if type(t) is Scalar) + (", …" if len(targets) > 3 else "")  # noqa: PLR2004
        message = f"the feed of {shown(to)} does not say where it is tapped from the bus '{shown(source)}'"
        fix = "add 'tap' with the length of bus from its supply to the feed ('tap: 0 m' at the supply)"
        subject = name or f"{source}/{to}"
        r.layout.notices.append(Notice("feed-without-tap", subject, message, fix, r.place(node)))


def _needs_end(kind: Kind, sides: FedSides) -> bool:
    """Whether a side is given that is no rail of a piece without one toe."""
    return any(word in {"left", "right"} and word not in kind.rails for _, word, _ in sides)

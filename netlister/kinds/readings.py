"""A kind of track piece from what a meter says of it: which rails beep to which, in which position.

The file is read and what contradicts itself is named; `readings_kind` writes the kind that conducts exactly so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

from netlister import quantity
from netlister.compose import compose
from netlister.kinds._fields import fields_of
from netlister.kinds.beeps import chain, groups_of, unknown_pairs
from netlister.kinds.readings_model import DEAD, Pair, ReadEnd, Readings, ReadRoute
from netlister.quantity import shown
from netlister.source import Reader, Sequence, UnusableError, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.source import Source, TextNode

ALWAYS = "always"
ENTERING = frozenset({"a", "toe", "a1", "a2"})
"""Ends that are entering ones by their names."""

KEYS = (
    "kind",
    "title",
    "summary",
    "ends",
    "rails",
    "positions",
    "beeps",
    "silent",
    "alone",
    "routes",
    "hand",
    "length",
)

HANDS = ("left", "right", "wye")


@dataclass
class _PairReadings:
    """What one list of pairs says: per pair (in either order) its node."""

    pairs: dict[frozenset[str], TextNode] = field(default_factory=dict)


def read_readings(source: Source, taken: Iterable[str] = ()) -> Readings:
    """Read a file of readings.

    `taken`: names of kinds that there are already. Raises UnusableError with every fault and contradiction of the file.
    """
    reader = _ReadingsReader(source, set(taken))
    found = reader.read(compose(source))
    if found is None or reader.faults:
        raise UnusableError(reader.faults)
    return found


class _ReadingsReader(Reader):
    """Reads one file of readings."""

    def __init__(self, source: Source, taken: set[str]) -> None:
        super().__init__(source)
        self.taken = taken
        self.fields: dict[str, TextNode] = {}
        self.rails: dict[str, TextNode] = {}  # rail -> where it is named first
        self.positions: tuple[str, ...] = ()
        self.ends: dict[str, ReadEnd] = {}

    def read(self, root: TextNode) -> Readings | None:
        """The readings, or None and faults."""
        self.fields |= fields_of(self, root, "a mapping of readings", "readings have", KEYS)
        kind = self._kind(root)
        self._read_ends(root)
        for node in self._list("rails", "each rail that ends nowhere"):
            self._new_rail(node)
        self._read_positions()
        beeps, silent = self._read_pairs(root, "beeps"), self._read_pairs(root, "silent")
        if self.faults:
            return None
        groups: dict[str, tuple[tuple[str, ...], ...]] = {}
        unknown: dict[str, tuple[Pair, ...]] = {}
        said: set[int] = set()
        for position in self.positions or ("",):
            pairs, apart = _in_position(beeps, position), _in_position(silent, position)
            self._contradictions(position, pairs, apart, said)
            groups[position] = groups_of(self.rails, pairs)
            unknown[position] = tuple(unknown_pairs(groups[position], apart))
        self._lonely(groups)
        routes = self._routes(root)
        if not self.faults:
            self._unused(groups, routes)
        if self.faults:
            return None
        title = self._text("title") or kind
        summary = self._text("summary") or "Measured with a meter."
        rails, ends = tuple(self.rails), tuple(self.ends.values())
        whole = self._length(self.fields["length"]) if "length" in self.fields else ""
        routes = tuple(route._replace(length=route.length or whole) for route in routes)
        hand = self._hand()
        if self.faults:
            return None
        return Readings(kind, title, summary, ends, rails, self.positions, groups, unknown, routes, hand)

    def _length(self, node: TextNode) -> str:
        """A length as it is written."""
        text = self.text(node, "a length, as in '210 mm',")
        if text is None:
            return ""
        try:
            if quantity.parse(text, quantity.LENGTH) > 0:
                return text
            self.fault(node, f"'{shown(text)}' is no length of a piece; measure it from end to end")
        except quantity.QuantityError as error:
            self.fault(node, f"{error}")
        return ""

    def _hand(self) -> str:
        node = self.fields.get("hand")
        if node is None:
            return ""
        legs = sum(not end.entering for end in self.ends.values())
        if legs != 2 or len(self.ends) != 3:  # noqa: PLR2004
            self.fault(node, "only a piece with one entering end and two leaving ones has a hand; leave 'hand' out")
        return self._known(node, HANDS, "hand")

    # ---- names

    def _kind(self, root: TextNode) -> str:
        if "kind" not in self.fields:
            self.fault(root, "the readings have no 'kind'; add the name that the kind is to have")
            return ""
        node = self.fields["kind"]
        name = self._name(node, "the name of the kind")
        if name in self.taken:
            self.fault(node, f"there is a kind '{shown(name)}' already; give yours another name")
        return name

    def _text(self, field_name: str) -> str:
        node = self.fields.get(field_name)
        return "" if node is None else self.text(node, f"the text of '{field_name}'") or ""

    def _name(self, node: TextNode, what: str) -> str:
        """A word fit to be a name, or nothing and a fault."""
        word = self.text(node, what)
        if word is None:
            return ""
        if word in {DEAD, ALWAYS}:
            self.fault(node, f"'{word}' has a meaning of its own in these files; give this another name")
            return ""
        if word and "." not in word and word.isprintable() and word == word.strip():
            return word
        self.fault(node, f"'{shown(word)}' is no name; write a word without dots")
        return ""

    def _list(self, field_name: str, what: str) -> list[TextNode]:
        node = self.fields.get(field_name)
        return [] if node is None else self.entries(node, what)

    def _new_rail(self, node: TextNode) -> str:
        name = self._name(node, "the name of a rail")
        if name:
            self.rails.setdefault(name, node)
        return name

    def _known(self, node: TextNode, known: Iterable[str], what: str) -> str:
        """A name that there is, or nothing and a fault."""
        text, listed = self.text(node, f"the name of a {what}"), list(known)
        if text is None or text in listed:
            return text or ""
        near = suggest(text, listed) or f"; write one of {', '.join(listed)}"
        self.fault(node, f"there is no {what} '{shown(text)}'{near}")
        return ""

    def _read_ends(self, root: TextNode) -> None:
        node = self.fields.get("ends")
        if node is None:
            self.fault(root, "the readings have no 'ends'; add them, as in 'ends: {toe: {left: SL, right: SR}}'")
            return
        for name, key, value in self.items(node, "each end with its rails"):
            if not self._name(key, "the name of an end"):
                continue
            inner = {k: v for k, _, v in self._inner(value, ("left", "right", "entering"), f"the end '{shown(name)}'")}
            if "left" not in inner or "right" not in inner:
                self.fault(key, f"the end '{shown(name)}' needs its rails; write 'left: …, right: …'")
                continue
            left, right = self._new_rail(inner["left"]), self._new_rail(inner["right"])
            if left and left == right:
                self.fault(key, f"the end '{shown(name)}' has '{shown(left)}' on both sides; write two rails")
            entering = name in ENTERING
            if "entering" in inner:
                entering = self._known(inner["entering"], ("true", "false"), "value") == "true"
            self.ends[name] = ReadEnd(name, entering, left, right)
        if not self.faults and not any(end.entering for end in self.ends.values()):
            message = "no end is an entering one; call it 'toe' or 'a', or add 'entering: true' to it"
            self.fault(node, message)

    def _inner(self, node: TextNode, known: tuple[str, ...], what: str) -> Iterator[tuple[str, TextNode, TextNode]]:
        for name, key, value in self.items(node, what):
            if name in known:
                yield name, key, value
            else:
                near = suggest(name, known) or f"; write one of {', '.join(known)}"
                self.fault(key, f"there is no '{shown(name)}' in {what}{near}")

    def _read_positions(self) -> None:
        found: list[str] = []
        for node in self._list("positions", "each position of the blades"):
            name = self._name(node, "the name of a position")
            if name in found:
                self.fault(node, f"the position '{shown(name)}' is here a second time; name each once")
            elif name:
                found.append(name)
        if len(found) == 1 and not self.faults:
            self.fault(self.fields["positions"], "blades have two positions or more; a piece without leaves this out")
        self.positions = tuple(found)

    # ---- pairs

    def _read_pairs(self, root: TextNode, name: str) -> dict[str, _PairReadings]:
        """The pairs under `beeps` or `silent`, per position and under `always`."""
        node = self.fields.get(name)
        found: dict[str, _PairReadings] = {}
        if node is None:
            if name == "beeps":
                self.fault(root, "the readings have no 'beeps'; add the pairs of rails that beep, position by position")
            return found
        if not self.positions and type(node) is Sequence:
            found[ALWAYS] = self._told(node, name)
            return found
        for position, key, value in self.items(node, f"each position of '{name}' with its pairs of rails"):
            if position == ALWAYS or position in self.positions:
                found[position] = self._told(value, name)
            else:
                known = (*self.positions, ALWAYS)
                near = suggest(position, known) or f"; write one of {', '.join(known)}"
                self.fault(key, f"there is no position '{shown(position)}'{near}")
        if name == "beeps":
            for position in self.positions:
                if position not in found and not self.faults:
                    message = f"there are no readings for the position '{shown(position)}'"
                    self.fault(node, f"{message}; add them, or '{shown(position)}: []' if nothing more beeps there")
        return found

    def _told(self, node: TextNode, name: str) -> _PairReadings:
        told = _PairReadings()
        for entry in self.entries(node, f"each pair of '{name}'"):
            ends = entry.value if type(entry) is Sequence else []
            if len(ends) != 2:  # noqa: PLR2004
                self.fault(entry, "two rails are due here, as in '[frog, stock-left]'")
                continue
            a, b = (self._known(end, self.rails, "rail") for end in ends)
            if not a or not b:
                continue
            if a == b:
                self.fault(entry, f"'{shown(a)}' stands on both sides of this pair; a rail always beeps to itself")
                continue
            told.pairs.setdefault(frozenset((a, b)), entry)
        return told

    # ---- what cannot be

    def _contradictions(
        self,
        position: str,
        pairs: dict[frozenset[str], TextNode],
        apart: dict[frozenset[str], TextNode],
        said: set[int],
    ) -> None:
        """Pairs measured not to beep that beep, or must since both beep to a third."""
        where = f"in position {shown(position)}: " if position else ""
        for pair, node in apart.items():
            a, b = sorted(pair, key=list(self.rails).index)
            way = chain(a, b, pairs)
            if not way or id(node) in said:
                continue
            said.add(id(node))
            if len(way) == 2:  # noqa: PLR2004
                line = self.line(pairs[pair])
                message = f"'{shown(a)}' and '{shown(b)}' are told to beep in line {line} and not to beep here"
                self.fault(node, f"{message}; measure them again and strike one out")
                continue
            steps = " and ".join(f"'{shown(x)}' beeps to '{shown(y)}'" for x, y in pairwise(way))
            message = f"{where}{steps}, so '{shown(a)}' must beep to '{shown(b)}', which is told not to"
            self.fault(node, f"{message}; measure these pairs again")

    def _lonely(self, groups: dict[str, tuple[tuple[str, ...], ...]]) -> None:
        """A rail that beeps to none in any position, unless it runs through to another end or is said to be alone."""
        alone = {
            self._known(node, self.rails, "rail"): node for node in self._list("alone", "each rail that stands alone")
        }
        together = {rail for listed in groups.values() for group in listed if len(group) > 1 for rail in group}
        for rail, node in self.rails.items():
            at = sum(rail in (end.left, end.right) for end in self.ends.values())
            if rail not in together and at < 2 and rail not in alone:  # noqa: PLR2004
                message = f"'{shown(rail)}' beeps to no other rail in any position; measure it again"
                self.fault(node, f"{message}, or list it under 'alone' if it has a wire of its own")
        for rail, node in alone.items():
            if rail in together:
                self.fault(node, f"'{shown(rail)}' is said to stand alone and beeps to another rail; leave it out here")

    def _unused(self, groups: dict[str, tuple[tuple[str, ...], ...]], routes: tuple[ReadRoute, ...]) -> None:
        """A rail that beeps to none, at no end and under no wheel: it would have no part in the kind."""
        together = {rail for listed in groups.values() for group in listed if len(group) > 1 for rail in group}
        used = {rail for route in routes for rail in (*route.left, *route.right)}
        used |= {rail for end in self.ends.values() for rail in (end.left, end.right)}
        for rail, node in self.rails.items():
            if rail not in together and rail not in used:
                message = f"'{shown(rail)}' beeps to no other rail and lies under no wheel"
                self.fault(node, f"{message}; name it in 'left' or 'right' of a route, or leave it out")

    # ---- routes

    def _routes(self, root: TextNode) -> tuple[ReadRoute, ...]:
        node = self.fields.get("routes")
        if node is not None:
            return tuple(route for route in (self._route(*item) for item in self.items(node, "each route")) if route)
        if self.faults:
            return ()
        entering = [end for end in self.ends.values() if end.entering]
        leaving = [end for end in self.ends.values() if not end.entering]
        if self.positions and len(entering) == 1 and set(self.positions) == {end.name for end in leaving}:
            return tuple(_plain_route(entering[0], self.ends[position], position) for position in self.positions)
        if not self.positions and len(entering) == len(leaving) == 1:
            return (_plain_route(entering[0], leaving[0], ""),)
        message = "it is not plain which position sets which way"
        example = "add 'routes', as in 'routes: {main: {ends: [toe, left], position: left}}'"
        self.fault(root, f"{message}; name the positions like the ends that they set, or {example}")
        return ()

    def _route(self, name: str, key: TextNode, value: TextNode) -> ReadRoute | None:
        before = len(self.faults)
        self._name(key, "the name of a route")
        what = f"the route '{shown(name)}'"
        inner = {k: v for k, _, v in self._inner(value, ("ends", "position", "left", "right", "length"), what)}
        if "ends" not in inner:
            self.fault(key, f"{what} needs its two ends, as in 'ends: [toe, left]'")
            return None
        listed = [self._known(end, self.ends, "end") for end in self.entries(inner["ends"], "a pair of ends")]
        if len(self.faults) > before:
            return None
        if len(listed) != 2 or not self.ends[listed[0]].entering or self.ends[listed[1]].entering:  # noqa: PLR2004
            self.fault(inner["ends"], f"{what} runs from an entering end to a leaving one, as in '[toe, left]'")
            return None
        position = ""
        if "position" in inner:
            position = self._known(inner["position"], self.positions, "position") if self.positions else ""
            if not self.positions:
                self.fault(inner["position"], "this piece has no positions; leave 'position' out")
        elif self.positions:
            self.fault(
                key, f"{what} does not say which position sets it; add it, as in 'position: {self.positions[0]}'"
            )
        start, stop = self.ends[listed[0]], self.ends[listed[1]]
        plain = _plain_route(start, stop, position)
        left, right = (
            self._path(inner[side], side, path) if side in inner else path
            for side, path in (("left", plain.left), ("right", plain.right))
        )
        length = self._length(inner["length"]) if "length" in inner else ""
        return plain._replace(name=name, left=left, right=right, length=length) if len(self.faults) == before else None

    def _path(self, node: TextNode, side: str, plain: tuple[str, ...]) -> tuple[str, ...]:
        rails = [self._known(rail, (*self.rails, DEAD), "rail") for rail in self.entries(node, "each rail in order")]
        if all(rails) and (not rails or (rails[0], rails[-1]) != (plain[0], plain[-1])):
            first, last = shown(plain[0]), shown(plain[-1])
            self.fault(node, f"the {side} wheels begin on '{first}' and end on '{last}', the rails at the two ends")
        return tuple(rails)


def _plain_route(start: ReadEnd, stop: ReadEnd, position: str) -> ReadRoute:
    """A route whose wheels run from the rails at one end to those at the other."""
    left, right = (tuple(dict.fromkeys(pair)) for pair in ((start.left, stop.left), (start.right, stop.right)))
    return ReadRoute(position or "through", (start.name, stop.name), position, left, right)


def _in_position(told: dict[str, _PairReadings], position: str) -> dict[frozenset[str], TextNode]:
    """The pairs measured in a position, those of every position among them."""
    return {**(told[ALWAYS].pairs if ALWAYS in told else {}), **(told[position].pairs if position in told else {})}

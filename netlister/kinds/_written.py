"""What a kind's file says: its texts, names, lengths and places, with a fault where one is not right."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from netlister.kinds._fields import fields_of
from netlister.kinds.model import (
    Bar,
    BladeWith,
    Bond,
    DefaultDimension,
    End,
    MadeWith,
    Measure,
    Note,
    Options,
    Row,
    Setting,
)
from netlister.lengths import NO_LENGTH, Metres
from netlister.quantity import LENGTH, NUMBER, STATUSES, QuantityError, parse, shown
from netlister.source import Mapping, Reader, Scalar, Sequence, TextNode, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister import quantity

_KEYS = (
    "kind", "title", "summary", "plain", "floating", "hands", "rails", "ends", "bonds", "options", "bars", "contacts",
    "routes", "blades", "noses", "notes", "dimensions", "dead-lengths", "draw", "shapes", "count", "sealed",
)  # fmt: skip

DEAD = "dead"
FORMER = {"published": "read", "worked out": "derived", "measured": "read"}
"""What a user's own file may still say: the words of version 0.1."""


class Written:
    """A kind as it is written, in simple values. Rails, bars and options must be read before what names them."""

    def __init__(self, reader: Reader, node: TextNode, taken: set[str], *, own: bool) -> None:
        self.r = reader
        self.own = own
        self.node = node
        self.taken = taken
        self.usable = isinstance(node, Mapping)
        self.fields = fields_of(reader, node, "a kind", "a kind has", _KEYS)
        self.rails: tuple[str, ...] = ()
        self.ends: tuple[End, ...] = ()
        self.bars: tuple[Bar, ...] = ()
        self.sizes: dict[str, DefaultDimension] = {}
        self.made: dict[tuple[Setting, frozenset[str]], list[TextNode]] = {}
        self.options: dict[str, tuple[str, ...]] = {}
        self.notes: dict[str, Note] = {}
        self.optional: list[Bond] = []
        self.made_with: list[MadeWith] = []
        self.blades_with: list[BladeWith] = []
        self.gaps: list[str] = []
        self.rows: dict[str, Row] = {}
        self.keys: dict[tuple[str, str], TextNode] = {}
        """Where each rail, end, hand, tie bar and route is written."""

    def _text(self, field: str) -> str:
        node = self.fields.get(field)
        if node is None:
            self.r.fault(self.node, f"the kind has no '{field}'; add it")
            return ""
        text = self.r.text(node, f"the text of '{field}'") or ""
        if field == "kind" and (not text or "." in text or not text.isprintable()):
            self.r.fault(node, "the name of a kind is a word without dots, as in 'live-frog'")
        return text

    def _one_of(self, field: str, known: tuple[str, ...], default: str) -> str:
        node = self.fields.get(field)
        return default if node is None else self._known(node, known, field, default)

    def _known(self, node: TextNode, known: Iterable[str], what: str, default: str = "") -> str:
        text = self.r.text(node, f"a {what}")
        listed = list(known)
        if text is None or text in listed:
            return text or default
        if not listed:
            if not self.r.faults:
                self.r.fault(node, f"there is no {what} '{shown(text)}'; none is named")
            return default  # where something is wrong already, that is what is wrong
        ways = ", ".join(f"'{k}'" for k in listed)
        self.r.fault(node, f"there is no {what} '{text}'{suggest(text, listed) or f'; write one of {ways}'}")
        return default

    def _words(self, field: str) -> list[str]:
        node = self.fields.get(field)
        if node is None:
            return []
        words: list[str] = []
        for entry in self.r.entries(node, "each of the rails"):
            word = self.r.text(entry, "a name")
            if word is None:
                continue
            if self._named(entry, word):
                if word in words:
                    self.r.fault(entry, f"'{word}' is here a second time")
                else:
                    words.append(word)
                    self.keys["rail", word] = entry
        return words

    def _named(self, node: TextNode, word: str) -> bool:
        """Whether a word is fit to be a name; a fault where not."""
        if word == DEAD:
            self.r.fault(node, f"'{DEAD}' stands for a dead length; give this another name")
            return False
        if word and "." not in word and word.isprintable() and word == word.strip():
            return True
        self.r.fault(node, f"'{shown(word)}' is no name; write a word without dots")
        return False

    def _inner(self, node: TextNode, known: tuple[str, ...], what: str) -> dict[str, TextNode]:
        found = {}
        for name, key, value in self.r.items(node, what):
            if name in known:
                found[name] = value
            else:
                hint = suggest(name, known) or f"; write one of {', '.join(known)}"
                self.r.fault(key, f"there is no '{name}' in {what}{hint}")
        return found

    def _given(self, node: TextNode) -> Options:
        """Options and the values that something is there with."""
        found = []
        for option, key, value in self.r.items(node, "options and their values"):
            if option not in self.options:
                self.r.fault(key, f"there is no option '{option}'{suggest(option, self.options)}")
                continue
            found.append((option, self._known(value, self.options[option], "value")))
        return tuple(found)

    def _setting(self, node: TextNode) -> tuple[tuple[str, str], ...]:
        bars = {bar.name: bar.positions for bar in self.bars}
        found = []
        for name, key, value in self.r.items(node, "tie bars and positions"):
            if name not in bars:
                if bars or not self.r.faults:
                    named = ", ".join(f"'{bar}'" for bar in bars)
                    only = "; the only tie bar is written '\"\"'" if list(bars) == [""] else ""
                    ways = (
                        only or suggest(name, bars) or (f"; write one of {named}" if bars else "; name it under 'bars'")
                    )
                    self.r.fault(key, f"there is no tie bar '{shown(name)}'{ways}")
                continue
            found.append((name, self._known(value, bars[name], "position")))
        return tuple(found)

    def _pairs_of(self, nodes: Iterable[TextNode]) -> Iterable[tuple[str, str]]:
        for node in nodes:
            pair = self._pair(node)
            if pair:
                yield pair

    def _pairs(self, node: TextNode | None) -> Iterable[tuple[str, str]]:
        return self._pairs_of([] if node is None else self.r.entries(node, "pairs of rails"))

    def _pair(self, node: TextNode) -> tuple[str, str] | None:
        rails = node.value if isinstance(node, Sequence) else []
        if len(rails) != 2:  # noqa: PLR2004
            self.r.fault(node, "two rails are due here, as in '[frog, stock-left]'")
            return None
        a, b = (self._known(rail, self.rails, "rail") for rail in rails)
        if a and a == b:
            self.r.fault(node, f"'{a}' is joined to itself; name two rails")
        return a, b

    def _whole(self, node: TextNode) -> int:
        text = self.r.text(node, "a whole number") or ""
        if text.isascii() and text.isdigit() and len(text) <= 4:  # noqa: PLR2004
            return int(text)
        self.r.fault(node, f"'{shown(text)}' is no whole number; write one, as in '6'")
        return 0

    def _sum(self, node: TextNode) -> Measure:
        """A sum of dimensions and lengths, as in `lead + frog-heel - 3 mm`."""
        terms: list[tuple[float, str]] = []
        words = (self.r.text(node, "a sum of lengths") or "").split()
        factor, term = 1.0, list[str]()
        for word in [*words, "+"]:
            if word not in {"+", "-"}:
                term.append(word)
                continue
            text = " ".join(term)
            if text in self.sizes:
                terms.append((factor, text))
            else:
                try:
                    terms.append((factor * parse(text, LENGTH), ""))
                except QuantityError:
                    known = f"one of {', '.join(self.sizes)} or " if self.sizes else ""
                    self.r.fault(node, f"'{shown(text)}' is no length{suggest(text, self.sizes)}; write {known}'3 mm'")
            factor, term = (1.0 if word == "+" else -1.0), []
        return tuple(terms)

    def _measure(self, node: TextNode, name: str, dimension: quantity.Dimension) -> float:
        """A quantity in SI units; zero and a fault where there is none."""
        try:
            return parse(self.r.text(node, dimension.name) or "", dimension)
        except QuantityError as error:
            self.r.fault(node, f"'{name}': {error}")
            return 0.0

    def _status(self, node: TextNode | None) -> str:
        """How far to trust a number, by its one name; a user's file may use the words of version 0.1."""
        if node is None:
            return ""
        former = None if self.own else FORMER.get(str(node.value))
        return former or self._known(node, STATUSES, "status")

    def _dimensions(self, node: TextNode | None) -> dict[str, DefaultDimension]:
        found = {}
        for name, key, value in [] if node is None else self.r.items(node, "dimensions"):
            inner = self._inner(value, ("value", "what", "source", "status", "frog-numbers", "gauge"), "a dimension")
            if not {"value", "what", "source"} <= inner.keys():
                self.r.fault(key, f"'{name}' needs 'value' with a unit, 'what' it is of, and 'source'")
                continue
            what, source = (self.r.text(inner[k], f"the text of '{k}'") or "" for k in ("what", "source"))
            status = self._status(inner.get("status"))
            metres = Metres(self._measure(inner["value"], name, LENGTH))
            by_number: dict[float, Metres] = {}
            for number, place, length in (
                self.r.items(inner["frog-numbers"], "lengths by frog number") if "frog-numbers" in inner else ()
            ):
                try:
                    by_number[parse(number, NUMBER)] = Metres(self._measure(length, name, LENGTH))
                except QuantityError as error:
                    self.r.fault(place, f"a frog number is due here: {error}")
            text = str(inner["value"].value)
            gauge = Metres(self._measure(inner["gauge"], "gauge", LENGTH)) if "gauge" in inner else NO_LENGTH
            found[name] = DefaultDimension(metres, text, what, source, status, by_number, gauge)
        return found

    def _draw(self, node: TextNode | None) -> dict[str, tuple[float, float]]:
        found = {}
        for name, _, value in [] if node is None else self.r.items(node, "anchors"):
            if isinstance(value, Mapping):
                self._row(name, value)
                continue
            point = self._numbers(value, 2)
            if point is None:
                self.r.fault(value, "an anchor is two numbers, as in '[1, 0.2]'")
                continue
            found[name] = (point[0], point[1])
        return found

    def _row(self, name: str, node: TextNode) -> None:
        """Anchors that repeat: from one point to another, or along an arc between two angles in degrees."""
        inner = self._inner(node, ("from", "to", "centre", "radius"), "a row of anchors")
        arc = "centre" in inner or "radius" in inner
        needed = ("from", "to", "centre", "radius") if arc else ("from", "to")
        read = {f: self._numbers(inner[f], 2 if f == "centre" or not arc else 1) for f in needed if f in inner}
        values = [read.get(field) for field in needed]
        if "#" not in name or any(value is None for value in values):
            ways = "{from: [1, 0.4], to: [1, -0.4]}", "{centre: [0, 0], radius: 1, from: 90, to: -90}"
            self.r.fault(node, f"a row of anchors is for a name with '#' and is written '{ways[0]}' or '{ways[1]}'")
            return
        first, last, *rest = (value for value in values if value is not None)
        (x, y), (radius,) = rest or ((0.0, 0.0), (0.0,))
        self.rows[name] = Row(first, last, (x, y, radius) if arc else None)

    @staticmethod
    def _numbers(node: TextNode, count: int) -> tuple[float, ...] | None:
        nodes = node.value if isinstance(node, Sequence) else [node]
        try:
            found = tuple(float(n.value) for n in nodes if isinstance(n, Scalar))
        except ValueError:
            return None
        return found if len(found) == count and all(map(isfinite, found)) else None

"""Symbolic expressions: lists in round brackets, texts in quotes and bare words; read with places, and written.

Knows nothing of what they say. Reading never calls itself, so that no depth of brackets can exhaust a stack.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import TYPE_CHECKING, Any

from netlister.source import UNPRINTABLE, Fault, Span, UnusableError, unprintable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.source import Source

DEEPEST = 1000
"""How deep lists may stand in lists; nothing that is read here comes near it."""


class Atom:
    """A text, with where it stands."""

    __slots__ = ("_end", "_places", "_start", "text")

    def __init__(self, text: str, places: _Places, start: int, end: int) -> None:
        self.text = text
        self._places, self._start, self._end = places, start, end

    @property
    def span(self) -> Span:
        """Where it stands; worked out when it is asked for, which of most is never."""
        return self._places.span(self._start, self._end)


class List:
    """A list, with where it stands: from its opening to its closing bracket."""

    __slots__ = ("_end", "_places", "_start", "items")

    def __init__(self, items: list[Atom | List], places: _Places, start: int, end: int) -> None:
        self.items = items
        self._places, self._start, self._end = places, start, end

    @property
    def span(self) -> Span:
        """Where it stands."""
        return self._places.span(self._start, self._end)

    @property
    def head(self) -> str:
        """The first text of the list, which says what the list is; nothing where there is none."""
        first = self.items[0] if self.items else None
        return first.text if isinstance(first, Atom) else ""

    def lists(self, *heads: str) -> Iterator[List]:
        """The lists in this one that begin with one of some words."""
        for item in self.items:
            if isinstance(item, List) and item.head in heads:
                yield item

    def first(self, head: str) -> List | None:
        """The first list in this one that begins with a word."""
        return next(self.lists(head), None)

    def atom(self, number: int = 1) -> Atom | None:
        """The text at a place of the list; the first word is number 0."""
        item = self.items[number] if number < len(self.items) else None
        return item if isinstance(item, Atom) else None

    def text(self, head: str) -> Atom | None:
        """The text of the first list in this one that begins with a word: of `(ref "T1")` the text T1."""
        found = self.first(head)
        return None if found is None else found.atom()


# -- read

_TOKEN = re.compile(r'\s*(?:([()])|"((?:[^"\\]|\\.)*)"|([^\s()"]+)|("))', re.DOTALL)
_BRACKET, _QUOTED, _LOST = 1, 2, 4
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_MEANS = {"n": "\n", "r": "\r", "t": "\t"}
_ESCAPES = str.maketrans({"\\": "\\\\", **{char: f"\\{letter}" for letter, char in _MEANS.items()}})


class _Places:
    """From the number of a character to its line and column."""

    def __init__(self, source: Source) -> None:
        self.name = source.name
        self.starts = [0, *(match.end() for match in re.finditer(r"\r\n|\r|\n", source.text))]

    def span(self, start: int, end: int) -> Span:
        """The place of the characters from `start` to before `end`."""
        first, last = bisect_right(self.starts, start), bisect_right(self.starts, end)
        return Span(self.name, first, start - self.starts[first - 1] + 1, last, end - self.starts[last - 1] + 1)


def read(source: Source) -> List:
    """The one list that a text consists of.

    Raises UnusableError, with the place, for text before or behind it, a bracket or a text that is not closed, and
    lists that are nested more than DEEPEST deep.
    """
    places = _Places(source)
    open_lists: list[tuple[int, list[Atom | List]]] = []
    whole: List | None = None
    for match in _TOKEN.finditer(source.text):
        kind = match.lastindex or _LOST
        start, end = match.start(kind) - (kind == _QUOTED), match.end()
        if whole is not None:
            _stop(places.span(start, end), "the netlist ends before this; take out what stands behind its last ')'")
        if kind == _LOST:
            _stop(places.span(start, end), "this text is not closed; write '\"' where it ends")
        if kind != _BRACKET:
            if not open_lists:
                _stop(places.span(start, end), "a netlist begins with '(export'")
            text = match[kind]
            if kind == _QUOTED and "\\" in text:
                text = _ESCAPE.sub(lambda m: _MEANS.get(m[1], m[1]), text)
            if not text.isprintable() and (odd := UNPRINTABLE.search(text)):
                _stop(places.span(start, end), unprintable(odd[0]))
            open_lists[-1][1].append(Atom(text, places, start, end))
        elif match[1] == "(":
            if len(open_lists) == DEEPEST:
                _stop(places.span(start, end), f"brackets are nested more than {DEEPEST} deep; no netlist is")
            open_lists.append((start, []))
        else:
            if not open_lists:
                _stop(places.span(start, end), "this ')' closes nothing; take it out")
            begun, items = open_lists.pop()
            made = List(items, places, begun, end)
            if open_lists:
                open_lists[-1][1].append(made)
            else:
                whole = made
    if open_lists:
        start = open_lists[-1][0]
        _stop(places.span(start, start + 1), "this '(' is not closed; write ')' where its list ends")
    if whole is None:
        _stop(source.start(), "there is no netlist in here; it begins with '(export'")
        raise AssertionError
    return whole


def _stop(span: Span, message: str) -> None:
    raise UnusableError([Fault(span, message)])


# -- written


def string(text: str) -> str:
    """A text in quotes."""
    return '"' + escaped(text).replace('"', '\\"') + '"'


def escaped(text: str) -> str:
    """A text with all escaped that must be, but for quotation marks."""
    return text.translate(_ESCAPES)


def written(lists: list[Any]) -> str:
    """Nested lists, whose strings are in quotes already, a list a line."""
    parts: list[str] = []

    def write(node: list[Any], depth: int) -> None:
        parts.append("(")
        for number, item in enumerate(node):
            if isinstance(item, list):
                parts.append("\n" + "  " * depth)
                write(item, depth + 1)
            else:
                parts.append(f" {item}" if number else str(item))
        parts.append(")")

    write(lists, 1)
    return "".join(parts)

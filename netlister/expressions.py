"""Symbolic expressions: lists in round brackets, texts in quotes and bare words; read with places, and written.

Knows nothing of what they say. Reading never calls itself, so that no depth of brackets can exhaust a stack.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from netlister.source import UNPRINTABLE, FileFault, Span, UnusableError, unprintable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.source import Source

DEEPEST = 1000
"""How deep lists may stand in lists; nothing that is read here comes near it."""


class Atom:
    """A text, with where it stands."""

    __slots__ = ("_end", "_places", "_span", "_start", "text")
    head = None

    def __init__(self, text: str, places: _LineColumns, start: int, end: int) -> None:
        self.text = text
        self._places, self._start, self._end = places, start, end
        self._span: Span | None = None

    @property
    def span(self) -> Span:
        """Where it stands; worked out when it is asked for, which of most is never."""
        if self._span is None:
            self._span = self._places.span(self._start, self._end)
        return self._span


class List:
    """A list, with where it stands: from its opening to its closing bracket."""

    __slots__ = ("_end", "_items", "_places", "_start", "head")
    head: str
    """The first text of the list, which says what the list is; nothing where there is none."""

    def __init__(self, items: list[Atom | List], places: _LineColumns, start: int, end: int) -> None:
        self._items: list[Atom | List] | None = items
        first = items[0] if items else None
        self.head = first.text if isinstance(first, Atom) else ""
        self._places, self._start, self._end = places, start, end

    @property
    def items(self) -> list[Atom | List]:
        """What stands in it."""
        return self._items or []

    @property
    def span(self) -> Span:
        """Where it stands."""
        return self._places.span(self._start, self._end)

    def lists(self, *heads: str) -> Iterator[List]:
        """The lists in this one that begin with one of some words."""
        for item in self.items:
            if item.head in heads and isinstance(item, List):
                yield item

    def first(self, head: str) -> List | None:
        """The first list in this one that begins with a word."""
        for item in self.items:
            if item.head == head and isinstance(item, List):
                return item
        return None

    def atom(self, number: int = 1) -> Atom | None:
        """The text at a place of the list; the first word is number 0."""
        item = self.items[number] if number < len(self.items) else None
        return item if isinstance(item, Atom) else None

    def text(self, head: str) -> Atom | None:
        """The text of the first list in this one that begins with a word: of `(ref "T1")` the text T1."""
        found = self.first(head)
        return None if found is None else found.atom()

    def said(self, head: str) -> str | None:
        """The same without its place."""
        found = self.text(head)
        return None if found is None else found.text


class _WordPair(List):
    """A list of a word and a text, as `(ref "T1")`, as most are: its items are made when they are asked for."""

    __slots__ = ("_group", "_match")

    def __init__(self, match: re.Match[str], places: _LineColumns, group: int = 0) -> None:
        self._items, self._match, self._places, self._group = None, match, places, group
        self.head = match[group + _HEAD]
        self._start, self._end = match.span(group)

    @property
    def items(self) -> list[Atom | List]:
        """The word and the text."""
        if self._items is None:
            head = Atom(self.head, self._places, *self._match.span(self._group + _HEAD))
            self._items = [head, _atom(self._match, self._group + _VALUE, self._places)]
        return self._items

    def atom(self, number: int = 1) -> Atom | None:
        """The text at a place of the list."""
        return _atom(self._match, self._group + _VALUE, self._places) if number == 1 else super().atom(number)


class _WordList(List):
    """A list of a word, a pair and little more, as `(field (name "A") "B")` and `(node (ref "A") (pin "B"))`.

    Its items are made when they are asked for.
    """

    __slots__ = ("_match",)

    def __init__(self, match: re.Match[str], places: _LineColumns) -> None:
        self._items, self._match, self._places = None, match, places
        self.head = match[_HEAD]
        self._start, self._end = match.span()

    @property
    def items(self) -> list[Atom | List]:
        """The word, the pairs, and the text behind the first of them."""
        if self._items is None:
            match, places = self._match, self._places
            pairs = [_WordPair(match, places, group) for group in _PAIRS if match[group] is not None]
            said = [] if match[_TEXT] is None else [_atom(match, _TEXT, places)]
            self._items = [Atom(self.head, places, *match.span(_HEAD)), pairs[0], *said, *pairs[1:]]
        return self._items

    def atom(self, number: int = 1) -> Atom | None:
        """The text at a place of the list."""
        if number == _BEHIND:  # a pair stands there, if anything, where there is no text
            return None if self._match[_TEXT] is None else _atom(self._match, _TEXT, self._places)
        return super().atom(number)

    def text(self, head: str) -> Atom | None:
        """The text of the first pair that begins with a word."""
        for group in _PAIRS:
            if self._match[group + _HEAD] == head:
                return _atom(self._match, group + _VALUE, self._places)
        return None

    def said(self, head: str) -> str | None:
        """The same without its place."""
        for group in _PAIRS:
            if self._match[group + _HEAD] == head:
                text = self._match[group + _VALUE]
                return text[1:-1] if text[0] == '"' else text
        return None


def _atom(match: re.Match[str], group: int, places: _LineColumns) -> Atom:
    """The text of a group, without its quotes."""
    text = match[group]
    return Atom(text[1:-1] if text[0] == '"' else text, places, *match.span(group))


_TOKEN = re.compile(
    r"""
    \(\s* (WORD) \s+ (?:
        (TEXT) \s* \)
      | PAIR (?: \s* (TEXT) | \s* PAIR (?: \s* PAIR )? )? \s* \)
    )
    | [()] | "(?:[^"\\]|\\.)*" | WORD | "
    """.replace("PAIR", r"( \(\s* (WORD) \s+ (TEXT) \s* \) )")
    .replace("TEXT", r"""(?:"[^"\\]*"|WORD)""")
    .replace("WORD", r"""[^\s()"]++"""),
    re.DOTALL | re.VERBOSE,
)
"""A list of a word and a text that has no escapes, or of a word, pairs of these and a text behind the first; else a
bracket, a text in quotes, a bare word, a quote left over."""
_SINGLE = re.compile(r'[()]|"(?:[^"\\]|\\.)*"|[^\s()"]+|"', re.DOTALL)
_HEAD, _VALUE = 1, 2
_PAIRS, _TEXT = (3, 7, 10), 6
"""Groups: the pairs, and the text behind the first."""
_BEHIND = 2
"""The number of that text in its list."""
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_MEANS = {"n": "\n", "r": "\r", "t": "\t"}
_ESCAPES = str.maketrans({"\\": "\\\\", **{char: f"\\{letter}" for letter, char in _MEANS.items()}})


class _LineColumns:
    """From the number of a character to its line and column."""

    def __init__(self, source: Source) -> None:
        self.name = source.name
        if "\r" in source.text:
            self.starts = [0, *(match.end() for match in re.finditer(r"\r\n|\r|\n", source.text))]
        else:
            lines = source.text.split("\n")
            self.starts = [*accumulate([len(line) + 1 for line in lines[:-1]], initial=0)]

    def span(self, start: int, end: int) -> Span:
        """The place of the characters from `start` to before `end`."""
        first = bisect_right(self.starts, start)
        last = first if first < len(self.starts) and end < self.starts[first] else bisect_right(self.starts, end)
        return Span(self.name, first, start - self.starts[first - 1] + 1, last, end - self.starts[last - 1] + 1)


def read(source: Source) -> List:  # noqa: C901, PLR0912, PLR0915 - one kind of token after the other, in one loop for speed
    """The one list that a text consists of.

    Raises UnusableError, with the place, for text before or behind it, a bracket or a text that is not closed, and
    lists that are nested more than DEEPEST deep.
    """
    places = _LineColumns(source)
    open_lists: list[tuple[int, list[Atom | List]]] = []
    items: list[Atom | List] = []  # of the innermost list that is open
    whole: List | None = None
    printable = not UNPRINTABLE.search(source.text)
    for match in (_TOKEN if printable else _SINGLE).finditer(source.text):
        short = match.lastindex
        if short and whole is None and 0 < len(open_lists) < DEEPEST - (short > _VALUE):
            items.append(_WordPair(match, places) if short == _VALUE else _WordList(match, places))
            continue
        word, start = match[0], match.start()
        if whole is not None:
            message = "the netlist ends before this; take out what stands behind its last ')'"
            _stop(places.span(start, match.end()), message)
        if short:
            if open_lists:
                _stop(places.span(start, start + 1), f"brackets are nested more than {DEEPEST} deep; no netlist is")
            whole = _WordPair(match, places) if short == _VALUE else _WordList(match, places)
        elif word == "(":
            if len(open_lists) == DEEPEST:
                _stop(places.span(start, start + 1), f"brackets are nested more than {DEEPEST} deep; no netlist is")
            items = []
            open_lists.append((start, items))
        elif word == ")":
            if not open_lists:
                _stop(places.span(start, start + 1), "this ')' closes nothing; take it out")
            begun, items = open_lists.pop()
            made = List(items, places, begun, start + 1)
            if open_lists:
                items = open_lists[-1][1]
                items.append(made)
            else:
                whole = made
        else:
            end = match.end()
            if word == '"':
                _stop(places.span(start, end), "this text is not closed; write '\"' where it ends")
            if not open_lists:
                _stop(places.span(start, end), "a netlist begins with '(export'")
            text = word
            if word[0] == '"':
                text = word[1:-1]
                if "\\" in text:
                    text = _ESCAPE.sub(lambda m: _MEANS.get(m[1], m[1]), text)
                    _printing(text, places.span(start, end))
            if not printable:
                _printing(text, places.span(start, end))
            items.append(Atom(text, places, start, end))
    if open_lists:
        start = open_lists[-1][0]
        _stop(places.span(start, start + 1), "this '(' is not closed; write ')' where its list ends")
    if whole is None:
        _stop(source.start(), "there is no netlist in here; it begins with '(export'")
        raise AssertionError
    return whole


def _printing(text: str, span: Span) -> None:
    if odd := UNPRINTABLE.search(text):
        _stop(span, unprintable(odd[0]))


def _stop(span: Span, message: str) -> None:
    raise UnusableError([FileFault(span, message)])


# -- written


def string(text: str) -> str:
    """A text in quotes."""
    return '"' + escaped(text).replace('"', '\\"') + '"'


def escaped(text: str) -> str:
    """A text with all escaped that must be, but for quotation marks."""
    return text.translate(_ESCAPES)


def written_lists(lists: list[Any]) -> str:
    """Nested lists, a list a line. All texts but the first of a list are put in quotes; their escapes stay."""
    parts: list[str] = []

    def write(node: list[Any], depth: int) -> None:
        parts.append("(")
        for number, item in enumerate(node):
            if isinstance(item, list):
                parts.append("\n" + "  " * depth)
                write(item, depth + 1)
            elif number and isinstance(item, str):
                parts.append(' "' + item.replace('"', '\\"') + '"')
            else:
                parts.append(f" {item}" if number else str(item))
        parts.append(")")

    write(lists, 1)
    return "".join(parts)

"""Files, places in them and faults. Knows nothing of wiring.

Every scalar is its text as written: there are no numbers, dates or booleans in a tree that comes from here.
"""

from __future__ import annotations

import re
import sys
from array import array
from bisect import bisect_right
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

MAX_BYTES = 64 * 1024 * 1024


UNPRINTABLE = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f"  # control codes, but for tabs and line ends
    "\\u200e\\u200f\\u2028-\\u202e\\u2066-\\u2069"  # marks that turn the direction of writing, or end a line unseen
    "\\ud800-\\udfff\\ufffe\\uffff]"  # half characters and none
)
"""Characters that must not reach an output."""


class TextNode:
    """A part of the text of a file; small, since a large file has millions.

    `value`: of a scalar its text, of a mapping its pairs of nodes, of a sequence its nodes. `start`, `length`: where
    it stands, in characters of the text; or `start` is its place in another text. `style`: of a scalar the quote that
    it is written in, or nothing.
    """

    __slots__ = ("length", "start", "style", "value")

    def __init__(self, value: Any, start: int | Span, length: int, style: str | None = "") -> None:
        self.value = value
        self.start = start
        self.length = length
        self.style = style


class Scalar(TextNode):
    """A text."""

    __slots__ = ()


class Mapping(TextNode):
    """Pairs of nodes."""

    __slots__ = ()


class Sequence(TextNode):
    """A list of nodes."""

    __slots__ = ()


class Span(NamedTuple):
    """A place in a file. Lines and columns count from 1; the end is exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


class FileFault(NamedTuple):
    """Something that makes a file unusable: what is wrong and, where possible, what to write instead."""

    span: Span
    message: str


class UnusableError(Exception):
    """A file that cannot be used. `faults` lists everything that is wrong with it, in the order of the file."""

    def __init__(self, faults: Iterable[FileFault]) -> None:
        self.faults = sorted(faults, key=lambda f: (f.span.file, f.span.line, f.span.column, f.message))
        super().__init__("\n".join(f"{f.span}: {f.message}" for f in self.faults))


class Allow(NamedTuple):
    """A comment `# netlister: allow RULE: reason`."""

    rule: str
    reason: str
    span: Span


_BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
"""What the parser takes for the end of a line."""


@dataclass(frozen=True, slots=True)
class Source:
    """The text of a file and the name under which it is spoken of."""

    name: str
    text: str
    _starts: array[int] = field(default_factory=lambda: array("L"), init=False, repr=False, compare=False)

    def lines(self) -> list[str]:
        """The lines of the text, without their ends."""
        return re.split(r"\r\n|\r|\n", self.text) if "\r" in self.text else self.text.split("\n")

    def start(self) -> Span:
        """The place of the first character."""
        return Span(self.name, 1, 1, 1, 1)

    def span(self, start: int | Span, length: int) -> Span:
        """The place of some characters, the first of them `start`. A place in another text stays as it is."""
        if not isinstance(start, int):
            return start
        starts = self.line_starts
        stop = start + length
        line = end = bisect_right(starts, start)
        if end < len(starts) and starts[end] <= stop:
            end = bisect_right(starts, stop)
        column = start - starts[line - 1] + 1
        return tuple.__new__(Span, (self.name, line, column, end, stop - starts[end - 1] + 1))

    @property
    def line_starts(self) -> array[int]:
        """Where the lines begin that spans count, in characters of the text."""
        return self._starts or self._find_starts()

    def _find_starts(self) -> array[int]:
        """Where the lines begin."""
        self._starts.append(0)
        self._starts.extend(found.end() for found in _BREAK.finditer(self.text))
        return self._starts


def read_source(path: str, name: str = "") -> Source:
    """Read the file `path`, or standard input for ``-``.

    A byte-order mark is dropped; line ends may be of any kind. Raises UnusableError for a file that is missing,
    a folder, too large, not UTF-8 or binary.
    """
    name = name or ("<stdin>" if path == "-" else path)
    try:
        data = _read_stdin(name) if path == "-" else _read_file(path)
    except FileNotFoundError:
        raise unusable(name, f"there is no file '{path}'") from None
    except IsADirectoryError:
        raise unusable(name, f"'{path}' is a folder; name the layout file in it") from None
    except OSError as error:
        raise unusable(name, f"'{path}' cannot be read: {error.strerror}") from None
    return decode_source(data, name)


def _read_stdin(name: str) -> bytes:
    if sys.stdin is None:
        raise unusable(name, "standard input is closed; name a layout file in place of '-'")
    return sys.stdin.buffer.read(MAX_BYTES + 1)


def _read_file(path: str) -> bytes:
    if Path(path).is_fifo() and not path.startswith(("/dev/fd/", "/proc/")):
        message = f"'{path}' is a named pipe; name a file, or write '-' and feed it to standard input"
        raise unusable(path, message)
    with Path(path).open("rb") as file:
        return file.read(MAX_BYTES + 1)


def decode_source(data: bytes, name: str) -> Source:
    """Turn bytes into a Source; raises UnusableError where they are no UTF-8 text."""
    if len(data) > MAX_BYTES:
        raise unusable(name, f"the file is larger than {MAX_BYTES // 1024 // 1024} MiB")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise unusable(name, "this is UTF-16 text; save the file as UTF-8")
    if b"\0" in data:
        raise unusable(name, "this is a binary file, not text; a layout is YAML text in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        column = len(before.rsplit(b"\n", 1)[-1].decode("utf-8", "replace")) + 1
        span = Span(name, line, column, line, column + 1)
        raise UnusableError([FileFault(span, "this is not UTF-8 text; save the file as UTF-8")]) from None
    return Source(name, text)


def unusable(name: str, message: str) -> UnusableError:
    """What is said of a whole file."""
    return UnusableError([FileFault(Span(name, 1, 1, 1, 1), message)])


def unprintable(character: str) -> str:
    """What is said of a text with a character that does not print."""
    return f"there is a character here that does not print (U+{ord(character):04X}); take it out"


def span_of(source: Source, node: TextNode) -> Span:
    """The place of a node."""
    return source.span(node.start, node.length)


_ALLOW = re.compile(r"(?:^|\s)(#\s*netlister:\s*allow\b\s*([^:\s]*)\s*:?[ \t]*(.*?))\s*$")


def allows(source: Source) -> list[Allow]:
    """The comments `# netlister: allow RULE: reason` of a file."""
    if "netlister:" not in source.text:
        return []
    found = []
    for number, line in enumerate(source.lines(), 1):
        match = _ALLOW.search(line)
        if match:
            span = Span(source.name, number, match.start(1) + 1, number, match.end(1) + 1)
            found.append(Allow(match[2], match[3], span))
    return found


def suggest(name: str, known: Iterable[str]) -> str:
    """Return `"; did you mean 'x'?"` for the known name nearest to `name`, or nothing."""
    near = get_close_matches(name, list(known), n=1, cutoff=0.6)
    if not near:
        folded = {k.casefold(): k for k in known}
        near = [folded[name.casefold()]] if name.casefold() in folded else []
    return f"; did you mean '{near[0]}'?" if near else ""


class Reader:
    """Walks the nodes of one file and gathers every fault on the way."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.faults: list[FileFault] = []

    def span(self, node: TextNode) -> Span:
        """The place of a node."""
        return span_of(self.source, node)

    def line(self, node: TextNode) -> int:
        """The line that a node begins in."""
        return self.span(node).line

    def fault(self, node: TextNode, message: str) -> None:
        """Note a fault at a node."""
        self.faults.append(FileFault(span_of(self.source, node), message))

    def text(self, node: TextNode, what: str) -> str | None:
        """The text of a scalar, or a fault: `what` says what should stand here."""
        if type(node) is Scalar:
            return str(node.value)
        shape = "a list" if isinstance(node, Sequence) else "a mapping"
        self.fault(node, f"{what} is due here, not {shape}")
        return None

    def items(self, node: TextNode, what: str) -> Iterator[tuple[str, TextNode, TextNode]]:
        """The entries of a mapping as (key, key's node, value's node); an empty scalar is an empty mapping.

        Duplicate keys are faults at their second use; the second is left out.
        """
        if type(node) is not Mapping:
            if not (type(node) is Scalar and node.value in {"", "~", "null"} and not node.style):
                self.fault(node, f"{what} is due here, as 'name: value' pairs")
            return
        seen: dict[str, TextNode] = {}
        for key, value in node.value:
            if type(key) is not Scalar:
                self.fault(key, "a name is due here, not a list or a mapping")
                continue
            name = key.value
            if name in seen:
                message = f"'{name}' is here a second time; it stands in line {self.line(seen[name])} already"
                self.fault(key, message)
                continue
            seen[name] = key
            yield name, key, value

    def entries(self, node: TextNode, what: str) -> list[TextNode]:
        """The entries of a list; an empty scalar is an empty list."""
        if type(node) is Sequence:
            return list(node.value)
        if not (type(node) is Scalar and node.value in {"", "~", "null"} and not node.style):
            self.fault(node, f"{what} is due here, as a list")
        return []

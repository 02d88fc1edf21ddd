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

import yaml
from yaml.cyaml import CParser  # type: ignore[attr-defined]

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

MAX_BYTES = 64 * 1024 * 1024
MAX_EXPANDED = 2_000_000  # nodes, with every alias written out


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


class Fault(NamedTuple):
    """Something that makes a file unusable: what is wrong and, where possible, what to write instead."""

    span: Span
    message: str


class UnusableError(Exception):
    """A file that cannot be used. `faults` lists everything that is wrong with it, in the order of the file."""

    def __init__(self, faults: Iterable[Fault]) -> None:
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
        return re.split(r"\r\n|\r|\n", self.text)

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


class _Parser(CParser):
    """The compiled YAML parser, leaving every scalar alone: a tag that is not empty was written by hand.

    Its own nodes are large. So what is two levels down, an entry of a section, is made into ours as soon as the next
    one begins; but not where there may be anchors, since these name the large ones.
    """

    def __init__(self, source: Source) -> None:
        super().__init__(source.text)
        self._source = source
        self._anchors = "&" in source.text
        self._tags = "!" in source.text
        self._small = _smaller()
        self._root: Any = None
        self._section: Any = None
        self.tagged: list[Fault] = []

    def resolve(self, kind: object, value: object, implicit: object) -> str:  # noqa: ARG002
        """Say that a node has no tag."""
        return ""

    def descend_resolver(self, node: Any, index: Any) -> None:
        """Note that a part of a node begins, or of a mapping the value of the key `index`."""
        if node is self._section:
            if index is not None and node.value and not self._anchors:
                parts = node.value
                parts[-1] = self._made(parts[-1])
        elif node is self._root:
            self._section = None
        elif self._root is None:
            self._root = node
        elif self._section is None:
            self._section = node

    def ascend_resolver(self) -> None:
        """Do nothing; the parser calls it at each node."""

    def tree(self) -> TextNode | None:
        """The one document, or None where there is none."""
        root = self.get_single_node()
        if root is None:
            return None
        if self._anchors:
            _check_aliases(self._source, root)
            self._small = _smaller({})
        made: TextNode = self._made(root)
        return made

    def _made(self, part: Any) -> Any:
        """A node of the parser, or a pair of them, made into ours."""
        for node in (part if type(part) is tuple else (part,)) if self._tags else ():
            self.tagged += _tags(self._source, node)
        return (self._small(part[0]), self._small(part[1])) if type(part) is tuple else self._small(part)


def _smaller(known: dict[int, TextNode] | None = None) -> Callable[[Any], TextNode]:
    """What makes the nodes of the parser into ours; those that are ours stay.

    `known`: by identity what was made of each, where some may stand in several places.
    """
    texts: dict[str, str] = {}
    share = texts.setdefault
    scalar, mapping, sequence = yaml.ScalarNode, yaml.MappingNode, yaml.SequenceNode

    def small(large: Any) -> TextNode:
        kind = type(large)
        if known is not None and id(large) in known:
            return known[id(large)]
        if kind is scalar:
            value, start = large.value, large.start_mark.index
            made: TextNode = Scalar(share(value, value), start, large.end_mark.index - start, large.style)
        elif kind is mapping:
            start = large.start_mark.index
            pairs = [(small(key), small(inner)) for key, inner in large.value]
            made = Mapping(pairs, start, large.end_mark.index - start)
        elif kind is sequence:
            start = large.start_mark.index
            made = Sequence([small(inner) for inner in large.value], start, large.end_mark.index - start)
        else:
            made = large
        if known is not None:
            known[id(large)] = made
        return made

    return small


def _tags(source: Source, root: Any) -> Iterator[Fault]:
    """A fault for every tag in a node of the parser and below."""
    seen: set[int] = set()
    stack = [root]
    while stack:
        node = stack.pop()
        if id(node) in seen or isinstance(node, TextNode):
            continue
        seen.add(id(node))
        if node.tag:
            tag = node.tag.replace("tag:yaml.org,2002:", "!!")
            span = source.span(node.start_mark.index, node.end_mark.index - node.start_mark.index)
            yield Fault(span, f"the tag '{tag}' is not allowed here; leave it out")
        if isinstance(node, yaml.MappingNode):
            stack += (part for pair in node.value for part in pair)
        elif isinstance(node, yaml.SequenceNode):
            stack += node.value


def read_source(path: str, name: str = "") -> Source:
    """Read the file `path`, or standard input for ``-``.

    A byte-order mark is dropped; line ends may be of any kind. Raises UnusableError for a file that is missing,
    a folder, too large, not UTF-8 or binary.
    """
    name = name or ("<stdin>" if path == "-" else path)
    try:
        data = _read_stdin(name) if path == "-" else _read_file(path)
    except FileNotFoundError:
        raise _unusable(name, f"there is no file '{path}'") from None
    except IsADirectoryError:
        raise _unusable(name, f"'{path}' is a folder; name the layout file in it") from None
    except OSError as error:
        raise _unusable(name, f"'{path}' cannot be read: {error.strerror}") from None
    return decode_source(data, name)


def _read_stdin(name: str) -> bytes:
    if sys.stdin is None:
        raise _unusable(name, "standard input is closed; name a layout file in place of '-'")
    return sys.stdin.buffer.read(MAX_BYTES + 1)


def _read_file(path: str) -> bytes:
    if Path(path).is_fifo() and not path.startswith(("/dev/fd/", "/proc/")):
        message = f"'{path}' is a named pipe; name a file, or write '-' and feed it to standard input"
        raise _unusable(path, message)
    with Path(path).open("rb") as file:
        return file.read(MAX_BYTES + 1)


def decode_source(data: bytes, name: str) -> Source:
    """Turn bytes into a Source; raises UnusableError where they are no UTF-8 text."""
    if len(data) > MAX_BYTES:
        raise _unusable(name, f"the file is larger than {MAX_BYTES // 1024 // 1024} MiB")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise _unusable(name, "this is UTF-16 text; save the file as UTF-8")
    if b"\0" in data:
        raise _unusable(name, "this is a binary file, not text; a layout is YAML text in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        column = len(before.rsplit(b"\n", 1)[-1].decode("utf-8", "replace")) + 1
        span = Span(name, line, column, line, column + 1)
        raise UnusableError([Fault(span, "this is not UTF-8 text; save the file as UTF-8")]) from None
    return Source(name, text)


def _unusable(name: str, message: str) -> UnusableError:
    return UnusableError([Fault(Span(name, 1, 1, 1, 1), message)])


_HINTS = (
    ("\\t", "use spaces, not tabs, to indent"),
    ("undefined alias", "write the value out, or name its anchor first"),
    ("did not find expected ',' or ']'", "close the bracket with ']' or put a comma between the entries"),
    ("did not find expected ',' or '}'", "close the brace with '}' or put a comma between the entries"),
    ("mapping values are not allowed", "is there a ': ' too many, or an indentation that does not fit?"),
    ("did not find expected node content", "close the bracket '[' or brace '{' that is still open, or write a value"),
    ("exceeded maximum nesting depth", "nothing in a layout nests so deeply; is a bracket left open?"),
    ("could not find expected ':'", "write 'name: value', with a space after the colon"),
)


def compose(source: Source) -> TextNode:
    """Parse the one YAML document in `source` into nodes with places.

    Raises UnusableError for text that is no YAML, empty text, several documents, tags, merge keys and aliases
    that are recursive or stand for more than MAX_EXPANDED nodes.
    """
    try:
        parser = _Parser(source)
        try:
            root = parser.tree()
        finally:
            parser.dispose()
    except yaml.YAMLError as error:
        raise UnusableError([_syntax_fault(source, error)]) from None
    except RecursionError:
        raise _unusable(source.name, "the brackets are nested too deeply") from None
    if root is None:
        raise _unusable(source.name, "the file is empty; a layout begins with 'format: netlister/1'")
    _check_tree(source, root, parser.tagged)
    return root


def _syntax_fault(source: Source, error: yaml.YAMLError) -> Fault:
    if not isinstance(error, yaml.MarkedYAMLError):
        mark = getattr(error, "position", 0)
        before = source.text[: int(mark)]
        line, column = before.count("\n") + 1, len(before.rsplit("\n", 1)[-1]) + 1
        return Fault(Span(source.name, line, column, line, column + 1), f"unreadable YAML: {error.args[-1]}")
    at: Any = error.problem_mark or error.context_mark
    line, column = (at.line + 1, at.column + 1) if at is not None else (1, 1)
    problem = " ".join(part for part in (error.context, error.problem) if part)
    hint = next((text for sign, text in _HINTS if sign in problem), "")
    lines = source.lines()
    here = lines[line - 1] if line <= len(lines) else ""
    if "\t" in here[: len(here) - len(here.lstrip())] or "found character that cannot start any token" in problem:
        hint = "use spaces, not tabs, to indent" if "\t" in here else "put the value in quotes"
    message = f"unreadable YAML: {problem}" + (f"; {hint}" if hint else "")
    return Fault(Span(source.name, line, column, line, column + 1), message)


def _check_tree(source: Source, root: TextNode, tagged: list[Fault]) -> None:
    """Refuse tags, merge keys and characters that do not print."""
    text = source.text
    faults = list(tagged)
    if "<<" in text:
        faults += _merge_keys(source, root)
    if "\\" in text or UNPRINTABLE.search(text):
        faults += _unprintable(source, root)
    if faults:
        raise UnusableError(faults)


def nodes_of(root: TextNode) -> Iterator[TextNode]:
    """Every node of a tree once, however often aliases name it."""
    seen: set[int] = set()
    stack = [root]
    while stack:
        node = stack.pop()
        if id(node) in seen:
            continue
        seen.add(id(node))
        yield node
        if isinstance(node, Mapping):
            stack += (part for pair in node.value for part in pair)
        elif isinstance(node, Sequence):
            stack += node.value


def _merge_keys(source: Source, root: TextNode) -> Iterator[Fault]:
    for node in nodes_of(root):
        for key, _ in node.value if isinstance(node, Mapping) else ():
            if isinstance(key, Scalar) and key.value == "<<" and not key.style:
                yield Fault(span_of(source, key), "merge keys '<<' are not allowed; write the entries out")


def _unprintable(source: Source, root: TextNode) -> Iterator[Fault]:
    """Texts with characters that no output may hold."""
    for node in nodes_of(root):
        if isinstance(node, Scalar) and (found := UNPRINTABLE.search(node.value)):
            yield Fault(span_of(source, node), unprintable(found[0]))


def unprintable(character: str) -> str:
    """What is said of a text with a character that does not print."""
    return f"there is a character here that does not print (U+{ord(character):04X}); take it out"


def _check_aliases(source: Source, root: yaml.Node) -> None:
    """Count the nodes of the parser with aliases written out, without writing them out."""
    sizes: dict[int, int] = {}
    active: set[int] = set()
    stack: list[tuple[yaml.Node, bool]] = [(root, False)]

    def fault(node: yaml.Node, message: str) -> UnusableError:
        return UnusableError(
            [Fault(source.span(node.start_mark.index, node.end_mark.index - node.start_mark.index), message)]
        )

    while stack:
        node, done = stack.pop()
        children: list[yaml.Node] = []
        if isinstance(node, yaml.MappingNode):
            children = [part for pair in node.value for part in pair]
        elif isinstance(node, yaml.SequenceNode):
            children = node.value
        if done:
            active.discard(id(node))
            sizes[id(node)] = 1 + sum(sizes[id(child)] for child in children)
            if sizes[id(node)] > MAX_EXPANDED:
                raise fault(node, "the aliases in here stand for millions of entries; write out what is meant")
        elif id(node) in active:
            raise fault(node, "an alias that contains itself is not allowed")
        elif id(node) not in sizes:
            active.add(id(node))
            stack.append((node, True))
            stack += ((child, False) for child in children)


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
        self.faults: list[Fault] = []

    def span(self, node: TextNode) -> Span:
        """The place of a node."""
        return span_of(self.source, node)

    def line(self, node: TextNode) -> int:
        """The line that a node begins in."""
        return self.span(node).line

    def fault(self, node: TextNode, message: str) -> None:
        """Note a fault at a node."""
        self.faults.append(Fault(span_of(self.source, node), message))

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

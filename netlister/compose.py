"""The YAML of a file as a tree of nodes with places: one document, no tags, no merge keys, no endless aliases."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import yaml
from yaml._yaml import CParser

from netlister.source import (
    UNPRINTABLE,
    FileFault,
    Mapping,
    Scalar,
    Sequence,
    Span,
    TextNode,
    UnusableError,
    span_of,
    unprintable,
    unusable,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.source import Source

MAX_EXPANDED = 2_000_000  # nodes, with every alias written out
DEEPEST = 100
"""How deep lists and mappings may stand in each other; nothing in a layout comes near it."""


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
        self._depth = 0
        self.tagged: list[FileFault] = []

    def resolve(self, kind: object, value: object, implicit: object) -> str:  # noqa: ARG002
        """Say that a node has no tag."""
        return ""

    def descend_resolver(self, node: Any, index: Any) -> None:
        """Note that a part of a node begins, or of a mapping the value of the key `index`."""
        self._depth += 1
        if self._depth > DEEPEST:
            place = self._source.span(node.start_mark.index, 1)
            message = f"this is nested more than {DEEPEST} deep, and nothing in a layout is; is a bracket left open?"
            raise UnusableError([FileFault(place, message)])
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
        """Note that a node ends."""
        self._depth -= 1

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


def _tags(source: Source, root: Any) -> Iterator[FileFault]:
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
            yield FileFault(span, f"the tag '{tag}' is not allowed here; leave it out")
        if isinstance(node, yaml.MappingNode):
            stack += (part for pair in node.value for part in pair)
        elif isinstance(node, yaml.SequenceNode):
            stack += node.value


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

    Raises UnusableError for text that is no YAML, empty text, several documents, tags, merge keys, lists nested more
    than DEEPEST deep and aliases that are recursive or stand for more than MAX_EXPANDED nodes.
    """
    try:
        parser = _Parser(source)
        try:
            root = parser.tree()
        finally:
            parser.dispose()
    except yaml.YAMLError as error:
        raise UnusableError([_syntax_fault(source, error)]) from None
    if root is None:
        raise unusable(source.name, "the file is empty; a layout begins with 'format: netlister/1'")
    _check_tree(source, root, parser.tagged)
    return root


def _syntax_fault(source: Source, error: yaml.YAMLError) -> FileFault:
    if not isinstance(error, yaml.MarkedYAMLError):
        mark = getattr(error, "position", 0)
        before = source.text[: int(mark)]
        line, column = before.count("\n") + 1, len(before.rsplit("\n", 1)[-1]) + 1
        return FileFault(Span(source.name, line, column, line, column + 1), f"unreadable YAML: {error.args[-1]}")
    at: Any = error.problem_mark or error.context_mark
    line, column = (at.line + 1, at.column + 1) if at is not None else (1, 1)
    problem = " ".join(part for part in (error.context, error.problem) if part)
    hint = next((text for sign, text in _HINTS if sign in problem), "")
    lines = source.lines()
    here = lines[line - 1] if line <= len(lines) else ""
    if "\t" in here[: len(here) - len(here.lstrip())] or "found character that cannot start any token" in problem:
        hint = "use spaces, not tabs, to indent" if "\t" in here else "put the value in quotes"
    message = f"unreadable YAML: {problem}" + (f"; {hint}" if hint else "")
    return FileFault(Span(source.name, line, column, line, column + 1), message)


def _check_tree(source: Source, root: TextNode, tagged: list[FileFault]) -> None:
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


def _merge_keys(source: Source, root: TextNode) -> Iterator[FileFault]:
    for node in nodes_of(root):
        for key, _ in node.value if isinstance(node, Mapping) else ():
            if isinstance(key, Scalar) and key.value == "<<" and not key.style:
                yield FileFault(span_of(source, key), "merge keys '<<' are not allowed; write the entries out")


def _unprintable(source: Source, root: TextNode) -> Iterator[FileFault]:
    """Texts with characters that no output may hold."""
    for node in nodes_of(root):
        if isinstance(node, Scalar) and (found := UNPRINTABLE.search(node.value)):
            yield FileFault(span_of(source, node), unprintable(found[0]))


def _check_aliases(source: Source, root: yaml.Node) -> None:
    """Count the nodes of the parser with aliases written out, without writing them out."""
    sizes: dict[int, int] = {}
    active: set[int] = set()
    stack: list[tuple[yaml.Node, bool]] = [(root, False)]

    def fault(node: yaml.Node, message: str) -> UnusableError:
        return UnusableError(
            [FileFault(source.span(node.start_mark.index, node.end_mark.index - node.start_mark.index), message)]
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

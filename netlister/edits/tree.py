"""The tree of a YAML text with the place of everything in it, for changes that leave the rest alone.

Nodes of the reader do not do for this: where an alias stands they show the place of its anchor. Offsets count
characters from 0, ends are exclusive; the end of a container is that of the last thing in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import yaml
from yaml._yaml import CParser

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

BREAKS = "\r\n\x85\u2028\u2029"
"""What ends a line for the parser, and with it a comment."""


@dataclass(slots=True, eq=False)
class TreeNode:
    """A node. `kind`: "scalar", "map", "list" or "alias".

    `start`: where its own text begins, behind an anchor. `end`: where it ends. `text`: of a scalar. `style`: its
    quote, `|` or `>`, or nothing. `pairs`: of a map, key and value; `items`: of a list. `flow`: whether in brackets.
    `anchor`: the name and the place of its anchor. `users`: the aliases that stand for it, in the order of the text.
    `target`: of an alias, what it stands for.
    """

    kind: str
    start: int
    end: int
    text: str = ""
    style: str = ""
    flow: bool = False
    pairs: Sequence[tuple[TreeNode, TreeNode]] = ()
    items: Sequence[TreeNode] = ()
    anchor: tuple[str, int] | None = None
    users: Sequence[TreeNode] = ()
    target: TreeNode | None = None

    @property
    def meant(self) -> TreeNode:
        """The node that is meant: itself, or what an alias stands for."""
        return self.meant_target() if self.target is not None else self

    def meant_target(self) -> TreeNode:
        """What an alias stands for."""
        node = self
        while node.target is not None:
            node = node.target
        return node

    def value_of(self, key: str) -> TreeNode | None:
        """The value under a key of a map."""
        node = self.meant
        number = numbers_of_keys(node).get(key)
        return None if number is None else node.pairs[number][1]

    @property
    def empty(self) -> bool:
        """Whether nothing is written here, or a word for nothing."""
        return self.kind == "scalar" and not self.style and self.text in {"", "~", "null"}


@lru_cache(maxsize=64)
def numbers_of_keys(node: TreeNode) -> dict[str, int]:
    """By key of a map the number of its pair."""
    return {key.meant.text: number for number, (key, _) in enumerate(node.pairs)}


@lru_cache(maxsize=16)
def spans_of(node: TreeNode) -> list[tuple[int, int]]:
    """Where the parts of a map or a list start, with their anchors, and end."""
    if node.kind == "list":
        return [(item.anchor[1] if item.anchor else item.start, item.end) for item in node.items]
    return [(k.anchor[1] if k.anchor else k.start, max(v.end, k.end)) for k, v in node.pairs]


class _TreeParser(CParser):
    """The compiled parser; leaves tags alone."""

    def __init__(self, text: str) -> None:
        super().__init__(text)

    def resolve(self, kind: object, value: object, implicit: object) -> str:  # noqa: ARG002
        """Say that a node has no tag."""
        return ""


def tree_of(text: str) -> TreeNode:
    """The tree of a text. One without anchors is not changed by those who look at it, and is kept for the next."""
    return _tree_of(text) if "&" in text else _kept(text)


@lru_cache(maxsize=1)
def _kept(text: str) -> TreeNode:
    return _tree_of(text)


def _tree_of(text: str) -> TreeNode:
    """The tree of a text that has been read without faults."""
    parser = _TreeParser(text)
    try:
        return _Builder(text, _events(parser)).root()
    finally:
        parser.dispose()


def _events(parser: Any) -> Iterator[Any]:
    event = parser.get_event()
    while event is not None:
        yield event
        event = parser.get_event()


class _Builder:
    def __init__(self, text: str, events: Iterator[Any]) -> None:
        self.text = text
        self.events = events
        self.anchors: dict[str, TreeNode] = {}

    def root(self) -> TreeNode:
        for event in self.events:
            if not isinstance(event, yaml.StreamStartEvent | yaml.DocumentStartEvent):
                return self.node(event)
        raise ValueError("the text is empty")

    def node(self, event: Any) -> TreeNode:
        start, end = event.start_mark.index, event.end_mark.index
        sort = type(event)
        if sort is yaml.ScalarEvent and not event.anchor:
            return TreeNode("scalar", start, end, event.value, event.style or "")
        if sort is yaml.AliasEvent:
            target = self.anchors[str(event.anchor)]
            node = TreeNode("alias", start, end, target=target)
            target.users = [*target.users, node]
            return node
        node = TreeNode("scalar", start, end)
        if event.anchor:
            begin = self.text.index("&", start)
            node.anchor = (event.anchor, begin)
            node.start = self.behind(begin + 1 + len(event.anchor))
            self.anchors[event.anchor] = node
        if sort is yaml.ScalarEvent:
            node.text, node.style, node.end = event.value, event.style or "", max(node.start, end)
            return node
        node.flow = bool(event.flow_style)
        if sort is yaml.MappingStartEvent:
            node.kind = "map"
            self.fill_map(node)
        else:
            node.kind = "list"
            self.fill_list(node)
        return node

    def fill_map(self, node: TreeNode) -> None:
        event, pairs = next(self.events), []
        while type(event) is not yaml.MappingEndEvent:
            pairs.append((self.node(event), self.node(next(self.events))))
            event = next(self.events)
        node.pairs = pairs
        self.close(node, event, [value for _, value in pairs[-1:]], pairs[0][0] if pairs else None)

    def fill_list(self, node: TreeNode) -> None:
        event, items = next(self.events), []
        while type(event) is not yaml.SequenceEndEvent:
            items.append(self.node(event))
            event = next(self.events)
        node.items = items
        self.close(node, event, items, None)

    def close(self, node: TreeNode, event: Any, parts: list[TreeNode], first: TreeNode | None) -> None:
        """Set where a container starts and ends: one without brackets ends where its last part does."""
        if self.text[event.start_mark.index : event.end_mark.index] in {"]", "}"}:
            node.end = event.end_mark.index
            return
        node.end = parts[-1].end
        if first is not None:
            node.start = first.anchor[1] if first.anchor else first.start

    def behind(self, at: int) -> int:
        """The place of the next thing on the line, or of the end of the line."""
        while at < len(self.text) and self.text[at] in " \t":
            at += 1
        return at

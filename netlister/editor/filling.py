"""A text that is still being typed, filled in so that it is YAML."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from netlister.editor.document import tree_or_none
from netlister.editor.spots import spots

if TYPE_CHECKING:
    from netlister.edits.tree import TreeNode

_SECTION = re.compile(r"^[^\s#\-\]}]", re.MULTILINE)
"""Where a section begins, as far as can be said of a text that is not YAML yet."""
FILLER = "zqx0netlister0zqx"
"""Stands for what is not typed yet."""


def filled_in(text: str, offset: int) -> tuple[str, TreeNode] | None:
    """A text near to this one that is YAML, with the filler at the place, and its tree."""
    before, after = text[:offset], text[offset:]
    stop = re.search(r"[\r\n]", after)
    line_end = stop.start() if stop else len(after)
    rest, below = after[:line_end], after[line_end:]
    closers = _closers(before)
    tries = (
        before + FILLER + after,
        before + FILLER + ":" + after,
        before + " " + FILLER + after,
        before + FILLER + closers + below,
        before + FILLER + ":" + closers + below,
        before + FILLER + rest + closers + below,
        before + FILLER + closers,
        before + FILLER + ":" + closers,
    )
    begin, spare = _section(text, offset)
    likely = [one for one in tries if one.endswith(below) and _holds(tree_or_none(one[begin : len(one) - spare]))]
    for one in [*likely, *(one for one in tries if one not in likely)]:
        tree = tree_or_none(one)
        if tree is not None and _holds(tree):
            return one, tree
    return None


def _holds(tree: TreeNode | None) -> bool:
    """Whether the filler stands in a tree."""
    return tree is not None and any(s.node.kind == "scalar" and FILLER in s.node.text for s in spots(tree))


def _section(text: str, offset: int) -> tuple[int, int]:
    """Where the section around a place begins, and how far from the end of the text it ends."""
    start = max((m.start() for m in _SECTION.finditer(text, 0, offset)), default=0)
    below = text.find("\n", offset)
    behind = _SECTION.search(text, below + 1) if below >= 0 else None
    return start, 0 if behind is None else len(text) - behind.start()


def _closers(before: str) -> str:
    """The brackets that close what is open in the last lines of a text, from where something began in column 1."""
    begin = max((m.start() for m in re.finditer(r"^[^\s#]", before, re.MULTILINE)), default=0)
    open_now: list[str] = []
    quote = ""
    previous = "\n"
    comment = False
    for sign in before[begin:]:
        if comment:
            comment = sign not in "\r\n"
        elif quote:
            quote = "" if sign == quote else quote
        elif sign in "'\"" and previous in " \t\r\n[{,:":
            quote = sign
        elif sign == "#" and previous in " \t\r\n":
            comment = True
        elif sign in "[{":
            open_now.append("]" if sign == "[" else "}")
        elif sign in "]}" and open_now:
            open_now.pop()
        previous = sign
    return quote + "".join(reversed(open_now))

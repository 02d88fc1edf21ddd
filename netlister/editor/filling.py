"""A text that is still being typed, filled in so that it is YAML."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from netlister.editor.document import tree_or_none
from netlister.editor.spots import spots

if TYPE_CHECKING:
    from netlister.edits.tree import TreeNode

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
    for one in tries:
        tree = tree_or_none(one)
        if tree is not None and any(s.node.kind == "scalar" and FILLER in s.node.text for s in spots(tree)):
            return one, tree
    return None


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

"""Changes of the values of a YAML text that leave the rest of the text as it is: comments, order, style, line ends.

A patch says what is to stand where: a value for a key or a number, nothing (taken out), or a patch of what is there;
and what is added to a list. The edits that come of it are as small as can be. What stands in several places through
an alias is changed in the one place alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.edits.tree import TreeNode


class TextEdit(NamedTuple):
    """One piece of text in place of another. Lines and columns count from 1, in characters; the end is exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int
    text: str


@dataclass(slots=True)
class Patch:
    """What changes in a map or a list.

    `set`: per key (or number of the list) the new value, a patch of the one there, or None: taken out. A value is a
    text, a list or a map.
    `added`: what is added, after which number of the list (None: at the end).
    """

    set: dict[str | int, Patch | object] = field(default_factory=dict)
    added: list[tuple[int | None, object]] = field(default_factory=list)

    def at(self, *path: str | int) -> Patch:
        """The patch of what stands under these keys, made where there is none yet."""
        patch = self
        for key in path:
            inner = patch.set.get(key)
            if not isinstance(inner, Patch):
                inner = patch.set[key] = Patch()
            patch = inner
        return patch


class CannotPatchError(Exception):
    """A patch that does not fit the text."""


def apply_edits(text: str, edits: Sequence[TextEdit]) -> str:
    """The text with all edits made at once."""
    starts = line_starts(text)
    made = sorted((starts[e.line - 1] + e.column - 1, starts[e.end_line - 1] + e.end_column - 1, e.text) for e in edits)
    parts: list[str] = []
    at = 0
    for start, end, new in made:
        if start < at:
            raise CannotPatchError("two edits lie upon each other")
        parts += (text[at:start], new)
        at = end
    return "".join((*parts, text[at:]))


LINE_END = re.compile(r"\r\n|\r|\n")


@lru_cache(maxsize=2)
def line_starts(text: str) -> tuple[int, ...]:
    """Where the lines of a text begin."""
    return (0, *(match.end() for match in LINE_END.finditer(text)))


# -- values as text

_PLAIN = re.compile(r"[^\W_](?:[\w ./+%()=*<>-]*[\w./+%()=*<>-])?|[0-9]|_[\w.-]*")


def scalar(text: str, style: str = "") -> str:
    """A text as YAML: as it is where that can be read back, else in quotes; `style`: a quote that is kept."""
    if not text.isprintable() or style == '"':
        return '"' + "".join(_escaped(c) for c in text) + '"'
    if style == "'" or not _PLAIN.fullmatch(text) or text in {"null", "~"}:
        return "'" + text.replace("'", "''") + "'"
    return text


def _escaped(char: str) -> str:
    if char in {'"', "\\"}:
        return f"\\{char}"
    return char if char.isprintable() else f"\\U{ord(char):08X}"


def flow_text(value: object) -> str:
    """A value on one line."""
    if isinstance(value, str):
        return scalar(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar(key)}: {flow_text(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(flow_text(inner) for inner in value) + "]"
    raise TypeError(type(value))


def plain(node: TreeNode) -> object:
    """The value of a node, aliases written out."""
    node = node.meant
    if node.kind == "map":
        return {key.meant.text: plain(value) for key, value in node.pairs}
    return [plain(item) for item in node.items] if node.kind == "list" else node.text


def with_patch(value: object, patch: object) -> object:
    """A value with a patch in it."""
    if not isinstance(patch, Patch):
        return patch
    if isinstance(value, list) or (not isinstance(value, dict) and patch.added):
        items = value if isinstance(value, list) else []
        made: list[object] = []
        for number, item in enumerate(items):
            if number in patch.set:
                new = patch.set[number]
                made += [] if new is None else [with_patch(item, new)]
            else:
                made.append(item)
            made += [new for after, new in patch.added if after == number]
        return made + [new for after, new in patch.added if after is None]
    found = dict(value) if isinstance(value, dict) else {}
    for key, new in patch.set.items():
        if new is None:
            found.pop(str(key), None)
        else:
            found[str(key)] = with_patch(found.get(str(key), ""), new)
    return found

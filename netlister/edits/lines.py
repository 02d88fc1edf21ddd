"""Edits of a text that is made of lines: gathered, put in order, and made at the ends of lines or of whole ones."""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import TYPE_CHECKING

from netlister.edits.patch import LINE_END, CannotPatchError, TextEdit, line_starts
from netlister.edits.tree import BREAKS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.edits.tree import TreeNode


class EditedLines:
    """A text with edits for it, gathered as (start, end, order, text)."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.made: list[tuple[int, int, int, str]] = []
        match = LINE_END.search(text)
        self.eol = match[0] if match else "\n"
        self.step = self._step()

    def _step(self) -> int:
        found = re.search(r"^( +)[^\s#-]", self.text, re.MULTILINE)
        return len(found[1]) if found else 2

    def edit(self, start: int, end: int, text: str) -> None:
        """Write a text in place of what stands from `start` to before `end`."""
        self.made.append((start, end, len(self.made), text))

    def edits(self, file: str) -> list[TextEdit]:
        """All edits; those that touch become one."""
        cuts = [(start, end) for start, end, _, text in self.made if not text]
        for number, (start, end, order, text) in enumerate(self.made):
            inside = [cut for cut in cuts if start == end and cut[0] < start < cut[1]]
            if inside and text.startswith(self.eol):  # lines behind a line that goes: they come before it
                self.made[number] = (inside[0][0], inside[0][0], order, text[len(self.eol) :] + self.eol)
        self.made.sort(key=lambda e: (e[0], e[1], e[2]))
        merged: list[tuple[int, int, str]] = []
        for start, end, _, new in self.made:
            if merged and start < merged[-1][1]:
                raise CannotPatchError("two changes touch the same text")
            if merged and start == merged[-1][1]:
                merged[-1] = (merged[-1][0], end, merged[-1][2] + new)
            else:
                merged.append((start, end, new))
        starts = line_starts(self.text)
        return [
            TextEdit(file, *line_and_column(starts, start), *line_and_column(starts, end), new)
            for start, end, new in merged
            if self.text[start:end] != new
        ]

    def same_line(self, a: int, b: int) -> bool:
        """Whether two places are on one line."""
        return not any(c in BREAKS for c in self.text[a:b])

    def line_start(self, at: int) -> int:
        """Where the line of a place begins."""
        return line_start(self.text, at)

    def line_end(self, at: int) -> int:
        """Where the line of a place ends, before what ends it."""
        while at < len(self.text) and self.text[at] not in BREAKS:
            at += 1
        return at

    def column(self, at: int) -> int:
        """How far from the margin an entry stands; one behind a `?`, as far as that."""
        column = at - self.line_start(at)
        mark = re.match(r"[ -]*(\?)[ ]+$", self.text[at - column : at])
        return mark.start(1) if mark else column

    def after(self, at: int, lines: list[str], last: TreeNode | None) -> None:
        """Write lines behind the line in which something ends."""
        text = self.eol.join(lines)
        while last is not None and last.kind in {"map", "list"} and not last.flow:
            last = last.pairs[-1][1] if last.kind == "map" else last.items[-1]
        if last is not None and last.style in {"|", ">"} and self.line_start(at) == at:
            self.edit(at, at, text + self.eol)
            return
        end = self.line_end(at)
        self.edit(end, end, self.eol + text)

    def cut_line(self, spans: list[tuple[int, int]], number: int, gone: set[int], first: int) -> None:
        """Take out an entry that stands on lines of its own."""
        start, end = spans[number]
        line = self.line_start(start)
        if self.text[line:start].strip(" "):  # behind a dash or a key of its own
            after = next((n for n in range(number + 1, len(spans)) if n not in gone), None)
            if start != first or after is None:
                raise CannotPatchError("an entry stands here in a way that cannot be taken out")
            self.edit(start, spans[number + 1][0], "")
            return
        if end > start and self.text[end - 1] in BREAKS:
            self.edit(line, end, "")
            return
        stop = self.line_end(end)
        if stop < len(self.text):
            stop += 2 if self.text[stop : stop + 2] == "\r\n" else 1
        elif line > 0 and number - 1 not in gone:
            line -= 2 if self.text[line - 2 : line] == "\r\n" else 1
        self.edit(line, stop, "")


def line_start(text: str, at: int) -> int:
    """Where the line of a place in a text begins."""
    while at > 0 and text[at - 1] not in BREAKS:
        at -= 1
    return at


def line_and_column(starts: Sequence[int], at: int) -> tuple[int, int]:
    """The line and column of a character, counted from 1; `starts`: where the lines begin."""
    line = bisect_right(starts, at)
    return line, at - starts[line - 1] + 1

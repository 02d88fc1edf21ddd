"""The edits of a YAML text that bring a patch into it."""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import pairwise

from netlister.edits.lines import EditedLines, line_and_column, line_start
from netlister.edits.patch import (
    CannotPatchError,
    Patch,
    TextEdit,
    apply_edits,
    flow_text,
    line_starts,
    plain,
    scalar,
    with_patch,
)
from netlister.edits.tree import BREAKS, TreeNode, numbers_of_keys, spans_of, tree_of


def patched(file: str, text: str, patch: Patch) -> list[TextEdit]:
    """The edits that bring a patch into a text, in the order of the text, none of them touching another."""
    tree = tree_of(text)
    writer = _Writer(text, tree)
    writer.change(tree, patch)
    return writer.edits(file)


def patched_spelled_out(file: str, text: str, patch: Patch) -> list[TextEdit]:
    """As `patched`, with every alias of the text written out first, for changes that lie across anchors."""
    tree = tree_of(text)
    writer = _Writer(text, tree)
    writer.spell_out(tree)
    plain_text = apply_edits(text, writer.edits(file))
    new = apply_edits(plain_text, patched(file, plain_text, patch))
    return _by_lines(file, text, new)


def _by_lines(file: str, old: str, new: str) -> list[TextEdit]:
    """The edits between two texts, whole lines each."""
    from difflib import SequenceMatcher

    starts = line_starts(old)
    a = [old[i:j] for i, j in pairwise([*starts, len(old)])]
    b = [new[i:j] for i, j in pairwise([*line_starts(new), len(new)])]
    places = [*starts, len(old)]
    return [
        TextEdit(file, *line_and_column(starts, places[i1]), *line_and_column(starts, places[i2]), "".join(b[j1:j2]))
        for tag, i1, i2, j1, j2 in SequenceMatcher(None, a, b, autojunk=False).get_opcodes()
        if tag != "equal"
    ]


class _Writer(EditedLines):
    """Gathers the edits of a patch."""

    def __init__(self, text: str, root: TreeNode) -> None:
        super().__init__(text)
        self.root = root

    def spell_out(self, node: TreeNode) -> None:
        """Write out every alias and drop every anchor."""
        if node.kind == "alias":
            value = plain(node)
            self.edit(node.start, node.end, scalar(value) if isinstance(value, str) else flow_text(value))
            return
        if node.anchor:
            name, at = node.anchor
            self.edit(at, at + 1 + len(name), "")
        for child in (*node.items, *(part for pair in node.pairs for part in pair)):
            self.spell_out(child)

    # -- a node

    def change(self, node: TreeNode, new: object) -> None:
        """Make a node into a new value or patch it."""
        if node.kind == "alias":
            value = with_patch(plain(node), new)
            self.edit(node.start, node.end, flow_text(value) if not isinstance(value, str) else scalar(value))
            return
        if node.anchor and node.users:
            self._hand_on(node)
        if not isinstance(new, Patch):
            self._replace(node, new)
        elif node.kind == "map" and not new.added:
            self._map(node, new)
        elif node.kind == "list":
            self._list(node, new)
        elif node.empty:
            self._replace(node, with_patch("", new))
        else:
            raise CannotPatchError("a list is due here")

    def _hand_on(self, node: TreeNode) -> None:
        """Let the first alias of a node carry its anchor, with the value as it was, before the node changes."""
        assert node.anchor is not None
        name, at = node.anchor
        value = plain(node)
        first = node.users[0]
        end = at + 1 + len(name)
        self.edit(at, node.start if self.same_line(at, node.start) and node.start < node.end else end, "")
        self.edit(first.start, first.end, f"&{name} " + (scalar(value) if isinstance(value, str) else flow_text(value)))
        node.users, node.anchor = [], None

    def _leave(self, *gone: TreeNode) -> None:
        """Hand on the anchors in what is taken out to the first alias outside it."""
        inside: set[int] = set()
        stack = list(gone)
        found = []
        while stack:
            node = stack.pop()
            inside.add(id(node))
            if node.anchor:
                found.append(node)
            stack += (*node.items, *(part for pair in node.pairs for part in pair))
        for node in found:
            users = [user for user in node.users if id(user) not in inside]
            if users and node.anchor:
                value = plain(node)
                text = scalar(value) if isinstance(value, str) else flow_text(value)
                self.edit(users[0].start, users[0].end, f"&{node.anchor[0]} {text}")

    def _replace(self, node: TreeNode, value: object) -> None:
        text = (
            scalar(value, node.style) if isinstance(value, str) and node.style not in {"|", ">"} else flow_text(value)
        )
        if node.kind == "scalar" and node.style in {"|", ">"}:
            raise CannotPatchError("a block of text stands here")
        if node.kind in {"map", "list"}:
            self._leave(*node.items, *(part for pair in node.pairs for part in pair))
        if node.start == node.end:
            before = self.text[node.start - 1 : node.start]
            self.edit(node.start, node.end, text if before in {" ", ""} else f" {text}")
            return
        self.edit(node.start, node.end, text)

    # -- maps

    def _map(self, node: TreeNode, patch: Patch) -> None:
        keys = numbers_of_keys(node)
        gone: set[int] = set()
        fresh: list[tuple[str, object]] = []
        for key, new in patch.set.items():
            number = keys.get(str(key))
            if new is None:
                if number is not None:
                    gone.add(number)
            elif number is None:
                fresh.append((str(key), with_patch("", new) if isinstance(new, Patch) else new))
            else:
                self._value(node, number, new)
        spans = spans_of(node)
        self._leave(*(part for number in gone for part in node.pairs[number]))
        if node.flow:
            self._flow(node, spans, gone, [(None, f"{scalar(k)}: {flow_text(v)}") for k, v in fresh])
            return
        if fresh and len(gone) == len(spans):
            key, value = fresh.pop(0)
            gone.discard(len(spans) - 1)
            self.edit(*spans[-1], f"{scalar(key)}: {flow_text(value)}")
        for number in sorted(gone):
            self.cut_line(spans, number, gone, first=node.pairs[0][0].start)
        if fresh:
            indent = self.column(spans[0][0])
            lines = [line for key, value in fresh for line in self._entry(indent, key, value)]
            last = max(number for number in range(len(spans)) if number not in gone)
            tail = self.text[spans[-1][1] :]
            if node is self.root and not re.search(r"^\.\.\.|^---", tail, re.MULTILINE):
                self._at_the_end(lines)
            else:
                self.after(spans[last][1], lines, node.pairs[last][1])

    def _at_the_end(self, lines: list[str]) -> None:
        """Write lines at the end of the file; one without a line end there stays so."""
        text, end = self.eol.join(lines), len(self.text)
        whole = not self.text or self.text[-1] in BREAKS
        self.edit(end, end, text + self.eol if whole else self.eol + text)

    def _value(self, node: TreeNode, number: int, new: object) -> None:
        """Change the value of a pair."""
        key, value = node.pairs[number]
        if not node.flow and value.empty and value.kind == "scalar":
            made = with_patch("", new) if isinstance(new, Patch) else new
            if not isinstance(made, str) and node.pairs and self.column(node.pairs[0][0].start) == 0:
                self._begin(key, value, made)
                return
        if node.flow and value.start == value.end and ":" not in self.text[key.end : value.end]:
            made = with_patch("", new) if isinstance(new, Patch) else new
            self.edit(key.end, key.end, f": {scalar(made) if isinstance(made, str) else flow_text(made)}")
            return
        if value.kind in {"map", "list"} and not value.flow and not isinstance(new, Patch):
            self._leave(*value.items, *(part for pair in value.pairs for part in pair))
            colon = self.text.index(":", key.end)
            self.edit(colon + 1, value.end, f" {flow_text(new)}")
            return
        self.change(value, new)

    def _begin(self, key: TreeNode, value: TreeNode, made: object) -> None:
        """Fill a section that is there and empty."""
        if value.end > value.start:
            self.edit(value.start, value.end, "")
        lines = self._entry(self.column(key.start), key.meant.text, made)[1:]
        self.after(max(value.end, key.end), lines, None)

    def _entry(self, indent: int, key: str, value: object) -> list[str]:
        """The lines of a new entry: a map of maps or a list of maps spread over lines, all else on one."""
        pad, inner = " " * indent, " " * (indent + self.step)
        if isinstance(value, dict) and value and all(isinstance(v, dict) for v in value.values()):
            return [f"{pad}{scalar(key)}:", *(f"{inner}{scalar(k)}: {flow_text(v)}" for k, v in value.items())]
        if isinstance(value, list | tuple) and value and all(isinstance(v, dict) for v in value):
            return [f"{pad}{scalar(key)}:", *(f"{inner}- {flow_text(v)}" for v in value)]
        return [f"{pad}{scalar(key)}: {flow_text(value)}"]

    # -- lists

    def _list(self, node: TreeNode, patch: Patch) -> None:
        gone = {int(number) for number, new in patch.set.items() if new is None}
        for number, new in patch.set.items():
            if new is not None:
                self.change(node.items[int(number)], new)
        spans = spans_of(node)
        self._leave(*(node.items[number] for number in gone))
        if node.flow or not node.items:
            self._flow(node, spans, gone, [(after, flow_text(value)) for after, value in patch.added])
            return
        dashes = _dashes(self.text, node)
        added = self._in_place(spans, gone, patch.added)
        if gone:
            lines = [(dash, end) for dash, (_, end) in zip(dashes, spans, strict=True)]
            for number in sorted(gone):
                self.cut_line(lines, number, gone, first=dashes[0])
        column = self.column(dashes[0])
        for number, value in added:
            written = self._item(node.items[number], column, value)
            self.after(spans[number][1], written, node.items[number])

    def _in_place(
        self, spans: list[tuple[int, int]], gone: set[int], added: list[tuple[int | None, object]]
    ) -> list[tuple[int, object]]:
        """Behind which item each addition goes; one behind items that are all taken out takes the place of one."""
        found = []
        for after, value in added:
            number = len(spans) - 1 if after is None else after
            kept = next((n for n in range(number, -1, -1) if n not in gone), None)
            if kept is not None:
                found.append((kept, value))
                continue
            gone.discard(number)
            self._replace_item(spans[number], value)
        return found

    def _replace_item(self, span: tuple[int, int], value: object) -> None:
        end = span[1]
        while end > span[0] and self.text[end - 1] in BREAKS:
            end -= 1
        self.edit(span[0], end, flow_text(value))

    def _item(self, like: TreeNode, column: int, value: object) -> list[str]:
        """The lines of a new item, written as the one beside it is."""
        pad = " " * column
        if isinstance(value, dict) and value and like.kind == "map" and not like.flow:
            lines = [f"{scalar(key)}: {flow_text(inner)}" for key, inner in value.items()]
            deep = " " * max(2, self.column(like.start) - column)
            return [f"{pad}-{deep[1:]}{lines[0]}", *(f"{pad}{deep}{line}" for line in lines[1:])]
        return [f"{pad}- {flow_text(value)}"]

    # -- containers in brackets

    def _flow(
        self, node: TreeNode, spans: list[tuple[int, int]], gone: set[int], added: list[tuple[int | None, str]]
    ) -> None:
        kept = [number for number in range(len(spans)) if number not in gone]
        last = kept[-1] if kept else None
        if gone:
            self._cut_flow(node, spans, gone, last)
        before: dict[int, list[str]] = {}
        head: list[str] = []
        for after, text in added:
            target = last if after is None else max((k for k in kept if k <= after), default=None)
            (head if target is None else before.setdefault(target, [])).append(text)
        for number, texts in before.items():
            self.edit(spans[number][1], spans[number][1], "".join(f", {text}" for text in texts))
        if head:
            text = ", ".join(head) + (", " if kept else "")
            self.edit(node.start + 1, node.start + 1, text)

    def _cut_flow(self, node: TreeNode, spans: list[tuple[int, int]], gone: set[int], last: int | None) -> None:
        number = 0
        while number < len(spans):
            if number not in gone:
                number += 1
                continue
            stop = number
            while stop + 1 in gone:
                stop += 1
            if stop + 1 < len(spans):
                self.edit(spans[number][0], spans[stop + 1][0], "")
            elif last is None:
                self.edit(spans[0][0], node.end - 1, "")
            else:
                comma = self._comma(spans[last][1], spans[number][0])
                self.edit(comma, comma + 1, "")
                start = spans[number][0]
                while start > comma + 1 and self.text[start - 1] in " \t":
                    start -= 1
                self.edit(start, spans[stop][1], "")
            number = stop + 1

    def _comma(self, start: int, end: int) -> int:
        at = start
        while at < end:
            if self.text[at] == ",":
                return at
            if self.text[at] == "#" and self.text[at - 1] in " \t" + BREAKS:
                while at < end and self.text[at] not in BREAKS:
                    at += 1
            at += 1
        raise CannotPatchError("no comma stands here")


@lru_cache(maxsize=16)
def _dashes(text: str, node: TreeNode) -> list[int]:
    """Where the dash of each item of a list stands."""
    found = []
    spans = spans_of(node)
    low = line_start(text, min(node.start, spans[0][0]))
    for start, end in spans:
        gap = text[low:start]
        match = None
        for match in re.finditer(r"(?:^|[\r\n\x85\u2028\u2029])[ ]*(-)(?=\s|$)|(?<=[ ])(-)(?=\s*$)", gap):
            if match[1]:
                break
        if match is None:
            raise CannotPatchError("a list is written here in a way that cannot be edited")
        found.append(low + match.start(1 if match[1] else 2))
        low = end
    return found

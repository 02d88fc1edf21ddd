"""The entries in the text of a layout: of which kind a piece is, which positions a machine has; as far as written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.editor.filling import FILLER
from netlister.editor.hover import kind_of
from netlister.editor.naming import Names
from netlister.kinds import KindError
from netlister.layout.terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.edits.tree import TreeNode
    from netlister.kinds import Library
    from netlister.kinds.model import Kind


class WrittenEntries:
    """The entries of a text that may be half-written."""

    def __init__(self, text: str, tree: TreeNode, known: Library) -> None:
        self.names = Names(text, tree)
        self.tree = tree
        self.known = known
        self._by_name: dict[str, dict[str, TreeNode]] = {}  # as they are asked for

    def _entry(self, name: str) -> TreeNode | None:
        spot = self.names.entries.get(name)
        if spot is None:
            return None
        section = str(spot.path[0])
        if section not in self._by_name:
            found = self.tree.value_of(section)
            pairs = found.meant.pairs if found is not None else []
            self._by_name[section] = {key.meant.text: value for key, value in reversed(pairs)}  # the first counts
        return self._by_name[section].get(name)

    def pieces(self) -> Iterator[tuple[str, Kind]]:
        """The pieces of track whose kind is known, with it."""
        for name, spot in self.names.entries.items():
            kind = self.kind(name) if spot.path[0] == "track" and FILLER not in name else None
            if kind is not None:
                yield name, kind

    def kind(self, name: str) -> Kind | None:
        """The kind of a piece as far as it is written, or None."""
        entry = self._entry(name)
        said = kind_of(entry)
        try:
            hands = self.known.takes(said).hands
            hand = entry.value_of("hand") if entry is not None else None
            chosen = hand.meant.text if hand is not None and hand.meant.text in hands else next(iter(hands), "")
            return self.known.kind(said, chosen)
        except KindError:
            return None

    def positions(self, name: str) -> tuple[str, ...]:
        """The positions of a machine, a turnout or one of its tie bars, a switch; nothing for what has none."""
        owner, own = Terminal.of(name)
        section = self.names.section(owner)
        entry = self._entry(owner)
        if section == "track":
            kind = self.kind(owner)
            bars = [bar for bar in kind.bars if not own or bar.name == own] if kind is not None else []
            return bars[0].positions if bars else ()
        if entry is None:
            return ()
        if section == "machines":
            throws = entry.value_of("throws")
            first = throws.meant.items[0] if throws is not None and throws.meant.items else throws
            if first is not None and first.meant.pairs:
                first = first.meant.pairs[0][0]
            text = first.meant.text if first is not None else ""
            return self.positions(text) if text and self.names.section(Terminal.of(text).owner) == "track" else ()
        listed = entry.value_of("positions")
        return tuple(item.meant.text for item in listed.meant.items) if listed is not None else ()

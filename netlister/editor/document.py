"""A layout as it is open in an editor: its text, what is wrong with it, and what was last known of it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from netlister.source import Source, UnusableError

if TYPE_CHECKING:
    from pathlib import Path

    from netlister.check import Report
    from netlister.edits.tree import TreeNode
    from netlister.layout.model import Layout
    from netlister.rules.analysis import Analysis
    from netlister.source import FileFault

_LAYOUT = re.compile(r"""^["']?format["']?\s*:\s*["']?netlister/""", re.MULTILINE)
_NETLIST = re.compile(r"\s*\(")
_EXPORT = re.compile(r"\s*\(export\b")


def is_layout(text: str) -> bool:
    """Whether a text says that it is a layout, or is a netlist, which stands for one."""
    return _LAYOUT.search(text) is not None or _EXPORT.match(text) is not None


@dataclass(frozen=True, slots=True)
class Checked:
    """A text that could be read, with its proof."""

    source: Source
    layout: Layout
    analysis: Analysis
    report: Report


@dataclass(slots=True)
class OpenDocument:
    """A text in an editor, under a name and in a folder (None: it is no file yet).

    `looked_at`: the text that was looked at last. `faults`: why that cannot be used. `checked`: that text, or the last
    before it that could be read.
    """

    name: str
    folder: Path | None
    text: str
    looked_at: str | None = None
    faults: tuple[FileFault, ...] = ()
    checked: Checked | None = None
    _kept: list[tuple[str, TreeNode | None]] = field(default_factory=list, repr=False)  # of one text; copies share it

    def look(self) -> None:
        """Read and check the text as it is now."""
        self.settle(self.text, looked_at(self.name, self.folder, self.text))

    def settle(self, text: str, found: Checked | tuple[FileFault, ...]) -> None:
        """Take in what was found of a text."""
        self.looked_at = text
        if isinstance(found, Checked):
            self.checked, self.faults = found, ()
        else:
            self.faults = found

    @property
    def settled(self) -> bool:
        """Whether the text as it is now was looked at."""
        return self.looked_at == self.text

    @property
    def current(self) -> Checked | None:
        """What is known of the text as it is now; None where it was not looked at yet, or cannot be used."""
        return self.checked if self.settled and not self.faults else None

    @property
    def tree(self) -> TreeNode | None:
        """The places in the text as it is now, or None where it is no YAML."""
        text = self.text
        for known, tree in self._kept:
            if known == text:
                return tree
        tree = tree_or_none(text)
        self._kept[:] = [(text, tree)]
        return tree


def tree_or_none(text: str) -> TreeNode | None:
    """The tree of a text, or None where it is no YAML that a layout may be written in.

    What only the reader refuses, as tags, is no matter here; but an alias that contains itself would have no end.
    """
    import yaml

    from netlister.compose import compose
    from netlister.edits.tree import tree_of

    if _NETLIST.match(text):
        return None
    try:
        if "&" in text:
            compose(Source("", text))
        return tree_of(text)
    except (UnusableError, ValueError, KeyError, RecursionError, yaml.YAMLError):
        return None


def looked_at(name: str, folder: Path | None, text: str) -> Checked | tuple[FileFault, ...]:
    """What comes of a text: its proof, by the rules of a plain check, or the faults for which it cannot be used."""
    from netlister.check import chosen, examine
    from netlister.netlists.any import read_any
    from netlister.rules.analysis import Analysis

    source = Source(name, text)
    try:
        layout = read_any(source, folder)
        analysis = Analysis.of(layout)
        return Checked(source, layout, analysis, examine(analysis, chosen()))
    except UnusableError as error:
        return tuple(error.faults)

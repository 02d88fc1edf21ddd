"""A layout from its file or from a netlist, whichever it is."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from netlister.layout.model import Layout
    from netlister.source import Source

_NETLIST = re.compile(r"\s*\(")


def read_any(source: Source, folder: Path | None = None) -> Layout:
    """Read a layout, or the layout that a netlist in KiCad's format describes; the first character decides.

    `folder` is where the file lies, for the files of kinds. Raises UnusableError with every fault and its place.
    """
    if _NETLIST.match(source.text):
        from netlister.netlists.drawing import read
        from netlister.netlists.rebuild import layout_of

        return layout_of(read(source), folder)
    from netlister.layout.read import read_layout

    return read_layout(source, folder)

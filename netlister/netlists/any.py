"""A layout from its file or from a netlist, whichever it is."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from netlister.source import FileFault, UnusableError

if TYPE_CHECKING:
    from pathlib import Path

    from netlister.layout.model import Layout
    from netlister.source import Source

_NETLIST = re.compile(r"\s*\(")
_OTHERS = (
    (re.compile(r"\s*<"), "XML, as an editor's own format for lists of parts is"),
    (re.compile(r"\s*\*PADS"), "a netlist for another program, which begins with '*PADS'"),
    (re.compile(r"\s*\(\s*\{"), "a netlist for another program, which begins with '( {'"),
    (re.compile(r"\s*\(NETLIST\)"), "a netlist for another program, which begins with '(NETLIST)'"),
    (re.compile(r"\s*\.HEA\b"), "a netlist for another program, which begins with '.HEA'"),
    (re.compile(r"\s*(?:\*|\.title\b|\.subckt\b)", re.IGNORECASE), "a deck for SPICE"),
)
"""How other formats begin that schematic editors export, and what they are."""

_SCRIPT = re.compile(r"^(?:from[ \t]+[\w.]+[ \t]+import[ \t]+\S|import[ \t]+[\w.]+[ \t]*(?:$|as[ \t]|,))", re.MULTILINE)
"""A line of Python that neither a layout nor a netlist has."""


def read_any(source: Source, folder: Path | None = None) -> Layout:
    """Read a layout, or the layout that a netlist in KiCad's format describes; the first character decides.

    `folder` is where the file lies, for the files of kinds. Raises UnusableError with every fault and its place.
    """
    for begins, what in _OTHERS:
        if begins.match(source.text):
            message = f"this is {what}; export the netlist in KiCad's own format, which begins with '(export'"
            raise UnusableError([FileFault(source.start(), message)])
    if _SCRIPT.search(source.text):
        message = (
            "this is a script, which is not run from here; run it yourself, as 'python wiring.py': the functions "
            "'check', 'mend' and 'propose' of 'netlister.skidl' tell there what they find, with its lines"
        )
        raise UnusableError([FileFault(source.start(), message)])
    if _NETLIST.match(source.text):
        from netlister.netlists.drawing import read
        from netlister.netlists.rebuild import layout_of

        return layout_of(read(source), folder)
    from netlister.layout.read import read_layout

    return read_layout(source, folder)

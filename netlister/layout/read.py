"""From the text of a layout file to the layout; all that is wrong with it is reported at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister import kinds
from netlister.compose import compose
from netlister.layout import _feeds, _gear, _joints, _moving, _names, _power, _rest, _track
from netlister.layout._context import LayoutReader
from netlister.layout.schema import FORMAT, TOP
from netlister.layout.use import used_files
from netlister.quantity import shown
from netlister.source import FileFault, Reader, Scalar, Sequence, UnusableError, allows, suggest
from netlister.source import Mapping as MappingNode

if TYPE_CHECKING:
    from pathlib import Path

    from netlister.layout.model import Layout
    from netlister.source import Source, TextNode

REQUIRED = {
    "format": "begin the file with 'format: netlister/1'",
    "supplies": "add them, as in 'supplies: {main: {type: dcc, voltage: 15 V}}'",
    "track": "add the pieces, as in 'track: {siding: {length: 450 mm}}'",
}

Sections = dict[str, tuple["TextNode", "TextNode"]]


def read_layout(source: Source, folder: Path | None = None) -> Layout:
    """Read a layout. Quantities become SI units and names are resolved.

    `folder` is where the file lies, for the files that `use` names; None for text that comes from no file.
    Raises UnusableError, which lists every fault of the file with its place.
    """
    return read_nodes(source, compose(source), folder)


def read_nodes(source: Source, root: TextNode, folder: Path | None = None) -> Layout:
    """Read a layout from the nodes of its text. See `read_layout`."""
    first = Reader(source)
    sections = _sections(first, root)
    before = len(first.faults)
    extra = used_files(first, sections["use"][1], folder) if "use" in sections else []
    try:
        library = kinds.library(None, extra)
    except UnusableError as error:
        first.faults += error.faults
        library = kinds.library(None, [])
    faulty_kinds = len(first.faults) > before
    used = _texts(sections["use"][1]) if "use" in sections else ()
    del root  # so that sections that have been read can go
    r = LayoutReader(source, library)
    r.faults = first.faults
    r.kinds_missing = faulty_kinds
    r.sections = sections
    _names.register(r)
    _read_sections(r)
    if r.faults:
        raise UnusableError(r.faults)
    _names.lone_junctions(r)
    _names.joined_to_themselves(r)
    r.layout.notices.sort(key=lambda notice: notice.span)
    r.layout.allows = allows(source)
    r.layout.use = used
    return r.layout


def _sections(r: Reader, root: TextNode) -> Sections:
    """The sections of a file. Raises UnusableError where it is not a layout at all."""
    if type(root) is not MappingNode:
        what = "text" if type(root) is Scalar else "a list"
        r.fault(root, f"a layout is a mapping, not {what}; begin it with 'format: {FORMAT}'")
        raise UnusableError(r.faults)
    found: Sections = {}
    nodes = {key.value: (key, value) for key, value in root.value if type(key) is Scalar}
    for name, _, _ in r.items(root, "a layout"):
        if name in TOP:
            found[name] = nodes[name]
        else:
            hint = suggest(name[:80], TOP) or f"; the sections are {', '.join(TOP)}"
            r.fault(nodes[name][0], f"there is no section '{shown(name)}'{hint}")
    _check_format(r, found)
    for name, advice in REQUIRED.items():
        _require(r, found, name, advice)
    return found


def _texts(node: TextNode) -> tuple[str, ...]:
    """The texts of a list, or the one text in its place."""
    return tuple(str(n.value) for n in (node.value if type(node) is Sequence else [node]) if n.value)


def _check_format(r: Reader, sections: Sections) -> None:
    if "format" not in sections:
        return
    text = r.text(sections["format"][1], f"'{FORMAT}'")
    if text is not None and text != FORMAT and text:
        r.fault(sections["format"][1], f"the format '{shown(text)}' is not known; write '{FORMAT}'")


def _require(r: Reader, sections: Sections, name: str, advice: str) -> None:
    if name not in sections:
        if not any(f.message.endswith(f"did you mean '{name}'?") for f in r.faults):
            r.faults.append(FileFault(r.source.start(), f"there is no '{name}'; {advice}"))
        return
    key, value = sections[name]
    empty = type(value) is Scalar and value.value in ({""} if name == "format" else {"", "~", "null"})
    if empty or (type(value) is MappingNode and not value.value):
        r.fault(key, f"'{name}' is empty; {advice}")


def _read_sections(r: LayoutReader) -> None:
    _power.read_supplies(r)
    _power.read_buses(r)
    _gear.name_outputs(r)
    _track.read_track(r)
    moving = _moving.MovingReader(r)
    moving.read_moving()
    moving.read_contacts()
    del moving
    _track.read_sets(r)
    r.drop("machines", "switches", "track")
    _gear.read_gear(r)
    _joints.read_joints(r)
    r.drop("joints")
    _feeds.read_feeds(r)
    r.drop("feeds")
    _rest.read_rest(r)

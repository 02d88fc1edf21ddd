"""Names of wires written into the file, so that labels stay true when pieces are renamed or feeds are added."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.runs import feed_name, runs
from netlister.edits.patch import Patch, TextEdit, apply_edits
from netlister.edits.text import EditError
from netlister.edits.tree import tree_of
from netlister.edits.writer import patched
from netlister.layout.read import read_layout
from netlister.source import Source

if TYPE_CHECKING:
    from pathlib import Path

    from netlister.layout.model import Layout


class Kept(NamedTuple):
    """The edits that write the names, and the wires that are called otherwise from now on: old name and new."""

    edits: list[TextEdit]
    renamed: tuple[tuple[str, str], ...]


def keep_ids(layout: Layout, source: Source, folder: Path | None = None) -> Kept:
    """Give every feed of one piece and every wire that has none an `id`, so that its wires keep their names.

    A feed of several pieces has one `id` for all of them and is left as it is: its wires are called after their
    rails. Wires of gear are called after the gear and need none. Raises EditError where the text cannot be edited.
    """
    if layout.netlist:
        raise EditError("this layout comes from a netlist: give the wires their names in the drawing or the script")
    root = tree_of(source.text)
    patch = Patch()
    taken = _names(layout)
    feeds = iter(layout.feeds)
    section = root.value_of("feeds")
    for number, item in enumerate(section.meant.items if section else []):
        to = item.value_of("to")
        several = to is not None and to.meant.kind == "list"
        members = [next(feeds) for _ in (to.meant.items if to is not None and several else (0,))]
        if len(members) == 1 and not members[0].name:
            patch.at("feeds", number).set["id"] = _free(feed_name(members[0]), taken)
    wires = {run.span: run.id for run in runs(layout) if run.kind == "wire"}
    for number, link in enumerate(layout.links):
        if not link.name:
            patch.at("wires", number).set["id"] = _free(wires[link.span], taken)
    edits = patched(source.name, source.text, patch) if patch.set else []
    read = read_layout(Source(source.name, apply_edits(source.text, edits)), folder)
    before, after = runs(layout), runs(read)
    if [(run.kind, run.ends) for run in before] != [(run.kind, run.ends) for run in after]:
        raise EditError("the changed file would have other wires; write the ids by hand")
    pairs = zip(before, after, strict=True)
    return Kept(edits, tuple((old.id, new.id) for old, new in pairs if old.id != new.id))


def _names(layout: Layout) -> set[str]:
    """Every name that an `id` must not be."""
    return {
        *layout.supplies, *layout.buses, *layout.pieces, *layout.machines, *layout.variables, *layout.reversers,
        *layout.units, *layout.components, *layout.boards, *layout.trains, *(pin.plug for pin in layout.pins),
        *(c.owner for c in layout.contacts), *(joint.name for joint in layout.joints),
        *(feed.name for feed in layout.feeds), *(link.name for link in layout.links),
    }  # fmt: skip


def _free(name: str, taken: set[str]) -> str:
    """A name that nothing has yet; from now on it is taken."""
    found, count = name, 1
    while found in taken:
        count += 1
        found = f"{name}-{count}"
    taken.add(found)
    return found

"""How the file would say what a fault has done: for a railway that is right and a file that is not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.gear import SetOption
from netlister.edits.model import Insulate, Refeed, Rewire

if TYPE_CHECKING:
    from netlister.edits.model import Edit
    from netlister.probe.detail import Detail
    from netlister.probe.faults import Fault


def as_built(made: Detail, fault: Fault) -> Edit | None:
    """The changes of the layout with which it is as the fault has made it; None for what only wears or breaks."""
    layout, edit = made.layout, fault.damages[0]
    if fault.kind == "link-left":
        piece, option = fault.parts
        assert layout.library is not None
        kind = layout.pieces[piece].kind
        values, _ = layout.library.definition(kind.name).options[option]
        other = next(v for v in values if v != "cut")
        return (SetOption(piece, option, other),)
    if fault.kind == "joint-bridged":
        return (Insulate(edit.into[0].entry, int(fault.parts[1] == "right"), insulated=False),)
    entry = made.conductors[edit.out[0]].entry if edit.out else -1
    if entry < 0:
        return None
    if fault.kind == "joint-open":
        return (Insulate(entry, int(fault.parts[1] == "right"), insulated=True),)
    if fault.kind == "feed-swapped":
        feed = layout.feeds[entry]
        (p, r), (q, s) = feed.wires
        return (Refeed(entry, feed.source, ((p, s), (q, r))),)
    if fault.kind == "contact-swapped":
        contact = layout.contacts[entry]
        if len(contact.throws) != 2:  # noqa: PLR2004
            return None
        (one, a), (other, b) = contact.throws
        buses = contact.buses[1:]
        return (Rewire(entry, ((one, b), (other, a)), buses[::-1] or ("", "")),)
    return None

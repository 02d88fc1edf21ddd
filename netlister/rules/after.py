"""The analysis of a layout after a change of it: made from the one before, as far as the change does not reach."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import values_of
from netlister.circuit.change import Entries, changed_otherwise, entries_changed, step
from netlister.circuit.districts import by_district
from netlister.poles.diodes import matter
from netlister.rules.analysis import Analysis

if TYPE_CHECKING:
    from collections.abc import Hashable

    from netlister.circuit.numbers import Net, Node
    from netlister.layout.model import Layout
    from netlister.poles.reach import MeetingPlace
    from netlister.routes.settings import EndOf


class Reached(NamedTuple):
    """What a change of the layout touches, by which subjects of rules are found that must be judged again.

    `reads`: the keys of what may be read otherwise (see `Analysis`). `pieces`, `joints` (by where they begin) and
    `meant` (pieces that `expect` speaks of otherwise): names. `nets`, `places`: those of before and of after. `nodes`,
    `has`: the nodes of another net, and the nets of other poles. `everything`: whether anything may be judged
    otherwise.
    """

    reads: set[Hashable]
    pieces: set[str]
    joints: set[EndOf]
    meant: set[str]
    nets: set[Net]
    places: set[MeetingPlace]
    nodes: set[Node]
    has: set[Net]
    everything: bool


def analysis_after(before: Analysis, layout: Layout) -> tuple[Analysis, Reached] | None:
    """The analysis of the layout after a change, and what the change touches; None where that is too much."""
    if matter(before.layout) or matter(layout):
        return None
    entries = entries_changed(before.layout, layout)
    if entries is None:
        return None
    otherwise = changed_otherwise(before.layout, layout)
    circuit, gone, came = step(before.circuit, layout, entries)
    if "never" in otherwise:
        circuit.never = [values_of(circuit, cube) for cube, _ in layout.never]
    made = Analysis(circuit, before.limit, before.named, before.amps, before.temperature, before.reads)
    made.poles, touched = before.poles.after(circuit, gone, came)
    made.alone_of = dict(before.alone_of)
    for net in touched.has:
        made.alone_of.pop(net, None)
    by_section = {part.section: part for part in entries}
    nothing = Entries("", (), ())
    joints, pieces = (by_section.get(section, nothing) for section in ("joints", "pieces"))
    changed_joints = [*joints.gone, *joints.came]
    names = {piece.name for piece in (*pieces.gone, *pieces.came)}
    as_before = not changed_joints and not names
    made.settings = before.settings.after(made.poles, joints.gone, joints.came, as_before=as_before)
    if len(circuit.rails) == len(before.circuit.rails):
        made.rails = before.rails
    if circuit.commons == before.circuit.commons:
        made.commons = before.commons
    meant: set[str] = set()
    if "expectations" in otherwise:
        said = {*before.expected, *made.expected}
        meant = {name for name in said if before.expected.get(name) != made.expected.get(name)}
    else:
        made.expected, made.meant_dead = before.expected, before.meant_dead
    _carry_on(before, made, entries)
    reads: set[Hashable] = {4 * node for node in touched.nodes}
    reads.update(4 * net + 1 for net in touched.has)
    reads.update(4 * net + 2 for net in touched.regrouped)
    reads.update(("piece", name) for name in names)
    reads.update(("end", *end) for joint in changed_joints for end in (joint.start, joint.end))
    reads.update(("meant", name) for name in meant)
    return made, Reached(
        reads,
        names,
        {joint.start for joint in changed_joints},
        meant,
        touched.has | touched.regrouped | touched.refed,
        touched.places,
        touched.nodes,
        touched.has,
        everything="never" in otherwise,
    )


def _carry_on(before: Analysis, made: Analysis, entries: list[Entries]) -> None:
    """Let a change be made in the other circuits of the layout, too, where they have been looked at."""
    if "bladeless" in before.__dict__:
        circuit, gone, came = step(before.bladeless.circuit, made.layout, entries, conducts=lambda c: c.what != "blade")
        circuit.never = made.circuit.never
        made.bladeless, _ = before.bladeless.after(circuit, gone, came)
    if before.districts is None:
        made.districts = None
    else:
        seen = by_district(made.layout)
        circuit, gone, came = step(before.districts.circuit, made.layout, entries, seen)
        circuit.never = made.circuit.never
        made.districts, _ = before.districts.after(circuit, gone, came)

"""What lies along a run: every piece, every gap and every dead length, with its place from the start."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.terminal import named
from netlister.lengths import HERE, Nanometres

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.routes.track import Step, TrackGraph


class Passed(NamedTuple):
    """A piece passed: from which end to which, where it begins, in nm, and how long it is. `stated`: whether known."""

    piece: str
    entry: str
    exit: str
    at: Nanometres
    length: Nanometres
    stated: bool


class Mark(NamedTuple):
    """A gap or a dead length under the wheels of one side ("left" or "right" as the train runs), in nm from the start.

    `step`: the number of the step it is on. `what`: "gap" or "dead". `joint`: the joint of a gap between two pieces,
    else empty; `piece`: the piece it is in. `rails`: the terminals on both sides; of a dead length empty. A gap
    has no length here: start and stop are equal. `known`: whether the kind says where in the piece it is; else it
    stands for equal shares.
    """

    step: int
    what: str
    side: str
    start: Nanometres
    stop: Nanometres
    piece: str
    joint: str
    rails: tuple[str, ...]
    known: bool


def passed(track: TrackGraph, run: Sequence[Step]) -> list[Passed]:
    """The pieces of a run in order."""
    found, at = [], HERE
    for step in run:
        measured = track.measure(step)
        found.append(
            Passed(step.piece, track.entry(step)[1], track.exit(step)[1], at, measured.length, measured.stated)
        )
        at += measured.length
    return found


def marks(track: TrackGraph, run: Sequence[Step]) -> list[Mark]:
    """The gaps and dead lengths of a run, in the order in which a wheel comes to them, left before right."""
    found: list[Mark] = []
    at = 0
    for number, step in enumerate(run):
        measured = track.measure(step)
        for side, lying in (("left", measured.left), ("right", measured.right)):
            for one in lying:
                if one.rail is None:
                    dead = (at + one.start, at + one.stop)
                    found.append(Mark(number, "dead", side, *dead, step.piece, "", (), measured.known))
            for one, other in pairwise(lying):
                if one.rail is not None and other.rail is not None:
                    rails = (named(step.piece, one.rail), named(step.piece, other.rail))
                    place = at + one.stop
                    found.append(Mark(number, "gap", side, place, place, step.piece, "", rails, measured.known))
        at += measured.length
        if number + 1 < len(run):
            found += _joint_gaps(track, number, step, at)
    return sorted(found, key=lambda m: (m.start, m.step, m.side, m.stop, m.what, m.rails))


def _joint_gaps(track: TrackGraph, number: int, step: Step, at: Nanometres) -> Iterator[Mark]:
    """The insulated rails of the joint at which a step leaves its piece."""
    piece, end = track.exit(step)
    joint = track.settings.beyond[piece, end].joint
    rails = track.layout.pieces[piece].kind.ends[end]
    mine = (rails.left, rails.right) if step.forward else (rails.right, rails.left)
    for side, rail, insulated in zip(("left", "right"), mine, track.gaps_at_exit(step), strict=True):
        if insulated:
            terminal = named(piece, rail)
            pair = next((a, b) if a == terminal else (b, a) for a, b, cut in joint.pairs if cut and terminal in (a, b))
            yield Mark(number, "gap", side, at, at, piece, joint.name, pair, known=True)

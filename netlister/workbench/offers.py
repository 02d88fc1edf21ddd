"""What the page needs to know to offer changes: what there is, and what each thing takes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.layout.forms import Word
from netlister.layout.schema import PIECE
from netlister.layout.terminal import Terminal
from netlister.propose.model import AIMS
from netlister.workbench.pieces import SETTABLE, options_of
from netlister.workbench.values import default_source, sources_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.check import Report
    from netlister.layout.model import Joint, Layout

MOST_REPAIRS = 5
"""Repairs of one cause that are offered."""


def offers(layout: Layout, report: Report, names: Iterable[str]) -> dict[str, Any]:
    """What can be changed in a layout, as plain values. `names`: all that can be named otherwise."""
    joined = {end: joint.name for joint in layout.joints for end in (joint.start, joint.end)}
    pieces = {
        name: {
            "kind": piece.kind.name,
            "ends": {end: joined.get((name, end), "") for end in piece.kind.ends},
            "rails": [rail for rail in piece.kind.rails if rail not in piece.kind.sealed],
            "frogs": [piece.terminal(rail) for rail in piece.kind.frogs],
            "sides": piece.kind.sides is not None,
            "says": dict(piece.written),
        }
        for name, piece in layout.pieces.items()
    }
    kinds: dict[str, Any] = {}
    options: dict[str, Any] = {}
    if layout.library is not None:
        for name in layout.library.names():
            takes = layout.library.takes(name)
            ends = list(layout.library.kind(name, next(iter(takes.hands), "")).ends)
            kinds[name] = {
                "hands": list(takes.hands),
                "title": layout.library.definition(name).title,
                "ends": ends,
            }
        for piece in layout.pieces.values():
            if piece.kind.name not in options:
                bent = () if piece.kind.plain else ("radius", "angle")
                settable = [key for key in SETTABLE if piece.kind.takes(key) and key not in bent]
                options[piece.kind.name] = {**options_of(layout, piece), **{key: _words(key) for key in settable}}
    return {
        "pieces": pieces,
        "kinds": kinds,
        "options": options,
        "joints": [
            {"name": j.name, "from": ".".join(j.start), "to": ".".join(j.end), "insulate": _insulated(layout, j)}
            for j in layout.joints
        ],
        "feeds": [
            {
                "name": f.name,
                "piece": f.piece,
                "from": f.source,
                "wires": [[Terminal.of(rail).own, pole] for pole, rail in f.wires],
            }
            for f in layout.feeds
        ],
        "contacts": [
            {
                "name": c.full,
                "owner": c.owner,
                "common": c.common or "",
                "throws": [[p, to or ""] for p, to in c.throws],
            }
            for c in layout.contacts
        ],
        "units": {unit.name: unit.frog for unit in layout.units.values()},
        "sources": list(sources_of(layout)),
        "buses": [b.name for b in layout.buses.values() if not layout.supplies[b.supply].accessory],
        "source": default_source(layout),
        "names": sorted(name for name in names if name not in layout.pieces),
        "causes": {
            str(number): [repair.say for repair in cause.repairs[:MOST_REPAIRS]]
            for number, cause in report.causes.items()
            if cause.repairs
        },
        "aims": AIMS,
    }


def _words(key: str) -> list[str]:
    """The words that a key takes; none where it takes a quantity."""
    form = PIECE[key].form
    return list(form.words) if isinstance(form, Word) else []


def _insulated(layout: Layout, joint: Joint) -> str:
    """The word for how a joint is insulated, or `gap` where rails move and it cannot be otherwise."""
    if any(end in layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end)):
        return "gap"
    (a, b, left), (c, d, right) = joint.pairs
    vee = tuple(layout.is_changing(x) or layout.is_changing(y) for x, y in ((a, b), (c, d)))
    if (left, right) == vee and any(vee) and not all(vee):
        return "vee"
    return {(False, False): "none", (True, False): "left", (False, True): "right"}.get((left, right), "both")

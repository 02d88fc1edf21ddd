"""What the page's script needs, as plain values: the circuit, the track under a train, findings and volts.

Nodes, variables, pieces and so on are spoken of by number, so that a thousand turnouts stay small.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from netlister.circuit.build import setting_when
from netlister.layout.schema import RESISTING
from netlister.layout.terminal import named
from netlister.lengths import IN_A_MILLIMETRE, in_mm
from netlister.poles.diodes import matter
from netlister.routes.track import Step
from netlister.rules.analysis import Analysis

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from netlister.circuit.model import Circuit, State, When
    from netlister.finding import Finding
    from netlister.layout.model import Layout, Piece
    from netlister.report.trips import Trip
    from netlister.routes.track import Measured, TrackGraph

FORMAT = "netlister-page/1"


def embed(
    track: TrackGraph, state: State, findings: Sequence[Finding], trips: Sequence[Trip], volts: Mapping[str, Any]
) -> dict[str, Any]:
    """The page's data. Lengths are in mm, volts in V, shares of the supply's voltage in %."""
    circuit = track.settings.poles.whole
    layout = circuit.layout
    analysis = Analysis(circuit)
    poles = circuit.pole_numbers
    written = _written(layout)
    found: dict[str, Any] = {
        "format": FORMAT,
        "layout": layout.name,
        "supplies": _supplies(layout),
        "poles": [[p.name, p.letter, p.device, sorted(p.supplies)] for p in circuit.poles],
        "clashes": [[q for q in poles if analysis.clash(p, q)] for p in poles],
        "facing": matter(layout),
        "names": circuit.names,
        "rails": circuit.rails,
        "variables": [[v.name, v.kind, list(v.positions)] for v in circuit.variables],
        "state": list(state),
        "never": [[list(pair) for pair in cube] for cube in circuit.never],
        "devices": [[d.name, d.kind, list(d.inputs), list(d.outputs), d.node] for d in circuit.devices],
        "resisting": {c.name: c.kind for c in layout.components.values() if c.kind in RESISTING},
        "findings": [_finding(circuit, f, written) for f in findings],
        "trains": [_train(t) for t in layout.trains.values() if t.axles and not t.parked],
        "trips": [_trip(circuit, trip) for trip in trips],
        "volts": dict(volts),
    }
    found |= _conductors(circuit)
    found |= _track(track)
    return found


def json_text(value: Any) -> str:
    """JSON that can stand inside an element `script`: nothing in it can end the element or begin another."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign in ("<", ">", "&", "\u2028", "\u2029"):
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _supplies(layout: Layout) -> dict[str, Any]:
    return {
        s.name: {
            "type": s.type,
            "volts": s.voltage,
            "poles": list(s.poles),
            "plus": s.poles["AB".index(s.positive)] if s.type == "dc" else "",
        }
        for s in layout.supplies.values()
    }


def _when(when: When) -> list[list[Any]]:
    return [[variable, list(values)] for variable, values in when]


def _conductors(circuit: Circuit) -> dict[str, Any]:
    """The conductors, with what and whose they are as numbers in two lists of words."""
    whats: dict[str, int] = {}
    owners: dict[str, int] = {}
    rows: list[list[Any]] = []
    for c in circuit.conductors:
        row: list[Any] = [c.a, c.b, whats.setdefault(c.what, len(whats)), owners.setdefault(c.owner, len(owners))]
        rows.append([*row, _when(c.when)] if c.when else row)
    return {"whats": list(whats), "owners": list(owners), "conductors": rows}


def _written(layout: Layout) -> dict[tuple[int, int], str]:
    """What is drawn, by the line and column where it is written; of pieces and joints on one spot the joint."""
    found = {(p.span.line, p.span.column): p.name for p in layout.pieces.values()}
    found |= {(j.span.line, j.span.column): j.name for j in layout.joints}
    found |= {(f.span.line, f.span.column): f.name or f"feed {n}" for n, f in enumerate(layout.feeds, 1)}
    for contact in layout.contacts:
        for span in (*contact.throw_spans, contact.span):
            found[span.line, span.column] = contact.full
    return found


def _finding(circuit: Circuit, finding: Finding, written: Mapping[tuple[int, int], str]) -> dict[str, Any]:
    first = [
        [circuit.variable[name], circuit.variables[circuit.variable[name]].positions.index(position)]
        for name, position in finding.when[0]
        if name in circuit.variable
    ]
    node, aliases = circuit.node, _aliases(circuit.layout)

    def numbers(names: tuple[str, ...]) -> list[int]:
        return [node.get(aliases.get(name, name), -1) for name in names]

    return {
        "set": first,
        "path": numbers(finding.path),
        "terminals": [n for n in numbers(finding.terminals) if n >= 0],
        "parts": list(finding.parts),
        "at": [finding.subject, *filter(None, (written.get((m.span.line, m.span.column)) for m in finding.mistakes))],
    }


def _aliases(layout: Layout) -> dict[str, str]:
    """Poles of buses by the names of their supplies' poles."""
    return {
        named(bus.name, letter): pole
        for bus in layout.buses.values()
        for letter, pole in zip("AB", bus.poles, strict=True)
    }


# -- the track under a train


def _track(track: TrackGraph) -> dict[str, Any]:
    """Pieces with their routes, routes of one shape told once, and the joints between ends."""
    layout = track.layout
    shapes: dict[str, int] = {}
    pieces = []
    for piece in layout.pieces.values():
        routes = []
        for number, route in enumerate(piece.kind.routes):
            shape = [*route.ends, *_shape(piece, track.measure(Step(piece.name, number, forward=True)))]
            key = json.dumps(shape)
            when = () if piece.kind.crossing else setting_when(track.settings.poles.circuit, piece.name, route.when)
            routes.append([shapes.setdefault(key, len(shapes)), _when(when)])
        first = track.settings.poles.circuit.node[piece.terminal(piece.kind.rails[0])]
        pieces.append([piece.name, piece.kind.name, first, routes, _moving(track, piece)])
    return {
        "pieces": pieces,
        "shapes": [json.loads(key) for key in shapes],
        "joints": [_joint(track, number) for number in range(len(layout.joints))],
        "gap": track.gap / IN_A_MILLIMETRE,
    }


def _moving(track: TrackGraph, piece: Piece) -> list[int]:
    """The variables that the tie bars of a piece follow, each once."""
    circuit = track.settings.poles.circuit
    return list(dict.fromkeys(circuit.variable[track.layout.bars[bar].variable] for bar in piece.bars))


def _shape(piece: Piece, measured: Measured) -> Iterator[Any]:
    """Length, and under the wheels of each side the number of the rail in the piece (-1: none) from where to where."""
    yield measured.length / IN_A_MILLIMETRE
    for side in (measured.left, measured.right):
        yield [
            [
                -1 if s.rail is None else piece.kind.rails.index(s.rail),
                s.start / IN_A_MILLIMETRE,
                s.stop / IN_A_MILLIMETRE,
            ]
            for s in side
        ]


def _joint(track: TrackGraph, number: int) -> list[Any]:
    """Two ends, each with whether its left and its right rail are insulated, seen forward along its own piece."""
    joint = track.layout.joints[number]
    found: list[Any] = [joint.name]
    for end in (joint.start, joint.end):
        found.append([*end, *(int(cut) for cut in track.insulated[end])])
    return found


def _train(train: Any) -> dict[str, Any]:
    return {
        "name": train.name,
        "axles": [round(in_mm(a), 6) for a in train.axles],
        "left": list(train.left),
        "right": list(train.right),
        "bridging": list(train.conducting),
    }


def _trip(circuit: Circuit, trip: Trip) -> dict[str, Any]:
    return {
        "name": trip.name,
        "set": [
            [circuit.variable[name], circuit.variables[circuit.variable[name]].positions.index(position)]
            for name, position in trip.positions.items()
        ],
        "start": [trip.piece, trip.entry],
        "pieces": trip.pieces,
    }

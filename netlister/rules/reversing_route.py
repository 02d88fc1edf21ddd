"""The rule `reversing-route`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import Terminal, named
from netlister.poles.diagram import ALWAYS
from netlister.routes.turning import Cycle, Graph, may_turn, turning_rails
from netlister.rules.model import WHOLE, Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Joint
    from netlister.routes.turning import TrackPart
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

DOCUMENT = """A train can come back onto its own track with left and right exchanged, over no reversing section.

## What it finds

A loop, a triangle, a turntable or a crossover between the two sides of a folded loop: track that leads back to itself
with left and right exchanged, with or without a change of direction on the way, found from the track alone. It is told
unless the way leads over a section both rails of which can have either pole: one on a reverser, behind a changeover
switch, or fed through contacts. What `never` rules out is no way, nor is track that `expect` says is always dead.

## Why it matters

The left rail there becomes the right rail. Joined by metal the two poles meet (`pole-short`); with gaps a wheel joins
them (`gap-clash`); no joint, feed or frog that is put right one by one will cure it.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line:  {length: 2 m}
  round: {length: 3 m}
  T1:    {kind: insulated-frog, hand: wye, jumpers: true}
joints:
  - {from: line,     to: T1.toe}
  - {from: T1.left,  to: round,    insulate: both}
  - {from: round,    to: T1.right, insulate: both}   # netlister: allow gap-clash: known, and what cures it is below
feeds:
  - {to: line}
  - {to: round}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line:  {length: 2 m}
  round: {length: 3 m}
  T1:    {kind: insulated-frog, hand: wye, jumpers: true}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line,     to: T1.toe}
  - {from: T1.left,  to: round,    insulate: both}
  - {from: round,    to: T1.right, insulate: both}
feeds:
  - {to: line}
  - {to: round, from: R1}
```

## How to mend it

Choose a section on the way that is longer than the longest train, insulate both rails at both its ends, and feed it,
and nothing else, from a reverser. A frog inside takes its poles from the reverser's outputs too.

## When it is meant

Positions that an interlocking rules out are written under `never`. A connection that trains never use is allowed with a
comment on the line of the section that is named.
"""


class About(NamedTuple):
    """A reversing route: its cycle, and the pieces of the section to put on a reverser with the joints at its ends.

    For a turntable there is no cycle, and `rails` are the rails that turn.
    """

    cycle: Cycle | None
    section: tuple[str, ...]
    joints: tuple[Joint, ...]
    rails: tuple[str, ...]
    where: tuple[Span, ...]


def subjects(analysis: Analysis) -> tuple[str, ...]:  # noqa: ARG001
    """The whole layout."""
    return WHOLE


def judge(analysis: Analysis, _: str) -> Iterator[Breach[About]]:
    """Every reversing route that no section changes over for; one for each section that is needed."""
    for about in list(_found(analysis)):
        subject = about.section[0] if about.section else about.joints[0].name
        yield Breach("reversing-route", subject, ALWAYS, about)


def _found(analysis: Analysis) -> Iterator[About]:
    layout = analysis.layout
    if may_turn(layout):
        yield from _round_the_track(analysis)
    for piece in layout.pieces.values():
        rails = turning_rails(analysis.track, piece)
        fixed = [r for r in rails if not _either(analysis, piece.terminal(r))]
        if fixed and any(analysis.poles.has(analysis.net(piece.terminal(r))) for r in fixed):
            yield About(None, (piece.name,), (), tuple(piece.terminal(r) for r in rails), (piece.span,))


def _round_the_track(analysis: Analysis) -> Iterator[About]:
    """Those over joints; what is left are pieces that turn a train round by themselves."""
    layout = analysis.layout
    graph = Graph(analysis.track)
    cut: set[str] = set()
    out: set[TrackPart] = set()
    if graph.odd_cycles():
        out = {node for node in graph.nodes if changes_over(analysis, graph, node)}
    while cycles := graph.odd_cycles(out, cut):
        for cycle in cycles:
            section = best_section(analysis, cycle)
            nodes = cycle.nodes()
            if not section:
                joints: tuple[Joint, ...] = (cycle.edges[0][0].joint,)
            else:
                first, last = cycle.edges[section[0] - 1][0].joint, cycle.edges[section[-1]][0].joint
                joints = (first, last)
            pieces = tuple(nodes[n][0] for n in section)
            cut.update(joint.name for joint in joints)
            spans = (*(layout.pieces[p].span for p in pieces[:1]), *(joint.span for joint in joints))
            yield About(cycle, pieces, joints, (), spans)


def best_section(analysis: Analysis, cycle: Cycle) -> list[int]:
    """The longest row of plain track on a cycle, as places in its list of nodes; empty where there is none."""
    pieces = analysis.layout.pieces
    nodes = cycle.nodes()
    plain = [pieces[name].kind.plain for name, _ in nodes]
    count = len(nodes)
    start = next((n for n in range(count) if not plain[n]), 0)
    rows: list[list[int]] = [[]]
    for n in range(start, start + count):
        if plain[n % count]:
            rows[-1].append(n % count)
        elif rows[-1]:
            rows.append([])

    def size(row: list[int]) -> tuple[float, int]:
        return sum(pieces[nodes[n][0]].length or 0.0 for n in row), len(row)

    return max(rows, key=size)


def changes_over(analysis: Analysis, graph: Graph, node: TrackPart) -> bool:
    """Whether both rails of a part of a piece can have either pole, or it is meant to be dead always."""
    name = node[0]
    meant = analysis.meant_dead.get(name)
    if meant is not None and analysis.always(meant):
        return True
    ends = analysis.layout.pieces[name].kind.ends
    return any(
        _either(analysis, named(name, ends[end].left)) and _either(analysis, named(name, ends[end].right))
        for end in graph.ends[node]
    )


def _either(analysis: Analysis, terminal: str) -> bool:
    """Whether a rail is fed by a reverser, or has a pole A in some states and a pole B in others."""
    letters = set()
    poles = analysis.circuit.poles
    for pole, function in analysis.alone(analysis.net(terminal))[1]:
        if pole < len(poles) and analysis.poles.possible(function):
            if poles[pole].device:
                return True
            letters.add(poles[pole].letter)
    return len(letters) > 1


def tell(analysis: Analysis, broken: Breach[About]) -> Told:  # noqa: ARG001
    """Say how a train comes back, where to gap and what to feed from a reverser."""
    about: About = broken.about
    if about.cycle is None:
        rails = " and ".join(about.rails)
        return Told(
            Severity.WARNING,
            f"'{broken.subject}' turns a train round, and {rails} keep their poles",
            f"feed {rails} from a reverser, or through contacts that change over as it turns",
            about.section,
            (),
            about.where,
        )
    places = about.cycle.places()
    pieces = list(dict.fromkeys(Terminal.of(place).owner for place in places))
    joints = " and at ".join(f"'{joint.name}'" for joint in about.joints)
    if about.section:
        named = ", ".join(f"'{piece}'" for piece in about.section)
        done = all(joint.pairs[0][2] and joint.pairs[1][2] for joint in about.joints)
        gaps = "its ends are insulated already;" if done else f"insulate both rails at {joints},"
        fix = f"{gaps} feed {named}, and nothing else, from a reverser"
    else:
        fix = f"put a rail-section in at {joints}, longer than your trains, insulate both rails at both its ends and "
        fix += "feed it from a reverser"
    return Told(
        Severity.WARNING,
        f"a train that runs round by {_round(pieces)} comes back with left and right exchanged",
        fix,
        tuple(sorted(pieces)),
        places,
        about.where,
    )


def _round(pieces: list[str]) -> str:
    most = 6
    named = [f"'{piece}'" for piece in pieces[:most]]
    if len(pieces) > most:
        return ", ".join(named) + f" and {len(pieces) - most} more pieces"
    return " and ".join(filter(None, (", ".join(named[:-1]), named[-1])))


def called(analysis: Analysis, _: str) -> str:  # noqa: ARG001
    """The track."""
    return "the track"


RULE = rule("reversing-route", DOCUMENT, subjects, judge, tell, called=called)

"""The rule `gap-clash`."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.routes.settings import other_end
from netlister.rules.electric import by_hand, clash
from netlister.rules.model import Breach, Local, Told, rule
from netlister.rules.telling import pole_name, told_path

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Net, PoleNumber, Var
    from netlister.layout.model import Joint, Piece, Value
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

DOCUMENT = """A wheel joins two poles as it crosses a gap.

## What it finds

A gap on a route that is set, at an insulated joint or inside a piece, whose two sides have different poles: different
letters, or poles of two supplies that are not known to be in step. These are supplies of different types, of two
command stations (`station`), a programming output (`output: programming`) and any other, and two controllers of direct
current whose positive poles are of other letters. Where a hand reversing switch ends the clash, `hand-reversing` says
so instead.

## Why it matters

No meter shows it while the track is empty. As soon as a wheel stands on the gap it joins the two sides and the
protection trips.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east, insulate: both}
feeds:
  - {to: west, A: left, B: right}
  - {to: east, A: right, B: left}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
joints:
  - {from: west, to: east, insulate: both}
feeds:
  - {to: [west, east], A: left, B: right}
```

## How to mend it

Swap the two wires of the feed on one side; at a frog, swap the two throws of its contact; where a loop or triangle
comes back on itself, feed the section between the gaps from a reverser.

## When it is meant

Positions that an interlocking rules out are written under `never`; a promise not to use them is no interlocking.
"""


class Gap(NamedTuple):
    """A gap: the terminals on its two sides and the states in which it counts."""

    a: str
    b: str
    counts: Function


class About(NamedTuple):
    """What is reported of a clash: where it is and its gaps."""

    parts: tuple[str, ...]
    gaps: tuple[Gap, ...]
    where: Span
    inner: bool


def subjects(analysis: Analysis) -> Iterator[str | EndOf]:
    """Every insulated joint, by the end that it begins at, and every piece that may have a gap inside."""
    yield from insulated_joints(analysis)
    for piece in analysis.layout.pieces.values():
        if not piece.kind.plain:
            yield piece.name


def judge(analysis: Analysis, subject: str | EndOf) -> Iterator[Breach[About]]:
    """When a gap clashes on a set route."""
    if isinstance(subject, str):
        piece = analysis.piece(subject)
        function = inner(analysis, piece)
        if function:
            gaps = tuple(gap for n in range(len(piece.kind.routes)) for gap in inner_gaps(analysis, piece, n))
            yield Breach("gap-clash", subject, function, About((subject,), gaps, piece.span, inner=True))
        return
    joint = analysis.joint(subject)
    function = joint_clash(analysis, joint)
    by_switch = by_hand(analysis, joint, function)
    function = analysis.poles.diagrams.without(function, analysis.poles.diagrams.any_of(by_switch.values()))
    if function:
        parts = tuple(sorted({*joint.pieces}))
        about = About(parts, tuple(gaps_of(analysis, joint)), joint.span, inner=False)
        yield Breach("gap-clash", joint.name, function, about)


def insulated_joints(analysis: Analysis) -> Iterator[EndOf]:
    """Every joint with an insulated rail, by the end that it begins at."""
    for joint in analysis.layout.joints:
        if joint.pairs[0][2] or joint.pairs[1][2]:
            yield joint.start


def is_insulated(analysis: Analysis, at: EndOf) -> bool:
    """Whether there is a joint with an insulated rail that begins at an end."""
    side = analysis.settings.beyond.get(at)
    return side is not None and side.first and (side.joint.pairs[0][2] or side.joint.pairs[1][2])


def near(_: Analysis, change: Reached) -> set[str | EndOf]:
    """The joints and pieces that a change touches."""
    return {*change.joints, *change.pieces}


def there(analysis: Analysis, subject: str | EndOf) -> bool:
    """Whether a subject is still one."""
    if isinstance(subject, str):
        piece = analysis.layout.pieces.get(subject)
        return piece is not None and not piece.kind.plain
    return is_insulated(analysis, subject)


def called(analysis: Analysis, subject: str | EndOf) -> str:
    """The name of a piece or of a joint."""
    return subject if isinstance(subject, str) else analysis.joint(subject).name


def joint_clash(analysis: Analysis, joint: Joint) -> Function:
    """The states in which a wheel joins two poles over a joint, hand reversing switches or not."""
    pairs = [(analysis.net(a), analysis.net(b), ALWAYS) for a, b, insulated in joint.pairs if insulated]
    if clash(analysis, pairs) == NEVER:
        return NEVER
    settings = analysis.settings
    diagrams = analysis.poles.diagrams
    function = clash(
        analysis, [(analysis.net(a), analysis.net(b), counts) for a, b, counts in gaps_of(analysis, joint)]
    )
    for piece, end in (joint.start, joint.end):
        function = diagrams.both(function, settings.end(analysis.piece(piece), end))
    return function


def gaps_of(analysis: Analysis, joint: Joint) -> Iterator[Gap]:
    """The insulated pairs of a joint, each with the states in which it is no running against a turnout."""
    diagrams = analysis.poles.diagrams
    for a, b, insulated in joint.pairs:
        if insulated:
            against = diagrams.either(_against(analysis, joint.start, a), _against(analysis, joint.end, b))
            yield Gap(a, b, diagrams.negate(against))


def _against(analysis: Analysis, at: tuple[str, str], terminal: str) -> Function:
    """The states in which a rail of plain track at a gap continues a changing rail from a leg that is not set."""
    piece, end = at
    kind = analysis.piece(piece).kind
    if not kind.plain:
        return NEVER
    legs = analysis.settings.legs(piece, other_end(kind.ends, end), Terminal.of(terminal).own)
    return analysis.settings.unset(legs)


def inner_gaps(analysis: Analysis, piece: Piece, route: int) -> Iterator[Gap]:
    """The gaps between neighbours in the wheel paths of a route."""
    way = piece.kind.routes[route]
    counts = analysis.settings.route(piece, way)
    for rails in (way.left, way.right):
        for a, b in pairwise(rails):
            if a is not None and b is not None:
                yield Gap(piece.terminal(a), piece.terminal(b), counts)


def inner(analysis: Analysis, piece: Piece) -> Function:
    """The states in which a gap inside a piece clashes on a set route."""
    result = NEVER
    diagrams = analysis.poles.diagrams
    for number in range(len(piece.kind.routes)):
        gaps = list(inner_gaps(analysis, piece, number))
        if gaps:
            pairs = [(analysis.net(gap.a), analysis.net(gap.b), gap.counts) for gap in gaps]
            result = diagrams.either(result, clash(analysis, pairs))
    return result


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which two sides clash and over which wires they have their poles."""
    about: About = broken.about
    state = analysis.partly_in(broken.function)
    node = analysis.circuit.node
    poles = analysis.circuit.poles
    diagrams = analysis.poles.diagrams
    for gap in about.gaps:
        if not diagrams.value(gap.counts, state):
            continue
        a, b = (_one_pole(analysis, analysis.net(t), state) for t in (gap.a, gap.b))
        if a is None or b is None or a == b:
            continue
        names = [pole_name(analysis, pole) for pole in (a, b)]
        path: tuple[str, ...] = ()
        if a < len(poles) and b < len(poles):
            first = analysis.paths.find(a, node[gap.a], state)
            last = analysis.paths.find(b, node[gap.b], state)
            path = (*told_path(analysis, first), *reversed(told_path(analysis, last)))
        where = f"inside '{broken.subject}'" if about.inner else f"at the joint '{broken.subject}'"
        message = f"a wheel joins {names[0]} on {gap.a} with {names[1]} on {gap.b} {where}"
        fix = _APART if out_of_step(analysis, gap, state) else _fix(analysis, about, gap)
        return Told(Severity.ERROR, message, fix, about.parts, path, (about.where,))
    message = f"a wheel joins two poles at '{broken.subject}'"
    return Told(Severity.ERROR, message, _fix(analysis, about, about.gaps[0]), about.parts, (), (about.where,))


def out_of_step(analysis: Analysis, gap: Gap, state: State | Mapping[Var, Value]) -> bool:
    """Whether the two sides of a gap carry two signals in a state, which no wheel may join whatever the wires.

    The two poles of one supply are one signal, though one of them be shared with another.
    """
    p, q = (_one_pole(analysis, analysis.net(terminal), state) for terminal in (gap.a, gap.b))
    count = len(analysis.circuit.poles)
    if p is None or q is None or p >= count or q >= count or analysis.in_step(p, q):
        return False
    ends = {analysis.circuit.names[p], analysis.circuit.names[q]}
    return not any(ends == {*supply.poles} for supply in analysis.layout.supplies.values())


_APART = (
    "two signals meet here that no wheel may join: put a section without a feed between them, longer than the longest "
    "vehicle whose wheels or frame bridge, or a section that a switch connects to one of them at a time"
)


def _fix(analysis: Analysis, about: About, gap: Gap) -> str:
    """What mends it: inside a piece what powers its moving rail, at a joint the feed of one side."""
    if about.inner:
        first, second = sorted((gap.a, gap.b), key=lambda terminal: not analysis.layout.is_moving(terminal))
        if not analysis.layout.is_moving(first):
            return f"give {first} and {second} the same pole: swap the wires of the feed on one side"
        return f"{first} needs the pole of {second} there; correct what powers it: its contact, unit or feed"
    pieces = analysis.layout.pieces
    plain = next((p for p in about.parts if p in pieces and pieces[p].kind.plain), "")
    if not plain or any(p in pieces and not pieces[p].kind.plain for p in about.parts):
        return (
            "give both sides the same pole: correct the contact that powers the frog beside the gap, or swap the "
            "wires of the feed on one side; a loop or triangle needs a reverser"
        )
    return f"swap the two wires of the feed of '{plain}', or feed it from a reverser if it is a loop"


def _one_pole(analysis: Analysis, net: Net, state: State | Mapping[Var, Value]) -> PoleNumber | None:
    for pole, function in analysis.alone(net)[1]:
        if analysis.poles.diagrams.value(function, state):
            return pole
    return None


RULE = rule("gap-clash", DOCUMENT, subjects, judge, tell, called=called, local=Local(near, there))

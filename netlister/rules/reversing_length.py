"""The rule `reversing-length`."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.lengths import HERE, NO_LENGTH, Nanometres, metres, nanometres
from netlister.poles.diagram import ALWAYS, NEVER, LimitError
from netlister.poles.reach import UnprovedError
from netlister.quantity import length_text
from netlister.rules.analysis import Analysis
from netlister.rules.electric import clash
from netlister.rules.model import Breach, Told, Unproved, rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.numbers import Net
    from netlister.layout.model import Joint, Reverser, Train
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.routes.track import Step
    from netlister.source import Span

DOCUMENT = """A train reaches over a whole section that is fed by a reverser, so that its wheels join both ends at once.

## What it finds

For each reverser the ways from one insulated joint between its section and other track to another one, and the vehicles
under `trains` that are as long as such a way, or longer: from the first to the last axle that picks up or is
`conducting`, or by their `length` where no axles are given. It is told where no position of the reverser suits both
ends. A note says where two trains could do the same, one at each end.

## Why it matters

One end of the section always has the other poles than the track beyond it. If wheels stand on both ends at once the
reverser changes over without end and the protection trips.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line:  {length: 2 m}
  round: {length: 700 mm}
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
trains:
  express: {length: 900 mm}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line:  {length: 2 m}
  round: {length: 1200 mm}
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
trains:
  express: {length: 900 mm}
```

## How to mend it

Move the gaps farther apart until the longest train fits between them, or run shorter trains. Wheels that do not conduct
do not count.

## When it is meant

A train that never runs there: `# netlister: allow reversing-length: stays on the main line` on its line.
"""


MOST_STEPS = 20_000
"""Steps from one border of a section before LimitError."""


class SectionWay(NamedTuple):
    """A way through a section: its first and last joint, its length in nm, and when it is set."""

    first: Joint
    last: Joint
    length: Nanometres
    when: Function


class About(NamedTuple):
    """A section: its reverser, the shortest way with the trains that are as long, or two joints and no train."""

    reverser: Reverser
    way: SectionWay
    trains: tuple[tuple[Train, Nanometres], ...]


def extent(train: Train) -> Nanometres:
    """How far the wheels of a train reach that conduct, in nm: from the first to the last; else its length."""
    if not train.axles:
        return HERE if train.insulated else nanometres(train.length or NO_LENGTH)
    places = [nanometres(train.axles[n - 1]) for n in train.bridging()]
    return max(places) - min(places) if places else HERE


def subjects(analysis: Analysis) -> Iterable[str]:
    """Every reverser, where there are trains of known length."""
    return analysis.layout.reversers if any(extent(t) for t in analysis.layout.trains.values()) else ()


def judge(analysis: Analysis, name: str) -> Iterator[Breach[About] | Unproved]:
    """When the section of a reverser is too short for a train."""
    trains = [(t, extent(t)) for t in analysis.layout.trains.values() if extent(t)]
    reverser = analysis.layout.reversers[name]
    section = ReversingSection(analysis, reverser)
    poles = analysis.poles
    try:
        listed = section.clashing(max(length for _, length in trains))
        function = poles.diagrams.any_of([f for _, f in listed])
        too_short = poles.possible(function)
    except (LimitError, UnprovedError):
        yield Unproved("reversing-length", name)
        too_short = False
    if too_short:
        way = min((w for w, f in listed if f != NEVER), key=lambda w: (w.length, w.first.name, w.last.name))
        long = tuple(sorted(((t, n) for t, n in trains if n >= way.length), key=lambda p: (-p[1], p[0].name)))
        yield Breach("reversing-length", name, function, About(reverser, way, long))
    elif reverser.automatic and len(trains) > 1:
        for first, last in section.pairs():
            poles.diagrams.begin()
            both = section.both_ends(first, last)
            if both != NEVER and poles.possible(both):
                yield Breach("reversing-length", name, both, About(reverser, SectionWay(first, last, HERE, ALWAYS), ()))
                break


class ReversingSection:
    """The track that a reverser feeds, and the insulated joints between it and other track."""

    def __init__(self, analysis: Analysis, reverser: Reverser) -> None:
        self.analysis = analysis
        self.reverser = reverser
        self.borders: dict[EndOf, Joint] = {}  # by the end inside
        self.joints: dict[str, list[tuple[Net, Net, Function]]] = {}
        own = _as_automatic(analysis, reverser)
        numbers = {n for n, pole in enumerate(own.circuit.poles) if pole.device == reverser.name}
        memo: dict[str, tuple[bool, bool]] = {}

        def feeds(terminal: str) -> tuple[bool, bool]:
            found = memo.get(terminal)
            if found is None:
                poles = {pole for pole, f in own.poles.has(own.net(terminal)) if own.poles.possible(f)}
                found = memo[terminal] = (bool(poles) and poles <= numbers, bool(poles - numbers))
            return found

        for joint in analysis.layout.joints:
            for a, b, insulated in joint.pairs:
                if not insulated:
                    continue
                for inner, outer, end in ((a, b, joint.start), (b, a, joint.end)):
                    if feeds(inner)[0] and feeds(outer)[1]:
                        self.borders[end] = joint
                        pair = (analysis.net(inner), analysis.net(outer), ALWAYS)
                        self.joints.setdefault(joint.name, []).append(pair)

    def ways(self, longest: Nanometres) -> Iterator[SectionWay]:
        """The ways from one border to another that are no longer than so many nm."""
        track = self.analysis.track
        both = self.analysis.poles.diagrams.both
        for end, first in self.borders.items():
            waiting: list[tuple[Step, Nanometres, Function]] = [(step, HERE, ALWAYS) for step in track.steps_from(end)]
            looked = 0
            while waiting:
                looked += 1
                if looked > MOST_STEPS:
                    raise LimitError
                step, before, when = waiting.pop()
                length = before + track.length(step)
                when = both(when, track.when(step))
                if not track.length(step) or length > longest or when == NEVER:
                    continue
                last = self.borders.get(track.exit(step))
                if last is None:
                    waiting += [(after, length, when) for after in track.after(step)]
                elif last is not first:
                    yield SectionWay(first, last, length, when)

    def unmeasured(self, longest: Nanometres) -> list[str]:
        """The pieces without a length that are met within so many nm from a border."""
        track = self.analysis.track
        found: dict[str, None] = {}
        for end in self.borders:
            waiting = [(step, HERE) for step in track.steps_from(end)]
            seen: set[tuple[Step, Nanometres]] = set()
            while waiting:
                step, before = waiting.pop()
                if (step, before) in seen:
                    continue
                if len(seen) > MOST_STEPS:
                    raise LimitError
                seen.add((step, before))
                length = track.length(step)
                if not length:
                    found[step.piece] = None
                elif before + length <= longest and track.exit(step) not in self.borders:
                    waiting += [(after, before + length) for after in track.after(step)]
        return sorted(found)

    def clashing(self, longest: Nanometres) -> list[tuple[SectionWay, Function]]:
        """The ways no longer than so many nm, each with the states in which no position suits both of its ends."""
        return [
            (way, self.analysis.poles.diagrams.both(way.when, self.mismatch(way.first, way.last)))
            for way in self.ways(longest)
        ]

    def mismatch(self, first: Joint, last: Joint) -> Function:
        """The states in which no position of the reverser suits two borders."""
        return clash(self.analysis, [*self.joints[first.name], *self.joints[last.name]])

    def pairs(self) -> Iterable[tuple[Joint, Joint]]:
        """Every two borders."""
        return combinations({joint.name: joint for joint in self.borders.values()}.values(), 2)

    def both_ends(self, first: Joint, last: Joint) -> Function:
        """The states in which two trains can be on two borders at once, and no position of the reverser suits both."""
        analysis = self.analysis
        function = self.mismatch(first, last)
        for joint in (first, last):
            for piece, end in (joint.start, joint.end):
                set_there = analysis.settings.end(analysis.layout.pieces[piece], end)
                function = analysis.poles.diagrams.both(function, set_there)
        return function


def _as_automatic(analysis: Analysis, reverser: Reverser) -> Analysis:
    """The same layout with the outputs of the reverser as poles of their own, which tells its section apart."""
    if reverser.automatic:
        return analysis
    changed = reverser._replace(automatic=True, variable=None, straight=())
    layout = replace(analysis.layout, reversers={**analysis.layout.reversers, reverser.name: changed})
    return Analysis.of(layout, analysis.limit)


def tell(analysis: Analysis, broken: Breach[About]) -> Told:  # noqa: ARG001
    """Say which train reaches over which section, and how long the section must be."""
    about: About = broken.about
    way = about.way
    joints = f"'{way.first.name}' and '{way.last.name}'"
    parts = tuple(sorted({end[0] for joint in (way.first, way.last) for end in (joint.start, joint.end)}))
    spans: tuple[Span, ...] = (about.reverser.span, way.first.span, way.last.span)
    name = about.reverser.name
    if not about.trains:
        return Told(
            Severity.NOTE,
            f"two trains at once at {joints}, one at each end of the section of '{name}', join two poles",
            "let only one train at a time in or out, or lock the turnouts at the two ends against each other ('never')",
            parts,
            (),
            spans,
        )
    train, reach = about.trains[0]
    more = len(about.trains) - 1
    others = f" (and {more} more of the trains)" if more else ""
    what = "the wheels of '{}' that conduct reach over {}" if train.axles else "'{}' is {} long"
    said = what.format(train.name, length_text(metres(reach)))
    return Told(
        Severity.ERROR if train.axles else Severity.WARNING,
        f"{said}{others}, and the section of '{name}' between {joints} is only {length_text(metres(way.length))} long",
        f"move the gaps apart until the section is longer than {length_text(metres(reach))}, or run shorter trains",
        parts,
        (),
        (*spans, *(t.span for t, _ in about.trains)),
    )


RULE = rule("reversing-length", DOCUMENT, subjects, judge, tell)

"""The rule `pole-short`."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net
from netlister.finding import Severity
from netlister.layout.terminal import Terminal, named
from netlister.poles.diagram import ALWAYS
from netlister.poles.reach import NOWHERE, Short
from netlister.poles.witness import short_in
from netlister.rules.model import Breach, Local, Told, Unproved, rule
from netlister.rules.telling import owners_on, spans_of, told_path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.paths import PathStep
    from netlister.layout.model import Supply
    from netlister.poles.reach import MeetingPlace
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """Two poles are joined.

## What it finds

A path of metal that leads from one pole of a supply to its other pole, or to a pole of another supply, with no train
on the track. An output of an automatic reverser is a pole of its own. And two supplies on one winding of a transformer
(`winding`) that are tied by `common`: they have a pole in common inside already. That a wheel joins two such
controllers at a gap in both rails, while they are set against each other, is not found: how they are set is not known.

## Why it matters

The supply is short-circuited: its protection trips as soon as the turnouts stand so. If the protection is slow or the
path has resistance, rails and wires get hot.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  yard: {length: 600 mm}
  dock: {length: 400 mm}
  T1: {kind: live-frog, hand: left}
joints:
  - {from: yard, to: T1.toe}
  - {from: T1.through, to: dock}
feeds:
  - {to: [yard, dock]}
expect:
  - {track: [T1, dock], is: live}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  yard: {length: 600 mm}
  dock: {length: 400 mm}
  T1: {kind: live-frog, hand: left}
joints:
  - {from: yard, to: T1.toe}
  - {from: T1.through, to: dock, insulate: vee}
feeds:
  - {to: [yard, dock]}
```

## How to mend it

Follow the path that is printed, piece by piece, and break it where the two poles meet: an insulated joiner beyond a
live frog, a contact whose throws are the wrong way round, a feed with its wires swapped, a loop without gaps.

## When it is meant

Hardly ever. Positions that an interlocking rules out are written under `never`.
"""


class SharedPole(NamedTuple):
    """Two supplies of one transformer winding whose poles of a letter are tied together."""

    first: Supply
    second: Supply
    letter: str


TIED = "tied"
"""In place of the sort of a place: a pole that supplies of one winding share."""


def subjects(analysis: Analysis) -> Iterator[MeetingPlace]:
    """Every place where poles may meet, and every pole that supplies share."""
    yield from analysis.poles.places()
    for number, pole in enumerate(analysis.circuit.poles):
        if not pole.device and _ties(analysis, number):
            yield TIED, Net(number), NOWHERE


def _ties(analysis: Analysis, number: int) -> list[SharedPole]:
    """The pairs of supplies of one winding that share a pole."""
    pole = analysis.circuit.poles[number]
    owners = [s for s in analysis.layout.supplies.values() if s.name in pole.supplies and s.winding]
    return [SharedPole(a, b, pole.letter) for a, b in combinations(owners, 2) if a.winding == b.winding]


def judge(analysis: Analysis, place: MeetingPlace) -> Iterator[Breach[Short | SharedPole] | Unproved]:
    """Which poles are joined at a place, and when."""
    if place[0] == TIED:
        for tie in _ties(analysis, place[1]):
            subject = "/".join(sorted(named(s.name, tie.letter) for s in (tie.first, tie.second)))
            yield Breach("pole-short", subject, ALWAYS, tie)
        return
    poles = analysis.poles
    names = analysis.circuit.names
    for region in poles.unsolved(place):
        pieces = sorted({Terminal.of(names[n]).owner for n in poles.nodes_of(region.nets)})
        yield Unproved("pole-short", pieces[0])
        witness = short_in(poles, region)
        if witness is not None:
            short = Short(witness.poles, witness.function, tuple(region.nets))
            yield _broken(analysis, short, all_states=False)
    for short in poles.shorts_at(place):
        yield _broken(analysis, short)


def _broken(analysis: Analysis, short: Short, *, all_states: bool = True) -> Breach[Short | SharedPole]:
    a, b = sorted(analysis.circuit.poles[p].name for p in short.poles)
    return Breach("pole-short", f"{a}/{b}", short.function, short, min(terminals_at(analysis, short)), all_states)


def terminals_at(analysis: Analysis, short: Short) -> frozenset[str]:
    """The terminals at the place of a short: the ends of what joins the poles there, else its connected component."""
    names = analysis.circuit.names
    ends = [names[node] for c in short.conductors for node in (c.a, c.b)]
    rest = [names[node] for node in analysis.poles.nodes_of(short.nets)]
    return frozenset(ends or rest or [names[short.poles[0]]])


def near(_: Analysis, change: Reached) -> set[MeetingPlace]:
    """The places that a change touches; who meets whom by way of several is looked at each time."""
    return {*change.places, ("chains", NOWHERE, NOWHERE)}


def there(analysis: Analysis, place: MeetingPlace) -> bool:
    """Whether poles may meet at a place."""
    return bool(_ties(analysis, place[1])) if place[0] == TIED else analysis.poles.is_place(place)


def called(analysis: Analysis, place: MeetingPlace) -> str:
    """A piece at the place, else the first piece of all."""
    what, net, _ = place
    if what == TIED:
        return analysis.circuit.poles[net].name
    nodes = analysis.poles.nodes_of([net]) if what not in {"chains", "diodes"} else analysis.circuit.rails[:1]
    return min(Terminal.of(analysis.circuit.names[n]).owner for n in nodes)


def tell(analysis: Analysis, broken: Breach[Short | SharedPole]) -> Told:
    """Say which poles are joined, along which path."""
    if isinstance(broken.about, SharedPole):
        return _tell_tie(broken.about)
    short: Short = broken.about
    circuit = analysis.circuit
    state = analysis.partly_in(broken.function)
    nets = analysis.poles.around(short)
    names = sorted(circuit.poles[p].name for p in short.poles)
    b, a = (circuit.node[name] for name in names)
    within = None if nets is None else frozenset(analysis.poles.nodes_of(nets))
    steps = analysis.paths.find(a, b, state, within) or analysis.paths.find(a, b, state)
    parts = owners_on(analysis, steps)
    return Told(
        Severity.ERROR,
        f"{' and '.join(names)} are joined",
        _cure(analysis, steps),
        tuple(parts),
        told_path(analysis, steps),
        spans_of(analysis, steps),
    )


def _tell_tie(tie: SharedPole) -> Told:
    first, second = sorted((tie.first, tie.second), key=lambda s: s.name)
    return Told(
        Severity.ERROR,
        f"{first.name}.{tie.letter} and {second.name}.{tie.letter} are tied together, and both hang on the winding "
        f"'{first.winding}', where they have a pole in common already: the winding is shorted through the controllers",
        "give each controller a winding of its own. To drop the common return and insulate both rails between them is "
        "half a cure: a wheel that crosses such a gap while the controllers are set against each other joins them. "
        "Leave all work on the mains side to a licensed electrician",
        (),
        (),
        (second.span, first.span),
    )


def _cure(analysis: Analysis, steps: list[PathStep]) -> str:
    """Name what on the path could be opened: contacts and reversers, else joints, else feeds and wires."""
    for kinds in (("contact", "reverser"), ("joiner",), ("wire", "feed", "component", "plug", "lead")):
        found = [(step[0], step[1]) for step in steps if step[1] is not None and step[1].what in kinds]
        if found:
            names = analysis.circuit.names
            said = [
                f"joint '{c.owner}'" if c.what == "joiner" else f"{c.what} {names[c.a]} to {names[c.b]}"
                for _, c in found[:3]
                if c is not None
            ]
            return f"break the path where the two poles meet; on it are: {', '.join(dict.fromkeys(said))}"
    return "break the path where the two poles meet"


RULE = rule("pole-short", DOCUMENT, subjects, judge, tell, called=called, local=Local(near, there))

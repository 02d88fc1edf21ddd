"""The rule `unmeasured`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.rules.breaker_order import order_of, supplies_of
from netlister.rules.breaker_order import subjects as breakers
from netlister.rules.model import Breach, Told, Unproved, rule
from netlister.rules.reversing_length import ReversingSection, extent
from netlister.rules.stall import locomotives
from netlister.rules.unit_race import guards_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.layout.model import Layout
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

DOCUMENT = """A check could not be made, since a length, time or current is missing.

## What it finds

Checks that the layout asks for, and that had nothing to calculate with. A train asks whether it fits into the sections
that are reversed, and with `axles` whether it stalls; a breaker or fuse of so many A asks whether its supply trips
later; a `time` or a `trip-time` asks which of the two is quicker; a limit under `limits`, and a rule on volts that is
selected by name, ask for currents and for the lengths of track, bus and feeders; `nose-bridge`, where it is selected by
name, asks for rail, gauge and noses. The finding says what is missing, and at which entry.

## Why it matters

"Nothing wrong" would say more than was looked at.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line:  {length: 2 m}
  round: {}
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
  express: {length: 1800 mm}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line:  {length: 2 m}
  round: {length: 2 m}
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
  express: {length: 1800 mm}
```

## How to mend it

Measure, or look into the papers of the gear, and add what is missing to the entry that is named.

## When it is meant

Where the check is of no interest: allow it with a comment, or leave out what asks for it.
"""

Missing = tuple[str, str, "Span"]
"""What is missing, at which entry, and where that stands."""


class About(NamedTuple):
    """A check, what it is of, and what is missing."""

    check: str
    of: str
    missing: tuple[Missing, ...]


def subjects(analysis: Analysis) -> Iterator[tuple[str, str]]:
    """Every check that may lack something, with what it is of."""
    layout = analysis.layout
    if layout.trains:
        yield from (("reversing-length", name) for name in layout.reversers)
        yield from (("stall", name) for name in layout.trains)
    yield from (("unit-race", device.name) for device in analysis.circuit.devices)
    yield from (("breaker-order", name) for _, name in breakers(analysis))
    if "nose-bridge" in analysis.named and any(train.wheel is not None for train in layout.trains.values()):
        yield "nose-bridge", ""
    yield from ((rule, "") for rule in _VOLTS)


def judge(analysis: Analysis, subject: tuple[str, str]) -> Iterator[Breach[About] | Unproved]:
    """What a check lacks."""
    check, of = subject
    work = _VOLTS.get(check)
    if work is not None:
        missing = list(work(analysis.layout)) if _asked(analysis, check) else []
    elif check == "reversing-length":
        missing = list(_reversing(analysis, of))
    elif check == "stall":
        missing = list(_stall(analysis, of))
    elif check == "nose-bridge":
        missing = list(_nose(analysis))
    elif check == "breaker-order":
        missing = list(_order(analysis, of))
    else:
        missing = list(_race(analysis, of))
    if missing:
        yield Breach("unmeasured", called(analysis, subject), ALWAYS, About(check, of, tuple(dict.fromkeys(missing))))


def called(analysis: Analysis, subject: tuple[str, str]) -> str:  # noqa: ARG001
    """The check, and what it is of."""
    check, of = subject
    return f"{check} of {of}" if of else check


# -- trains


def _reversing(analysis: Analysis, name: str) -> Iterator[Missing]:
    """What is needed to see whether trains fit into a section that a reverser feeds."""
    layout = analysis.layout
    longest = max(extent(train) for train in layout.trains.values())
    bare = [t for t in layout.trains.values() if not t.axles and t.length is None and not t.parked]
    if not longest and not bare:
        return
    section = ReversingSection(analysis, layout.reversers[name])
    if all(section.mismatch(first, last) == NEVER for first, last in section.pairs()):
        return
    yield from (("length", f"train '{t.name}'", t.span) for t in bare)
    if longest:
        for piece in section.unmeasured(longest):
            yield "length", f"'{piece}'", layout.pieces[piece].span


def _stall(analysis: Analysis, name: str) -> Iterator[Missing]:
    """What is needed to see whether a locomotive stalls."""
    train = analysis.layout.trains[name]
    if train.carries_on is not None and not train.axles:
        yield "axles", f"train '{name}'", train.span
    if train not in locomotives(analysis):
        return
    for piece in analysis.layout.pieces.values():
        for route, step in zip(piece.kind.routes, analysis.track.steps_of(piece.name)[::2], strict=True):
            meant = piece.name in analysis.meant_dead and analysis.always(analysis.meant_dead[piece.name])
            dead = None in (*route.left, *route.right) or meant
            if dead and not analysis.track.measure(step).stated:
                yield "length", f"'{piece.name}'", piece.span


def _nose(analysis: Analysis) -> Iterator[Missing]:
    """What is needed to see whether a tread of known width bridges an insulated nose."""
    layout = analysis.layout
    pieces = [piece for piece in layout.pieces.values() if piece.kind.noses]
    wide = next(train for train in layout.trains.values() if train.wheel is not None)
    if pieces and not layout.rail.startswith("code-"):
        yield "rail", "the layout, as in 'rail: code-83'", wide.span
    yield from (("nose", f"'{piece.name}'", piece.span) for piece in pieces if piece.said.nose is None)


# -- currents and times


def _order(analysis: Analysis, name: str) -> Iterator[Missing]:
    """What is needed to see whether a breaker can act before what it is fed through."""
    layout = analysis.layout
    if any(order_of(analysis, what, name) is not None for what in ("bus", "component")):
        return
    for supply in supplies_of(analysis, name):
        if layout.supplies[supply].trip is None:
            yield "trip", f"supply '{supply}'", layout.supplies[supply].span


def _race(analysis: Analysis, name: str) -> Iterator[Missing]:
    """What is needed to see whether an automatic device is quicker than its protection."""
    layout = analysis.layout
    device = next(d for d in analysis.circuit.devices if d.name == name)
    made = layout.units[name] if device.kind == "unit" else layout.reversers[name]
    guards = guards_of(analysis, device)
    known = any(guard.time is not None for guard in guards)
    if made.time is None and known:
        yield "time", f"{'frog unit' if device.kind == 'unit' else 'reverser'} '{name}'", made.span
    elif made.time is not None:
        quick = [guard for guard in guards if guard.time is None and (not known or guard.breaker)]
        yield from (("trip-time", guard.said, guard.span) for guard in quick)


# -- volts


def _asked(analysis: Analysis, check: str) -> bool:
    return check in analysis.named or _LIMITS.get(check) in analysis.layout.limits


def _track(layout: Layout) -> Iterator[Missing]:
    for piece in layout.pieces.values():
        if piece.kind.plain and piece.length is None:
            yield "length", f"'{piece.name}'", piece.span


def _wires(layout: Layout) -> Iterator[Missing]:
    """Wires that are said to be of some size, and not how long they are."""
    for bus in layout.buses.values():
        if bus.wire.text and bus.wire.length is None:
            yield "length", f"bus '{bus.name}'", bus.span
    for feed in layout.feeds:
        if feed.wire.text and feed.wire.length is None:
            yield "length", f"feed of '{feed.piece}'", feed.span
    for link in layout.links:
        if link.wire.text and link.wire.length is None:
            yield "length", f"wire from {link.ends[0]}", link.span


def _currents(layout: Layout) -> Iterator[Missing]:
    for supply in layout.supplies.values():
        if supply.trip is None and not supply.accessory:
            yield "trip", f"supply '{supply.name}'", supply.span


def _drop(layout: Layout) -> Iterator[Missing]:
    yield from _currents(layout)
    yield from _wires(layout)
    yield from _track(layout)


_VOLTS: dict[str, Callable[[Layout], Iterator[Missing]]] = {
    "voltage-drop": _drop,
    "weak-short": _drop,
    "wire-load": _currents,
    "feeder-spacing": _track,
}
_LIMITS = {"voltage-drop": "drop", "weak-short": "trip-margin", "feeder-spacing": "feeder-spacing"}

_MOST_NAMED = 4


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say what is missing where."""
    about: About = broken.about
    by_what: dict[str, list[str]] = {}
    for what, entry, _ in about.missing:
        by_what.setdefault(what, []).append(entry)
    said = []
    for what, entries in by_what.items():
        more = len(entries) - _MOST_NAMED
        listed = ", ".join(entries[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
        said.append(f"'{what}' is missing at {listed}")
    of = f" of '{about.of}'" if about.of else ""
    pieces = analysis.layout.pieces
    parts = tuple(sorted({entry.strip("'") for _, entry, _ in about.missing} & set(pieces)))
    return Told(
        Severity.NOTE,
        f"the check '{about.check}'{of} could not be made in full: {'; '.join(said)}",
        "measure it, or take it from the papers of the gear, and add it there",
        parts,
        (),
        tuple(dict.fromkeys(span for *_, span in about.missing)),
    )


RULE = rule("unmeasured", DOCUMENT, subjects, judge, tell, called=called)

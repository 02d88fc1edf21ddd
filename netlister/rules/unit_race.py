"""The rule `unit-race`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Node
from netlister.finding import Severity
from netlister.layout.schema import PROTECTING
from netlister.layout.terminal import named
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import piece_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.model import Device
    from netlister.layout.model import Bus, Component, Layout, Link, Pin
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

DOCUMENT = """An automatic device is slower than the breaker.

## What it finds

A frog unit or automatic reverser whose `time` is not shorter than the `trip-time` of what protects the track around it:
its supply, the breakers of the buses that feed the rails that a train joins with its own, and the breakers and fuses in
the wires to these. Where one of the two is not given nothing is said; `--select unit-race` names the devices of which
it cannot be told.

## Why it matters

Such a device turns its output round when a train shorts it. If the protection is quicker the train stands in the dark
instead. It happens only when the train before left the device at the other pole, so it seems to come and go.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip-time: 3 ms}}
track:
  tannery: {length: 600 mm}
  T1: {kind: live-frog-bonded, hand: right}
frog-units:
  U1: {feeds: T1.frog, time: 8 ms}
joints:
  - {from: tannery, to: T1.toe}
feeds:
  - {to: tannery}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip-time: 500 ms}}
track:
  tannery: {length: 600 mm}
  T1: {kind: live-frog-bonded, hand: right}
frog-units:
  U1: {feeds: T1.frog, time: 8 ms}
joints:
  - {from: tannery, to: T1.toe}
feeds:
  - {to: tannery}
```

## How to mend it

Set the breaker to act later, or use a quicker device; a frog may have a contact on its machine in place of the unit.

## When it is meant

Never.
"""


class ProtectionTime(NamedTuple):
    """A supply, breaker or fuse and when it acts, in s; None: not given. `said`: what it is and its name."""

    name: str
    time: float | None
    said: str
    span: Span

    @property
    def breaker(self) -> bool:
        """Whether it is a breaker, which acts before the supply."""
        return self.said.startswith(("bus", "breaker"))


class About(NamedTuple):
    """A device, its time in s, and what protects the track around it."""

    device: Device
    time: float | None
    guards: tuple[ProtectionTime, ...]
    span: Span


def subjects(analysis: Analysis) -> list[Device]:
    """Every automatic device."""
    return analysis.circuit.devices


def judge(analysis: Analysis, device: Device) -> Iterator[Breach[About]]:
    """Whether a device is not quicker than some protection."""
    layout = analysis.layout
    made = layout.units[device.name] if device.kind == "unit" else layout.reversers[device.name]
    if made.time is None and "unit-race" not in analysis.named:
        return
    guards = guards_of(analysis, device)
    known = [guard.time for guard in guards if guard.time is not None]
    unknown = made.time is None or not known
    if "unit-race" in analysis.named if unknown else made.time is not None and made.time >= min(known):
        yield Breach("unit-race", device.name, ALWAYS, About(device, made.time, guards, made.span))


def guards_of(analysis: Analysis, device: Device) -> tuple[ProtectionTime, ...]:
    """The supplies of a device, the breaker of its bus, and the breakers and fuses around it."""
    return tuple(dict.fromkeys(_guards(analysis, device)))


def _guards(analysis: Analysis, device: Device) -> Iterator[ProtectionTime]:
    circuit, layout = analysis.circuit, analysis.layout
    made = layout.units[device.name] if device.kind == "unit" else layout.reversers[device.name]
    first, second = (circuit.poles[pole].supplies for pole in device.inputs)
    for name in sorted(first & second):
        supply = layout.supplies[name]
        yield ProtectionTime(name, supply.trip_time, f"supply '{name}'", supply.span)
    around = _around(analysis, device)
    sources = [made.bus, *_sources(analysis, around)]
    for bus in dict.fromkeys(b for source in sources for b in _breakers(layout, source)):
        yield ProtectionTime(bus.name, bus.trip_time, f"bus '{bus.name}'", bus.span)
    for conductor in circuit.conductors:
        if conductor.what == "component" and {conductor.a, conductor.b} & around:
            component = layout.components[conductor.owner]
            if component.kind in PROTECTING:
                yield ProtectionTime(
                    component.name, component.trip_time, f"{component.kind} '{component.name}'", component.span
                )


def _breakers(layout: Layout, source: str) -> Iterator[Bus]:
    """The buses with a breaker on the way to a bus, that one first."""
    bus = layout.buses.get(source)
    while bus is not None:
        if bus.breaker is not None:
            yield bus
        bus = layout.buses.get(bus.parent)


def _sources(analysis: Analysis, around: set[Node]) -> Iterator[str]:
    """The buses that feed some nodes: of feeds, contacts, components, pins, wires and reversers."""
    layout, node = analysis.layout, analysis.circuit.node
    for feed in layout.feeds:
        if any(node[rail] in around for _, rail in feed.wires):
            reverser = layout.reversers.get(feed.source)
            yield feed.source if reverser is None else reverser.bus
    for contact in layout.contacts:
        own = contact.full
        for place, bus in zip(("common", *(p for p, _ in contact.throws)), contact.buses, strict=False):
            if bus and node[named(own, place)] in around:
                yield bus
    wired: list[Component | Pin | Link] = [*layout.components.values(), *layout.pins, *layout.links]
    for item in wired:
        for end, bus in zip(item.ends, item.buses[::-1], strict=True):
            if bus and node[end] in around:
                yield bus


def _around(analysis: Analysis, device: Device) -> set[Node]:
    """The nodes of the metal that a device feeds, and of all that a wheel may join with it."""
    circuit, layout = analysis.circuit, analysis.layout
    node = circuit.node
    own = _metal(analysis, [device.node] if device.kind == "unit" else map(Node, device.outputs))
    beside = set(own)
    for joint in layout.joints:
        for a, b, insulated in joint.pairs:
            if insulated and {node[a], node[b]} & own:
                beside |= {node[a], node[b]}
    for piece in {piece_of(analysis, n) for n in own} - {""}:
        beside |= {node[named(piece, rail)] for rail in layout.pieces[piece].kind.rails}
    return _metal(analysis, beside)


def _metal(analysis: Analysis, start: Iterable[Node]) -> set[Node]:
    """All nodes that conductors lead to from some, whatever way things stand, but through no pole."""
    poles = len(analysis.circuit.poles)
    begun = list(start)
    seen = set(begun)
    waiting = list(begun)
    while waiting:
        for other, _ in analysis.paths.near[waiting.pop()]:
            if other >= poles and other not in seen:
                seen.add(other)
                waiting.append(other)
    return {n for n in seen if n >= poles}


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say how long each takes."""
    about: About = broken.about
    what = "frog unit" if about.device.kind == "unit" else "reverser"
    fed = [about.device.node] if about.device.kind == "unit" else []
    parts = tuple(sorted({piece_of(analysis, n) for n in fed} - {""}))
    known = [(guard.time, guard.name) for guard in about.guards if guard.time is not None]
    if about.time is None or not known:
        lacking = [*(["its 'time'"] if about.time is None else []), *(["a 'trip-time'"] if not known else [])]
        message = f"whether the {what} '{broken.subject}' is quicker than the protection cannot be told"
        names = " or ".join(f"'{guard.name}'" for guard in about.guards)
        fix = f"add {' and '.join(lacking)}" + (f" for {names}" if not known and names else "")
        return Told(Severity.NOTE, message, f"{fix}, as its papers or a measurement say", parts, (), (about.span,))
    time, name = min(known)
    message = f"the {what} '{broken.subject}' takes {_ms(about.time)} and '{name}' trips after {_ms(time)}"
    fix = f"let '{name}' act later than {_ms(about.time)}, or use a quicker {what}"
    if about.device.kind == "unit":
        fix += ", or a contact on the machine in its place"
    return Told(Severity.WARNING, message, fix, parts, (), (about.span,))


def _ms(seconds: float) -> str:
    return f"{seconds * 1000:g} ms"


RULE = rule("unit-race", DOCUMENT, subjects, judge, tell, more=True)

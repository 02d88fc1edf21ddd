"""The rule `breaker-order`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.behind import drawn_between_poles
from netlister.finding import Severity
from netlister.layout.schema import PROTECTING
from netlister.poles.diagram import ALWAYS
from netlister.quantity import show
from netlister.rules.model import Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Component
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

DOCUMENT = """A breaker or fuse can never act before what it hangs on.

## What it finds

A breaker or fuse, of a bus or as a component in a wire, behind a supply whose own protection trips at the same current
or at less; or behind another breaker or fuse, of a bus or in a wire, that does. Nothing is said where the supply's
`trip` is not given.

## Why it matters

A breaker is there so that a short stops its own district alone. If the supply trips at no more than the breaker, every
short stops all of the railway, and the breaker is only one more thing in the wire.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
buses:
  yard: {supply: main, breaker: 3 A}
track:
  shed: {length: 900 mm}
feeds:
  - {to: shed, from: yard}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  yard: {supply: main, breaker: 3 A}
track:
  shed: {length: 900 mm}
feeds:
  - {to: shed, from: yard}
```

## How to mend it

Set the breaker well below what trips before it (two thirds of it: common practice, no published source), or use a
stronger supply; then see with `--select wire-load` that the wires bear it. A fuse takes its time even at more than its
rating, so a quick electronic supply can still be first: its papers tell.

## When it is meant

Where the breaker acts much sooner than the supply, as a quick electronic one does: allow it with a comment.
"""


class Order(NamedTuple):
    """A breaker or fuse of so many A, and what trips no later: its name, what it is, and its A."""

    kind: str
    amps: float
    before: str
    what: str
    before_amps: float
    spans: tuple[Span, ...]


def subjects(analysis: Analysis) -> Iterator[tuple[str, str]]:
    """Every breaker and fuse: of a bus, or a component."""
    layout = analysis.layout
    yield from (("bus", bus.name) for bus in layout.buses.values() if bus.breaker is not None)
    drawn = drawn_between_poles(layout)
    rated = [c for c in layout.components.values() if c.kind in PROTECTING and c.rating and c not in drawn]
    yield from (("component", c.name) for c in rated)


def judge(analysis: Analysis, subject: tuple[str, str]) -> Iterator[Breach[Order]]:
    """Whether what a breaker hangs on trips no later."""
    what, name = subject
    found = order_of(analysis, what, name)
    if found is not None:
        yield Breach("breaker-order", name, ALWAYS, found)


def called(analysis: Analysis, subject: tuple[str, str]) -> str:  # noqa: ARG001
    """The name of a bus or component."""
    return subject[1]


def order_of(analysis: Analysis, what: str, name: str) -> Order | None:
    """What trips no later than a breaker; `what`: "bus" or "component", None where there is none of that name."""
    layout = analysis.layout
    if what == "bus":
        return _of_bus(analysis, name) if name in layout.buses and layout.buses[name].breaker is not None else None
    return _of_component(analysis, name) if name in layout.components else None


def supplies_of(analysis: Analysis, name: str) -> list[str]:
    """The supplies that a breaker hangs on: of its bus, or those whose poles a component ever has."""
    layout, poles = analysis.layout, analysis.circuit.poles
    if name in layout.buses:
        return [layout.buses[name].supply]
    ends = layout.components[name].ends
    found = {
        supply
        for end in ends
        if analysis.circuit.node[end] >= len(poles)
        for pole, f in analysis.has(analysis.net(end))
        if pole < len(poles) and analysis.poles.possible(f)
        for supply in poles[pole].supplies
    }
    found |= {s for end in ends if (n := analysis.circuit.node[end]) < len(poles) for s in poles[n].supplies}
    return sorted(found)


def _of_bus(analysis: Analysis, name: str) -> Order | None:
    layout = analysis.layout
    bus = layout.buses[name]
    amps = bus.breaker
    assert amps is not None
    here = bus
    while here.parent:
        here = layout.buses[here.parent]
        if here.breaker is not None and here.breaker <= amps:
            return Order("breaker", amps, here.name, "breaker of the bus", here.breaker, (bus.span, here.span))
    supply = layout.supplies[here.supply]
    if supply.trip is not None and supply.trip <= amps:
        return Order("breaker", amps, supply.name, "supply", supply.trip, (bus.span, supply.span))
    return None


def _of_component(analysis: Analysis, name: str) -> Order | None:
    """A breaker in a wire hangs on the bus or breaker that it is wired to, and on the supplies of its poles."""
    layout = analysis.layout
    component = layout.components[name]
    amps = component.rating
    if amps is None:
        return None
    for bus in (layout.buses[b] for b in component.buses if b in layout.buses):
        here = bus
        while here.breaker is None and here.parent:
            here = layout.buses[here.parent]
        if here.breaker is not None and here.breaker <= amps:
            return Order(
                component.kind, amps, here.name, "breaker of the bus", here.breaker, (component.span, here.span)
            )
    for before in _breakers_ahead(analysis, name):
        if before.rating is not None and before.rating <= amps:
            return Order(component.kind, amps, before.name, before.kind, before.rating, (component.span, before.span))
    for supply in (layout.supplies[s] for s in supplies_of(analysis, name)):
        if supply.trip is not None and supply.trip <= amps:
            return Order(component.kind, amps, supply.name, "supply", supply.trip, (component.span, supply.span))
    return None


def _breakers_ahead(analysis: Analysis, name: str) -> Iterator[Component]:
    """The breakers and fuses in a wire through which one of them gets its current, in some position or always."""
    behind = analysis.behind_breakers
    if behind is not None and name in behind.ahead:
        for pole, when in behind.poles.has(behind.net(behind.ahead[name])):
            if behind.names.get(pole, name) != name and analysis.poles.possible(when):
                yield analysis.layout.components[behind.names[pole]]


def tell(analysis: Analysis, broken: Breach[Order]) -> Told:  # noqa: ARG001
    """Say which two are the wrong way round."""
    order: Order = broken.about
    mine, theirs = show(order.amps, "A"), show(order.before_amps, "A")
    acts = "is of" if order.what == "fuse" else "trips at"
    return Told(
        Severity.WARNING,
        f"the {order.kind} '{broken.subject}' of {mine} can never act first: "
        f"the {order.what} '{order.before}' {acts} {theirs}",
        f"take one of less than {theirs}, best of two thirds of it or less",
        (),
        (),
        order.spans,
    )


RULE = rule("breaker-order", DOCUMENT, subjects, judge, tell, called=called)

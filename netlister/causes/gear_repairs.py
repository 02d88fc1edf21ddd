"""Repairs of gear: pins of plugs, wires at terminal strips, lamps from pole to pole, feeds from another district."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from netlister.causes.model import Repair
from netlister.circuit.districts import districts
from netlister.layout.model import Link, Pin

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Layout

MOST_PAIRS = 60
"""Pairs of pins of one plug, and pairs of wires, that are tried swapped."""

MOST_SOURCES = 4


class _Near(NamedTuple):
    """What hangs together with some pieces by wires and gear alone: terminals, and per terminal its neighbours."""

    terminals: set[str]
    beside: dict[str, set[str]]


def _around(layout: Layout, near: set[str]) -> _Near:
    """The terminals that wires, components, pins and leads of contacts join to some pieces, over no pole."""
    pairs = [*(c.ends for c in layout.components.values()), *(p.ends for p in layout.pins)]
    pairs += [link.ends for link in layout.links]
    for contact in layout.contacts:
        pairs += [(contact.common, to) for _, to in contact.throws if contact.common and to]
    poles = {pole for supply in layout.supplies.values() for pole in supply.poles}
    beside: dict[str, set[str]] = {}
    for a, b in pairs:
        beside.setdefault(a, set()).add(b)
        beside.setdefault(b, set()).add(a)
    found = {t for t in beside if t.split(".", 1)[0] in near}
    stack = list(found)
    while stack:
        here = stack.pop()
        for other in beside[here]:
            if other not in found:
                found.add(other)
                if other not in poles:
                    stack.append(other)
    return _Near(found, beside)


# -- plugs


def plugs(layout: Layout, near: set[str]) -> Iterator[Repair]:
    """Two pins swapped, a pin on the wrong pole, a pin left out."""
    if not layout.pins:
        return
    around = _around(layout, near)
    by_plug: dict[str, list[int]] = {}
    for index, pin in enumerate(layout.pins):
        by_plug.setdefault(pin.plug, []).append(index)
    for plug, numbers in by_plug.items():
        if not any(end in around.terminals for n in numbers for end in layout.pins[n].ends):
            continue
        pairs = list(combinations(numbers, 2))
        pairs.sort(key=lambda pair: -sum(bool(around.terminals & {*layout.pins[n].ends}) for n in pair))
        for first, second in pairs[:MOST_PAIRS]:
            yield _swapped_pins(layout, first, second)
        for number in numbers:
            yield from _other_pole(layout, number)
        yield from _added_pins(layout, plug, layout.pins[numbers[0]], near, around)


def _swapped_pins(layout: Layout, first: int, second: int) -> Repair:
    one, two = layout.pins[first], layout.pins[second]

    def apply(base: Layout) -> Layout:
        pins = list(base.pins)
        pins[first] = one._replace(ends=(one.ends[0], two.ends[1]), buses=(one.buses[0], two.buses[1]))
        pins[second] = two._replace(ends=(two.ends[0], one.ends[1]), buses=(two.buses[0], one.buses[1]))
        return replace(base, pins=pins)

    (a, b), (c, d) = (_as_written(pin) for pin in (one, two))
    fix = f"exchange them on one side: pin {one.pin} joins {a} to {d}, pin {two.pin} joins {c} to {b}"
    return Repair(f"pins {one.pin} and {two.pin} of the plug '{one.plug}' are swapped", fix, one.span, apply)


def _as_written(pin: Pin) -> tuple[str, str]:
    """The two ends of a pin, poles by the bus that was written."""
    first, second = (f"{bus}.{end[-1]}" if bus else end for end, bus in zip(pin.ends, pin.buses, strict=True))
    return first, second


def _other_pole(layout: Layout, number: int) -> Iterator[Repair]:
    """A pin that carries one pole of a supply where it should carry the other."""
    pin = layout.pins[number]
    for supply in layout.supplies.values():
        for side, end in enumerate(pin.ends):
            if end in supply.poles and supply.poles[0] != supply.poles[1]:
                other = supply.poles[1 - supply.poles.index(end)]
                ends = (other, pin.ends[1]) if side == 0 else (pin.ends[0], other)

                def apply(base: Layout, ends: tuple[str, str] = ends) -> Layout:
                    pins = list(base.pins)
                    pins[number] = pins[number]._replace(ends=ends)
                    return replace(base, pins=pins)

                headline = f"pin {pin.pin} of the plug '{pin.plug}' is wired to {end}"
                yield Repair(headline, f"wire it to {other}", pin.span, apply)


def _added_pins(layout: Layout, plug: str, like: Pin, near: set[str], around: _Near) -> Iterator[Repair]:
    """A pin that was left out: to a rail of a near piece that no feed serves."""
    served = {feed.piece for feed in layout.feeds}
    plain = [layout.pieces[name] for name in sorted(near - served) if layout.pieces[name].kind.plain]
    rails = [f"{piece.name}.{rail}" for piece in plain for rail in piece.kind.rails]
    strips = [t for rail in rails for t in sorted(around.beside.get(rail, ())) if t.split(".", 1)[0] not in near]
    buses = [bus for bus in layout.buses.values() if not layout.supplies[bus.supply].accessory]
    for target in dict.fromkeys([*strips, *rails]):
        for bus in buses[:MOST_SOURCES]:
            for pole in bus.poles:
                added = Pin(plug, "added", (pole, target), like.variable, like.span, (bus.name, ""))

                def apply(base: Layout, added: Pin = added) -> Layout:
                    return replace(base, pins=[*base.pins, added])

                headline = f"the plug '{plug}' has no pin for {target}"
                yield Repair(headline, f"add a pin that joins {bus.name}.{pole[-1]} to {target}", like.span, apply)


# -- wires at terminal strips


def swapped_links(layout: Layout, near: set[str]) -> Iterator[Repair]:
    """Two wires whose far ends are exchanged, as at a terminal strip."""
    if len(layout.links) < 2:  # noqa: PLR2004
        return
    around = _around(layout, near).terminals
    close = [n for n, link in enumerate(layout.links) if around & {*link.ends}]
    for first, second in list(combinations(close, 2))[:MOST_PAIRS]:
        one, two = layout.links[first], layout.links[second]
        a = one._replace(ends=(one.ends[0], two.ends[1]), buses=(one.buses[0], two.buses[1]))
        b = two._replace(ends=(two.ends[0], one.ends[1]), buses=(two.buses[0], one.buses[1]))

        def apply(base: Layout, new: tuple[tuple[int, Link], ...] = ((first, a), (second, b))) -> Layout:
            links = list(base.links)
            for number, link in new:
                links[number] = link
            return replace(base, links=links)

        headline = f"the wires from {one.ends[0]} and {two.ends[0]} are exchanged at their far ends"
        fix = f"wire {a.ends[0]} to {a.ends[1]}, and {b.ends[0]} to {b.ends[1]}"
        yield Repair(headline, fix, one.span, apply)


# -- loads


def loads(layout: Layout) -> Iterator[Repair]:
    """Lamps and resistors that are loads from pole to pole, and were written as parts in a wire."""
    found = [c for c in layout.components.values() if c.kind in {"lamp", "resistor"}]
    fix = "write 'kind: load' for what uses current; a lamp or resistor in series in a wire stays as it is"
    for chosen in [*([c] for c in found[:MOST_PAIRS]), *([found] if len(found) > 1 else [])]:
        names = [c.name for c in chosen]

        def apply(base: Layout, names: list[str] = names) -> Layout:
            changed = {n: base.components[n]._replace(kind="load") for n in names}
            return replace(base, components={**base.components, **changed})

        said = ", ".join(f"'{n}'" for n in names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")  # noqa: PLR2004
        verb = f"is a {chosen[0].kind}" if len(names) == 1 else "are lamps or resistors"
        yield Repair(f"{said} {verb} from pole to pole, and in the checks that conducts", fix, chosen[0].span, apply)


# -- districts


def other_districts(layout: Layout, near: set[str]) -> Iterator[Repair]:
    """A feed that was tapped from the bus of another district."""
    label = districts(layout)
    if not label:
        return
    for index, feed in enumerate(layout.feeds):
        if feed.piece not in near or feed.source not in label:
            continue
        old = layout.buses.get(feed.source)
        supply = feed.source if old is None else old.supply
        for bus in layout.buses.values():
            if bus.supply != supply or label[bus.name] == label[feed.source]:
                continue

            def apply(base: Layout, index: int = index, source: str = bus.name) -> Layout:
                feeds = list(base.feeds)
                feeds[index] = feeds[index]._replace(source=source)
                return replace(base, feeds=feeds)

            headline = f"'{feed.piece}' lies in the district '{label[bus.name]}' and is fed from '{feed.source}'"
            yield Repair(headline, f"feed it from '{bus.name}'", feed.span, apply)

"""Components, reversers and frog units that are wired otherwise; and what is meant, where the wiring is right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.gear import Rebus, Recomponent, Reexpect, Straighten
from netlister.edits.model import TakeOut
from netlister.edits.patch import as_yaml
from netlister.repairs.choices.common import MOST_SAID
from netlister.repairs.choices.wires import on_other_pole
from netlister.repairs.model import choice
from netlister.repairs.words import list_in_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.layout.model import Component
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice


def at_component(places: EntryPlaces, name: str) -> Iterator[Choice]:
    """What may be wrong with a component."""
    found = [c for c in places.layout.components.values() if c.kind in {"lamp", "resistor"}]
    this = places.layout.components[name]
    fix = "write 'kind: load' for what uses current; a lamp or resistor in series in a wire stays as it is"
    groups: list[list[Component]] = [[this]] if this in found else []
    if len(found) > 1 and this in found:
        groups.append(found)
    for chosen in groups:
        edit = tuple(Recomponent(c.name, "load", c.ends, c.buses) for c in chosen)
        said = ", ".join(f"'{c.name}'" for c in chosen[:MOST_SAID]) + (
            f" and {len(chosen) - MOST_SAID} more" if len(chosen) > MOST_SAID else ""
        )
        verb = f"is a {this.kind}" if len(chosen) == 1 else "are lamps or resistors"
        headline = f"{said} {verb} from pole to pole, and in the checks that conducts"
        yield choice("load", edit, headline, fix, chosen[0].span)
    if this.kind == "diode":
        edit = (Recomponent(name, this.kind, this.ends[::-1], this.buses[::-1]),)
        a, b = (places.pole(end, bus) for end, bus in zip(this.ends, this.buses, strict=True))
        fix = f"turn it round, with the supply unplugged, and write 'from: {b}, to: {a}' at '{name}'"
        yield choice("diode-turned", edit, f"the diode '{name}' lies the wrong way round", fix, this.span)
    for side, end in enumerate(this.ends):
        for ends, buses, now in on_other_pole(places, this, side):
            headline = f"'{name}' is wired to {places.pole(end, this.buses[side])}"
            edit = (Recomponent(name, this.kind, ends, buses),)
            yield choice("pin-pole", edit, headline, f"wire it to {now}", this.span)


def at_reverser(places: EntryPlaces, name: str) -> Iterator[Choice]:
    """What may be wrong with a reverser."""
    reverser = places.layout.reversers[name]
    if reverser.variable is not None:
        positions = places.layout.variables[reverser.variable].positions
        headline = f"'{name}' stands straight where it must be crossed"
        for straight in dict.fromkeys(_straights(positions, reverser.straight)):
            there = list_in_words([positions[n] for n in straight])
            say = f"let it stand straight at {there} of '{reverser.variable}', and crossed else"
            yield choice("straight", (Straighten(name, straight),), headline, say, reverser.span)
    for bus in places.layout.buses.values():
        if bus.name != reverser.bus and not places.layout.supplies[bus.supply].accessory:
            headline = f"the reverser '{name}' is fed from '{reverser.bus}'"
            say = f"feed '{name}' from '{bus.name}'"
            edit = (Rebus("reversers", name, bus.name, bus.poles),)
            yield choice("device-bus", edit, headline, say, reverser.span)


def at_unit(places: EntryPlaces, name: str) -> Iterator[Choice]:
    """What may be wrong with a frog unit."""
    unit = places.layout.units[name]
    for bus in places.layout.buses.values():
        if bus.name != unit.bus and not places.layout.supplies[bus.supply].accessory:
            headline = f"the frog unit '{name}' is fed from '{unit.bus}', and its turnout from '{bus.name}'"
            say = f"feed '{name}' from '{bus.name}', the bus of the turnout's stock rails"
            yield choice("unit-bus", (Rebus("units", name, bus.name, bus.poles),), headline, say, unit.span)


def at_expectation(places: EntryPlaces, number: int) -> Iterator[Choice]:
    """What may be wrong with what is meant."""
    entry = places.layout.expectations[number]
    what = "live" if entry.live else "dead"
    said = list_in_words([f"{p!r}" for p in entry.pieces])
    verb = "is" if len(entry.pieces) == 1 else "are"
    headline = f"{said} {verb} meant to be {what}, and the wiring says otherwise"
    for n, (name, now) in enumerate(entry.when):
        positions = places.layout.variables[name].positions
        for other in positions if len(positions) <= MOST_SAID else ():
            if other != now:
                when = (*entry.when[:n], (name, other), *entry.when[n + 1 :])
                written = ", ".join(f"{as_yaml(v)}: {as_yaml(x)}" for v, x in when)
                say = f"change the wiring; or, if it is what you want, write 'when: {{{written}}}' in this entry"
                told = f"{said} {verb} meant to be {what} when {name} is at {now}, and the wiring says otherwise"
                yield choice("expectation-other", (Reexpect(number, when),), told, say, entry.span)
    say = "change the wiring; or, if it is what you want, take this entry of 'expect' out"
    yield choice("expectation", (TakeOut("expectations", number),), headline, say, entry.span)


def _straights(positions: Sequence[str], now: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Other positions in which a reverser may stand straight: all others, or one track's two ways round exchanged."""
    every = range(len(positions))
    flips = [frozenset(every)]
    flips += [
        frozenset({n, positions.index(f"{p}-turned")}) for n, p in enumerate(positions) if f"{p}-turned" in positions
    ]
    flips += [frozenset({n}) for n in every if not any("-turned" in p for p in positions)]
    for flip in flips:
        new = tuple(n for n in every if (n in now) != (n in flip))
        if new and len(new) < len(positions):
            yield new

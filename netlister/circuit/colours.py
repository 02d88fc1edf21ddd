"""A colour for every wire, by the letters of IEC 60757: what the layout writes, and for the rest a plan that fits it.

A colour belongs to a pole of one district. Frogs and what is switched have colours of their own. Green and yellow
together are for protective earth alone and are never chosen.
"""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.districts import districts
from netlister.circuit.runs import Run, runs
from netlister.layout.schema import BLOCKING
from netlister.layout.terminal import Terminal, named
from netlister.quantity import COLOURS
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.layout.model import Layout

ColourKey = tuple[str, str]
"""A pole and its district; the district is empty where no bus has a breaker. ("frog", "") and ("switched", "")
are functions."""

FROG: ColourKey = ("frog", "")
SWITCHED: ColourKey = ("switched", "")
EARTH = frozenset({"GNYE", "YEGN"})
PAIRS = (("BN", "BU"), ("RD", "BK"), ("OG", "GY"), ("VT", "WH"), ("PK", "TQ"))
"""Pairs of colours for the two poles of a district, in the order in which they are taken: a warm and a cool one."""
SINGLE = ("YE", "WH", "PK", "TQ", "VT", "GY", "OG", "RD", "BK", "BN", "BU")


class Coloured(NamedTuple):
    """A run with its colour. `chosen`: not written in the file. `key`: what it carries; None where two things meet."""

    run: Run
    colour: str
    chosen: bool
    key: ColourKey | None


class ColourPlan(NamedTuple):
    """The colours of all wires. `colours`: per pole and district or function; `stated`: as the file writes them."""

    wires: list[Coloured]
    colours: dict[ColourKey, str]
    stated: dict[ColourKey, list[tuple[str, Run]]]


def colour_plan(layout: Layout) -> ColourPlan:
    """A colour for each wire of a layout, in the order of `runs`."""
    found = runs(layout)
    poles = pole_keys(layout)
    carried = _carried(layout, found, poles)
    stated: dict[ColourKey, list[tuple[str, Run]]] = {}
    for run, key in zip(found, carried, strict=True):
        if run.colour and key is not None:
            stated.setdefault(key, []).append((run.colour, run))
    colours = _chosen(layout, poles, carried, stated)
    wires = []
    for run, key in zip(found, carried, strict=True):
        colour = run.colour or ("" if key is None else colours[key])
        wires.append(Coloured(run, colour, not run.colour and key not in stated, key))
    return ColourPlan(wires, colours, stated)


def pole_keys(layout: Layout) -> dict[str, ColourKey]:
    """Per pole as written (`bus.A`, `supply.B`, `reverser.A`) its pole in the circuit and its district."""
    district = districts(layout)
    found: dict[str, ColourKey] = {}
    own = {**{s.name: s.poles for s in layout.supplies.values()}, **{b.name: b.poles for b in layout.buses.values()}}
    for name, poles in own.items():
        for letter, pole in zip("AB", poles, strict=True):
            label = district.get(name, "")
            found[named(name, letter)] = (pole, "" if label == Terminal.of(pole).owner else label)
    for reverser in layout.reversers.values():
        for output in reverser.outputs:
            found[output] = (output, "")
    return found


def spoken_key(key: ColourKey) -> str:
    """What a colour is for, in words."""
    pole, district = key
    if key == FROG:
        return "frogs and other rails that change pole"
    if key == SWITCHED:
        return "what a switch turns on and off"
    return named(district, pole[-1]) if district else pole


def _carried(layout: Layout, found: list[Run], poles: dict[str, ColourKey]) -> list[ColourKey | None]:
    """Per run the pole and district or the function that it carries."""
    head: dict[str, str] = {}
    for a, b in (*_metal(layout), *(run.ends for run in found)):
        if a not in poles and b not in poles:
            join(head, head.setdefault(a, a), head.setdefault(b, b))
    labels: dict[str, set[ColourKey]] = {}
    for run in found:
        for one, other in (run.ends, run.ends[::-1]):
            if one in poles and other not in poles:
                labels.setdefault(find(head, head.setdefault(other, other)), set()).add(poles[one])
    changing = {find(head, head.setdefault(rail, rail)) for rail in _changing(layout)}
    result: list[ColourKey | None] = []
    for run in found:
        own = [poles[end] for end in run.ends if end in poles]
        if own:
            result.append(own[-1])
            continue
        net = find(head, head.setdefault(run.ends[0], run.ends[0]))
        known = labels.get(net, set())
        if len(known) == 1:
            result.append(next(iter(known)))
        elif known:
            result.append(None)
        else:
            result.append(FROG if net in changing else SWITCHED)
    return result


def _metal(layout: Layout) -> Iterator[tuple[str, str]]:
    """What always conducts besides wires."""
    for piece in layout.pieces.values():
        for a, b in piece.kind.bonds:
            yield piece.terminal(a), piece.terminal(b)
    for joint in layout.joints:
        for a, b, insulated in joint.pairs:
            if not insulated:
                yield a, b
    for part in layout.components.values():
        if part.kind not in BLOCKING:
            yield named(part.name, "from"), named(part.name, "to")


def _changing(layout: Layout) -> Iterator[str]:
    """The rails under left-hand wheels on one route and under right-hand wheels on another."""
    for piece in layout.pieces.values():
        left = {rail for route in piece.kind.routes for rail in route.left if rail}
        right = {rail for route in piece.kind.routes for rail in route.right if rail}
        for rail in piece.kind.rails:
            if rail in left and rail in right:
                yield piece.terminal(rail)


def _chosen(
    layout: Layout,
    poles: dict[str, ColourKey],
    carried: Iterable[ColourKey | None],
    stated: dict[ColourKey, list[tuple[str, Run]]],
) -> dict[ColourKey, str]:
    """The colour of each key: the first that is written, else the next that nothing else has."""
    found = {key: colours[0][0] for key, colours in stated.items()}
    used = {colour for colours in stated.values() for colour, _ in colours}
    needed = {key for key in carried if key is not None}
    if FROG in needed and FROG not in found:
        found[FROG] = _next(("GN",), used)
        used.add(found[FROG])
    free = [pair for pair in PAIRS if not used & set(pair)]
    names = [*layout.supplies, *(bus for bus in layout.buses if bus not in layout.supplies), *layout.reversers]
    for name in names:
        pair = (poles[named(name, "A")], poles[named(name, "B")])
        left = [key for key in dict.fromkeys(pair) if key in needed and key not in found]
        whole = free.pop(0) if len(left) == len(pair) and free else None
        for place, key in enumerate(left):
            found[key] = whole[place] if whole else _next(SINGLE, used)
            used.add(found[key])
        free = [pair for pair in free if not used & set(pair)]
    if SWITCHED in needed and SWITCHED not in found:
        found[SWITCHED] = _next(SINGLE, used)
    return found


def _next(wanted: Iterable[str], used: set[str]) -> str:
    """A colour that nothing has yet: one of those wanted, else any, else two together."""
    for colour in (*wanted, *SINGLE):
        if colour not in used:
            return colour
    pairs = ("".join(pair) for pair in permutations(COLOURS, 2))
    return next((p for p in pairs if p not in used and p not in EARTH and p[2:] + p[:2] not in used), "")


def spoken(colour: str) -> str:
    """The letters of a colour and its name: ``BN brown``."""
    if not colour:
        return ""
    parts = [colour] if colour in COLOURS else [colour[:2], colour[2:]]
    return f"{colour} {'-'.join(COLOURS.get(p, p) for p in parts)}"

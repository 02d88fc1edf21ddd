"""What a change of a layout does to its circuit: which conductors it takes out and which it puts in."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import compress, count
from operator import is_not
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.circuit.build import SECTIONS, conductors_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from netlister.circuit.model import Circuit, Conductor
    from netlister.layout.model import Layout

SETTLED = ("supplies", "buses", "variables", "bars", "units")
"""Sections of which a change means a new circuit: its poles, devices or variables are others."""


class Entries(NamedTuple):
    """The entries of a section that a change takes out, and those that it puts in."""

    section: str
    gone: tuple[Any, ...]
    came: tuple[Any, ...]


class ChangedCircuit(NamedTuple):
    """A circuit after a change, and the conductors that went and came."""

    circuit: Circuit
    gone: list[Conductor]
    came: list[Conductor]


def entries_changed(old: Layout, new: Layout) -> list[Entries] | None:
    """The entries of each section that conducts in which two layouts differ.

    None where poles, devices or variables may be others, or pieces came or went, so that no circuit can be kept.
    """
    if any(getattr(old, section) is not getattr(new, section) for section in SETTLED):
        return None
    found = []
    for section in SECTIONS:
        one, two = getattr(old, section), getattr(new, section)
        if one is two:
            continue
        before, after = (list(part.values()) if isinstance(part, dict) else part for part in (one, two))
        gone, came = _apart(before, after)
        if section == "pieces" and not _same_rails(gone, came):
            return None
        if section == "reversers" and any(reverser.automatic for reverser in (*gone, *came)):
            return None
        if gone or came:
            found.append(Entries(section, gone, came))
    return found


def _apart(before: list[Any], after: list[Any]) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
    """What only the one and what only the other of two lists holds, of which most is the same."""
    shorter = min(len(before), len(after))
    others = list(compress(range(shorter), map(is_not, before, after)))
    if len(before) == len(after):
        before, after = ([part[n] for n in others] for part in (before, after))
    elif others:
        start = others[0]
        alike = next(compress(count(), map(is_not, reversed(before), reversed(after))), shorter)
        stop = min(alike, shorter - start)
        before, after = (part[start : len(part) - stop] for part in (before, after))
    else:
        before, after = before[shorter:], after[shorter:]
    stayed = set(map(id, before)) & set(map(id, after))
    gone, came = (tuple(entry for entry in part if id(entry) not in stayed) for part in (before, after))
    return gone, came


def _same_rails(gone: tuple[Any, ...], came: tuple[Any, ...]) -> bool:
    return [(p.name, p.kind.rails, p.bars) for p in gone] == [(p.name, p.kind.rails, p.bars) for p in came]


def changed_otherwise(old: Layout, new: Layout) -> set[str]:
    """The fields of a layout, other than those whose entries conduct, that a change puts something else in."""
    return {f.name for f in fields(old) if f.name not in SECTIONS and getattr(old, f.name) is not getattr(new, f.name)}


def step(
    circuit: Circuit,
    layout: Layout,
    entries: Iterable[Entries],
    seen: Callable[[str, Any], Any] | None = None,
    conducts: Callable[[Conductor], bool] | None = None,
) -> ChangedCircuit:
    """The circuit after a change of entries.

    `seen`: an entry as the circuit has it (None: not at all), where it has another than the layout. `conducts`: which
    conductors the circuit has; else all.
    """
    made = replace(
        circuit,
        layout=layout,
        names=list(circuit.names),
        node=dict(circuit.node),
        rails=list(circuit.rails),
        commons=list(circuit.commons),
    )
    gone: list[Conductor] = []
    came: list[Conductor] = []
    for section, out, into in entries:
        for entries_there, conductors in ((out, gone), (into, came)):
            for entry in entries_there:
                there = entry if seen is None else seen(section, entry)
                if there is not None:
                    conductors.extend(conductors_of(made, section, there))
        if section == "contacts":
            _settle_commons(made, out, into)
    if conducts is not None:
        gone, came = (list(filter(conducts, part)) for part in (gone, came))
    same = set(gone) & set(came)
    if same:
        gone, came = (_without(part, same) for part in (gone, came))
    _join(circuit, made, gone, came)
    return ChangedCircuit(made, gone, came)


def _without(conductors: list[Conductor], same: set[Conductor]) -> list[Conductor]:
    """Conductors without one each of some."""
    left = set(same)
    found = []
    for conductor in conductors:
        if conductor in left:
            left.discard(conductor)
        else:
            found.append(conductor)
    return found


def _settle_commons(made: Circuit, out: tuple[Any, ...], into: tuple[Any, ...]) -> None:
    """Leave out the commons of contacts that are gone, and add those that came."""
    gone, came = ({made.node[c.terminal("common")] for c in part} for part in (out, into))
    kept = [node for node in made.commons if node not in gone or node in came]
    made.commons = [*kept, *sorted(came - set(kept))]


def _join(circuit: Circuit, made: Circuit, gone: list[Conductor], came: list[Conductor]) -> None:
    near = list(circuit.near)
    near += [[] for _ in range(len(made.names) - len(near))]
    for node in {node for c in (*gone, *came) for node in (c.a, c.b)}:
        near[node] = list(near[node])
    for c in gone:
        near[c.a].remove((c.b, c))
        near[c.b].remove((c.a, c))
    for c in came:
        near[c.a].append((c.b, c))
        near[c.b].append((c.a, c))
    made.join(near)


def without_blades(circuit: Circuit) -> Circuit:
    """The circuit if the blades of turnouts made no contact."""
    made = replace(circuit)
    made.conductors = [c for c in circuit.conductors if c.what != "blade"]
    return made

"""What differs between the wirings of two layouts, wherever and however it is written."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.check import check
from netlister.circuit.build import build
from netlister.layout.terminal import owner_of
from netlister.lengths import NO_LENGTH
from netlister.poles.nets import contract
from netlister.quantity import length_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from netlister.finding import Finding
    from netlister.layout.model import Contact, Layout, Wire

MOST_RENAMED = 2_500
"""So many pairs of a name that is gone and one that is new are looked at, to tell what was renamed."""


class Difference(NamedTuple):
    """One thing that differs: its section, its name, and how it was and is (nothing where it is not there)."""

    section: str
    name: str
    old: str
    new: str


class Renamed(NamedTuple):
    """A thing that has another name now: its section, the old name and the new one."""

    section: str
    old: str
    new: str


class Comparison(NamedTuple):
    """What differs between two wirings.

    `renamed`: what has another name; all else is said with the new names. `entries`: joints, feeds, contacts and the
    rest. `joined`: terminals that are one net now and were several, each net of before with its first terminal;
    `parted`: the other way round. `came`, `went`: findings by rule and subject.
    """

    renamed: tuple[Renamed, ...]
    entries: tuple[Difference, ...]
    joined: tuple[tuple[str, ...], ...]
    parted: tuple[tuple[str, ...], ...]
    came: tuple[Finding, ...]
    went: tuple[Finding, ...]

    @property
    def same(self) -> bool:
        """Whether nothing differs but names."""
        return not any(self[1:])


def compare(old: Layout, new: Layout) -> Comparison:
    """Compare two wirings. Raises UnusableError where `never` leaves no state at all."""
    written, after = _entries(old), _entries(new)
    renamed = _renamed(old, new, written, after)
    names = _Renamer({one.old: one.new for one in renamed})
    before = _entries(old, names)
    entries = [
        Difference(section, name, before.get((section, name), ""), after.get((section, name), ""))
        for section, name in dict.fromkeys((*before, *after))
        if before.get((section, name)) != after.get((section, name))
    ]
    a, b = {names(name): net for name, net in _nets(old).items()}, _nets(new)
    first, second = check(old, causes=False).findings, check(new, causes=False).findings
    return Comparison(
        tuple(renamed),
        tuple(entries),
        _merged(a, b),
        _merged(b, a),
        _without(second, first, names),
        _without(first, second, names),
    )


def _without(findings: Iterable[Finding], others: Iterable[Finding], names: _Renamer) -> tuple[Finding, ...]:
    """The findings that the others do not have, by rule, subject, severity and states."""
    left = Counter(_key(finding, names) for finding in others)
    found = []
    for finding in findings:
        key = _key(finding, names)
        if left[key]:
            left[key] -= 1
        else:
            found.append(finding)
    return tuple(found)


def _key(finding: Finding, names: _Renamer) -> tuple[object, ...]:
    """What tells a finding from others; of a way round, all its pieces, since it may begin at any of them."""
    about = finding.parts if finding.rule == "reversing-route" else (finding.subject,)
    when = tuple(tuple(sorted((names(name), position) for name, position in cube)) for cube in finding.when)
    return finding.rule, tuple(sorted(map(names, about))), finding.severity, tuple(sorted(when))


def _nets(layout: Layout) -> dict[str, int]:
    """The net of each terminal: what always conducts."""
    circuit = build(layout)
    of = contract(circuit).of
    return {name: of[node] for node, name in enumerate(circuit.names)}


def _merged(before: dict[str, int], after: dict[str, int]) -> tuple[tuple[str, ...], ...]:
    """For each net of `after` that was several before, the first terminal of each of these; of terminals in both."""
    groups: dict[int, dict[int, str]] = {}
    for name in sorted(before.keys() & after.keys()):
        groups.setdefault(after[name], {}).setdefault(before[name], name)
    return tuple(sorted(tuple(names.values()) for names in groups.values() if len(names) > 1))


# -- entries in words


def _entries(layout: Layout, names: Callable[[str], str] = str) -> dict[tuple[str, str], str]:
    """Everything that is wired, as text under its section and name; order and style of the file play no part.

    `names` gives names their new form, before what has no order is sorted.
    """
    found: dict[tuple[str, str], str] = {}
    for supply in layout.supplies.values():
        said = [supply.type, f"poles {' and '.join(supply.poles)}", f"positive {supply.positive}"]
        said += [f"{supply.voltage:g} V", *_amps(supply.trip, supply.trip_time), f"{supply.resistance:g} ohm"]
        for what in ("station", "winding", "ground"):
            said += [f"{what} {getattr(supply, what)}"] if getattr(supply, what) else []
        said += ["programming"] if supply.programming else []
        found["supply", supply.name] = ", ".join(said)
    for bus in layout.buses.values():
        if not bus.implicit:
            start = f"of {bus.supply}" if not bus.parent else f"of {bus.parent} at {length_text(bus.at or NO_LENGTH)}"
            colours = [f"{pole} {colour}" for pole, colour in bus.colours]
            said = [start, bus.form, *_wire(bus.wire), *_amps(bus.breaker, bus.trip_time), *colours]
            found["bus", bus.name] = ", ".join(said)
    for piece in layout.pieces.values():
        kind = piece.kind
        options = ", ".join(
            (kind.name, *([kind.hand] if kind.hand else []), *(f"{k}: {v}" for k, v in sorted(kind.options)))
        )
        found["piece", piece.name] = options + (", frog: dead" if piece.dead_frog else "")
    for joint in layout.joints:
        pairs = sorted((*sorted((names(a), names(b))), insulated) for a, b, insulated in joint.pairs)
        name = " and ".join(f"{a} to {b}" for a, b, _ in pairs)
        found["joint", name] = ", ".join("insulated" if insulated else "metal" for *_, insulated in pairs)
    wires: dict[tuple[str, str], list[str]] = {}
    for feed in layout.feeds:
        places = [f"{word} {length_text(at)}" for word, at in (("at", feed.at), ("tap", feed.tap)) if at is not None]
        for pole, rail in feed.wires:
            start = "fed" if feed.source == owner_of(pole) else f"fed from {feed.source}"
            wires.setdefault((pole, rail), []).append(", ".join((start, *places, *_wire(feed.wire))))
    for (pole, rail), said in wires.items():
        found["feed", f"{pole} to {rail}"] = "; ".join(sorted(said))
    for contact in layout.contacts:
        found["contact", contact.full] = ", ".join((*_throws(contact), contact.action))
    found.update(_gear(layout, names))
    return {(section, names(name)): names(value) for (section, name), value in found.items()}


def _throws(contact: Contact) -> list[str]:
    ends = [("common", contact.common), *contact.throws]
    buses = contact.buses or ("",) * len(ends)
    return [f"{what} to {_end(to, bus)}" for (what, to), bus in zip(ends, buses, strict=False)]


def _end(terminal: str | None, bus: str) -> str:
    """What a wire goes to; a pole with the bus on which it is taken, where it does not say that itself."""
    if not terminal:
        return "nothing"
    return terminal if not bus or bus == owner_of(terminal) else f"{terminal} on {bus}"


def _wire(wire: Wire) -> list[str]:
    """What a wire is, whatever unit it is written in."""
    size = [] if wire.area_mm2 is None else [f"{wire.area_mm2:.4g} mm2"]
    if not size and wire.ohm_per_m is not None:
        size = [f"{wire.ohm_per_m * 1000:.4g} mohm/m"]
    return [*size, *([] if wire.length is None else [f"{length_text(wire.length)} long"])]


def _amps(trip: float | None, time: float | None) -> list[str]:
    said = [] if trip is None else [f"trips at {trip:g} A"]
    return said + ([] if time is None else [f"in {time:g} s"])


def _gear(layout: Layout, names: Callable[[str], str]) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], str] = {}
    for name, reverser in layout.reversers.items():
        how = "automatic"
        if reverser.variable is not None:
            how = f"follows {reverser.variable}, straight in {', '.join(map(str, reverser.straight))}"
        on = "" if reverser.bus == owner_of(reverser.inputs[0]) else f" on {reverser.bus}"
        found["reverser", name] = f"from {' and '.join(reverser.inputs)}{on}, {how}"
    for name, unit in layout.units.items():
        on = "" if not unit.bus or unit.bus == owner_of(unit.inputs[0]) else f" on {unit.bus}"
        found["frog unit", name] = f"{unit.frog} from {' and '.join(unit.inputs)}{on}"
    for name, part in layout.components.items():
        a, b = (_end(end, bus) for end, bus in zip(part.ends, part.buses, strict=True))
        rating = [] if part.rating is None else [f"rating {part.rating:g}"]
        rating += [] if part.resistance is None else [f"{part.resistance:g} ohm"]
        found["component", name] = ", ".join((f"{part.kind} from {a} to {b}", *rating))
    for pin in layout.pins:
        ends = sorted(names(_end(end, bus)) for end, bus in zip(pin.ends, pin.buses, strict=True))
        found["pin", pin.full] = " to ".join(ends) + (", optional" if pin.variable else "")
    links: dict[str, list[str]] = {}
    for link in layout.links:
        ends = sorted(names(_end(end, bus)) for end, bus in zip(link.ends, link.buses, strict=True))
        colour = [link.colour] if link.colour else []
        links.setdefault(" to ".join(ends), []).append(", ".join(("wired", *_wire(link.wire), *colour)))
    for name, said in links.items():
        found["wire", name] = "; ".join(sorted(said))
    for bar in layout.bars.values():
        found["tie bar", bar.bar] = f"{bar.variable}: {', '.join(bar.positions)}"
    for variable in layout.variables.values():
        found["variable", variable.name] = ", ".join(variable.positions)
    for cube, _ in layout.never:
        said = sorted(f"{names(name)} {position}" for name, position in cube)
        found["never", " and ".join(said)] = "ruled out"
    return found


# -- what has another name


class _Renamer:
    """Puts new names in the place of old ones, in names of things and terminals and in the texts of entries."""

    def __init__(self, names: dict[str, str]) -> None:
        self.names = names
        words = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True))
        self.pattern = re.compile(rf"(?<![^\s/])(?:{words})(?=[\s,.:/]|$)") if words else None

    def __call__(self, text: str) -> str:
        return text if self.pattern is None else self.pattern.sub(lambda found: self.names[found[0]], text)


def _named(layout: Layout) -> dict[str, list[str]]:
    """The names that a layout gives, by section."""
    found = {
        "supply": [*layout.supplies],
        "bus": [bus.name for bus in layout.buses.values() if not bus.implicit and bus.name not in layout.supplies],
        "piece": [*layout.pieces],
        "machine": [*layout.machines],
        "switch": [variable.name for variable in layout.variables.values() if variable.kind == "switch"],
        "reverser": [*layout.reversers],
        "frog unit": [*layout.units],
        "component": [*layout.components],
        "plug": [*dict.fromkeys(pin.plug for pin in layout.pins)],
    }
    known = {name for names in found.values() for name in names} | {contact.owner for contact in layout.contacts}
    ends = [end for row in (layout.links, layout.pins, layout.components.values()) for one in row for end in one.ends]
    ends += [to for contact in layout.contacts for to in (contact.common, *(to for _, to in contact.throws)) if to]
    found["junction"] = [*dict.fromkeys(end for end in ends if owner_of(end) not in known)]
    found["contact"] = [contact.full for contact in layout.contacts]
    return found


def _renamed(
    old: Layout, new: Layout, before: dict[tuple[str, str], str], after: dict[tuple[str, str], str]
) -> list[Renamed]:
    """What has another name now: one name after the other, each that makes most entries alike."""
    gone, there = _named(old), _named(new)
    taken = {name for names in there.values() for name in names}
    pairs = [
        Renamed(section, a, b)
        for section in gone
        for a in gone[section]
        if a not in taken
        for b in there[section]
        if b not in gone[section]
    ]
    found: list[Renamed] = []
    if len(pairs) > MOST_RENAMED:
        return found
    there_now = {(section, _words(name)): _words(value) for (section, name), value in after.items()}
    while pairs:
        so_far = {one.old: one.new for one in found}
        counted = [_alike(so_far, one, before, there_now) for one in pairs]
        if not max(counted):
            break
        best = pairs[counted.index(max(counted))]
        found.append(best)
        pairs = [one for one in pairs if best.old != one.old and best.new != one.new]
    owners = _Renamer({one.old: one.new for one in found if one.section != "contact"})
    return [one for one in found if owners(one.old) != one.new or one.section != "contact"]


Words = tuple[str, ...]


def _words(text: str) -> Words:
    """The words of a text, in no order of its own."""
    return tuple(sorted(re.split("[ ,]+", text)))


def _alike(
    names: dict[str, str], one: Renamed, before: dict[tuple[str, str], str], after: dict[tuple[str, Words], Words]
) -> int:
    """How many entries that speak of a name are found with the new one; none where the thing itself is another."""
    swap = _Renamer({**names, one.old: one.new})
    count = 0
    for (section, name), value in before.items():
        if one.old in name or one.old in value:
            new, said = swap(name), swap(value)
            there = after.get((section, _words(new)))
            if name == one.old and there != _words(said):
                return 0
            count += there == _words(said) and (new, said) != (name, value)
    return count


# -- as text and as plain values


def text_of(comparison: Comparison) -> str:
    """A comparison as text: `-` was, `+` is."""
    lines = [f"{one.section} {one.old} is called {one.new} now" for one in comparison.renamed]
    if comparison.same:
        return "\n".join((*lines, "the wiring is the same")) + "\n"
    for entry in comparison.entries:
        lines.append(f"{entry.section} {entry.name}")
        lines += [f"  - {entry.old}"] if entry.old else []
        lines += [f"  + {entry.new}"] if entry.new else []
    lines += [f"joined in all positions: {', '.join(names)}" for names in comparison.joined]
    lines += [f"no longer joined in all positions: {', '.join(names)}" for names in comparison.parted]
    lines += [f"went: {f.severity.label} {f.rule}: {f.message}" for f in comparison.went]
    lines += [f"came: {f.severity.label} {f.rule}: {f.message}" for f in comparison.came]
    return "\n".join(lines) + "\n"


def object_of(comparison: Comparison, old: str, new: str) -> dict[str, Any]:
    """A comparison as plain values, version `netlister-difference/1`."""

    def finding(f: Finding) -> dict[str, Any]:
        when = [dict(entry) for entry in f.when]
        return {"rule": f.rule, "severity": f.severity.label, "subject": f.subject, "when": when, "message": f.message}

    return {
        "format": "netlister-difference/1",
        "old": old,
        "new": new,
        "same": comparison.same,
        "renamed": [one._asdict() for one in comparison.renamed],
        "entries": [entry._asdict() for entry in comparison.entries],
        "joined": [list(names) for names in comparison.joined],
        "parted": [list(names) for names in comparison.parted],
        "came": [finding(f) for f in comparison.came],
        "went": [finding(f) for f in comparison.went],
    }

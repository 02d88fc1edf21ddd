"""What differs between the wirings of two layouts, wherever and however it is written."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.check import check
from netlister.circuit.build import build
from netlister.poles.nets import contract

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding
    from netlister.layout.model import Layout


class Difference(NamedTuple):
    """One thing that differs: its section, its name, and how it was and is (nothing where it is not there)."""

    section: str
    name: str
    old: str
    new: str


class Comparison(NamedTuple):
    """What differs between two wirings.

    `entries`: joints, feeds, contacts and the rest. `joined`: terminals that are one net now and were several, each
    net of before with its first terminal; `parted`: the other way round. `came`, `went`: findings by rule and subject.
    """

    entries: tuple[Difference, ...]
    joined: tuple[tuple[str, ...], ...]
    parted: tuple[tuple[str, ...], ...]
    came: tuple[Finding, ...]
    went: tuple[Finding, ...]

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return not any(self)


def compare(old: Layout, new: Layout) -> Comparison:
    """Compare two wirings. Raises UnusableError where `never` leaves no state at all."""
    before, after = _entries(old), _entries(new)
    entries = [
        Difference(section, name, before.get((section, name), ""), after.get((section, name), ""))
        for section, name in dict.fromkeys((*before, *after))
        if before.get((section, name)) != after.get((section, name))
    ]
    a, b = _nets(old), _nets(new)
    first, second = check(old, causes=False).findings, check(new, causes=False).findings
    return Comparison(tuple(entries), _merged(a, b), _merged(b, a), _without(second, first), _without(first, second))


def _without(findings: Iterable[Finding], others: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings that the others do not have, by rule, subject, severity and states."""
    left = Counter(map(_key, others))
    found = []
    for finding in findings:
        key = _key(finding)
        if left[key]:
            left[key] -= 1
        else:
            found.append(finding)
    return tuple(found)


def _key(finding: Finding) -> tuple[object, ...]:
    """What tells a finding from others; of a way round, all its pieces, since it may begin at any of them."""
    about = tuple(sorted(finding.parts)) if finding.rule == "reversing-route" else (finding.subject,)
    return finding.rule, about, finding.severity, finding.when


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


def _entries(layout: Layout) -> dict[tuple[str, str], str]:
    """Everything that is wired, as text under its section and name; order and style of the file play no part."""
    found: dict[tuple[str, str], str] = {}
    for supply in layout.supplies.values():
        found["supply", supply.name] = f"{supply.type}, poles {' and '.join(supply.poles)}, positive {supply.positive}"
    for piece in layout.pieces.values():
        kind = piece.kind
        options = ", ".join(
            (kind.name, *([kind.hand] if kind.hand else []), *(f"{k}: {v}" for k, v in sorted(kind.options)))
        )
        found["piece", piece.name] = options + (", frog: dead" if piece.dead_frog else "")
    for joint in layout.joints:
        pairs = sorted((*sorted((a, b)), insulated) for a, b, insulated in joint.pairs)
        name = " and ".join(f"{a} to {b}" for a, b, _ in pairs)
        found["joint", name] = ", ".join("insulated" if insulated else "metal" for *_, insulated in pairs)
    wires = Counter(wire for feed in layout.feeds for wire in feed.wires)
    for (pole, rail), count in wires.items():
        found["feed", f"{pole} to {rail}"] = "fed" if count == 1 else f"fed {count} times"
    for contact in layout.contacts:
        ends = [f"common to {contact.common or 'nothing'}", *(f"{p} to {to or 'nothing'}" for p, to in contact.throws)]
        found["contact", contact.full] = ", ".join((*ends, contact.action))
    found.update(_gear(layout))
    return found


def _gear(layout: Layout) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], str] = {}
    for name, reverser in layout.reversers.items():
        how = "automatic"
        if reverser.variable is not None:
            how = f"follows {reverser.variable}, straight in {', '.join(map(str, reverser.straight))}"
        found["reverser", name] = f"from {' and '.join(reverser.inputs)}, {how}"
    for name, unit in layout.units.items():
        found["frog unit", name] = f"{unit.frog} from {' and '.join(unit.inputs)}"
    for name, part in layout.components.items():
        found["component", name] = f"{part.kind} from {part.ends[0]} to {part.ends[1]}"
    for pin in layout.pins:
        found["pin", pin.full] = " to ".join(sorted(pin.ends)) + (", optional" if pin.variable else "")
    for link, count in Counter(" to ".join(sorted(link.ends)) for link in layout.links).items():
        found["wire", link] = "wired" if count == 1 else f"wired {count} times"
    for bar in layout.bars.values():
        found["tie bar", bar.bar] = f"{bar.variable}: {', '.join(bar.positions)}"
    for variable in layout.variables.values():
        found["variable", variable.name] = ", ".join(variable.positions)
    for cube, _ in layout.never:
        found["never", " and ".join(f"{name} {position}" for name, position in sorted(cube))] = "ruled out"
    return found


# -- as text and as plain values


def text_of(comparison: Comparison) -> str:
    """A comparison as text: `-` was, `+` is."""
    if comparison.same:
        return "the wiring is the same\n"
    lines = []
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
        "entries": [entry._asdict() for entry in comparison.entries],
        "joined": [list(names) for names in comparison.joined],
        "parted": [list(names) for names in comparison.parted],
        "came": [finding(f) for f in comparison.came],
        "went": [finding(f) for f in comparison.went],
    }

"""The part of a large layout that can change what is found at some pieces, as a layout of its own.

A rail that is always fed by one pole, wherever that comes from, is held by that pole at the border of the part: so the
part has the same poles inside as the whole. What was found in a part is proved in the whole before it is told.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.edits.gear import Reexpect, Relink, Repin
from netlister.edits.model import Insulate, Recommon, Refeed, Rewire, TakeOut
from netlister.layout.model import Link, Wire
from netlister.layout.terminal import named, owner_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.edits.model import Edit
    from netlister.layout.model import Layout
    from netlister.repairs.choices import Choices
    from netlister.rules.analysis import Analysis

SMALL = 40
"""Layouts of so many pieces are looked at whole."""

MOST = 400
"""Pieces of a part; where more are connected, or half of all, the layout is looked at whole."""

RADIUS = 2
"""How many joints further than the pieces asked for a part reaches."""

_NUMBERED = {
    Insulate: ("joints", "joint"),
    Refeed: ("feeds", "feed"),
    Rewire: ("contacts", "contact"),
    Recommon: ("contacts", "contact"),
    Repin: ("pins", "pin"),
    Relink: ("links", "link"),
    Reexpect: ("expectations", "number"),
}


class LayoutPart(NamedTuple):
    """A part of a layout. `held`: with what holds its border. `numbers`: per section those of entries in the whole."""

    layout: Layout
    held: Layout
    numbers: dict[str, list[int]]

    def in_whole(self, edit: Edit) -> Edit:
        """An edit of the part as one of the whole."""
        found: list[Any] = []
        for change in edit:
            if isinstance(change, TakeOut):
                found.append(change._replace(number=self.numbers[change.section][change.number]))
            elif type(change) in _NUMBERED:
                section, field = _NUMBERED[type(change)]
                numbered: Any = change
                found.append(numbered._replace(**{field: self.numbers[section][getattr(change, field)]}))
            else:
                found.append(change)
        return tuple(found)


def part_around(analysis: Analysis, choices: Choices, pieces: Iterable[str]) -> LayoutPart | None:
    """The part around some pieces, or None where the whole is to be looked at."""
    layout = analysis.layout
    if len(layout.pieces) <= SMALL:
        return None
    reach = _PartReach(analysis, choices)
    ring = [p for p in pieces if p in layout.pieces]
    for _ in range(RADIUS + 1):
        beyond: list[str] = []
        for name in ring:
            if name not in reach.pieces:
                reach.take(name)
                for number in choices.joints_of.get(name, ()):
                    joint = layout.joints[number]
                    beyond += [joint.start[0], joint.end[0]]
        ring = beyond
    if not reach.close() or len(reach.pieces) > len(layout.pieces) // 2:
        return None
    return reach.part()


class _PartReach:
    def __init__(self, analysis: Analysis, choices: Choices) -> None:
        self.analysis = analysis
        self.layout = analysis.layout
        self.choices = choices
        self.pieces: dict[str, None] = {}
        self.terminals: dict[str, None] = {}
        self.nets: set[int] = set()
        self.stack: list[str] = []
        self.poles = {pole.name for pole in analysis.circuit.poles}

    def take(self, piece: str) -> None:
        """Take a piece in, with all of its rails."""
        if piece not in self.pieces:
            self.pieces[piece] = None
            for rail in self.layout.pieces[piece].kind.rails:
                self._terminal(named(piece, rail))

    def _terminal(self, name: str | None) -> None:
        if name is None or name in self.terminals or name in self.poles:
            return
        self.terminals[name] = None
        self.stack.append(name)
        piece = owner_of(name)
        if piece in self.layout.pieces:
            self.take(piece)

    def close(self) -> bool:
        """Take in what is connected to what is in, but for rails that one pole always feeds."""
        circuit, poles = self.analysis.circuit, self.analysis.poles
        while self.stack:
            if len(self.pieces) > MOST:
                return False
            name = self.stack.pop()
            node = circuit.node.get(name)
            if node is not None:
                net = poles.nets.of[node]
                mask = poles.nets.fed[net]
                if net not in self.nets and (mask == 0 or mask & (mask - 1)):
                    self.nets.add(net)
                    region = poles.region_of.get(net)
                    for each in (net, *(region.nets if region is not None else ())):
                        self.nets.add(each)
                        for member in poles.nets.members[each]:
                            self._terminal(self._spoken(circuit.names[member]))
            for section, key in self.choices.at.get(name, ()):
                self._entry(section, key)
        return True

    def _spoken(self, name: str) -> str | None:
        """A terminal, or None for one of a contact's own, which comes with its contact."""
        known = name in self.choices.at or owner_of(name) in self.layout.pieces
        return name if known else None

    def _entry(self, section: str, key: int | str) -> None:
        layout = self.layout
        if section == "contacts":
            contact = layout.contacts[int(key)]
            for end in (contact.common, *(to for _, to in contact.throws)):
                self._terminal(end)
        elif section in {"pins", "links"}:
            for end in getattr(layout, section)[key].ends:
                self._terminal(end)
        elif section == "components":
            for end in layout.components[str(key)].ends:
                self._terminal(end)

    def part(self) -> LayoutPart:
        """What was taken in, as a layout."""
        layout, at = self.layout, self.choices.at
        found: dict[str, set[Any]] = {
            s: set() for s in ("joints", "feeds", "contacts", "pins", "links", "components", "units")
        }
        for terminal in self.terminals:
            for section, key in at.get(terminal, ()):
                if section in found:
                    found[section].add(key)
        found["joints"] = {
            n
            for n in found["joints"]
            if layout.joints[n].start[0] in self.pieces and layout.joints[n].end[0] in self.pieces
        }
        numbers = {s: sorted(found[s]) for s in ("joints", "feeds", "contacts", "pins", "links")}
        fields: dict[str, Any] = {s: [getattr(layout, s)[n] for n in listed] for s, listed in numbers.items()}
        fields["components"] = {n: c for n, c in layout.components.items() if n in found["components"]}
        fields["units"] = {n: u for n, u in layout.units.items() if n in found["units"]}
        fields["pieces"] = {name: layout.pieces[name] for name in sorted(self.pieces)}
        bars = {bar: layout.bars[bar] for p in fields["pieces"].values() for bar in p.bars}
        names = {b.variable for b in bars.values()} | {c.variable for c in fields["contacts"]}
        names |= {r.variable for r in layout.reversers.values() if r.variable} | {
            p.variable for p in fields["pins"]
        } - {None}
        names |= {v for p in fields["pieces"].values() for cubes in p.sets.values() for cube in cubes for v, _ in cube}
        fields["never"] = []
        for cube, span in layout.never:
            if any(v in names for v, _ in cube):
                names.update(v for v, _ in cube)
                fields["never"].append((cube, span))
        expected = [
            (n, e._replace(pieces=tuple(p for p in e.pieces if p in self.pieces)))
            for n, e in enumerate(layout.expectations)
            if any(p in self.pieces for p in e.pieces)
        ]
        names.update(v for _, e in expected for v, _ in e.when)
        numbers["expectations"] = [n for n, _ in expected]
        fields["expectations"] = [e for _, e in expected]
        known = sorted((n for n in names if n in layout.variables), key=self.analysis.circuit.variable.__getitem__)
        fields["variables"] = {n: layout.variables[n] for n in known}
        fields["bars"] = bars
        made = replace(layout, trains={}, notices=[], allows=[], boards={}, **fields)
        return LayoutPart(made, self._held(made), numbers)

    def _held(self, made: Layout) -> Layout:
        """The part with a wire from its pole to each rail at the border that is always fed, where others hang at it."""
        circuit, poles = self.analysis.circuit, self.analysis.poles
        extra: dict[tuple[str, str], None] = {}
        seen: set[int] = set()
        for terminal in self.terminals:
            node = circuit.node.get(terminal)
            if node is None:
                continue
            net = poles.nets.of[node]
            mask = poles.nets.fed[net]
            if not mask or mask & (mask - 1) or net in seen:
                continue
            for number in (k for s, k in self.choices.at.get(terminal, ()) if s == "joints"):
                joint = self.layout.joints[int(number)]
                for a, b, insulated in joint.pairs:
                    other = b if a == terminal else a
                    if not insulated and terminal in (a, b) and owner_of(other) not in self.pieces:
                        extra[circuit.poles[mask.bit_length() - 1].name, terminal] = None
        span = next(iter(made.pieces.values())).span
        wires = [Link("", (pole, rail), Wire("", None, None, None), "", span) for pole, rail in extra]
        return replace(made, links=[*made.links, *wires])

"""The card of a piece of track: drawings, as altered, wires, joints, tests, and why it is wired so."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from netlister.layout.schema import RESISTING
from netlister.layout.terminal import Terminal, named
from netlister.outputs.kind_sheet import changing, joined, needs
from netlister.papers.altered import altered, jumpers
from netlister.papers.card_base import OFF, Card, never_said
from netlister.papers.card_drawing import CardDrawing, CardPicture, neighbours
from netlister.papers.card_tables import Tables, rated
from netlister.papers.positions import Position, positions, undrawn
from netlister.papers.sheets import BODY, LOW, TOP, Flow, broken
from netlister.svg import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Piece
    from netlister.papers.card_base import Whole

MANY = 4
"""A piece with more rails than that is drawn once on a sheet."""

MOST_DRAWN = 16
"""Of a table with more positions each track is drawn once, not with the bridge either way round."""

MOST_PAIRS = 24
"""So many pairs of rails are listed one by one; of more only those that beep, and one line for the rest."""


_ODD = RESISTING | {"detector"}


class OfPiece(Card):
    """The card of a piece."""

    def __init__(self, of: Whole, name: str) -> None:
        super().__init__(of, name)
        self.piece: Piece = self.layout.pieces[name]
        kind = self.piece.kind
        hand = f", {kind.hand}{'' if kind.hand == 'wye' else ' hand'}" if kind.hand else ""
        self.heading = f"{kind.title}{hand}"
        machines = sorted({self.layout.bars[b].variable for b in self.piece.bars} - set(self.piece.bars))
        thrown = f"thrown by {', '.join(machines)}" if machines else "thrown by hand" if self.piece.bars else ""
        board = of.boards.get(name, "")
        self.positions = positions(self.circuit, self.piece, of.poles)
        self.undrawn = undrawn(self.circuit, self.piece, of.poles)
        told = (thrown, f"board {board}" if board else "", "not every position is on this card" if self.undrawn else "")
        self.under = "; ".join(t for t in told if t)
        self.tables: Tables = of.wiring.of_piece(name)

    def fill(self, flow: Flow) -> None:
        """Put onto sheets: drawings and why, as altered, wires, joints, tests."""
        self._drawings(flow)
        drawn = len(flow.sheets)
        self._why(flow)
        if len(flow.sheets) == drawn:
            flow.new()
        self.caution(flow)
        self._altered(flow)
        tables = self.tables
        self.wires(flow, f"Wires that end at {self.name}", tables.here, near=self.name)
        self.wires(flow, "Wires further on, to its contacts and poles", tables.beyond)
        if not tables.here:
            flow.text(self._unwired())
        self.colours(flow, tables.wires())
        own = [c for c in self.of.wiring.of_gear(self.name).contacts if c not in tables.contacts]
        for contact in (*tables.contacts, *own):
            self.contact(flow, contact)
        self._components(flow)
        self.joints(flow, [j for j in self.layout.joints if self.name in j.pieces])
        self._metal(flow)
        self._laid(flow)

    # -- drawings

    def _drawings(self, flow: Flow) -> None:
        drawing = CardDrawing(self.circuit, self.name, self.of.poles)
        columns = 2 if self.piece.kind.gaps and len(self.positions) > 1 else 1  # a slip or a three-way needs the room
        each = flow.room / columns
        alone = drawing.placed.pit or len(self.piece.kind.rails) > MANY
        tall = (LOW - TOP - 90) if alone else (LOW - TOP - 102) / 2  # so that the reasons stand below two drawings
        for below in (False, True):
            pictures = [drawing.picture(p, each - 14, tall, below=below) for p in self._drawn()]
            legend = drawing.legend(flow.room)
            flow.text(self._lies(below=below))
            if turned := self._turned():
                flow.text(turned)
            if len(self._drawn()) < len(self.positions):
                flow.text(
                    f"Each track is drawn once, {len(self._drawn())} of {len(self.positions)} positions; those with "
                    "the bridge the other way round are in test 2."
                )
            for first in range(0, len(pictures), columns):
                row = pictures[first : first + columns]
                high = max(picture.high for picture in row) + 6
                if flow.y + high + legend.high > LOW and flow.y > TOP:
                    self._legend(flow, legend)
                    flow.new()
                    flow.text(self._on_the_left(below=below))
                for place, picture in enumerate(row):
                    x = number(26 + place * each)
                    flow.lines.append(f'<g transform="translate({x} {number(flow.y)})">')
                    flow.lines.extend([*picture.lines, "</g>"])
                flow.y += high
            self._legend(flow, legend)
            if not below:
                flow.new()

    def _drawn(self) -> list[Position]:
        """The positions that are drawn: all, but of a large table the first at each of its tracks."""
        if not self.piece.kind.gaps or len(self.positions) <= MOST_DRAWN:
            return self.positions
        first: dict[object, Position] = {}
        for position in self.positions:
            route = position.route
            same = (frozenset((*route.left, *route.right)), route.ends[0]) if route else position.name
            first.setdefault(same, position)
        return list(first.values())

    @staticmethod
    def _legend(flow: Flow, legend: CardPicture) -> None:
        """What the lines of the drawings on a sheet mean."""
        flow.picture(legend.high, lambda x, y: _moved(legend.lines, x, y))

    def _lies(self, *, below: bool) -> str:
        """How the drawing lies: where its toe is, and what is next to it on other boards."""
        near = neighbours(self.layout, self.name)
        said = self._on_the_left(below=below)
        board = self.of.boards.get(self.name, "")
        for end, other in near.items():
            there = self.of.boards.get(other, "")
            if board and there and there != board:
                said += f" Board edge at {end}: {other} is on board {there}."
        said += " Not to scale: cut nothing by it, go by the names and the table of joints."
        return f"{said} Front edge of the board: [ ] top [ ] bottom of this drawing."

    def _on_the_left(self, *, below: bool) -> str:
        """Which way round the drawing is, on each of its sheets."""
        kind = self.piece.kind
        entering = "toe" if "toe" in kind.ends else next(iter(kind.ends))
        near = neighbours(self.layout, self.name)
        to = f", towards {near[entering]}" if entering in near else ""
        said = f"The {entering} end is on the left{to}."
        return said + (" Left and right rails change sides here, since you look from below." if below else "")

    def _turned(self) -> str:
        """What A and B mean on rails that an automatic reverser feeds."""
        devices = {Terminal.of(p.name).owner for p in self.circuit.poles if p.device}
        found = {
            Terminal.of(pole).owner
            for position in self.positions
            for poles in self.of.poles.of(self.name, position.state).values()
            for pole in poles
        } & devices
        if not found:
            return ""
        names = " and ".join(sorted(found))
        return (
            f"A and B of rails that {names} feeds are its own outputs; it changes them over by itself, so that they "
            "fit the rails that a train comes from."
        )

    def _unwired(self) -> str:
        """What is said of a piece at which no wire ends."""
        found = [poles for p in self.positions for poles in self.of.poles.of(self.name, p.state).values()]
        if not any(found):
            return "No wire ends here, and no joiner brings it a pole: it is dead in every position."
        if not all(found):
            return "No wire ends here: what poles it has come through its joiners; some rails have none at times."
        return "No wire ends here: it is fed through its joiners alone."

    # -- as altered

    def _altered(self, flow: Flow) -> None:
        """What was or must be done to the piece itself."""
        work, left = altered(self.layout, self.piece)
        if work:
            flow.heading("As altered: do this to the piece itself, before it is laid")
            flow.ticks([*work, *jumpers(self.layout, self.piece)])
        if left:
            flow.heading("As the layout says the piece is: nothing to do, but look whether yours is so")
            for said in left:
                flow.text(said)

    # -- wiring

    def _components(self, flow: Flow) -> None:
        rows = []
        for name in self.tables.components:
            part = self.layout.components[name]
            rows.append((name, part.kind, named(name, "from"), named(name, "to"), rated(part)))
        if rows:
            flow.heading("Components on the way; a diode conducts from 'from' to 'to'")
            flow.table("components", ("name", "kind", "terminal", "terminal", "rating"), rows)

    # -- tests

    def _metal(self, flow: Flow) -> None:
        """What the piece itself joins in each position, as it was altered: on the bench, nothing wired."""
        kind = self.piece.kind
        if len(kind.rails) < 2:  # noqa: PLR2004
            return
        flow.heading("Test 1, on the bench: nothing wired, no joiners")
        rows = self.metal()
        if rows:
            flow.table("metal", ("rail", "beeps to", "when"), rows)
        quiet = self._silent()
        told = [f"{a} never beeps to {b}" for a, b in quiet] if len(quiet) <= MOST_PAIRS else []
        last = "no other two rails beep, in any position" if rows else "no two rails beep, in any position"
        flow.ticks([*told, last])

    def metal(self) -> list[tuple[str, str, str]]:
        """Pairs of rails that the piece joins by itself, and when: every pair that must beep on the bench."""
        kind, name = self.piece.kind, self.name
        found: dict[tuple[str, str], list[str]] = {}
        stands = self._settings()
        for said, made in stands:
            leader = joined([*kind.bonds, *made], kind.rails)
            for a, b in combinations(kind.rails, 2):
                if leader[a] == leader[b]:
                    found.setdefault((a, b), []).append(said)
        return [
            (named(name, a), named(name, b), "always" if len(said) == len(stands) else "; ".join(said))
            for (a, b), said in found.items()
        ]

    def _settings(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """Every combination of positions of its tie bars, and the contacts that its blades make there."""
        from itertools import product

        kind = self.piece.kind
        found = []
        names = dict(zip((bar.name for bar in kind.bars), self.piece.bars, strict=True))
        for setting in product(*[[(bar.name, p) for p in bar.positions] for bar in kind.bars]):
            made = [m.rails for m in kind.made if set(m.when) <= set(setting)]
            said = " and ".join(f"{names[bar]} at {position}" for bar, position in setting)
            found.append((said or "always", made))
        return found

    def _silent(self) -> list[tuple[str, str]]:
        """Pairs of rails that beep in no position."""
        loud = {(a, b) for a, b, _ in self.metal()}
        names = [named(self.name, rail) for rail in self.piece.kind.rails]
        return [pair for pair in combinations(names, 2) if pair not in loud]

    def _laid(self, flow: Flow) -> None:
        """Which pole each rail beeps to in each position once all is wired."""
        flow.heading("Test 2, laid and wired", keep=5)
        flow.text(f"{OFF} All other turnouts and switches as they rest; measure to the terminals of the bus.")
        for said in never_said(self.layout, self._moving()):
            flow.text(said, bold=True)
        odd = [f"{c.name} ({c.kind})" for c in self.layout.components.values() if c.kind in _ODD]
        if odd:
            flow.text(
                "The meter shows a value in place of a beep, or through a diode a beep one way alone, where one of "
                f"these lies on the way: {', '.join(odd[:8])}{' …' if len(odd) > 8 else ''}."  # noqa: PLR2004
            )
        if self.undrawn:
            flow.text(self.undrawn, bold=True)
        for position in self.positions:
            if position.how:
                flow.text(f"{position.name}: {position.how}.")
        always, by_position = self.readings()
        flow.ticks(always)
        flow.ticks(by_position)

    def readings(self) -> tuple[list[str], list[str]]:
        """Which pole each rail beeps to: what is so in all of more than two positions; and the rest by position."""
        said = [self._beeps(position) for position in self.positions]
        same = {t for t in said[0] if len(said) > 2 and len({one[t] for one in said}) == 1} if said else set()  # noqa: PLR2004
        every = "in every position on this card" if self.undrawn else "in every position"
        always = [f"{every}: {terminal} {said[0][terminal]}" for terminal in said[0] if terminal in same]
        found: list[str] = []
        for position, each in zip(self.positions, said, strict=True):
            found += [f"{position.name}: {terminal} {text}" for terminal, text in each.items() if terminal not in same]
        return always, found

    def _beeps(self, position: Position) -> dict[str, str]:
        """Per rail what it beeps to in a position."""
        poles = {p.name for p in self.circuit.poles if not p.device}
        found = self.of.poles.of(self.name, position.state)
        wanting = self.wanting(position)
        beeps = {}
        for rail in self.piece.kind.rails:
            terminal = named(self.name, rail)
            has = [p for p in found[terminal] if p in poles]
            others = [p for p in found[terminal] if p not in poles]
            said = f"beeps to {' and '.join(has)} alone" if has else "beeps to no pole of a supply"
            if len(has) > 1:
                said = f"would beep to {' and '.join(has)}: A SHORT. Do not switch on; run 'netlister check'"
            elif rail in wanting:
                said = f"would beep to {has[0] if has else 'no pole'}: WRONG, it needs that of {wanting[rail]}"
            if others:
                said += f" ({', '.join(others)} sets it)"
            beeps[terminal] = said
        return beeps

    # -- words

    def _why(self, flow: Flow) -> None:
        """Why it is wired so: below the drawings where there is room, else on a sheet with what follows."""
        reasons = list(self.reasons())
        flow.heading("Why", keep=sum(len(broken(line, BODY, flow.room)) + 0.3 for line in reasons))
        for line in reasons:
            flow.text(line)

    def reasons(self) -> Iterator[str]:
        """What each rail that changes pole needs in each position, what gives it, and whether that is what it gets."""
        kind = self.piece.kind
        lacking = [self.wanting(position) for position in self.positions]
        for rail in changing(kind):
            wants: list[str] = []
            wrong: list[str] = []
            for position, lacks in zip(self.positions, lacking, strict=True):
                route = position.route
                fixed = dict(needs(kind, route)).get(rail) if route is not None else None
                if fixed is None:
                    continue
                wants.append(f"at {position.name} the pole of {fixed}")
                if rail in lacks:
                    wrong.append(position.name)
            if not wants:
                continue
            needed = f"{rail} needs {', '.join(wants)}."
            if kind.gaps and len(wants) > MOST_DRAWN:
                needed = f"{rail} needs at each of its {len(wants)} positions the pole of the rail that it meets there."
            if not wrong:
                yield f"{needed} It gets it from {self._source(rail)}."
                continue
            yield f"{needed} What feeds it as the layout is written is {self._source(rail)}."
            yield f"So it does NOT get it at {', '.join(wrong)}: run 'netlister check' first."
        if not changing(kind):
            yield "No rail of this piece changes pole."

    def _moving(self) -> set[str]:
        """What moves its tie bars, and what says which of its tracks is set."""
        named_by = {self.layout.bars[bar].variable for bar in self.piece.bars}
        return named_by | {name for cubes in self.piece.sets.values() for cube in cubes for name, _ in cube}

    def wanting(self, position: Position) -> dict[str, str]:
        """The rails that do not get the pole that they need in a position, each with the rail whose pole it is."""
        if position.route is None:
            return {}
        wants, changes = needs(self.piece.kind, position.route), set(changing(self.piece.kind))
        return {rail: to for rail, to in wants if rail in changes and not self._given(rail, to, position)}

    def _given(self, rail: str, fixed: str, position: Position) -> bool:
        found = self.of.poles.of(self.name, position.state)
        mine, other = found[named(self.name, rail)], found[named(self.name, fixed)]
        units = {u.name for u in self.layout.units.values()}
        outputs = {pole.name for pole in self.circuit.poles if pole.device}
        if self.piece.kind.gaps and len(mine) == len(other) == 1 and mine[0] in outputs and other[0] not in outputs:
            return True  # a table whose automatic reverser follows the road that it stands at
        if not mine and not other:
            return True  # what feeds the piece is switched off
        return (bool(mine) and mine == other and len(mine) == 1) or bool(set(mine) & units)

    def _source(self, rail: str) -> str:
        """What powers a rail that changes pole."""
        kind, terminal = self.piece.kind, named(self.name, rail)
        found = []
        if any(rail in made.rails for made in kind.made):
            found.append("the closed blade")
        if any(rail in bond for bond in kind.bonds):
            found.append("what it is bonded to")
        joins = self._contacts_of(terminal)
        if joins:
            found.append(f"contact{'s' if len(joins) > 1 else ''} {', '.join(joins)}")
        found += [f"frog unit {u.name}" for u in self.layout.units.values() if u.frog == terminal]
        direct = [line.id for line in self.tables.here if line.run.kind == "feed" and terminal in line.run.ends]
        found += [f"feed {name}" for name in direct]
        return " and ".join(found) or "nothing that is wired here"

    def _contacts_of(self, terminal: str) -> list[str]:
        """The contacts on the card that a rail is wired to, over strips and plugs."""
        near = {terminal}
        grown = True
        while grown:
            grown = False
            for line in self.tables.wires():
                ends = {line.start, line.end}
                if ends & near and not ends <= near and not ends & set(self.of.wiring.poles):
                    near |= ends
                    grown = True
        return [
            t.name
            for t in self.tables.contacts
            if any(named(t.name, place) in near for place in ("common", *(throw.position for throw in t.throws)))
        ]


def _moved(lines: list[str], x: float, y: float) -> list[str]:
    return [f'<g transform="translate({number(x)} {number(y)})">', *lines, "</g>"]

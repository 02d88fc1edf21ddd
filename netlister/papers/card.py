"""Wiring cards: A5 sheets for what someone wires, to print and to take under the baseboard.

There is a card for each piece that changes, each crossing, turntable and reverser, and for plugs, terminal strips,
hand switches, frog units, parts in a wire (breakers, detectors, diodes …) and whole buses. Its tables are cut out of
the schedule (`card_tables`), its tests are worked out for this piece as it was altered, its drawings show it from above
and from below.
"""

from __future__ import annotations

from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

from netlister.circuit.colours import plan, spoken, spoken_key
from netlister.circuit.model import holds
from netlister.circuit.runs import boards_of, head
from netlister.draw.style import written
from netlister.layout.schema import COMPONENTS, RESISTING
from netlister.layout.terminal import Terminal, named
from netlister.outputs.kind_sheet import CAUTION, changing, joined, needs
from netlister.papers.card_drawing import CardDrawing, Position, neighbours, positions
from netlister.papers.card_tables import Tables, Wiring, blocks, is_gap, rated
from netlister.papers.local_poles import LocalPoles, groups
from netlister.papers.page import WRONG
from netlister.papers.schedule import CHOSEN, CHOSEN_SAID, Line, end_said, schedule
from netlister.papers.sheets import BODY, LINE, LOW, TOP, Flow, Head, broken, one_sheet, stacked
from netlister.svg import attribute, number, point

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Joint, Layout, Piece, Reverser
    from netlister.papers.card_tables import ContactTable

MOST_PAIRS = 24
"""So many pairs of rails are listed one by one; of more only those that beep, and one line for the rest."""

OFF = (
    "Supply unplugged, trains off the track, lamps and other loads unplugged: they would beep, too. Automatic devices "
    "unplugged."
)


_ODD = RESISTING | {"detector"}


class CardError(ValueError):
    """There is no card for a name. The message says what to write instead."""


def cards(layout: Layout) -> list[str]:
    """What a card can be made for: pieces that change, reversers, plugs, hand switches, strips, parts and buses."""
    pieces = [p.name for p in layout.pieces.values() if p.kind.bars or len(p.kind.ends) > 2]  # noqa: PLR2004
    plugs = [pin.plug for pin in layout.pins]
    switches = [c.owner for c in layout.contacts if c.owner not in layout.machines and c.owner not in layout.pieces]
    lines = schedule(layout)
    wired = {head(end) for line in lines for end in (line.start, line.end)}
    buses = [bus for bus in layout.buses if bus in wired]
    parts = [name for name in (*layout.units, *layout.components) if name in wired]
    found = [*pieces, *layout.reversers, *plugs, *switches, *blocks(layout, lines), *parts, *buses]
    return list(dict.fromkeys(found))


def card_sheets(circuit: Circuit, name: str, version: str = "") -> list[str]:
    """The sheets of a card as SVG, A5 each. Raises CardError where there is none for the name."""
    return Cards(circuit, version).sheets(name)


def card_svg(circuit: Circuit, name: str, version: str = "") -> str:
    """All sheets of a card in one SVG, one below another. Raises CardError where there is none for the name."""
    return Cards(circuit, version).whole(name)


class Cards:
    """The cards of a layout; what they share is worked out once."""

    def __init__(self, circuit: Circuit, version: str = "") -> None:
        self.circuit, self.layout, self.version = circuit, circuit.layout, version
        self.known = cards(circuit.layout)

    @cached_property
    def lines(self) -> list[Line]:
        """The schedule."""
        return schedule(self.layout)

    @cached_property
    def wiring(self) -> Wiring:
        """The schedule, ready to be cut."""
        return Wiring(self.layout, self.lines)

    @cached_property
    def poles(self) -> LocalPoles:
        """The poles of the rails of one piece in one state."""
        return LocalPoles(self.circuit)

    @cached_property
    def boards(self) -> dict[str, str]:
        """The baseboard of each piece, gear and block."""
        found = boards_of(self.layout, [line.run for line in self.lines])
        ends = {head(line.run.ends[k]): found[line.id, k] for line in self.lines for k in (0, 1)}
        return {n: b for n, b in ends.items() if b} | {
            name: board for board, names in self.layout.boards.items() for name in names
        }

    def sheets(self, name: str) -> list[str]:
        """The sheets of a card as SVG."""
        bodies = self.bodies(name)
        return [
            one_sheet(body, f"Wiring card of {name}, sheet {k} of {len(bodies)}") for k, body in enumerate(bodies, 1)
        ]

    def whole(self, name: str) -> str:
        """All sheets of a card in one SVG."""
        return stacked(self.bodies(name), f"Wiring card of {name}")

    def plain_bodies(self, name: str) -> list[str]:
        """What is on the sheets of a card, whatever the version of the layout."""
        version, self.version = self.version, ""
        try:
            return self.bodies(name)
        finally:
            self.version = version

    def bodies(self, name: str) -> list[str]:
        """What is on the sheets of a card."""
        layout = self.layout
        if name not in self.known:
            raise CardError(self._unknown(name))
        if name in layout.pieces:
            return OfPiece(self, name).bodies()
        if name in layout.reversers:
            return _OfReverser(self, name).bodies()
        return _OfGear(self, name).bodies()

    def _unknown(self, name: str) -> str:
        from netlister.source import suggest

        if name in self.layout.pieces:
            return (
                f"'{name}' is plain track; cards are for turnouts, slips, crossings, turntables, reversers, plugs, "
                "terminal strips, hand switches, frog units, parts in a wire and buses"
            )
        if name in self.layout.machines:
            thrown = ", ".join(Terminal.of(bar).owner for bar in self.layout.machines[name])
            return f"'{name}' is a machine; its contacts are on the cards of what they are wired to, as {thrown}"
        known = self.known
        hint = suggest(name, known) or (f"; there are {', '.join(known[:12])}" if known else "; nothing here needs one")
        return f"there is no turnout, crossing, reverser or gear '{name}'{hint}"


class _Card:
    """What all cards share."""

    heading = ""
    under = ""

    def __init__(self, of: Cards, name: str) -> None:
        self.of, self.name = of, name
        self.circuit, self.layout = of.circuit, of.layout

    def flow(self) -> Flow:
        title = self.layout.title or self.layout.name
        foot = f"{self.of.version}, {title}" if self.of.version else title
        warning = WRONG if self.of.version.endswith(WRONG) else ""
        return Flow(Head(self.name, self.heading, self.under, foot, warning))

    def wires(self, flow: Flow, title: str, lines: tuple[Line, ...], *, near: str = "") -> None:
        """A table of wires; with `near` the end there comes first."""
        if not lines:
            return
        flow.heading(title)
        rows = []
        for line in lines:
            ends = [self._place(line, 0), self._place(line, 1)]
            if near:  # the board of this end stands at the top of the sheet
                own = int(self._near(line.end, near) and not self._near(line.start, near))
                ends = [end_said(line.run, own), ends[1 - own]]
            rows.append((line.id, *ends, *made_of(line)))
        first, second = ("at " + near, "goes to") if near else ("from", "to")
        flow.table("wires", ("wire", first, second, "colour", "size", "length", "tap"), rows)

    def _near(self, terminal: str, name: str) -> bool:
        """Whether a terminal is one of what the card is of; of a piece only a rail is, not the contact of its lever."""
        return head(terminal) == name and (name not in self.layout.pieces or terminal in self.of.wiring.rails)

    def _place(self, line: Line, end: int) -> str:
        said = end_said(line.run, end)
        board = line.boards[end]
        return f"{said} [{board}]" if board and line.boards[0] != line.boards[1] else said

    def colours(self, flow: Flow, lines: tuple[Line, ...]) -> None:
        """What is to be said of colours and sizes."""
        if any(line.chosen and line.colour for line in lines):
            flow.text(CHOSEN_SAID)
        if any(not line.colour for line in lines):
            flow.text(
                "? no colour: two poles or districts meet on this wire. Do not solder it; run 'netlister check' first."
            )
        if any(not line.size for line in lines):
            flow.text(
                "Wires without a size: the layout says none; 'netlister wire-size' finds one that holds the limits."
            )

    def contact(self, flow: Flow, table: ContactTable) -> None:
        """A contact: its symbol by IEC 60617, and a row for each of its terminals."""
        contact = table.contact
        said = "make before break" if contact.action == "make-before-break" else "break before make"
        texts = [throw.position for throw in table.throws]
        high = 24.0 * max(len(texts), 2) + 8
        whole = high / LINE + 1.7 + 1.35 * (1 + len(texts))  # its symbol, and its table on the same sheet
        flow.heading(f"Contact {table.name}: {said}", keep=min(whole, 0.9 * (LOW - TOP) / LINE))
        flow.picture(high, lambda x, y: symbol(x, y + high / 2, table.name, texts))
        rows = [("common", named(table.name, "common"), "always", *goes(table.common, named(table.name, "common")))]
        for throw, values in zip(table.throws, contact.values, strict=True):
            when = self.when(contact.variable, values)
            rows.append((throw.position, throw.terminal, when, *goes(throw.wire, throw.terminal)))
        flow.table("contact", ("", "terminal", "made at", "wire", "goes to", "colour"), rows)

    def when(self, variable: str, values: tuple[int, ...]) -> str:
        """A condition on one variable, in words."""
        names = self.circuit.variables[self.circuit.variable[variable]].positions
        return f"{variable} at {' or '.join(names[v] for v in values)}"

    def joints(self, flow: Flow, joints: list[Joint]) -> None:
        """Every joint at a piece: both rails, which of them are insulated."""
        if not joints:
            return
        flow.heading("Joints: insulated and metal joiners")
        rows = []
        for joint in joints:
            for a, b, insulated in joint.pairs:
                mine, other = (a, b) if head(a) == self.name else (b, a)
                gap = "gap, no joiner" if is_gap(self.layout, joint) else "INSULATED"
                rows.append((mine, other, gap if insulated else "metal"))
        flow.table("joints", ("rail", "meets", "joiner"), rows)

    def caution(self, flow: Flow) -> None:
        """The usual cautions, on every card."""
        flow.heading("Caution", keep=4)
        flow.text(CAUTION)


class OfPiece(_Card):
    """The card of a piece."""

    def __init__(self, of: Cards, name: str) -> None:
        super().__init__(of, name)
        self.piece: Piece = self.layout.pieces[name]
        kind = self.piece.kind
        hand = f", {kind.hand}{'' if kind.hand == 'wye' else ' hand'}" if kind.hand else ""
        self.heading = f"{kind.title}{hand}"
        movers = sorted({self.layout.bars[b].variable for b in self.piece.bars} - set(self.piece.bars))
        thrown = f"thrown by {', '.join(movers)}" if movers else "thrown by hand" if self.piece.bars else ""
        board = of.boards.get(name, "")
        self.under = "; ".join(t for t in (thrown, f"board {board}" if board else "") if t)
        self.positions = positions(self.circuit, self.piece, of.poles)
        self.tables: Tables = of.wiring.of_piece(name)

    def bodies(self) -> list[str]:
        """The sheets: drawings and why, as altered, wires, joints, tests."""
        flow = self.flow()
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
            flow.text("No wire ends here: it is fed through its joiners alone.")
        self.colours(flow, tables.wires())
        for contact in tables.contacts:
            self.contact(flow, contact)
        self._components(flow)
        self.joints(flow, [j for j in self.layout.joints if self.name in (j.start[0], j.end[0])])
        self._metal(flow)
        self._laid(flow)
        return flow.bodies()

    # -- drawings

    def _drawings(self, flow: Flow) -> None:
        drawing = CardDrawing(self.circuit, self.name, self.of.poles)
        columns = 2 if self.piece.kind.gaps and len(self.positions) > 1 else 1  # a slip or a three-way needs the room
        each = flow.room / columns
        tall = (LOW - TOP - 62) / (1 if drawing.placed.pit else 2)
        for below in (False, True):
            for first in range(0, len(self.positions), columns):
                row = [
                    drawing.picture(p, each - 14, tall, below=below) for p in self.positions[first : first + columns]
                ]
                high = max(picture.high for picture in row) + 6
                flow.need(high)
                for place, picture in enumerate(row):
                    x = number(26 + place * each)
                    flow.lines.append(f'<g transform="translate({x} {number(flow.y)})">')
                    flow.lines.extend([*picture.lines, "</g>"])
                flow.y += high
            legend = drawing.legend(flow.room)
            flow.picture(legend.high, lambda x, y, made=legend: _moved(made.lines, x, y))  # type: ignore[misc]
            flow.text(self._lies(below=below))
            if turned := self._turned():
                flow.text(turned)
            if not below:
                flow.new()

    def _lies(self, *, below: bool) -> str:
        """How the drawing lies: where its toe is, and what is next to it on other boards."""
        kind = self.piece.kind
        first = next(iter(kind.ends))
        entering = "toe" if "toe" in kind.ends else first
        near = neighbours(self.layout, self.name)
        to = f", towards {near[entering]}" if entering in near else ""
        said = f"The {entering} end is on the left{to}."
        said += " Left and right rails change sides here, since you look from below." if below else ""
        board = self.of.boards.get(self.name, "")
        for end, other in near.items():
            there = self.of.boards.get(other, "")
            if board and there and there != board:
                said += f" Board edge at {end}: {other} is on board {there}."
        said += " Not to scale: cut nothing by it, go by the names and the table of joints."
        return f"{said} Front edge of the board: [ ] top [ ] bottom of this drawing."

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

    # -- as altered

    def _altered(self, flow: Flow) -> None:
        """What was or must be done to the piece itself."""
        options = [(k, v) for k, v in self.piece.kind.options if not self._choice(k)]
        library = self.layout.library
        if not options or library is None:
            return
        notes = library.definition(self.piece.kind.name).option_notes
        flow.heading("As altered: do this to the piece itself, before it is laid")
        for option, value in options:
            note = notes.get(option)
            what = f" ({note.what})" if note is not None and note.what else ""
            flow.tick(f"{option}: {self._option_said(value)}{what}")
        for a, b in self.soldered():
            flow.tick(f"solder a jumper: {a} to {b}")

    def _choice(self, option: str) -> bool:
        library = self.layout.library
        if library is None:
            return False
        note = library.definition(self.piece.kind.name).option_notes.get(option)
        return note is not None and note.choice and option != "frog-wire"

    @staticmethod
    def _option_said(value: str) -> str:
        return {"true": "yes", "false": "no"}.get(value, value)

    def soldered(self) -> list[tuple[str, str]]:
        """The bonds that are there because of jumpers."""
        options = dict(self.piece.kind.options)
        library = self.layout.library
        if options.get("jumpers") != "true" or library is None:
            return []
        plain = library.kind(
            self.piece.kind.name, self.piece.kind.hand, tuple((k, v) for k, v in options.items() if k != "jumpers")
        )
        return [bond for bond in self.piece.kind.bonds if bond not in plain.bonds and "frog" not in bond]

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
        if len(quiet) <= MOST_PAIRS:
            for a, b in quiet:
                flow.tick(f"{a} never beeps to {b}")
        flow.tick("no other two rails beep, in any position" if rows else "no two rails beep, in any position")

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
        poles = {p.name for p in self.circuit.poles if not p.device}
        for position in self.positions:
            found = self.of.poles.of(self.name, position.state)
            wanting = self.wanting(position)
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
                flow.tick(f"{position.said}: {terminal} {said}")

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
                wants.append(f"at {position.said} the pole of {fixed}")
                if rail in lacks:
                    wrong.append(position.said)
            if not wants:
                continue
            needed = f"{rail} needs {', '.join(wants)}."
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
                if len(ends & near) == 1 and not (ends & set(self.of.wiring.poles)):
                    near |= ends
                    grown = True
        return [
            t.name
            for t in self.tables.contacts
            if any(named(t.name, place) in near for place in ("common", *(throw.position for throw in t.throws)))
        ]


class _OfReverser(_Card):
    heading = "Reverser: turns the poles of one section round"

    def __init__(self, of: Cards, name: str) -> None:
        super().__init__(of, name)
        self.reverser: Reverser = self.layout.reversers[name]
        mode = "automatic" if self.reverser.automatic else f"follows {self.reverser.variable}"
        board = of.boards.get(name, "")
        self.under = f"{mode}, fed from {self.reverser.bus}{'; board ' + board if board else ''}"
        self.feeds = [f for f in self.layout.feeds if f.source == name]

    def bodies(self) -> list[str]:
        """The sheets: the changeover, wires, joints at the ends of the section, tests."""
        flow = self.flow()
        straight, crossed = self._states()
        each = flow.room / 2
        flow.picture(
            176,
            lambda x, y: [
                *_box(x, y, each - 20, straight, over=False),
                *_box(x + each, y, each - 20, crossed, over=True),
            ],
        )
        self.caution(flow)
        tables = self.of.wiring.of_gear(self.name)
        self.wires(flow, f"Wires at {self.name}", tables.here, near=self.name)
        self.colours(flow, tables.here)
        self._ends(flow)
        self._test(flow)
        flow.heading("Why")
        flow.text(WHY_REVERSED)
        return flow.bodies()

    def _states(self) -> tuple[str, str]:
        if self.reverser.automatic:
            return "straight", "crossed"
        variable = next(v for v in self.circuit.variables if v.name == self.reverser.variable)
        named = [
            ", ".join(p for i, p in enumerate(variable.positions) if (i in self.reverser.straight) is s)
            for s in (True, False)
        ]
        return f"straight: {variable.name} at {named[0]}", f"crossed: {variable.name} at {named[1]}"

    def section(self) -> list[str]:
        """The pieces of the section: those that it feeds and all that metal joiners on both rails join to them."""
        found = list(dict.fromkeys(f.piece for f in self.feeds))
        near: dict[str, list[str]] = {}
        for joint in self.layout.joints:
            if not any(insulated for *_, insulated in joint.pairs):
                for (one, _), (other, _) in ((joint.start, joint.end), (joint.end, joint.start)):
                    if self._leaves(one, joint):
                        near.setdefault(one, []).append(other)
        for name in found:
            found += [other for other in near.get(name, ()) if other not in found]
        return found

    def ends(self) -> list[Joint]:
        """The joints at which the section ends."""
        pieces = set(self.section())
        return [
            j
            for j in self.layout.joints
            if any(insulated for *_, insulated in j.pairs)
            and any(piece in pieces and self._leaves(piece, j) for piece, _ in (j.start, j.end))
        ]

    def _leaves(self, piece: str, joint: Joint) -> bool:
        """Whether a joint of a piece is one of its section; of a table only where it is one of the rails that are fed.

        The roads around a turntable are joined to it in the layout, but not to its bridge.
        """
        fed = {rail for f in self.feeds for _, rail in f.wires}
        return not self.layout.pieces[piece].kind.gaps or any({a, b} & fed for a, b, _ in joint.pairs)

    def _ends(self, flow: Flow) -> None:
        pieces = self.section()
        if not pieces:
            flow.text("It feeds no track yet.")
            return
        flow.heading("Its section and the joints at its ends")
        flow.text(f"Pieces: {', '.join(pieces)}.")
        rows = [(a, b, "INSULATED" if cut else "METAL") for j in self.ends() for a, b, cut in j.pairs]
        if rows:
            flow.table("joints", ("rail", "meets", "joiner"), rows)
        half = [j.name for j in self.ends() if not all(cut for *_, cut in j.pairs)]
        if half:
            flow.text(
                f"At {', '.join(half)} one rail is metal as the layout is written: a reverser needs both rails "
                "insulated at both ends, unless that rail is meant to be common. Run 'netlister check' before you "
                "solder.",
                bold=True,
            )
        elif not rows and (tables := [p for p in pieces if self.layout.pieces[p].kind.gaps]):
            flow.text(f"Its rails end at the gaps around {', '.join(tables)}, where no joiner is.")
        elif len(rows) < 4:  # noqa: PLR2004
            flow.text(
                "The section has fewer than two insulated ends: run 'netlister check' before you solder.", bold=True
            )

    def _test(self, flow: Flow) -> None:
        flow.heading("Test")
        flow.text(OFF)
        flow.text("All turnouts and switches as they rest.")
        rest = tuple(v.rest for v in self.circuit.variables)
        net = groups(len(self.circuit.names), [c for c in self.circuit.conductors if holds(c.when, rest)])
        pairs = [(a, b) for joint in self.ends() for a, b, cut in joint.pairs if cut]
        for name in dict.fromkeys(f.piece for f in self.feeds):
            rails = sorted({rail for f in self.feeds if f.piece == name for _, rail in f.wires})
            pairs += [(rails[0], rails[1])] if len(rails) == 2 else []  # noqa: PLR2004
        for a, b in pairs:
            joined_up = net[self.circuit.node[a]] == net[self.circuit.node[b]]
            flow.tick(f"{a} {'beeps' if joined_up else 'does not beep'} to {b}")
        flow.text(
            "Then with the supply on, by its instructions: at each gap, on the same side, no voltage across it means "
            "right; full voltage means that it must change over before a train crosses."
        )


class _OfGear(_Card):
    def __init__(self, of: Cards, name: str) -> None:
        super().__init__(of, name)
        layout = self.layout
        self.pins = [p for p in layout.pins if p.plug == name]
        board = of.boards.get(name, "")
        if self.pins:
            self.heading = "Plug between baseboards, both halves"
            optional = self.pins[0].variable is not None
            self.under = "may be in or out" if optional else "always in while the layout runs"
        elif name in layout.buses:
            self.heading = "Bus" + (" and power district" if layout.buses[name].breaker is not None else "")
            bus = layout.buses[name]
            breaker = f", behind a breaker of {bus.breaker:g} A" if bus.breaker is not None else ""
            self.under = f"fed from {bus.parent or bus.supply}{breaker}"
        elif name in layout.components:
            part = layout.components[name]
            self.heading = COMPONENTS[part.kind].says
            self.under = rated(part)
        elif name in layout.units:
            self.heading = "Frog unit: gives a frog its pole by itself"
            self.under = f"feeds {layout.units[name].frog}, fed from {layout.units[name].bus}"
        elif name in layout.variables or any(c.owner == name for c in layout.contacts):
            self.heading = "Hand switch or relay of the control panel"
            known = layout.variables.get(name)
            self.under = f"positions: {', '.join(known.positions)}" if known else ""
        else:
            self.heading = "Terminal strip"
        if board and not self.pins:
            self.under = f"{self.under}; board {board}" if self.under else f"board {board}"

    def bodies(self) -> list[str]:
        """The sheets: every wire that ends here, contacts, what to test."""
        flow = self.flow()
        self.caution(flow)
        tables = self.of.wiring.of_gear(self.name)
        if self.pins:
            self._halves(flow, tables)
        elif self.name in self.layout.buses:
            self._bus(flow, tables)
        else:
            self.wires(flow, f"Wires at {self.name}", tables.here, near=self.name)
        self.colours(flow, tables.here)
        for contact in tables.contacts:
            self.contact(flow, contact)
        self._test(flow, tables)
        return flow.bodies()

    def _halves(self, flow: Flow, tables: Tables) -> None:
        for half in (1, 2):
            lines = tuple(line for line in tables.here if line.run.half == half)
            boards = sorted({b for line in lines for b in line.boards if b})
            self.wires(flow, f"Half {half}{', board ' + ', '.join(boards) if boards else ''}", lines, near=self.name)
        flow.text(
            "Looked at from their wires, the two halves are mirror images of each other: count pins by their marks."
        )

    def _bus(self, flow: Flow, tables: Tables) -> None:
        made = plan(self.layout)
        for letter in "AB":
            key = self.of.wiring.poles[named(self.name, letter)]
            colour = made.colours.get(key, "")
            flow.text(f"Pole {letter}: {spoken(colour) or 'no wire'}, for {spoken_key(key)}", bold=True)
        self.wires(flow, f"Every wire to {self.name}", tables.here, near=self.name)

    def _test(self, flow: Flow, tables: Tables) -> None:
        flow.heading("Test")
        flow.text(OFF)
        if self.pins:
            flow.text("Plug pulled out:")
            for line in tables.here:
                pin = line.end if line.run.half == 1 else line.start
                other = line.start if line.run.half == 1 else line.end
                flow.tick(f"half {line.run.half}: pin {pin} beeps to {other}")
            flow.tick("no two pins of one half beep, as long as nothing behind them joins them on purpose")
            return
        for line in tables.here:
            flow.tick(f"{line.id}: {end_said(line.run, 0)} beeps to {end_said(line.run, 1)}")
        if self.name in self.layout.components:
            flow.text(ACROSS[self.layout.components[self.name].kind].format(name=self.name))
        if self.name in self.layout.units:
            frog = head(self.layout.units[self.name].frog)
            flow.text(f"What its frog beeps to is on the card of {frog}; with power on, test it by its instructions.")
        if self.name in self.layout.buses:
            flow.tick(f"{self.name}.A never beeps to {self.name}.B")
            own = self.layout.buses[self.name].poles
            if others := [pole for pole in supply_poles(self.circuit) if pole not in own]:
                flow.tick(f"neither beeps to {', '.join(others)}: two supplies are never joined")


def never_said(layout: Layout, among: set[str] | None = None) -> list[str]:
    """What the layout rules out, in words; `among`: only what concerns these."""
    found = []
    for cube, _ in layout.never:
        if among is None or any(name in among for name, _ in cube):
            said = " together with ".join(f"{name} at {position}" for name, position in cube)
            found.append(f"NEVER {said}: the wiring is proved without it, and nothing in it prevents it.")
    return found


def supply_poles(circuit: Circuit) -> list[str]:
    """The poles of supplies, of which no two may ever be joined; those of a common return are one."""
    return [pole.name for pole in circuit.poles if not pole.device]


WHY_REVERSED = (
    "Track that comes back upon itself turns the train round, so its left rail meets the right rail of the line. "
    "While a train is on this section, its two poles are changed over, so that both ends fit in turn."
)


ACROSS = {
    "breaker": "Closed, {name}.from beeps to {name}.to; open, it does not.",
    "fuse": "With the fuse in, {name}.from beeps to {name}.to; without it, not. Never put in a larger one.",
    "diode": "It conducts from {name}.from to {name}.to: by the diode test of the meter, red lead at {name}.from, it "
    "shows a voltage; the other way round nothing. The ring on it is at {name}.to.",
    "detector": "From {name}.from to {name}.to the meter beeps or shows a value, by the detector's make.",
    "lamp": "From {name}.from to {name}.to the meter beeps or shows a value: it lies in the wire. It gets hot.",
    "resistor": "From {name}.from to {name}.to the meter shows its ohms. It gets hot: leave air around it.",
    "load": "From {name}.from to {name}.to it uses current: the meter shows a value, which is no short.",
    "capacitor": "From {name}.from to {name}.to no lasting beep. It can hold charge: wait before you touch it.",
}
"""What a meter says across a part in a wire (common practice, no published source)."""


def made_of(line: Line) -> tuple[str, str, str, str]:
    """Colour, size, length and tap of a wire, as read."""
    colour = spoken(line.colour) + (CHOSEN if line.chosen and line.colour else "") if line.colour else "?"
    length = f"{line.length_mm} mm" if line.length_mm else "-"
    return colour, line.size or "-", length, f"{line.tap_mm} mm" if line.tap_mm else "-"


def goes(line: Line | None, own: str) -> tuple[str, str, str]:
    """The wire at a terminal, where its other end is, and its colour."""
    if line is None:
        return "-", "open: no wire", "-"
    return line.id, line.end if line.start == own else line.start, made_of(line)[0]


def symbol(x: float, y: float, name: str, texts: list[str]) -> list[str]:
    """A changeover contact by IEC 60617: the moving part touches one of its throws, the others are apart from it."""
    count, step = len(texts), 24.0
    pivot, tip = x + 104, x + 144
    lines = [
        f'<g class="contact" data-contact="{attribute(name)}">',
        written("common", x + 20, y + 4, BODY),
        f'<circle class="mark" cx="{number(x + 84)}" cy="{number(y)}" r="3"/>',
        f'<path class="bar" d="M{point(x + 87, y)}H{number(pivot)}"/>',
    ]
    for place, text in enumerate(texts):
        line_y = y + (place - (count - 1) / 2) * step
        up = 5.0 if line_y >= y else -5.0
        lines += [
            f'<path class="bar" d="M{point(tip, line_y - up)}V{number(line_y)}H{number(tip + 14)}"/>',
            f'<circle class="mark" cx="{number(tip + 17)}" cy="{number(line_y)}" r="3"/>',
            written(text, tip + 25, line_y + 4, BODY),
        ]
        if place == 0:
            lines.append(f'<path class="bar" d="M{point(pivot, y)}L{point(tip + 5, line_y - up * 0.9)}"/>')
    return [*lines, "</g>"]


def _moved(lines: list[str], x: float, y: float) -> list[str]:
    return [f'<g transform="translate({number(x)} {number(y)})">', *lines, "</g>"]


def _box(x: float, y: float, room: float, said: str, *, over: bool) -> list[str]:
    """The two wires in, the changeover, the two wires out."""
    lines = [written(said, x, y + BODY, BODY, 'font-weight="bold"')]
    top, low = y + 66, y + 126
    left, right = x + room * 0.3, x + room * 0.7
    lines.append(
        f'<rect class="mark" x="{number(left)}" y="{number(top - 34)}" width="{number(right - left)}" '
        f'height="{number(low - top + 60)}"/>'
    )
    ends = (low, top) if over else (top, low)
    for pole, start, end in (("A", top, ends[0]), ("B", low, ends[1])):
        line = f"M{point(x, start)}H{number(left + 14)}L{point(right - 14, end)}H{number(x + room)}"
        lines.append(f'<path class="rail pole-{pole}" d="{line}"/>')
    for letter, line_y in zip("AB", (top, low), strict=True):
        lines.append(written(f"in-{letter}", x, line_y - 8, BODY))
        lines.append(written(f"out {letter}", right + 6, line_y - 8, BODY))
    for letter, line_y in zip("BA" if over else "AB", (top, low), strict=True):
        lines.append(written(letter, right + 6, line_y + 17, BODY, f'class="letter pole-{letter}"'))
    return lines

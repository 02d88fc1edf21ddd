"""A wiring card for one piece that changes, or for a reverser: to print on A5 and to tape under the baseboard.

The rails in every position by pole, insulated joiners, where each wire ends and its colour, the contact drawn by
IEC 60617, what to measure, and why. Text shrinks until all of it fits the sheet.
"""

from __future__ import annotations

import re
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.bent import alone
from netlister.draw.labels import Box, Label, Paper
from netlister.draw.lines import at, length
from netlister.draw.placing import GAUGE, dots
from netlister.draw.plan import drop, feed_place, gap, label_svg, mark_of_frog, table
from netlister.draw.rails import Run, end_pose, frogs, is_set, runs
from netlister.draw.style import LETTERS, POLES, SAID, STYLE, attribute, has, number, path, point, pole_class, written
from netlister.draw.text import shortened, width, wrapped
from netlister.outputs.kind_sheet import CAUTION
from netlister.outputs.poles import rail_poles
from netlister.quantity import COLOURS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.placing import Placed
    from netlister.layout.model import Contact, Layout, Piece

SHEET = (210.0, 148.0)
"""A5, landscape, in mm."""

WIDE, PER_MM = 840.0, 4.0
EDGE = 26.0
MOST_POSITIONS = 6
BODY, SMALL = 12.5, 10.5
FREE = "your choice"
"""The colour of a wire of which the layout says none."""


class CardError(ValueError):
    """There is no card for a name. The message says what to write instead."""


class Position(NamedTuple):
    """A position of a piece: how it is called, and a state of the layout in which it stands so."""

    said: str
    state: State


def cards(layout: Layout) -> list[str]:
    """The pieces and reversers that a card can be made for, in the order of the file."""
    pieces = [p.name for p in layout.pieces.values() if p.kind.bars or len(p.kind.ends) > 2]
    return pieces + list(layout.reversers)


def card_svg(circuit: Circuit, name: str) -> str:
    """The card of a piece or a reverser as SVG, as large as an A5 sheet.

    Raises CardError where there is none for it.
    """
    layout = circuit.layout
    if name not in cards(layout):
        from netlister.source import suggest

        if name in layout.pieces:
            message = f"'{name}' is plain track; cards are for turnouts, slips, crossings, turntables and reversers"
            raise CardError(message)
        known = cards(layout)
        hint = suggest(name, known) or (f"; there are {', '.join(known[:12])}" if known else "; nothing here needs one")
        message = f"there is no turnout, crossing or reverser '{name}'{hint}"
        raise CardError(message)
    scale = 1.0
    while True:
        card = _ReverserCard(circuit, name, scale) if name in layout.reversers else _PieceCard(circuit, name, scale)
        text, low = card.text()
        if low <= card.high or scale > 6:
            return text
        scale *= max(1.04, (low / card.high) ** 0.5)


def positions(circuit: Circuit, piece: Piece) -> list[Position]:
    """The positions of a piece, in the order of its routes; of a crossing, one for each track that can be set."""
    rest = tuple(v.rest for v in circuit.variables)
    found = []
    if not piece.kind.bars:
        for track, cubes in piece.sets.items():
            for cube in cubes[:1]:
                said = " and ".join(f"{n} at {p}" for n, p in cube)
                found.append(Position(f"track {track}: {said}", _at(circuit, dict(cube), rest)))
        return found or [Position("always", rest)]
    names = {bar.name: full for bar, full in zip(piece.kind.bars, piece.bars, strict=True)}
    settings = [route.when for route in piece.kind.routes]
    for bar in piece.kind.bars:  # a position in which there is no route: a catch turnout open
        if len(piece.kind.bars) == 1:
            settings += [((bar.name, p),) for p in bar.positions if ((bar.name, p),) not in settings]
    for setting in settings:
        state, possible = list(rest), True
        for bar_name, wanted in setting:
            bar_position = circuit.layout.bars[names[bar_name]]
            if wanted not in bar_position.positions:
                possible = False
                break
            state[circuit.variable[bar_position.variable]] = bar_position.positions.index(wanted)
        if possible:
            said = ", ".join(f"{bar}: {p}" if bar else p for bar, p in setting)
            found.append(Position(said, tuple(state)))
    return found


def _at(circuit: Circuit, cube: Mapping[str, str], rest: State) -> State:
    state = list(rest)
    for name, position in cube.items():
        variable = circuit.variable[name]
        state[variable] = circuit.variables[variable].positions.index(position)
    return tuple(state)


class _Card:
    """What both sorts of cards share: a sheet with a head, two columns and a foot."""

    heading = ""
    under = ""

    def __init__(self, circuit: Circuit, name: str, scale: float) -> None:
        self.circuit, self.name, self.layout = circuit, name, circuit.layout
        self.wide = WIDE * scale
        self.high = self.wide * SHEET[1] / SHEET[0]
        self.lines: list[str] = []

    def text(self) -> tuple[str, float]:
        """The SVG, and how far down it reaches."""
        y = self._head()
        split = EDGE + (self.wide - 2 * EDGE) * 0.56
        left = self.drawings(EDGE, y, split - EDGE - 18)
        right = self.wiring(split, y, self.wide - EDGE - split)
        low = self._foot(max(left, right) + 10)
        title = attribute(f"Wiring card of {self.name}")
        box = f"0 0 {number(self.wide)} {number(self.high)}"
        size = f'width="{number(SHEET[0])}mm" height="{number(SHEET[1])}mm"'
        head = [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="card" viewBox="{box}" {size} role="img">',
            f"<title>{title}</title>",
            f"<style>{STYLE}@page{{size:A5 landscape;margin:0}}</style>",
            f'<rect class="paper" width="{number(self.wide)}" height="{number(self.high)}" fill="#fff"/>',
        ]
        return "\n".join([*head, *self.lines, "</svg>"]) + "\n", low

    def _head(self) -> float:
        room = self.wide - 2 * EDGE
        self.write(EDGE, 44, shortened(self.name, 32, room * 0.5), 32, bold=True)
        x = EDGE + width(shortened(self.name, 32, room * 0.5), 32) + 16
        self.write(x, 34, shortened(self.heading, 14, self.wide - EDGE - x), 14)
        title = f"{self.layout.title or self.layout.name}{self.under}"
        self.write(x, 52, shortened(title, 11, self.wide - EDGE - x), 11)
        self.lines.append(f'<path class="bar" d="M{point(EDGE, 62)}H{number(self.wide - EDGE)}"/>')
        return 74.0

    def drawings(self, x: float, y: float, room: float) -> float:
        """The left column; how far down it reaches."""
        raise NotImplementedError

    def wiring(self, x: float, y: float, room: float) -> float:
        """The right column; how far down it reaches."""
        raise NotImplementedError

    def paragraphs(self) -> Iterator[tuple[str, str]]:
        """Headings and text under both columns."""
        raise NotImplementedError

    def _foot(self, y: float) -> float:
        self.lines.append(f'<path class="seam" d="M{point(EDGE, y)}H{number(self.wide - EDGE)}"/>')
        y += 16
        for heading, text in [*self.paragraphs(), ("Caution", CAUTION)]:
            y = self.paragraph(EDGE, y, self.wide - 2 * EDGE, heading, text) + 4
        return y

    # -- text

    def write(self, x: float, y: float, text: str, size: float, *, bold: bool = False) -> None:
        """A line of text."""
        self.lines.append(written(text, x, y, size, 'font-weight="bold"' if bold else ""))

    def paragraph(self, x: float, y: float, room: float, heading: str, text: str) -> float:
        """A heading in bold with text after it; the next line."""
        indent = width(heading, BODY) * 1.12 + 10
        self.write(x, y, heading, BODY, bold=True)
        for line in wrapped(text, BODY, room - indent):
            self.write(x + indent, y, line, BODY)
            y += BODY * 1.3
        return y

    def rows(self, x: float, y: float, room: float, heading: str, rows: list[tuple[str, str, str]]) -> float:
        """A table of wires: from, to, colour."""
        if not rows:
            return y
        self.write(x, y, heading, BODY, bold=True)
        y += BODY * 1.35
        columns = (0.0, 0.37 * room, 0.73 * room)
        for row in rows:
            deepest = y
            for column, (text, start) in enumerate(zip(row, columns, strict=True)):
                end = columns[column + 1] if column < 2 else room
                line_y = y
                for line in wrapped(text, SMALL, end - start - 6):
                    self.write(x + start, line_y, line, SMALL)
                    line_y += SMALL * 1.2
                deepest = max(deepest, line_y)
            y = max(deepest, y + SMALL * 1.2) + 2
        return y + 6

    # -- wires

    def colour(self, terminal: str, other: str = "") -> str:
        """The colour of the wire that ends at a terminal, by IEC 60757, where the layout says one."""
        for link in self.layout.links:
            if set(link.ends) == {terminal, other} and link.colour:
                return _spoken(link.colour)
        for bus in self.layout.buses.values():
            for pole in (terminal, other):
                for letter, name in zip("AB", bus.poles, strict=True):
                    colour = dict(bus.colours).get(letter)
                    if pole == name and colour:
                        return _spoken(colour)
        return FREE

    def ending(self, terminal: str, other: str) -> str:
        """Where a wire ends, and its colour where the layout says one."""
        colour = self.colour(terminal, other)
        return terminal if colour == FREE else f"{terminal}, {colour}"


class _PieceCard(_Card):
    def __init__(self, circuit: Circuit, name: str, scale: float) -> None:
        super().__init__(circuit, name, scale)
        self.piece = circuit.layout.pieces[name]
        self.placed = alone(circuit.layout, name)
        self.heading = self.piece.kind.title + (f", {self.piece.kind.hand} hand" if self.piece.kind.hand else "")
        if self.piece.kind.hand == "wye":
            self.heading = f"{self.piece.kind.title}, wye"
        self.positions = positions(circuit, self.piece)
        movers = sorted({circuit.layout.bars[b].variable for b in self.piece.bars} - set(self.piece.bars))
        self.under = f"; thrown by {', '.join(movers)}" if movers else "; thrown by hand" if self.piece.bars else ""
        own = f"{name}."
        self.contacts = [c for c in circuit.layout.contacts if c.common and c.common.startswith(own)]
        self.used: set[str] = set()

    # -- the rails

    def drawings(self, x: float, y: float, room: float) -> float:
        shown = self._shown()
        columns = 1 if self.placed.pit or len(shown) < 2 or (len(shown) == 2 and self._flat()) else 2
        each = room / columns
        bottom = y
        for first in range(0, len(shown), columns):
            row = [
                self._drawing(x + each * k, y, each - 10, position)
                for k, position in enumerate(shown[first : first + columns])
            ]
            bottom = max(row)
            y = bottom + 8
        if len(self.positions) > len(shown):
            self.write(x, bottom + 12, f"and {len(self.positions) - len(shown)} more positions", SMALL)
            bottom += 18
        return self._legend(x, bottom + 6, room)

    def _shown(self) -> list[Position]:
        """The positions to draw: of a turntable the first track, both ways round."""
        if not self.placed.pit:
            return self.positions[:MOST_POSITIONS]
        half = len(self.positions) // 2
        return [p for pair in zip(self.positions[:half], self.positions[half:], strict=False) for p in pair][:2]

    def _flat(self) -> bool:
        left, low, right, high = _bounds(self.placed)
        return (right - left) > 2 * (high - low)

    def _drawing(self, x: float, y: float, room: float, position: Position) -> float:
        """The piece in a position; how far down it reaches."""
        self.write(x, y + 12, shortened(position.said, BODY, room), BODY, bold=True)
        poles = rail_poles(self.circuit, position.state)
        left, low, right, high = _bounds(self.placed)
        factor = min((room - 40) / (right - left + 4), 200 / (high - low + 2 * GAUGE), 2.2)
        while True:
            body, box = self._rails(position.state, poles, factor)
            if (box.right - box.left) * factor <= room or factor < 0.2:
                break
            factor *= 0.93
        top = y + 20
        shift_x = x - box.left * factor + (room - (box.right - box.left) * factor) / 2
        shift_y = top + box.high * factor
        self.lines.append(f'<g transform="translate({number(shift_x)} {number(shift_y)}) scale({factor:.3f})">')
        self.lines += body
        self.lines.append("</g>")
        return top + (box.high - box.low) * factor

    def _rails(self, state: State, poles: Mapping[str, list[str]], factor: float) -> tuple[list[str], Box]:
        found = runs(self.circuit, self.placed, state, GAUGE)
        paper = Paper()
        body = list(table(self.placed))
        if self.placed.pit:
            (cx, cy), r = self.placed.pit
            body.append(f'<circle class="pit" cx="{number(cx)}" cy="{number(-cy)}" r="{number(r)}"/>')
        for run in found:
            paper.track(dots(run.line, 4.0))
            if run.rail is None:
                body.append(f'<path class="plastic" d="{path(run.line)}"/>')
                continue
            terminal = f"{self.name}.{run.rail}"
            pole = pole_class(self.circuit, poles[terminal])
            self.used.add(pole)
            said = attribute(f"{terminal}: {has(poles[terminal])}")
            body.append(
                f'<path class="rail {pole}" data-rail="{attribute(terminal)}" d="{path(run.line)}">'
                f"<title>{said}</title></path>"
            )
        body += self._gaps()
        body += self._drops(found)
        for (fx, fy), _ in frogs(self.placed, GAUGE):
            body.append(f'<path class="mark frog" d="{mark_of_frog(fx, fy)}"/>')
        labels = [*self._end_labels(factor), *self._rail_labels(found, poles, factor, state)]
        put = [paper.put(label) for label in labels]
        body += [line for one in put for line in label_svg(one)]
        boxes = [p.label.box(p.x, p.y) for p in put]
        left, low, right, high = _bounds(self.placed)
        boxes.append(Box(left - 4, low - GAUGE, right + 4, high + GAUGE))
        lefts, lows, rights, highs = zip(*boxes, strict=True)
        return body, Box(min(lefts), min(lows), max(rights), max(highs))

    def _rail_labels(
        self, found: list[Run], poles: Mapping[str, list[str]], factor: float, state: State
    ) -> Iterator[Label]:
        best: dict[str, Run] = {}
        for run in found:
            if run.rail and (run.rail not in best or length(run.line) > length(best[run.rail].line) + 1):
                best[run.rail] = run
        here = None
        if self.piece.kind.gaps:  # rails that move: those that stand elsewhere are named in their own position
            routes = [r for r in self.piece.kind.routes if is_set(self.circuit, self.name, r, state)]
            here = {rail for r in routes for rail in (*r.left, *r.right)}
        for rail, run in best.items():
            if here is not None and rail not in here:
                continue
            terminal = f"{self.name}.{rail}"
            pole = pole_class(self.circuit, poles[terminal])
            spots = [at(run.line, length(run.line) * share).point for share in (0.6, 0.8, 0.4, 0.9, 0.2)]
            text = f"{rail} {LETTERS[pole]}"
            yield Label(text, terminal, pole, SMALL / factor, spots[0], 4.0, others=tuple(spots[1:]))

    def _neighbours(self) -> dict[str, str]:
        found = {}
        for joint in self.layout.joints:
            for mine, other in ((joint.start, joint.end), (joint.end, joint.start)):
                if mine[0] == self.name:
                    found[mine[1]] = other[0]
        return found

    def _end_labels(self, factor: float) -> Iterator[Label]:
        near = self._neighbours()
        for end, place in self.placed.ends.items():
            text = f"{end}: {near[end]}" if end in near else end
            yield Label(text, end, "name", SMALL / factor, place, GAUGE / 2 + 4)

    def _gaps(self) -> Iterator[str]:
        """Insulated joiners at the ends of the piece."""
        for joint in self.layout.joints:
            for own, mine in enumerate((joint.start, joint.end)):
                if mine[0] != self.name or mine[1] not in self.placed.ends:
                    continue
                pose = end_pose(self.placed, mine[1])
                end = self.piece.kind.ends[mine[1]]
                inner = pose.beyond(4.0 if end.entering else -4.0)
                for pair in joint.pairs:
                    if pair[2]:
                        rail = (pair[0], pair[1])[own][len(self.name) + 1 :]
                        side = 1 if rail == end.left else -1
                        yield f'<g class="joint" data-joint="{attribute(joint.name)}">'
                        yield from gap(inner, side)
                        yield "</g>"

    def _drops(self, found: list[Run]) -> Iterator[str]:
        taken: list[tuple[float, float]] = []
        for feed in self.layout.feeds:
            if feed.piece != self.name:
                continue
            for _, terminal in feed.wires:
                rail = terminal[len(self.name) + 1 :]
                where = feed_place(self.placed, [r for r in found if r.rail == rail], 0.4, taken)
                if where:
                    taken.append(where.point)
                    yield '<g class="feed">'
                    yield from drop(where, square=feed.source in self.layout.reversers)
                    yield "</g>"

    def _legend(self, x: float, y: float, room: float) -> float:
        cx, cy = x, y + 12
        for pole in POLES:
            if pole not in self.used:
                continue
            wide = 42 + width(f"{LETTERS[pole]}: {SAID[pole]}", SMALL) + 10
            if cx > x and cx + wide > x + room:
                cx, cy = x, cy + 16
            self.lines.append(f'<path class="rail {pole}" d="M{point(cx, cy - 3.5)}h34"/>')
            self.write(cx + 40, cy, f"{LETTERS[pole]}: {SAID[pole]}", SMALL)
            cx += wide
        return cy + 8

    # -- the wires

    def wiring(self, x: float, y: float, room: float) -> float:
        y += 12
        for contact in self.contacts:
            y = self._contact(x, y, room, contact)
        for unit in self.layout.units.values():
            if unit.frog.startswith(f"{self.name}."):
                rows = [(f"{unit.name} output", unit.frog, self.colour(unit.frog))]
                rows += [(f"{unit.name} input", pole, self.colour(pole)) for pole in unit.inputs]
                y = self.rows(x, y, room, f"Frog unit {unit.name}", rows)
        feeds = [
            (source, terminal, self.colour(source, terminal))
            for feed in self.layout.feeds
            if feed.piece == self.name
            for source, terminal in feed.wires
        ]
        y = self.rows(x, y, room, "Feeder drops (solder to the rail)", feeds)
        own = f"{self.name}."
        links = [
            (link.ends[0], link.ends[1], _spoken(link.colour) if link.colour else FREE)
            for link in self.layout.links
            if any(e.startswith(own) for e in link.ends)
        ]
        y = self.rows(x, y, room, "Other wires", links)
        gaps = []
        for joint in self.layout.joints:
            if self.name in (joint.start[0], joint.end[0]):
                gaps += [(a, b, "insulated") for a, b, cut in joint.pairs if cut]
        return self.rows(x, y, room, "Insulated joiners between", gaps)

    def _contact(self, x: float, y: float, room: float, contact: Contact) -> float:
        """A contact: its symbol, and at each of its terminals where the wire ends and its colour."""
        name = f"{contact.owner}.{contact.name}"
        said = "make before break" if contact.action == "make-before-break" else "break before make"
        first = contact.throws[0][0] if contact.throws else ""
        self.write(x, y, shortened(f"Contact {name}", BODY, room), BODY, bold=True)
        y += SMALL * 1.4
        self.write(x, y, shortened(f"{said}; drawn at {first}", SMALL, room), SMALL)
        height = 24.0 * max(len(contact.throws), 2) + 4
        texts = []
        for position, terminal in contact.throws:
            wire = self.ending(terminal, f"{name}.{position}") if terminal else "no wire (open)"
            texts.append(f"{position}: {wire}")
        self.lines += _symbol(x, y + height / 2 + 2, contact, texts, room)
        y += height + 10
        wire = self.ending(contact.common or "", f"{name}.common")
        self.write(x, y, shortened(f"common: {wire}", SMALL, room), SMALL)
        return y + SMALL * 2.2

    # -- words

    def paragraphs(self) -> Iterator[tuple[str, str]]:
        library = self.layout.library
        notes = library.definition(self.piece.kind.name).notes if library else {}
        why = _sentences(notes.get("why", ""), 2) or self.piece.kind.summary
        yield "Why", why
        test = notes.get("test", "")
        if test:
            yield "Measure", test
        made = self._made()
        if made:
            yield "Beeps", made

    def _made(self) -> str:
        """What the contacts wired to this piece join, position by position, measured with the supply disconnected."""
        said = []
        for contact in self.contacts:
            for position, terminal in contact.throws:
                if terminal and contact.common:
                    said.append(f"{contact.owner} at {position}: {contact.common} to {terminal}")
        return f"Contacts wired, feeders and neighbours apart: {'; '.join(said)}." if said else ""


class _ReverserCard(_Card):
    heading = "Reverser: turns the poles of one section round"

    def __init__(self, circuit: Circuit, name: str, scale: float) -> None:
        super().__init__(circuit, name, scale)
        self.reverser = circuit.layout.reversers[name]
        mode = "automatic" if self.reverser.automatic else f"follows {self.reverser.variable}"
        self.under = f"; {mode}, fed from {self.reverser.bus}"
        self.feeds = [f for f in circuit.layout.feeds if f.source == name]

    def drawings(self, x: float, y: float, room: float) -> float:
        each = (room - 20) / 2
        straight, crossed = self._states()
        for k, (said, over) in enumerate(((straight, False), (crossed, True))):
            self._box(x + k * (each + 10), y, each, said, over=over)
        y += 190
        for line in wrapped(self._sections(), BODY, room):
            self.write(x, y, line, BODY)
            y += BODY * 1.3
        return y

    def _states(self) -> tuple[str, str]:
        if self.reverser.automatic:
            return "straight", "crossed"
        variable = next(v for v in self.circuit.variables if v.name == self.reverser.variable)
        named = [
            ", ".join(p for i, p in enumerate(variable.positions) if (i in self.reverser.straight) is s)
            for s in (True, False)
        ]
        return f"straight: {variable.name} at {named[0]}", f"crossed: {variable.name} at {named[1]}"

    def _box(self, x: float, y: float, room: float, said: str, *, over: bool) -> None:
        """The two wires in, the change-over, the two wires out."""
        self.write(x, y + 12, shortened(said, BODY, room), BODY, bold=True)
        top, low = y + 66, y + 126
        left, right = x + room * 0.3, x + room * 0.7
        self.lines.append(
            f'<rect class="mark" x="{number(left)}" y="{number(top - 34)}" width="{number(right - left)}" '
            f'height="{number(low - top + 60)}"/>'
        )
        ends = (low, top) if over else (top, low)
        for pole, start, end in (("A", top, ends[0]), ("B", low, ends[1])):
            line = f"M{point(x, start)}H{number(left + 14)}L{point(right - 14, end)}H{number(x + room)}"
            self.lines.append(f'<path class="rail pole-{pole}" d="{line}"/>')
        for letter, line_y in zip("AB", (top, low), strict=True):
            self.write(x, line_y - 8, f"in {letter}", SMALL)
            self.write(right + 6, line_y - 8, f"out {letter}", SMALL)
        for letter, line_y in zip("BA" if over else "AB", (top, low), strict=True):
            self.lines.append(written(letter, right + 6, line_y + 16, BODY, f'class="letter pole-{letter}"'))

    def _sections(self) -> str:
        pieces = list(dict.fromkeys(f.piece for f in self.feeds))
        if not pieces:
            return "It feeds no track yet."
        gaps = [j.name for j in self.layout.joints if (j.start[0] in pieces) != (j.end[0] in pieces)]
        text = f"It feeds {', '.join(pieces)}."
        return text + (f" Insulate both rails at {', '.join(gaps)}." if gaps else "")

    def wiring(self, x: float, y: float, room: float) -> float:
        y += 12
        name = self.name
        bus = self.reverser.bus
        inputs = zip("AB", self.reverser.inputs, strict=True)
        ins = [(f"in {letter}", f"{bus}.{letter}", self.colour(pole)) for letter, pole in inputs]
        y = self.rows(x, y, room, f"Into {name}", ins)
        outs = [
            (f"out {source[-1]}", terminal, self.colour(source, terminal))
            for feed in self.feeds
            for source, terminal in feed.wires
        ]
        y = self.rows(x, y, room, f"Out of {name} to the rails", outs)
        pieces = {f.piece for f in self.feeds}
        gaps = [
            (a, b, "insulated" if cut else "METAL")
            for j in self.layout.joints
            if (j.start[0] in pieces) != (j.end[0] in pieces)
            for a, b, cut in j.pairs
        ]
        return self.rows(x, y, room, "Joiners at its ends", gaps)

    def paragraphs(self) -> Iterator[tuple[str, str]]:
        yield "Why", WHY_REVERSED
        yield "Measure", MEASURE_REVERSED


WHY_REVERSED = (
    "Track that comes back upon itself turns the train round, so its left rail meets the right rail of the line. "
    "While a train is on this section, its two poles are changed over, so that both ends fit in turn."
)
MEASURE_REVERSED = (
    "Supply disconnected, track empty: no rail of the section beeps to any rail outside it, and its two rails never "
    "beep to each other. Supply on: across each gap, on the same side, nothing means right; full voltage means that it "
    "must change over first."
)


def _bounds(placed: Placed) -> tuple[float, float, float, float]:
    points = [p for way in placed.ways.values() for line in way for p in line]
    points += list(placed.ends.values())
    if placed.pit:
        (x, y), r = placed.pit
        points += [(x - r, y - r), (x + r, y + r)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _symbol(x: float, y: float, contact: Contact, texts: list[str], room: float) -> Iterator[str]:
    """A change-over contact by IEC 60617: the moving part touches one of its throws, the others are apart from it."""
    count, step = len(texts), 24.0
    pivot, tip = x + 84, x + 124
    yield f'<g class="contact" data-contact="{attribute(f"{contact.owner}.{contact.name}")}">'
    yield written("common", x, y + 4, SMALL)
    yield f'<circle class="mark" cx="{number(x + 60)}" cy="{number(y)}" r="3"/>'
    yield f'<path class="bar" d="M{point(x + 63, y)}H{number(pivot)}"/>'
    for place, text in enumerate(texts):
        line_y = y + (place - (count - 1) / 2) * step
        up = 5.0 if line_y >= y else -5.0
        yield f'<path class="bar" d="M{point(tip, line_y - up)}V{number(line_y)}H{number(tip + 14)}"/>'
        yield f'<circle class="mark" cx="{number(tip + 17)}" cy="{number(line_y)}" r="3"/>'
        cut = shortened(text, SMALL, room - (tip + 25 - x))
        yield written(cut, tip + 25, line_y + 4, SMALL)
        if place == 0:
            yield f'<path class="bar" d="M{point(pivot, y)}L{point(tip + 5, line_y - up * 0.9)}"/>'
    yield "</g>"


def _spoken(colour: str) -> str:
    """The letters of a colour and its name: ``BN brown``."""
    parts = [colour] if colour in COLOURS else [colour[:2], colour[2:]]
    return f"{colour} {'-'.join(COLOURS.get(p, p) for p in parts)}"


def _sentences(text: str, count: int) -> str:
    """The first sentences of a text."""
    return " ".join(islice(re.split(r"(?<=[.!?])\s+", text.strip()), count))

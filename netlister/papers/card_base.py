"""What all wiring cards share: their tables of wires and joints, contacts with their symbol, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from netlister.circuit.colours import spoken
from netlister.circuit.runs import head
from netlister.draw.style import text_svg
from netlister.layout.terminal import named
from netlister.outputs.kind_sheet import CAUTION
from netlister.papers.card_tables import is_gap
from netlister.papers.page import WRONG
from netlister.papers.schedule import CHOSEN, CHOSEN_SAID, NO_COLOUR, end_said
from netlister.papers.sheets import BODY, LOW, TOP, Flow, Head
from netlister.svg import attribute, number, point

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit
    from netlister.layout.model import Joint, Layout
    from netlister.papers.card_tables import ContactTable, Wiring
    from netlister.papers.local_poles import LocalPoles
    from netlister.papers.schedule import ScheduleLine

OFF = (
    "Supply unplugged, trains off the track, lamps and other loads unplugged: they would beep, too. Automatic devices "
    "unplugged."
)


class Whole(Protocol):
    """What a card is cut out of: the layout with its schedule, its poles and its boards."""

    circuit: Circuit
    layout: Layout
    version: str

    @property
    def wiring(self) -> Wiring:
        """The schedule, ready to be cut."""

    @property
    def poles(self) -> LocalPoles:
        """The poles of the rails of one piece in one state."""

    @property
    def boards(self) -> dict[str, str]:
        """The baseboard of each piece, gear and block."""


class Card:
    """What all cards share."""

    heading = ""
    under = ""

    def __init__(self, of: Whole, name: str) -> None:
        self.of, self.name = of, name
        self.circuit, self.layout = of.circuit, of.layout

    def bodies(self) -> list[str]:
        """The sheets. Where the last would be nearly empty, lines stand closer if that saves it."""
        flow = self._filled()
        if flow.nearly_empty:
            closer = self._filled(close=True)
            flow = closer if len(closer.sheets) < len(flow.sheets) else flow
        return flow.bodies()

    def fill(self, flow: Flow) -> None:
        """Put onto sheets what the card says."""
        raise NotImplementedError

    def _filled(self, *, close: bool = False) -> Flow:
        """Sheets with what stands at the top and the bottom of each, filled."""
        title = self.layout.title or self.layout.name
        foot = f"{self.of.version}, {title}" if self.of.version else title
        warning = WRONG if self.of.version.endswith(WRONG) else ""
        flow = Flow(Head(self.name, self.heading, self.under, foot, warning), close=close)
        self.fill(flow)
        return flow

    def wires(self, flow: Flow, title: str, lines: tuple[ScheduleLine, ...], *, near: str = "") -> None:
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

    def _place(self, line: ScheduleLine, end: int) -> str:
        said = end_said(line.run, end)
        board = line.boards[end]
        return f"{said} [{board}]" if board and line.boards[0] != line.boards[1] else said

    def colours(self, flow: Flow, lines: tuple[ScheduleLine, ...]) -> None:
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
        whole = high / flow.line + 1.7 + 1.35 * (1 + len(texts))  # its symbol, and its table on the same sheet
        flow.heading(f"Contact {table.name}: {said}", keep=min(whole, 0.9 * (LOW - TOP) / flow.line))
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


def made_of(line: ScheduleLine) -> tuple[str, str, str, str]:
    """Colour, size, length and tap of a wire, as read."""
    colour = spoken(line.colour) + (CHOSEN if line.chosen and line.colour else "") if line.colour else NO_COLOUR
    length = f"{line.length_mm} mm" if line.length_mm else "-"
    return colour, line.size or "-", length, f"{line.tap_mm} mm" if line.tap_mm else "-"


def goes(line: ScheduleLine | None, own: str) -> tuple[str, str, str]:
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
        text_svg("common", x + 20, y + 4, BODY),
        f'<circle class="mark" cx="{number(x + 84)}" cy="{number(y)}" r="3"/>',
        f'<path class="bar" d="M{point(x + 87, y)}H{number(pivot)}"/>',
    ]
    for place, text in enumerate(texts):
        line_y = y + (place - (count - 1) / 2) * step
        up = 5.0 if line_y >= y else -5.0
        lines += [
            f'<path class="bar" d="M{point(tip, line_y - up)}V{number(line_y)}H{number(tip + 14)}"/>',
            f'<circle class="mark" cx="{number(tip + 17)}" cy="{number(line_y)}" r="3"/>',
            text_svg(text, tip + 25, line_y + 4, BODY),
        ]
        if place == 0:
            lines.append(f'<path class="bar" d="M{point(pivot, y)}L{point(tip + 5, line_y - up * 0.9)}"/>')
    return [*lines, "</g>"]

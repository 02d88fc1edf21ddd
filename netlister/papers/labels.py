"""Labels for wire ends, terminals, machines and rails, on sheets of stated sizes, with letters of at least 2 mm."""

from __future__ import annotations

from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.text import width
from netlister.layout.terminal import Terminal
from netlister.papers.page import SIZES, pdf
from netlister.papers.schedule import NO_COLOUR
from netlister.papers.sheets import broken
from netlister.papers.table import PaperMissingError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Layout
    from netlister.papers.schedule import ScheduleLine

SMALL_LETTER = 1120 / 2048
"""The height of an x of DejaVu Sans as a share of its size (from the font itself)."""

LEAST = 2.0 / SMALL_LETTER
"""The size in mm at which small letters are 2 mm high, capitals 2.7 mm."""

EDGE = 5.0
"""So many mm along the edges of a sheet most printers leave white (from memory)."""

SIDES = (14.0, 12.5, 11.0)
"""How large a code may be in mm: as large as its name leaves room for. At 11 mm the cells of a name of 40 letters are
a third of a millimetre, which cameras of phones read (from memory).
"""

OF = ("wires", "terminals", "machines", "gear", "rails")


class Stock(NamedTuple):
    """A sheet of labels: paper, columns, rows, size of a label, margins and steps, all in mm."""

    paper: str
    columns: int
    rows: int
    wide: float
    high: float
    left: float
    top: float
    step_x: float
    step_y: float


STOCKS = {
    "A4-65": Stock("A4", 5, 13, 38.1, 21.2, 4.75, 10.7, 40.6, 21.2),
    "A4-24": Stock("A4", 3, 8, 70.0, 37.0, 0.0, 0.5, 70.0, 37.0),
    "A4-plain": Stock("A4", 4, 18, 45.0, 14.5, 15.0, 18.0, 45.0, 14.5),
    "Letter-30": Stock("Letter", 3, 10, 66.7, 25.4, 4.8, 12.7, 69.9, 25.4),
    "Letter-80": Stock("Letter", 4, 20, 44.45, 12.7, 7.62, 12.7, 52.07, 12.7),
    "Letter-plain": Stock("Letter", 4, 18, 45.0, 13.5, 17.95, 18.0, 45.0, 13.5),
}
"""Divisions of sheets as they are sold (from memory: measure yours), and plain paper to cut along the lines."""


class LabelError(ValueError):
    """A label that does not fit. The message says what to take instead."""


class LabelText(NamedTuple):
    """What is on a label: a name, what stands below it, and what its code says (empty: none).

    `least`: what stands below it where there is no room for all of that.
    """

    name: str
    below: str
    code: str
    least: str = ""


def texts(layout: Layout, lines: list[ScheduleLine], of: tuple[str, ...]) -> list[LabelText]:
    """The labels, in the order of the schedule: two for each wire with its colour, one for all else.

    That is each terminal, machine, reverser, frog unit, part in a wire, hand switch and fed rail.
    """
    found: list[LabelText] = []
    if "wires" in of:
        for line in lines:
            colour = line.colour or NO_COLOUR
            found += [
                LabelText(line.id, f"{colour} {line.start} > {line.end}", line.id, colour),
                LabelText(line.id, f"{colour} {line.end} > {line.start}", line.id, colour),
            ]
    ends = [(end, line) for line in lines for end in (line.start, line.end)]
    if "terminals" in of:
        from netlister.papers.card_tables import blocks

        names = set(blocks(layout, lines)) | {pin.plug for pin in layout.pins}
        terminals = dict.fromkeys(end for end, _ in ends if Terminal.of(end).owner in names)
        found += [LabelText(end, "", end) for end in terminals]
    if "machines" in of:
        for name, bars in layout.machines.items():
            found.append(LabelText(name, f"throws {', '.join(bars)}", name))
    if "gear" in of:
        for reverser in layout.reversers.values():
            found.append(LabelText(reverser.name, f"reverser from {reverser.bus}", reverser.name))
        for unit in layout.units.values():
            found.append(LabelText(unit.name, f"frog unit of {unit.frog}", unit.name))
        for part in layout.components.values():
            found.append(LabelText(part.name, part.kind, part.name))
        owners = {c.owner for c in layout.contacts} - {*layout.machines, *layout.pieces}
        found += [LabelText(name, "switch or relay", name) for name in sorted(owners)]
    if "rails" in of:
        rails = dict.fromkeys(line.end for _, line in ends if line.run.kind == "feed")
        found += [LabelText(rail, "", rail) for rail in rails]
    return found


def sheets(found: list[LabelText], stock: str, *, code: bool = False, first: int = 1) -> str:
    """Sheets of labels as HTML, a label in each field from number `first` on.

    Raises LabelError for a text that does not fit with letters of 2 mm, MissingError without the library for codes.
    """
    if message := _too_long(found, stock, code=code):
        raise LabelError(message)
    made = STOCKS[stock]
    each = made.columns * made.rows
    fields: list[LabelText | None] = [None] * (first - 1) + list(found)
    pages = [fields[k : k + each] for k in range(0, len(fields), each)]
    size = SIZES[made.paper]
    css = (
        f"@page{{size:{size};margin:0}}body{{margin:0;font-family:'DejaVu Sans',sans-serif;color:#000}}"
        ".page{position:relative;break-after:page;height:100vh;width:100%}.page:last-child{break-after:auto}"
        f".label{{position:absolute;width:{made.wide}mm;height:{made.high}mm;overflow:hidden;box-sizing:border-box}}"
        ".cut{border:.1mm solid #999}.label p{margin:0;position:absolute;white-space:pre;line-height:1}"
        ".name{font-weight:bold}.label svg{position:absolute}"
    )
    body = []
    tall = SIZES[made.paper].split()[1]
    for page in pages:
        body.append(f'<div class="page" style="height:{tall}">')
        for place, text in enumerate(page):
            if text is not None:
                body += _label(text, made, place, code=code, cut=stock.endswith("plain"))
        body.append("</div>")
    head = f'<meta charset="utf-8"><title>Labels</title><style>{css}</style>'
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head><body>' + "\n".join(body) + "</body></html>\n"


def _label(text: LabelText, made: Stock, place: int, *, code: bool, cut: bool) -> Iterator[str]:
    x = made.left + place % made.columns * made.step_x
    y = made.top + place // made.columns * made.step_y
    inset = _inset(made)
    side, lines = _laid(text, made, code=code)
    kind = "label cut" if cut else "label"
    yield f'<div class="{kind}" style="left:{x:.2f}mm;top:{y:.2f}mm">'
    if code:
        yield _code(text.code, side, made.wide - side - inset + 0.3, (made.high - side) / 2)
    step = LEAST * 1.12
    start = (made.high - step * len(lines)) / 2
    for number, (line, bold) in enumerate(lines):
        named = "name" if bold else "below"
        yield (
            f'<p class="{named}" style="left:{inset:g}mm;top:{start + number * step:.2f}mm;font-size:{LEAST:.3f}mm">'
            f"{escape(line)}</p>"
        )
    yield "</div>"


def _inset(made: Stock) -> float:
    """How far from the edges of a label its text stays."""
    return max(1.5, EDGE - made.left)


def _laid(text: LabelText, made: Stock, *, code: bool) -> tuple[float, list[tuple[str, bool]]]:
    """How large the code is (none: 0), and the lines beside it; none where the name is too long for the label.

    The largest code beside which no word of the name is cut in two; else the largest.
    """
    found = []
    for side in SIDES if code else (0.0,):
        room = made.wide - 2 * _inset(made) - (side + 1.0 if code else 0.0)
        lines = fitted(text, room, made.high - 2.0)
        if lines and side <= made.high - 0.6:
            found.append((side, lines))
    return min(found, key=lambda each: _cuts(text.name, each[1]), default=(0.0, []))


def _cuts(name: str, lines: list[tuple[str, bool]]) -> int:
    """How many words of a name are cut in two by the ends of its lines."""
    bold = [line for line, is_name in lines if is_name]
    return sum(a[-1] not in "./-@" and f"{a} {b}" not in name for a, b in pairwise(bold))


def _too_long(found: list[LabelText], stock: str, *, code: bool) -> str:
    """What is to be done about labels that do not fit; nothing where all do."""

    def long(name: str, *, coded: bool) -> list[LabelText]:
        return [text for text in found if not _laid(text, STOCKS[name], code=coded)[1]]

    left = long(stock, coded=code)
    if not left:
        return ""
    fit = [name for name in STOCKS if not long(name, coded=code)]
    others = len(left) - 1
    more = f" (and {others} more)" if others else ""
    made = STOCKS[stock]
    message = (
        f"'{left[0].name}'{more} does not fit a label of {made.wide:g} x {made.high:g} mm with letters of 2 mm"
        f"{' beside its code' if code else ''}; "
    )
    if fit:
        message += f"take --sheet {' or '.join(fit)}, or "
    if code and not long(stock, coded=False):
        message += "leave out --code, or "
    return message + "give shorter names in the layout (a feed or a wire may have an 'id')"


def fitted(text: LabelText, room: float, high: float) -> list[tuple[str, bool]] | None:
    """The lines of a label, each with whether it is bold; the name whole, below it what fits whole. None: too long."""
    step = LEAST * 1.12
    most = int(high / step)
    name = [(line, True) for line in broken(text.name, LEAST, room / 1.12)]
    if len(name) > most or any(width(line, LEAST) > room for line, _ in name):
        return None
    for said in (text.below, text.least):
        below = [(line, False) for line in broken(said, LEAST, room)] if said else []
        if len(name) + len(below) <= most:
            return name + below
    return name


def _code(text: str, side: float, x: float, y: float) -> str:
    """A QR code (ISO/IEC 18004) of a text as SVG, so large in mm."""
    try:
        import segno
    except ImportError:
        message = "for codes install the extra: pip install 'netlister[papers]'"
        raise PaperMissingError(message) from None
    made = segno.make(text, error="m", micro=False)
    size = made.symbol_size(border=2)[0]
    scale = side / size
    cells = "".join(
        f"M{column} {row}h1v1h-1z"
        for row, bits in enumerate(made.matrix_iter(border=2))
        for column, bit in enumerate(bits)
        if bit
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" style="left:{x:.2f}mm;top:{y:.2f}mm" width="{side:.2f}mm" '
        f'height="{side:.2f}mm" viewBox="0 0 {size} {size}" data-scale="{scale:.3f}"><path d="{cells}"/></svg>'
    )


def labels_pdf(html: str) -> bytes:
    """Sheets of labels as PDF. Raises PaperMissingError where the library is not installed."""
    return pdf(html)

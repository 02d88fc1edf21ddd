"""A plan on sheets of paper, landscape: cut into a grid, neighbours overlap, marks tell where to lay them together."""

from __future__ import annotations

import re
from html import escape
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.style import STYLE
from netlister.svg import number

if TYPE_CHECKING:
    from collections.abc import Iterator

PAPERS = {"A4": (297.0, 210.0), "A3": (420.0, 297.0), "Letter": (279.4, 215.9)}
"""Width and height of sheets laid across, in mm (ISO 216; ANSI/ASME Y14.1)."""

MARGIN, HEAD, OVERLAP = 10.0, 7.0, 10.0
"""In mm: what printers leave white, the line of words on a sheet, what neighbours share."""

READABLE = 0.3
"""mm of paper for one unit of the drawing: the smallest letters are 2.7 mm high."""

LARGEST = 0.5
"""The same, where all of the plan is on one sheet."""

MARKS = (
    ".cross{fill:none;stroke:#000;stroke-width:.25}"
    ".edge{fill:none;stroke:#8c8c8c;stroke-width:.15;stroke-dasharray:2 2}\n"
)

REACH = 160.0
"""How far a text may run on from where it begins, in units of the drawing."""

PLACE = re.compile(r'(?:[ML]|\b(?:c?x|x1)=")(-?[\d.]+)(?: |" (?:c?y|y1)=")(-?[\d.]+)')


class PlanSheet(NamedTuple):
    """A part of the plan: its name in the grid, and what of the drawing is on it (left, top, width, height)."""

    name: str
    row: int
    column: int
    box: tuple[float, float, float, float]


class Grid(NamedTuple):
    """How a plan is cut: mm for one unit, sheets down and across, and those on which there is something."""

    scale: float
    rows: int
    columns: int
    sheets: tuple[PlanSheet, ...]


def room(paper: str) -> tuple[float, float]:
    """What a sheet holds of the plan, in mm across and down."""
    wide, high = PAPERS[paper]
    return wide - 2 * MARGIN, high - 2 * MARGIN - HEAD


def cut(svg: str, paper: str) -> Grid:
    """Cut a plan into sheets. Raises KeyError for an unknown paper."""
    left, top, across, tall = _box(svg)
    wide, high = room(paper)
    scale = max(READABLE, min(LARGEST, wide / across, high / tall))
    columns = _count(across * scale, wide)
    rows = _count(tall * scale, high)
    step = ((wide - OVERLAP) / scale, (high - OVERLAP) / scale)
    sheets = [
        PlanSheet(f"{_letter(row)}{column + 1}", row, column,
              (left + column * step[0], top + row * step[1], wide / scale, high / scale))
        for row in range(rows)
        for column in range(columns)
    ]  # fmt: skip
    kept = tuple(sheet for sheet in sheets if shows(svg, sheet.box))
    return Grid(scale, rows, columns, kept)


def sheets_html(svg: str, paper: str, title: str) -> str:
    """The plan as HTML to print, a sheet a page; the same becomes PDF. Raises KeyError for an unknown paper."""
    grid = cut(svg, paper)
    wide, high = PAPERS[paper]
    pages = "\n".join(_page(svg, grid, sheet, paper, title) for sheet in grid.sheets)
    css = (
        f"@page{{size:{wide}mm {high}mm;margin:0}}body{{margin:0;background:#fff}}"
        "svg.sheet{display:block;break-after:page;max-width:100%}svg.sheet:last-child{break-after:auto}"
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f"<style>{css}</style></head><body>\n{pages}\n</body></html>\n"
    )


def _page(svg: str, grid: Grid, sheet: PlanSheet, paper: str, title: str) -> str:
    wide, high = PAPERS[paper]
    across, down = room(paper)
    box = " ".join(map(number, sheet.box))
    top = MARGIN + HEAD
    names = {(s.row, s.column): s.name for s in grid.sheets}
    sides = {"left": (0, -1), "right": (0, 1), "above": (-1, 0), "below": (1, 0)}
    beside = [
        f"{side} {names[sheet.row + dy, sheet.column + dx]}"
        for side, (dy, dx) in sides.items()
        if (sheet.row + dy, sheet.column + dx) in names
    ]
    words = f"{title}: sheet {sheet.name}, {len(grid.sheets)} sheet{'s' if len(grid.sheets) > 1 else ''} in all"
    words += f"; {', '.join(beside)}; lay crosses upon crosses" if beside else ""
    inner = "\n".join(inside(svg, sheet.box))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="sheet" viewBox="0 0 {wide:g} {high:g}" width="{wide:g}mm" '
        f'height="{high:g}mm">\n<style>{STYLE}{MARKS}</style>\n'
        f'<text font-size="3.4" x="{MARGIN:g}" y="{MARGIN + 4:g}">{escape(words)}</text>\n'
        f'<svg x="{MARGIN:g}" y="{top:g}" width="{across:g}" height="{down:g}" viewBox="{box}" overflow="hidden">\n'
        f"{inner}\n</svg>\n{''.join(_marks(names, sheet, (across, down)))}</svg>"
    )


def _marks(names: dict[tuple[int, int], str], sheet: PlanSheet, size: tuple[float, float]) -> Iterator[str]:
    """The edge of what is shared with each neighbour, and crosses that lie upon those of the neighbour."""
    across, down = size
    left, top, right, low = MARGIN, MARGIN + HEAD, MARGIN + across, MARGIN + HEAD + down
    half = OVERLAP / 2
    for dx, x in ((-1, left + half), (1, right - half)):
        if (sheet.row, sheet.column + dx) in names:
            yield f'<path class="edge" d="M{x:g} {top:g}V{low:g}"/>'
            yield from (_cross(x, top + down * share) for share in (0.1, 0.5, 0.9))
    for dy, y in ((-1, top + half), (1, low - half)):
        if (sheet.row + dy, sheet.column) in names:
            yield f'<path class="edge" d="M{left:g} {y:g}H{right:g}"/>'
            yield from (_cross(left + across * share, y) for share in (0.1, 0.5, 0.9))


def _cross(x: float, y: float) -> str:
    return f'<path class="cross" d="M{x - 3:g} {y:g}h6M{x:g} {y - 3:g}v6"/>'


def inside(svg: str, box: tuple[float, float, float, float]) -> Iterator[str]:
    """The lines of a drawing that may be seen in a box; groups and the legend are kept whole."""
    drawn, legend = _parts(svg)
    for line in drawn.splitlines():
        if line.startswith(("<title>", "<desc>", '<rect class="paper"')):
            continue
        if not PLACE.search(line) or _here(line, box, REACH):
            yield line
    yield legend


def shows(svg: str, box: tuple[float, float, float, float]) -> bool:
    """Whether anything of a drawing is in a box."""
    return any(_here(line, box, 0.0) for line in _drawn(svg))


def _drawn(svg: str) -> Iterator[str]:
    """The lines of a drawing that show something."""
    drawn, _ = _parts(svg)
    yield from (
        line for line in drawn.splitlines() if PLACE.search(line) and not line.startswith('<rect class="paper"')
    )
    left, _, across, _ = _box(svg)
    if found := re.search(r'<g class="legend">\n<g transform="translate\((\S+) (\S+)\)"', svg):
        yield f'<path d="M{found[1]} {found[2]}L{number(left + across / 2)} {found[2]}"/>'


def _parts(svg: str) -> tuple[str, str]:
    """What is drawn, and the legend."""
    body = re.sub(r"<style>.*?</style>", "", svg[svg.index(">") + 1 : svg.rindex("</svg>")], flags=re.DOTALL)
    place = body.find('<g class="legend">')
    return (body, "") if place < 0 else (body[:place], body[place:])


def _here(line: str, box: tuple[float, float, float, float], more: float) -> bool:
    left, top, wide, high = box
    places = [(float(x), float(y)) for x, y in PLACE.findall(line)]
    if not places:
        return False
    xs, ys = [x for x, _ in places], [y for _, y in places]
    return (
        max(xs) + more >= left
        and min(xs) - more <= left + wide
        and max(ys) + more / 4 >= top
        and min(ys) - more / 4 <= top + high
    )


def _box(svg: str) -> tuple[float, float, float, float]:
    found = re.search(r'viewBox="(\S+) (\S+) (\S+) (\S+)"', svg)
    assert found is not None
    left, top, across, tall = map(float, found.groups())
    return left, top, across, tall


def _count(length: float, room_: float) -> int:
    return 1 if length <= room_ else ceil((length - OVERLAP) / (room_ - OVERLAP))


def _letter(row: int) -> str:
    return chr(ord("A") + row) if row < 26 else f"{_letter(row // 26 - 1)}{_letter(row % 26)}"

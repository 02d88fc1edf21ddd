"""Sheets of A5: blocks one below another, and a new sheet where one is full. Text is never smaller than 9 points."""

from __future__ import annotations

from itertools import groupby
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.style import STYLE, written
from netlister.draw.text import shortened, width
from netlister.svg import attribute, number, opening, point

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

SHEET = (210.0, 148.0)
"""A5, landscape, in mm."""

PER_MM = 4.0
WIDE, HIGH = SHEET[0] * PER_MM, SHEET[1] * PER_MM
EDGE = 26.0
BODY = 12.8
"""9 points and a little in units of the sheet: 9 / 72 x 25.4 x 4 = 12.7."""

LINE = BODY * 1.28
CLOSE = 0.92
"""How much closer lines and rows stand where that saves a sheet; letters stay as large."""

NEARLY_EMPTY = 0.35
"""A last sheet on which no more than this share is taken is worth saving."""

TOP, LOW = 78.0, HIGH - 30.0
BOX = 9.5
MANY_TICKS = 8
"""So many lines to tick in a row are worth two columns of their own."""

GAP = 8.0
"""Between the columns of a table."""

BOLD = 1.12
"""How much wider a bold text is."""


class Head(NamedTuple):
    """What stands at the top and the bottom of each sheet."""

    name: str
    heading: str
    under: str
    foot: str
    warning: str = ""


class Flow:
    """Sheets that fill up; `close`: with less between lines and rows."""

    def __init__(self, head: Head, *, close: bool = False) -> None:
        self.head = head
        self.line = LINE * (CLOSE if close else 1)
        self.pad = 1.5 if close else 3.0
        self.sheets: list[list[str]] = [[]]
        self.y = TOP
        self._titled = ""

    @property
    def lines(self) -> list[str]:
        """The sheet that is being filled."""
        return self.sheets[-1]

    @property
    def nearly_empty(self) -> bool:
        """Whether the last of several sheets holds little."""
        return len(self.sheets) > 1 and self.y - TOP <= NEARLY_EMPTY * (LOW - TOP)

    @property
    def room(self) -> float:
        """How wide a sheet is between its edges."""
        return WIDE - 2 * EDGE

    def new(self) -> None:
        """Begin a sheet, unless this one is still empty."""
        if self.y > TOP:
            self.sheets.append([])
            self.y = TOP

    def need(self, high: float) -> None:
        """Begin a sheet if there is no room for so much more."""
        if self.y + high > LOW:
            self.new()

    def write(self, x: float, y: float, text: str, size: float = BODY, *, bold: bool = False) -> None:
        """A line of text."""
        if text:
            self.lines.append(written(text, x, y, size, 'font-weight="bold"' if bold else ""))

    def heading(self, text: str, *, keep: float = 3.2) -> None:
        """A heading that stays with what follows: the head of a table and its first row, two lines of a text."""
        self.need(self.line * (1 + keep) + 7)
        if self.y > TOP:
            self.y += 5
        self._title(text)
        self._titled = text

    def _title(self, text: str) -> None:
        for line in broken(text, BODY, self.room / BOLD):
            self.write(EDGE, self.y + BODY, line, bold=True)
            self.y += self.line
        self.y += 2

    def _go_on(self) -> None:
        """Begin a sheet in the middle of something, and say of what."""
        self.new()
        if self._titled:
            self._title(f"{self._titled} (continued)")

    def text(self, text: str, *, bold: bool = False) -> None:
        """A paragraph."""
        for line in broken(text, BODY, self.room / (BOLD if bold else 1)):
            if self.y + self.line > LOW:
                self._go_on()
            self.write(EDGE, self.y + BODY, line, bold=bold)
            self.y += self.line
        self.y += self.pad

    def tick(self, text: str) -> None:
        """A line to do or to test, with a box in front of it."""
        self.ticks([text])

    def ticks(self, texts: Sequence[str]) -> None:
        """Lines to do or to test, a box in front of each: in two columns, read downwards, where each fits into half.

        Where some do not, only many in a row that do stand so: a few would be torn from what they belong to.
        """
        half = (self.room - 20) / 2
        for fits, group in groupby(texts, lambda text: width(text, BODY) <= half - 22):
            together = list(group)
            if fits and (1 < len(together) == len(texts) or len(together) >= MANY_TICKS):
                self._columns(together, half + 20)
            else:
                for text in together:
                    self._one(text)

    def _columns(self, left: list[str], step: float) -> None:
        """Short lines in two columns, read downwards."""
        high = self.line + self.pad
        while left:
            if self.y + high > LOW:
                self._go_on()
            rows = min(ceil(len(left) / 2), int((LOW - self.y) / high))
            here, left = left[: 2 * rows], left[2 * rows :]
            for place, text in enumerate(here):
                x, y = EDGE + step * (place // rows), self.y + high * (place % rows)
                self._box(x, y)
                self.write(x + 20, y + BODY, text)
            self.y += high * rows

    def _one(self, text: str) -> None:
        """A line with its box, broken where it is long."""
        lines = broken(text, BODY, self.room - 22)
        if self.y + self.line * len(lines) + self.pad > LOW:
            self._go_on()
        self._box(EDGE, self.y)
        for line in lines:
            self.write(EDGE + 20, self.y + BODY, line)
            self.y += self.line
        self.y += self.pad

    def _box(self, x: float, y: float) -> None:
        """A box to tick."""
        self.lines.append(f'<rect class="mark" x="{number(x + 1)}" y="{number(y + 3)}" width="{BOX}" height="{BOX}"/>')

    def table(self, of: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """A table with a box to tick in front of each row; its heads come again on a new sheet. Nothing is cut off.

        `of`: what its rows are, as a word for programs that read the sheet.
        """
        left = EDGE + 20
        columns = fitted(heads, rows, self.room - 20)
        places = [left + sum(columns[:k]) for k in range(len(columns))]
        widths = [column - GAP for column in columns]

        def top() -> None:
            for place, head in zip(places, heads, strict=True):
                self.write(place, self.y + BODY, head, bold=True)
            self.y += self.line
            self.lines.append(f'<path class="seam" d="M{point(left, self.y)}H{number(WIDE - EDGE)}"/>')
            self.y += 2

        if self.y + self.line * 2.5 > LOW:
            self._go_on()
        top()
        for row in rows:
            cells = [broken(cell, BODY, wide) for cell, wide in zip(row, widths, strict=True)]
            high = self.line * max(len(cell) for cell in cells) + self.pad
            if self.y + high > LOW:
                self._go_on()
                top()
            self._box(EDGE, self.y)
            self.lines.append(f'<g class="row" data-of="{of}" data-row="{attribute(" | ".join(row))}">')
            for place, cell in zip(places, cells, strict=True):
                for deep, line in enumerate(cell):
                    self.write(place, self.y + BODY + deep * self.line, line)
            self.lines.append("</g>")
            self.y += high
            self.lines.append(f'<path class="lead" d="M{point(left, self.y)}H{number(WIDE - EDGE)}"/>')
            self.y += 2
        self.y += 5

    def picture(self, high: float, draw: Callable[[float, float], list[str]]) -> None:
        """A drawing of a height that is known; `draw` takes the place of its upper left corner."""
        self.need(high)
        self.lines.extend(draw(EDGE, self.y))
        self.y += high

    def bodies(self) -> list[str]:
        """What is on each sheet, with its head and foot, without the element around it."""
        count = len(self.sheets)
        return ["\n".join([*self._frame(k + 1, count), *body]) for k, body in enumerate(self.sheets)]

    def _frame(self, place: int, count: int) -> list[str]:
        head, room = self.head, self.room
        page = f"sheet {place} of {count}"
        name = shortened(head.name, 26, room * 0.45)
        x = EDGE + width(name, 26) * BOLD + 14
        right = WIDE - EDGE - width(page, BODY) * BOLD
        warned = WIDE - EDGE - width(head.warning, BODY) * BOLD
        foot = shortened(head.foot, BODY, room)
        lines = [
            f'<rect class="paper" width="{number(WIDE)}" height="{number(HIGH)}" fill="#fff"/>',
            written(name, EDGE, 46, 26, 'font-weight="bold"'),
            written(shortened(head.heading, BODY, right - x - 8), x, 34, BODY, 'font-weight="bold"'),
            written(shortened(head.under, BODY, warned - x - 8), x, 54, BODY),
            written(page, right, 34, BODY, 'font-weight="bold"'),
            written(head.warning, warned, 54, BODY, 'font-weight="bold"'),
            f'<path class="bar" d="M{point(EDGE, 64)}H{number(WIDE - EDGE)}"/>',
            written(foot, EDGE, HIGH - 10, BODY, 'class="foot"'),
        ]
        return [line for line in lines if "></text>" not in line]


def one_sheet(body: str, title: str) -> str:
    """One sheet as SVG."""
    return _svg(body, title, 1)


def stacked(bodies: Sequence[str], title: str) -> str:
    """All sheets in one SVG, one below another."""
    inner = [
        f'<g class="sheet" transform="translate(0 {number(HIGH * k)})">\n{body}\n</g>' for k, body in enumerate(bodies)
    ]
    return _svg("\n".join(inner), title, len(bodies))


def _svg(body: str, title: str, count: int) -> str:
    box = f"0 0 {number(WIDE)} {number(HIGH * count)}"
    size = f"{number(SHEET[0])}mm", f"{number(SHEET[1] * count)}mm"
    begins = opening(box, size, 'role="img"', "card")
    return (
        f"{begins}\n<title>{attribute(title)}</title>\n"
        f"<style>{STYLE}@page{{size:A5 landscape;margin:0}}</style>\n{body}\n</svg>\n"
    )


def fitted(
    heads: Sequence[str], rows: Sequence[Sequence[str]], room: float, size: float = BODY, gap: float = GAP
) -> list[float]:
    """How wide each column of a table is in so much room, for letters of a size, with what lies between columns.

    As wide as its text where there is room for all; else the widest share what the others leave.
    """
    wanted = []
    for place, head in enumerate(heads):
        longest = max((width(row[place], size) for row in rows), default=0.0)
        wanted.append(max(width(head, size) * BOLD, longest) + gap)
    most = left = room
    for still, wide in zip(range(len(wanted), 0, -1), sorted(wanted), strict=True):
        most = left / still
        if wide > most:
            return [min(wide, most) for wide in wanted]
        left -= wide
    return [wide + left / len(wanted) for wide in wanted]


def broken(text: str, size: float, room: float) -> list[str]:
    """A text in lines no wider than `room`; a word that is wider goes on in the next line, so that nothing is lost."""
    lines: list[str] = []
    for word in text.split():
        left = word
        tried = f"{lines[-1]} {left}" if lines else left
        if lines and width(tried, size) <= room:
            lines[-1] = tried
            continue
        while width(left, size) > room and len(left) > 1:
            cut = next((n for n in range(len(left) - 1, 0, -1) if width(left[:n], size) <= room), 1)
            nicer = max(left.rfind(c, 2, cut) for c in "./-@")  # after a mark, and not after one letter
            cut = nicer + 1 if nicer > 0 and left[cut] not in "./-@" else cut
            lines.append(left[:cut])
            left = left[cut:]
        lines.append(left)
    return lines or [""]

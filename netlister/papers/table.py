"""Tables as text, CSV, HTML and spreadsheets: one way of writing for all papers."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime
from html import escape
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.text import width
from netlister.papers.sheets import fitted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "'")
"""A cell that starts so is taken for a formula by spreadsheets (or, with a quote, could not be told from one that was
guarded)."""


SHORT = 12
"""Names no longer than this stay in one line, where a cell has to be broken."""

LETTER, PADDING = 9.5 * 25.4 / 72, 2.7
"""How large the letters of a table are on paper, and what the edges of a cell take, in mm."""

ROOM = {"A4": 184.0, "Letter": 189.0, "A5": 122.0}
"""How wide a table may be, in mm: the paper without its margins, and a little less."""

_SHORT = ' class="short"'


class PaperMissingError(RuntimeError):
    """What is needed for a form of paper is not installed. The message says what to install."""


class Table(NamedTuple):
    """A table: its title, the heads of its columns, its rows, and remarks below it."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    remarks: tuple[str, ...] = ()


def without_empty(table: Table, heads: Sequence[str]) -> Table:
    """A table without those of these columns in which nothing stands."""
    kept = [k for k, head in enumerate(table.heads) if head not in heads or any(row[k] for row in table.rows)]
    rows = tuple(tuple(row[place] for place in kept) for row in table.rows)
    return table._replace(heads=tuple(table.heads[place] for place in kept), rows=rows)


def guarded(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: one that starts with ``= + - @`` gets a ``'`` in front.

    So does one that starts with ``'`` itself; taking one ``'`` off the front gives the name back, without exception.
    """
    return f"'{cell}" if cell.startswith(DANGEROUS) else cell


def unguarded(cell: str) -> str:
    """What `guarded` was given."""
    return cell.removeprefix("'")


def csv_text(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table as CSV by RFC 4180, with plain line ends."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    for row in rows:
        writer.writerow([guarded(cell) for cell in row])
    return out.getvalue()


def as_plain_text(tables: Iterable[Table]) -> str:
    """Tables as text."""
    return "\n".join(_plain(table) for table in tables)


def _plain(table: Table) -> str:
    rows = [table.heads, *table.rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(table.heads))]
    lines = [table.title] if table.title else []
    if table.rows:
        lines += ["  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    lines += table.remarks
    return "\n".join(lines) + "\n"


def html_table(table: Table, *, level: int = 2, paper: str = "A4") -> str:
    """A table as HTML for a size of paper, with everything from the file escaped.

    What fits into its column stays in one line; only what does not is broken, and names at their marks alone.
    """
    lines = [f"<h{level}>{escape(table.title)}</h{level}>"] if table.title else []
    if table.rows:
        heads = "".join(f'<th scope="col" class="short">{escape(h)}</th>' for h in table.heads)
        lines.append(f"<table><thead><tr>{heads}</tr></thead><tbody>")
        room = [wide - PADDING for wide in fitted(table.heads, table.rows, ROOM[paper], LETTER, PADDING)]
        for row in table.rows:
            cells = "".join(_cell(cell, wide) for cell, wide in zip(row, room, strict=True))
            lines.append(f"<tr>{cells}</tr>")
        lines.append("</tbody></table>")
    lines += [f"<p>{escape(remark)}</p>" for remark in table.remarks]
    return "\n".join(lines)


def _cell(cell: str, room: float) -> str:
    """A cell as markup. A long name may go on in the next line after its dots, and nowhere else without need."""
    if width(cell, LETTER) <= room:
        return f"<td{_SHORT}>{escape(cell)}</td>"
    return f"<td>{' '.join(_word(word) for word in cell.split(' '))}</td>"


def _word(word: str) -> str:
    """A word as markup: a name with hyphens or with marks is kept together, or broken after its marks if it is long."""
    if not re.search(r"[-./@]", word):
        return escape(word)
    parts = re.split(r"(?<=[./@])(?=[^./@])", word) if len(word) > SHORT else [word]
    return "<wbr>".join(f'<span class="whole">{escape(p)}</span>' if "-" in p else escape(p) for p in parts)


def xlsx(tables: Sequence[Table]) -> bytes:
    """Tables as a spreadsheet, a sheet each; every cell is text or a number, none a formula. The same bytes each time.

    Raises PaperMissingError where the library is not installed.
    """
    try:
        import xlsxwriter
    except ImportError:
        message = "for spreadsheets install the extra: pip install 'netlister[papers]'"
        raise PaperMissingError(message) from None
    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(out, options)
    book.set_properties({"created": datetime(2000, 1, 1, tzinfo=UTC)})
    bold = book.add_format({"bold": True, "bottom": 1})
    taken: set[str] = set()
    for table in tables:
        sheet = book.add_worksheet(_sheet_name(table.title, taken))
        sheet.set_landscape()
        sheet.set_paper(9)
        sheet.repeat_rows(0)
        sheet.freeze_panes(1, 0)
        for column, head in enumerate(table.heads):
            sheet.write_string(0, column, head, bold)
            longest = max([len(head), *(len(row[column]) for row in table.rows)])
            sheet.set_column(column, column, min(longest + 2, 60))
        for number, row in enumerate(table.rows, 1):
            for column, cell in enumerate(row):
                if _is_number(cell) and table.heads[column].endswith("_mm"):
                    sheet.write_number(number, column, float(cell))
                else:
                    sheet.write_string(number, column, cell)
    book.close()
    return out.getvalue()


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return cell.isascii() and cell[:1].isdigit()


def _sheet_name(title: str, taken: set[str]) -> str:
    """A name that a spreadsheet takes: at most 31 characters, none that it keeps for itself, none twice."""
    plain_name = "".join("-" if c in "[]:*?/\\'" else c for c in title)[:28] or "sheet"
    name, count = plain_name, 1
    while name.casefold() in taken or name.casefold() == "history":
        count += 1
        name = f"{plain_name[:26]} {count}"
    taken.add(name.casefold())
    return name

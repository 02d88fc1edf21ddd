"""The test sheet on the page: what to measure, to be ticked there, and what its script needs to name the fault."""

from __future__ import annotations

from html import escape
from itertools import chain
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.finding import Severity

if TYPE_CHECKING:
    from netlister.check import Report
    from netlister.layout.model import Layout
    from netlister.probe.faults import Fault
    from netlister.probe.sheet import Sheet
    from netlister.probe.text import SheetLine

MOST_PIECES = 120
"""Pieces of track up to which the page holds a test sheet; `netlister testsheet` makes it for any layout."""


class SheetPart(NamedTuple):
    """The section as HTML, and its data: nothing where there is no sheet."""

    html: str
    data: dict[str, Any]


def readings(layout: Layout, report: Report) -> SheetPart:
    """The test sheet of a layout for the page; why there is none, where the design is wrong or large."""
    why = ""
    if report.count(Severity.ERROR) or not report.proved:
        why = "The test sheet is here once the design has no error: until then a reading would tell nothing."
    elif len(layout.pieces) > MOST_PIECES:
        why = "This layout is too large for a test sheet on a page: netlister testsheet makes it, board by board."
    if why:
        return SheetPart(_section(f'<p class="hint">{escape(why)}</p>'), {})
    from netlister.probe.sheet import make_sheet, prepare

    made, faults = prepare(layout)
    sheet = make_sheet(made, faults)
    return SheetPart(_section(_body(sheet)), _data(sheet, faults))


def _data(sheet: Sheet, faults: list[Fault]) -> dict[str, Any]:
    """Per fault, also of those that no reading sees, its name and the readings that each way of making it turns."""
    from netlister.probe.forms import table

    seen = iter(sheet.seen_each)
    return {
        "expect": [int(reading.expect) for reading in sheet.readings],
        "faults": [[fault.name, list(fault.parts), [next(seen) for _ in fault.damages]] for fault in faults],
        "file": table(sheet),
    }


def _section(body: str) -> str:
    return f'<section class="tests" aria-labelledby="tests"><h2 id="tests">Test sheet</h2>\n{body}\n</section>'


def _body(sheet: Sheet) -> str:
    from netlister.probe.text import CAUTIONS, lines, traps

    cautions, meter = ("".join(f"<li>{escape(text)}" for text in some) for some in (CAUTIONS, traps(sheet)))
    rows = "\n".join(chain.from_iterable(_line(line) for line in lines(sheet)))
    unseen = "".join(f"<li>{escape(u.fault.name)}: {escape(u.why)}" for u in sheet.unseen)
    return (
        f'<div class="care"><p><b>Before you start</b><ul>{cautions}</ul></div>\n'
        f"<details><summary>What a meter gets wrong</summary><ul>{meter}</ul></details>\n"
        '<p class="hint script">What you mark stays in this browser, on this machine, and goes nowhere.</p>\n'
        f'<ol class="steps">\n{rows}\n</ol>\n'
        '<div class="card script" id="verdict" role="status"></div>\n'
        '<p class="row script"><button type="button" id="save-readings">Save the readings as CSV</button> '
        '<button type="button" id="clear-readings">Clear all readings</button> <span id="readings-said"></span></p>\n'
        + (
            f"<details><summary>What no reading of this sheet sees</summary><ul>{unseen}</ul></details>"
            if unseen
            else ""
        )
    )


def _line(line: SheetLine) -> list[str]:
    if line.what == "head":
        return [f'<li class="setting"><h3>{escape(line.text)}</h3>']
    if line.what in {"do", "clip"}:
        return [f"<li>{escape(line.text)}"]
    a, b = (f"<code>{escape(probe)}</code>" for probe in line.probes)
    said = f"{line.number}. {a} to {b} must be <b>{escape(line.expect)}</b>"
    if line.expect not in {"beep", "silent"}:
        return [f'<li class="reading-row"><p>{said} ({escape(line.text)})</p>']
    choices = "".join(
        f'<label><input type="radio" name="reading-{line.number}" value="{value}"> {word}</label> '
        for value, word in ((1, "beeps"), (0, "silent"))
    )
    return [
        (
            f'<li class="reading-row" id="reading-{line.number}"><fieldset><legend>{said}</legend>'
            f'<span class="box"></span><span class="script">{choices}</span></fieldset>'
        )
    ]

"""All papers in one: title, contents, plan, colours, cards, schedule, terminal tables, list, order of work."""

from __future__ import annotations

import re
from html import escape
from math import ceil
from typing import TYPE_CHECKING

from netlister.circuit.colours import colour_plan, spoken, spoken_key
from netlister.draw.pages import inside, shows
from netlister.draw.plan import plan_svg
from netlister.draw.style import STYLE
from netlister.outputs.kind_sheet import CAUTION
from netlister.papers import materials, schedule, steps, terminals
from netlister.papers.flat import CSS, flat, image
from netlister.papers.page import page, warned
from netlister.papers.table import Table, html_table
from netlister.svg import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.papers.card import Cards

PARTS = ("plan", "colours", "order", "schedule", "terminals", "materials", "test", "cards")
TITLES = {
    "plan": "Plan",
    "colours": "Colours",
    "order": "Order of work",
    "schedule": "Wire schedule",
    "terminals": "Terminals and plugs",
    "materials": "Materials",
    "test": "Test sheet",
    "cards": "Cards",
}


NO_TEST = "no test sheet: of a wiring that is wrong or not proved its readings would tell nothing. Mend it, print again"
"""What stands in place of the test sheet of such a wiring."""

MOST_WARNINGS = 12


def workbook(  # noqa: PLR0913 -- all that is chosen of a workbook
    of: Cards,
    parts: tuple[str, ...] = PARTS,
    *,
    board: str = "",
    size: str = "A4",
    warnings: Sequence[str] = (),
    for_pdf: bool = False,
) -> str:
    """The workbook as HTML; of `parts` those that are asked for, in the order in which they are used.

    `warnings`: what the check warns of, for the first page. `for_pdf`: drawings as `flat` makes them.
    """
    layout = of.layout
    title = layout.title or layout.name
    wanted = [part for part in PARTS if part in parts]
    body = [f"<h1>{escape(title)}</h1>", f"<p>Workbook for the wiring; {escape(of.version)}</p>"]
    if board:
        body.append(f"<p>Board {escape(board)}</p>")
    body += [f'<p class="caution">{escape(said)}</p>' for said in warned(of.version)]
    left_out = bool(warned(of.version)) and "test" in wanted
    if left_out:
        wanted.remove("test")
        body.append(f"<p>{escape(NO_TEST[0].upper() + NO_TEST[1:])}.</p>")
    body += _warnings(warnings)
    if layout.notes:
        body.append(f"<p>{escape(layout.notes)}</p>")
    body.append(f'<p class="caution">{escape(CAUTION)}</p>')
    body.append("<nav><h2>Contents</h2><ol>")
    body += [f'<li><a href="#{part}">{TITLES[part]}</a></li>' for part in wanted]
    body.append("</ol>")
    if "cards" in wanted:
        named = [f'<li><a href="#card-{k}">{escape(name)}</a></li>' for k, name in enumerate(of.on(board))]
        body.append(f'<h2>Cards</h2><ul class="cards">{"".join(named)}</ul>')
    body.append("</nav>")
    for part in wanted:
        head = "" if part == "cards" else f"<h1>{TITLES[part]}</h1>"  # sheets of cards have the whole of a page
        beside = part == "colours" and "plan" in wanted  # a short table: below the plan where there is room for it
        body.append(f'<section class="{"beside" if beside else "new"}" id="{part}">{head}')
        body += _part(of, part, board, size, for_pdf=for_pdf)
        body.append("</section>")
    html = page(title, "\n".join(body), version=of.version, size=size)
    return html.replace("</style></head>", f"{CSS if for_pdf else ''}{_MORE}</style></head>", 1)


def _warnings(warnings: Sequence[str]) -> Iterator[str]:
    """What the check warns of: no error, but to be read before anything is soldered."""
    if warnings:
        several = "s" * (len(warnings) > 1)
        yield f"<h2>The check warns of {len(warnings)} thing{several}; read before you solder</h2><ul>"
        yield from (f"<li>{escape(said)}</li>" for said in warnings[:MOST_WARNINGS])
        if len(warnings) > MOST_WARNINGS:
            yield f"<li>and {len(warnings) - MOST_WARNINGS} more: run 'netlister check'</li>"
        yield "</ul>"


CARD = {"A4": 144.9, "Letter": 136.1}
"""How high a sheet of a card is in mm, of which two stand on a page."""

_MORE = """\
ul.cards{columns:3;column-gap:8mm;list-style:none;padding:0}
.beside{margin-top:8mm;break-inside:avoid}.planpart{break-inside:avoid}
nav a::after{content:leader('.') target-counter(attr(href), page)}
.cardsheet{margin:0 0 4mm;border:.3mm solid #777}
.cardsheet svg,.plansheet svg,.plansheet img{display:block;width:100%;height:auto}
@page cards{margin:0 0 6mm;@top-left{content:none}@top-right{content:none}@bottom-right{padding:0 8mm 2mm 0}}
@media print{.plansheet svg,.plansheet img{width:185mm;max-height:235mm}
.letter .plansheet svg,.letter .plansheet img{max-height:217mm}
.cardsheet{page:cards;break-inside:avoid;margin:0;border:0;border-bottom:.2mm dashed #777;height:144.9mm}
.letter .cardsheet{height:136.1mm}.cardsheet svg{height:100%;margin:auto}}
"""
"""Two sheets of cards on a page, cut apart along the line: on A4 at 98 % of their size of A5, 8.9 points. Browsers
round widths of lines up to whole pixels, so half a millimetre is left over.
"""


def _part(of: Cards, part: str, board: str, size: str, *, for_pdf: bool) -> Iterator[str]:
    layout = of.layout
    lines = [line for line in of.lines if not board or board in line.boards]
    if part == "plan":
        rest = tuple(v.rest for v in of.circuit.variables)
        yield "<p>Everything as it rests. To print it larger: 'netlister draw' with -o plan.svg.</p>"
        for said, sheet in divided(bare(plan_svg(of.circuit, rest))):
            shown = image(sheet) if for_pdf else sheet
            yield f'<div class="{size.lower()} planpart"><p>{said}</p><div class="plansheet">{shown}</div></div>'
    elif part == "colours":
        yield html_table(colour_table(of), paper=size)
    elif part == "schedule":
        yield from (f"<p>{escape(remark)}</p>" for remark in schedule.remarks(lines))
        yield from (html_table(table, paper=size) for table in schedule.tables(lines))
    elif part == "terminals":
        yield from (f"<p>{escape(remark)}</p>" for remark in schedule.of_colours(of.lines))
        yield from (html_table(table, paper=size) for table in terminals.tables(layout, of.lines, board))
    elif part == "materials":
        yield from (html_table(table, paper=size) for table in materials.materials(layout, lines, board=board))
        yield from (f"<p>{escape(remark)}</p>" for remark in materials.remarks(lines))
    elif part == "order":
        yield from (f'<p class="caution">{escape(remark)}</p>' for remark in steps.remarks(of))
        yield from (html_table(table, paper=size) for table in steps.steps(of, board))
    elif part == "test":
        yield from _test_sheet(of, board)
    else:
        yield f'<div class="{size.lower()}">'
        for k, name in enumerate(of.on(board)):
            for number, sheet in enumerate(of.sheets(name)):
                mark = f' id="card-{k}"' if number == 0 else ""
                shown = flat(bare(sheet), CARD[size]) if for_pdf else bare(sheet)
                yield f'<div class="cardsheet"{mark}>{shown}</div>'
        yield "</div>"


READABLE = (1150.0, 1350.0)
"""So much of a plan, in its own units, fits a page with letters that can be read: names are then about 2 mm high."""

LAP = 60.0
"""How far the pages of a divided plan overlap."""

MOST_PAGES = 24


def divided(svg: str) -> Iterator[tuple[str, str]]:
    """A plan on one page; a large one also in parts that can be read, each with where it lies. Words are markup."""
    found = re.search(r'viewBox="([-\d. ]+)"', svg)
    assert found is not None
    x, y, wide, high = (float(n) for n in found[1].split())
    columns, rows = ceil(wide / READABLE[0]), ceil(high / READABLE[1])
    several = columns * rows > 1 and columns * rows <= MOST_PAGES
    yield ("The whole; larger in parts on the pages that follow." if several else "", svg)
    if not several:
        return
    each = (wide / columns, high / rows)
    for row in range(rows):
        for column in range(columns):
            box = (x + column * each[0] - LAP, y + row * each[1] - LAP, each[0] + 2 * LAP, each[1] + 2 * LAP)
            if not shows(svg, box):
                continue
            head = svg[: svg.index(">") + 1].replace(found[0], f'viewBox="{" ".join(number(n) for n in box)}"', 1)
            head = re.sub(r' width="[^"]*" height="[^"]*"', "", head, count=1)
            said = f"Row {row + 1} of {rows}, part {column + 1} of {columns} from the left."
            yield said, "\n".join([head, f"<style>{STYLE}</style>", *inside(svg, box), "</svg>"])


def _test_sheet(of: Cards, board: str) -> list[str]:
    """The test sheet. Of a wiring with errors a reading tells nothing; its version says so on every sheet."""
    from netlister.probe.forms import STYLE, body
    from netlister.probe.sheet import make_sheet, prepare

    return [f"<style>{STYLE}</style>", *body(make_sheet(*prepare(of.layout)), board)]


def bare(svg: str) -> str:
    """A drawing without the paper that its own style asks for; the rest of it is needed, once per drawing, for PDF."""
    return re.sub(r"@page\{[^}]*\}", "", svg, count=1)


def colour_table(of: Cards) -> Table:
    """The plan of colours: what each is for, whether it is written or chosen, and how many wires have it."""
    made = colour_plan(of.layout)
    rows = []
    for key, colour in made.colours.items():
        count = sum(1 for wire in made.wires if wire.key == key)
        rows.append(
            (spoken(colour), spoken_key(key), "the layout" if key in made.stated else "chosen here", str(count))
        )
    remarks = (
        *schedule.of_colours(of.lines),
        "Letters by IEC 60757. Green and yellow together are for protective earth alone and are never chosen.",
        "To keep a colour that was chosen here, write it under 'colours' of its bus or as 'colour' of the wire.",
    )
    return Table("Which colour is for what", ("colour", "for", "from", "wires"), tuple(rows), remarks)

"""A test sheet as text, as CSV to fill in and as a page to print."""

from __future__ import annotations

import csv
import io
from html import escape
from typing import TYPE_CHECKING

from netlister.probe.text import CAUTIONS, SheetLine, lines, not_looked_for, sheet_object, traps

if TYPE_CHECKING:
    from netlister.probe.sheet import Sheet


def title_of(sheet: Sheet, board: str = "") -> str:
    """The title of a sheet."""
    title = f"Test sheet: {sheet.made.layout.title or sheet.made.layout.name}"
    return f"{title}, board {board}" if board else title


def text(sheet: Sheet, board: str = "") -> str:
    """A sheet as plain text; with `board` as `lines` says."""
    out = [title_of(sheet, board), ""]
    out += [f"! {c}" for c in CAUTIONS]
    out += ["", *(f"- {t}" for t in traps(sheet))]
    made = lines(sheet, board)
    wide = max((len(n) for line in made for n in line.probes), default=0)
    for line in made:
        if line.what == "head":
            out += ["", line.text, "-" * len(line.text)]
        elif line.what != "read":
            out.append(f"      {line.text}")
        else:
            out.append(f"[ ] {line.number:3}  {line.probes[0]:{wide}}  {line.probes[1]:{wide}}  {line.expect}")
    out += ["", _summary(sheet), not_looked_for(sheet.made)]
    if sheet.unseen:
        out += ["", "What no reading of this sheet sees:"]
        out += [f"  {u.fault.name}\n      {u.why}" for u in sheet.unseen]
    return "\n".join(out) + "\n"


def _number(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _summary(sheet: Sheet) -> str:
    how = "no sheet from these positions has fewer" if sheet.least else "a shorter one was not ruled out"
    if sheet.walk:
        how = "a full walk"
    seen, all_faults = len(sheet.faults), len(sheet.faults) + len(sheet.unseen)
    return (
        f"{_number(len(sheet.readings), 'reading')} ({how}), {_number(sheet.throws, 'throw')}; they see {seen} of "
        f"{all_faults} single "
        f"faults, which fall into {max(sheet.classes, default=0)} groups that readings tell apart."
    )


def csv_to_fill(sheet: Sheet) -> str:
    """A sheet as CSV to fill in: what `diagnose` reads, with the reading left empty and what is expected behind it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["supply", "acts", "set", "probe-1", "probe-2", "reading", "expect", "number"])
    for r in sheet_object(sheet)["readings"]:
        where = " ".join(f"{name}={position}" for name, position in r["set"].items())
        writer.writerow([r["supply"], " ".join(r["acts"]), where, *r["probes"], "", r["expect"], r["number"]])
    return out.getvalue()


STYLE = """
.sheet-test .caution{border:2pt solid #111;padding:2mm 4mm;font-weight:normal}
.sheet-test .caution ul,.sheet-test .traps ul{margin:1mm 0;padding-left:5mm}
.sheet-test table{border-collapse:collapse;width:100%;table-layout:fixed;font-size:11pt}.traps{margin-top:3mm}
.sheet-test td,.sheet-test th{border:0;border-bottom:.4pt solid #767676;padding:.8mm 2mm;text-align:left}
.sheet-test th{background:none}.sheet-test .box{width:9mm}
td.box span{display:inline-block;width:4.5mm;height:4.5mm;border:1pt solid #111}
.sheet-test .number{width:9mm;text-align:right}.sheet-test .expect{width:28mm;font-weight:bold}
.sheet-test td,.sheet-test th{overflow-wrap:anywhere}.sheet-test .write{width:26mm}
.sheet-test tr.clip{break-after:avoid}p.do{margin:1.2mm 0;break-after:avoid}.sheet-test tr{break-inside:avoid}
"""

PAGE = """
body{font:11pt/1.35 sans-serif;max-width:190mm;margin:8mm auto;padding:0 4mm;color:#111;background:#fff}
h1{font-size:16pt;margin:0 0 3mm}h2{font-size:12pt;margin:5mm 0 1mm;break-after:avoid}
@page{size:A4;margin:12mm}@media print{body{margin:0;max-width:none;padding:0}}
"""


def page(sheet: Sheet, board: str = "") -> str:
    """A sheet as one HTML file to print, with boxes to tick; with `board` as `lines` says."""
    title = escape(title_of(sheet, board))
    out = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">",
        f'<meta name="viewport" content="width=device-width"><title>{title}</title>',
        f"<style>{PAGE}{STYLE}</style></head><body>",
        f"<h1>{title}</h1>",
        *body(sheet, board),
        "</body></html>",
    ]
    return "\n".join(out) + "\n"


def body(sheet: Sheet, board: str = "") -> list[str]:
    """A sheet as HTML without the page around it; its style is `STYLE`."""
    out = [
        '<div class="sheet-test"><section class="caution"><strong>Before you start</strong><ul>',
        *(f"<li>{escape(c)}</li>" for c in CAUTIONS),
        "</ul></section>",
        '<section class="traps"><strong>What a meter gets wrong</strong><ul>',
        *(f"<li>{escape(t)}</li>" for t in traps(sheet)),
        "</ul></section>",
    ]
    inside = False
    for line in lines(sheet, board):
        inside = _row(out, line, inside=inside)
    if inside:
        out.append("</tbody></table>")
    out.append(f"<p>{escape(_summary(sheet))} {escape(not_looked_for(sheet.made))}</p>")
    if sheet.unseen:
        out.append("<h2>What no reading of this sheet sees</h2><ul>")
        out += [f"<li>{escape(u.fault.name)}: {escape(u.why)}</li>" for u in sheet.unseen]
        out.append("</ul>")
    return [*out, "</div>"]


def _row(out: list[str], line: SheetLine, *, inside: bool) -> bool:
    """Write a line of the sheet; `inside`: whether a table is open. Gives whether one is open after it."""
    wanted = line.what in {"clip", "read"}
    if inside and not wanted:
        out.append("</tbody></table>")
    if wanted and not inside:
        out.append(
            "<table><thead><tr><th class='box'>ok</th><th class='number'>no.</th>"
            "<th>one lead</th><th>other lead</th><th class='expect'>must be</th>"
            "<th class='write'>is</th></tr></thead><tbody>"
        )
    if line.what == "head":
        out.append(f"<h2>{escape(line.text)}</h2>")
    elif line.what == "do":
        out.append(f'<p class="do">\u25b8 {escape(line.text)}</p>')
    elif line.what == "clip":
        out.append(f'<tr class="clip"><td colspan="6">\u25b8 {escape(line.text)}</td></tr>')
    else:
        out.append(
            f'<tr><td class="box"><span></span></td><td class="number">{line.number}</td>'
            f"<td>{escape(line.probes[0])}</td><td>{escape(line.probes[1])}</td>"
            f'<td class="expect">{escape(line.expect)}</td><td class="write"></td></tr>'
        )
    return wanted

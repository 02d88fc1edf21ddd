"""A page of HTML for papers, printed on A4, Letter or A5, and the same as PDF."""

from __future__ import annotations

from html import escape

from netlister.papers.flat import CSS as FLAT
from netlister.papers.flat import flat
from netlister.papers.sheets import SHEET
from netlister.papers.table import PaperMissingError

WRONG = "DO NOT BUILD"
"""How the version of a layout ends whose wiring has errors or is not proved."""

SIZES = {"A4": "210mm 297mm", "Letter": "8.5in 11in", "A5": "148mm 210mm"}

CSS = """\
@page{size:%(size)s;margin:14mm 12mm 16mm;
@top-left{content:"%(name)s";font:8pt sans-serif}@top-right{content:"%(version)s";font:%(weight)s 8pt sans-serif}
@bottom-right{content:"page " counter(page) " of " counter(pages);font:8pt sans-serif}}
body{font:9.5pt/1.35 'DejaVu Sans','Liberation Sans',Arial,sans-serif;color:#111;background:#fff}
body{max-width:72em;margin:0 auto}
h1{font-size:17pt;margin:0 0 2mm}h2{font-size:12pt;margin:6mm 0 1.5mm;break-after:avoid}
h3{font-size:10.5pt;margin:4mm 0 1mm;break-after:avoid}
table{border-collapse:collapse;width:100%%;margin:0 0 3mm}
thead{display:table-header-group}tr{break-inside:avoid}
th,td{border:.25mm solid #777;padding:.6mm 1.2mm;text-align:left;vertical-align:top;overflow-wrap:break-word}
table+p{break-before:avoid}
th{background:#e8e8e8}.short,.whole{white-space:nowrap}p{margin:1.5mm 0}ul{margin:1mm 0;padding-left:5mm}
.sheet{break-before:page;text-align:center}.sheet svg,.sheet img{width:100%%;height:auto}
.new{break-before:page}.caution{border:.5mm solid #111;padding:2mm;font-weight:bold}
nav a{color:inherit}
@media screen{body{padding:0 4mm}}
@media screen and (max-width:45em){table{display:block;overflow-x:auto}}
"""


def page(title: str, body: str, *, version: str = "", size: str = "A4", language: str = "en") -> str:
    """A whole page of HTML; `body` is markup that is escaped already.

    Raises KeyError for an unknown size.
    """
    weight = "bold" if version.endswith(WRONG) else "normal"
    css = CSS % {"size": SIZES[size], "name": _quoted(title), "version": _quoted(version), "weight": weight}
    return (
        f'<!DOCTYPE html>\n<html lang="{language}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{escape(title)}</title><style>{css}</style></head><body>\n{body}\n</body></html>\n"
    )


def warned(version: str) -> list[str]:
    """The caution for papers of a wiring that is wrong or not proved, by its version; nothing for any other."""
    if not version.endswith(WRONG):
        return []
    return [f"{WRONG} FROM THIS: the wiring is wrong or not proved. Run 'netlister check', mend it, print again."]


def _quoted(text: str) -> str:
    """A text inside a string of CSS inside a style element: nothing of it can end either."""
    return "".join(c if c.isalnum() or c in " .,-_()" else f"\\{ord(c):06x} " for c in text)


def pdf(html: str) -> bytes:
    """A page as PDF, the same bytes each time. Nothing is fetched.

    Raises PaperMissingError where the library, or Pango on which it stands, is not installed.
    """
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError):
        message = "for PDF install the extra: pip install 'netlister[papers]' (and your system's Pango)"
        raise PaperMissingError(message) from None
    data: bytes = HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=("data",))).write_pdf()
    return data


def sheets_pdf(sheets: list[str]) -> bytes:
    """Sheets of cards (SVG, A5 landscape) as PDF, a page each.

    Raises PaperMissingError as `pdf` does.
    """
    css = "@page{size:210mm 148mm;margin:0}body{margin:0;font-family:'DejaVu Sans',sans-serif;color:#1a1a1a}"
    css += f".page{{break-after:page;height:147.9mm;overflow:hidden}}{FLAT}"
    body = "\n".join(f'<div class="page">{flat(sheet, SHEET[1])}</div>' for sheet in sheets)
    return pdf(
        f'<!DOCTYPE html>\n<html><head><meta charset="utf-8"><style>{css}</style></head><body>{body}</body></html>'
    )

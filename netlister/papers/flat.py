"""Drawings on pages that become PDF: as images, with their texts beside them as text of the page.

What makes the PDF sets the text of a drawing letter by letter, and matches every rule of the page with every line of a
drawing that stands in it; so it is several times as fast.
"""

from __future__ import annotations

import re
from base64 import b64encode
from html import unescape

from netlister.papers.sheets import HIGH, WIDE
from netlister.svg import attribute

BASELINE = (1 + 0.928 - 0.236) / 2
"""How far below the top of a line as high as its letters their baseline is (from the font DejaVu Sans itself)."""

CSS = """\
.flat{position:relative;overflow:hidden}.flat img{position:absolute;left:0;top:0}
.flat p{position:absolute;margin:0;white-space:pre;line-height:1;width:100%}
"""

_TAG = re.compile(r"<g\b[^>]*>|</g>|<text\b([^>]*)>([^<]*)</text>")
_PAPER = re.compile(r'<rect class="paper"[^>]*/>')
_VALUE = re.compile(r'([\w-]+)="([^"]*)"')


def image(svg: str, style: str = "") -> str:
    """A drawing as an image of a page."""
    data = b64encode(svg.encode("utf-8", "surrogateescape")).decode()
    styled = f' style="{style}"' if style else ""
    return f'<img alt=""{styled} src="data:image/svg+xml;base64,{data}">'


def flat(svg: str, high: float) -> str:
    """A sheet of a card so high in mm, its texts as text of the page. Those that are turned or coloured stay drawn.

    Its white paper is left out: it would hide the line to cut along, above it on the page.
    """
    scale = high / HIGH
    inside: list[bool] = []
    texts: list[str] = []

    def lifted(found: re.Match[str]) -> str:
        tag = found[0]
        if tag.startswith("<g"):
            inside.append("transform=" in tag)
        elif tag == "</g>":
            inside.pop()
        elif not any(inside) and 'class="letter' not in tag:
            values = dict(_VALUE.findall(found[1]))
            size = float(values["font-size"])
            left, top = float(values["x"]) * scale, (float(values["y"]) - BASELINE * size) * scale
            bold = ";font-weight:bold" if values.get("font-weight") == "bold" else ""
            place = f"left:{left:.2f}mm;top:{top:.2f}mm;font-size:{size * scale:.3f}mm{bold}"
            texts.append(f'<p style="{place}">{attribute(unescape(found[2]))}</p>')
            return ""
        return tag

    left_over = _TAG.sub(lifted, _PAPER.sub("", svg, count=1))
    wide = WIDE * scale
    drawn = image(left_over, f"width:{wide:.2f}mm;height:{high:.2f}mm")
    inner = "\n".join([drawn, *texts])
    return f'<div class="flat" style="width:{wide:.2f}mm;height:{high:.2f}mm;margin:auto">{inner}</div>'

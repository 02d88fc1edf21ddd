"""PNG and PDF of the drawings, through their SVG."""

from __future__ import annotations

FORMATS = ("svg", "png", "pdf")
WIDE = 1600
"""Pixels across a PNG."""


class PictureMissingError(RuntimeError):
    """What is needed to convert a drawing is not installed. The message says what to install."""


def convert(svg: str, form: str) -> bytes:
    """A drawing as the bytes of a file: `svg`, `png` (WIDE pixels across) or `pdf`.

    Raises PictureMissingError where the library for PNG and PDF is not installed.
    """
    if form == "svg":
        return svg.encode("utf-8")
    try:
        import cairosvg
    except (ImportError, OSError):  # the library itself, or the one that it stands on
        message = f"for {form.upper()} install the extra: pip install 'netlister[pictures]' (and your system's cairo)"
        raise PictureMissingError(message) from None
    made = cairosvg.svg2png if form == "png" else cairosvg.svg2pdf
    size = {"output_width": WIDE} if form == "png" else {}
    data: bytes = made(bytestring=svg.encode("utf-8"), unsafe=False, **size)
    return data

"""What all pictures have in common: how a picture begins, coordinates, and texts with what means something escaped."""

from __future__ import annotations

from html import escape


def opening(box: str, size: tuple[str, str], more: str, kind: str = "") -> str:
    """The first tag of a picture. `box`: left, top, width and height; `kind`: its class; `more`: further attributes."""
    called = f' class="{kind}"' if kind else ""
    width, height = size
    return f'<svg xmlns="http://www.w3.org/2000/svg"{called} viewBox="{box}" width="{width}" height="{height}" {more}>'


def number(value: float) -> str:
    """A coordinate to a tenth."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def point(x: float, y: float) -> str:
    """A point of a path."""
    return f"{number(x)} {number(y)}"


def attribute(text: str) -> str:
    """Text inside an attribute or an element, with everything escaped that means something there."""
    return escape(clean(text), quote=True)


def clean(text: str) -> str:
    """Text without the characters that XML does not know."""
    return "".join(
        c if c >= " " and c not in "\ufffe\uffff" and not "\ud800" <= c <= "\udfff" else "\ufffd" for c in text
    )

"""What a page has that follows its file: places for its key and version, and a banner for a file that has faults."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from netlister.source import Span, UnusableError


class LivePage(NamedTuple):
    """Of a page that follows its file. `desk`: what can be changed on it; None where it only shows."""

    desk: dict[str, Any] | None = None


PAGE_KEY, PAGE_VERSION = "@page-key@", "@page-version@"
"""What the server puts the key and the version in place of, the first time each stands in a page."""

MARKS = f'<meta name="page-key" content="{PAGE_KEY}">\n<meta name="page-version" content="{PAGE_VERSION}">\n'

BANNER_PLACE = "<!-- banner -->\n"

MOST_FAULTS = 12
"""Faults that the banner lists."""


def with_faults(page: str, name: str, error: UnusableError, text: str | None) -> str:
    """The last good page of a file, with the faults that it has now and the lines of its text where they stand.

    `text`: of the file as it is now; None where it could not be read.
    """
    lines = [] if text is None else text.split("\n")
    listed = [
        f"<li><code>{escape(str(fault.span))}</code> {escape(fault.message)}{_line(fault.span, name, lines)}</li>"
        for fault in error.faults[:MOST_FAULTS]
    ]
    more = len(error.faults) - MOST_FAULTS
    rest = f"<li>and {more} more, in the terminal</li>" if more > 0 else ""
    banner = (
        '<section class="banner" role="alert" aria-labelledby="banner"><h2 id="banner">The file cannot be used as it '
        "is now</h2><p>All below shows it as it was before the last save. Nothing of what is in the file now was "
        f"checked.</p><ul>{''.join(listed)}{rest}</ul></section>\n"
    )
    return page.replace(BANNER_PLACE, BANNER_PLACE + banner, 1)


def _line(at: Span, name: str, lines: list[str]) -> str:
    """The line of a fault with a mark under its place; behind the end of the text, the last line with something."""
    if at.file != name or not lines:
        return ""
    number = min(at.line, len(lines))
    while number > 1 and not lines[number - 1].strip():
        number -= 1
    line = lines[number - 1].rstrip("\r")
    column = at.column if number == at.line else len(line) + 1
    start = f"{number}: "
    return (
        f'<pre tabindex="0" role="region" aria-label="line {number}">{escape(start + line)}\n'
        f"{' ' * (len(start) + column - 1)}^</pre>"
    )

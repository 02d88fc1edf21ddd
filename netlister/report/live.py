"""What a page has that follows its file: places for its key and version, and a banner for a file that has faults."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from netlister.source import UnusableError


class Live(NamedTuple):
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
    listed = []
    for fault in error.faults[:MOST_FAULTS]:
        at = fault.span
        line = lines[at.line - 1].rstrip("\r") if fault.span.file == name and 0 < at.line <= len(lines) else ""
        shown = ""
        if line.strip():
            mark = " " * (at.column - 1) + "^"
            shown = f'<pre tabindex="0" aria-label="line {at.line}">{escape(f"{at.line}: {line}")}\n'
            shown += f"{' ' * len(f'{at.line}: ')}{mark}</pre>"
        listed.append(f"<li><code>{escape(str(at))}</code> {escape(fault.message)}{shown}</li>")
    more = len(error.faults) - MOST_FAULTS
    rest = f"<li>and {more} more, in the terminal</li>" if more > 0 else ""
    banner = (
        '<section class="banner" role="alert" aria-labelledby="banner"><h2 id="banner">The file cannot be used as it '
        "is now</h2><p>All below shows it as it was before the last save. Nothing of what is in the file now was "
        f"checked.</p><ul>{''.join(listed)}{rest}</ul></section>\n"
    )
    return page.replace(BANNER_PLACE, BANNER_PLACE + banner, 1)

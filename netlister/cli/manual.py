"""`netlister manual`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from netlister.cli.common import write
from netlister.source import suggest

if TYPE_CHECKING:
    from netlister.manual.pages import ManualPage

MOST = 20
"""Places that are listed."""


@click.command("manual")
@click.argument("words", metavar="[PAGE|WORD]...", nargs=-1)
@click.option("--site", "folder", metavar="FOLDER", help="Write the whole manual as pages for a browser here.")
def command(words: tuple[str, ...], folder: str | None) -> None:
    """Read the manual: a PAGE, or every place where all the WORDs stand. Without either, list its pages.

    With --site it is written as pages for a browser, which need no server and fetch nothing; the search works in them.
    """
    from netlister.cli.main import group
    from netlister.manual.pages import every_page

    pages = every_page(group)
    if folder is not None:
        if words:
            raise click.UsageError("--site writes all pages; leave the words out")
        _write_site(pages, folder)
    elif not words:
        write(_listing(pages))
    else:
        _read(pages, words)


def _write_site(pages: list[ManualPage], folder: str) -> None:
    from netlister.manual.site import SiteError, build_site

    try:
        first = build_site(pages, Path(folder))
    except SiteError as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"wrote {first}", err=True)


def _listing(pages: list[ManualPage]) -> str:
    from netlister.formats.text import listing

    made = [page for page in pages if "/" in page.name]
    rules, kinds = (sum(page.name.startswith(f"{kind}/") for page in made) for kind in ("rules", "kinds"))
    return (
        listing((page.name, page.title) for page in pages if page not in made)
        + f"\nand a page for each of {rules} rules and {kinds} kinds of track piece, by its name: "
        "'netlister manual dead-track'.\n"
        "'netlister manual WORDS' finds words, '--site FOLDER' writes it for a browser.\n"
    )


def _read(pages: list[ManualPage], words: tuple[str, ...]) -> None:
    from netlister.manual.pages import search

    name = " ".join(words)
    page = next((page for page in pages if name in {page.name, page.name.partition("/")[2]}), None)
    if page is not None:
        write(page.text)
        return
    found = search(pages, words)
    if not found:
        hint = suggest(name, [page.name for page in pages])
        message = f"the manual has no page '{name}' and no place with these words{hint}"
        raise click.BadParameter(message)
    if len(found) == 1:
        write(f"{found[0].page.name}: {found[0].heading}\n\n{found[0].text}\n")
        return
    lines = [f"{section.page.name}: {section.heading}" for section in found[:MOST]]
    if len(found) > MOST:
        lines.append(f"and {len(found) - MOST} more; more words find fewer")
    write("\n".join(lines) + "\n")

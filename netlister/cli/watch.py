"""`netlister watch`."""

from __future__ import annotations

import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netlister.cli.common import COLOUR, LAYOUT, shown_name, wants_colour, write
from netlister.cli.report import IGNORE, SELECT
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

EVERY = 0.3
"""Seconds between two looks at the files."""


@click.command("watch")
@LAYOUT
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Of the page; any free one if left out.")
@SELECT
@IGNORE
@COLOUR
def command(layout: str, port: int, select: str, ignore: str, color: str) -> None:
    """Check LAYOUT again at each save, and show its page on this machine, loaded again each time. Ctrl-C ends it.

    The page is that of `netlister report`. A file with faults shows them; the next save mends it.
    """
    from netlister.cli.check import rules_named
    from netlister.report.serve import Served, Server

    chosen, ignored = rules_named(select), rules_named(ignore)
    if layout == "-":
        message = "standard input cannot be watched; save the layout as a file"
        raise click.BadParameter(message, param_hint="LAYOUT")
    if not Path(layout).is_file():
        what = (
            "is a folder; name the layout file in it" if Path(layout).is_dir() else "is not there; name a layout file"
        )
        message = f"'{layout}' {what}"
        raise click.BadParameter(message, param_hint="LAYOUT")
    served = Served()
    try:
        server = Server(served, port)
    except OSError as error:
        message = f"port {port} cannot be used ({error.strerror}); leave --port out for any free one"
        raise click.BadParameter(message, param_hint="--port") from None
    try:
        for number, _ in enumerate(_saves(layout)):
            _look(layout, chosen, ignored, served.show, colour=wants_colour(color))
            if not number:
                click.echo(f"the page: {server.address}  (Ctrl-C ends it)", err=True)
    except KeyboardInterrupt:
        click.echo("\nended", err=True)
    finally:
        server.stop()


def _saves(layout: str) -> Iterator[None]:
    """Once at the start, then once after each change of the layout or of a file of kinds that it uses."""
    files = [Path(layout)]
    seen = None
    while True:
        now = _state(files)
        if now != seen:
            files = [Path(layout), *_used(layout, files[1:])]
            seen = _state(files)
            yield
        time.sleep(EVERY)


def _state(files: Iterable[Path]) -> list[tuple[int, int, int] | None]:
    found: list[tuple[int, int, int] | None] = []
    for file in files:
        try:
            about = file.stat()
            found.append((about.st_mtime_ns, about.st_size, about.st_ino))
        except OSError:
            found.append(None)
    return found


def _used(layout: str, before: list[Path]) -> list[Path]:
    """The files that `use` names; those of before while the layout cannot be read."""
    from netlister.compose import compose
    from netlister.source import Mapping, Scalar, Sequence, read_source

    with suppress(UnusableError):
        root = compose(read_source(layout))
        if isinstance(root, Mapping):
            for key, value in root.value:
                if isinstance(key, Scalar) and key.value == "use":
                    items = value.value if isinstance(value, Sequence) else [value]
                    return [
                        Path(layout).parent / item.value for item in items if isinstance(item, Scalar) and item.value
                    ]
        return []
    return before


def _look(layout: str, select: list[str], ignore: list[str], show: Callable[[str], None], *, colour: bool) -> None:
    """Check the file as it is now, print what is found and show its page."""
    from netlister.check import chosen, examine
    from netlister.circuit.states import state_of
    from netlister.formats import text
    from netlister.layout.read import read_layout
    from netlister.report.page import fault_page, page
    from netlister.rules.analysis import Analysis
    from netlister.source import read_source

    name = shown_name(layout)
    click.echo(f"-- {time.strftime('%H:%M:%S')} {name}", err=True)
    try:
        source = read_source(layout, name)
        analysis = Analysis.of(read_layout(source, Path(layout).resolve().parent), named=select)
        report = examine(analysis, chosen(select, ignore))
        write(text.render(report, source, colour=colour))
        show(page(analysis, report, state_of(analysis.circuit, {}), live=True))
    except UnusableError as error:
        write(text.unusable(error))
        show(fault_page(name, error, live=True))
    sys.stdout.flush()

"""`netlister watch`."""

from __future__ import annotations

import sys
import time
from contextlib import suppress
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING

import click

from netlister.cli.common import COLOUR, LAYOUT, shown_name, wants_colour, write
from netlister.cli.report import IGNORE, SELECT
from netlister.source import FileFault, Span, UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.source import Source
    from netlister.workbench.desk import Desk
    from netlister.workbench.serve import Served

EVERY = 0.3
"""Seconds between two looks at the files."""


@click.command("watch")
@LAYOUT
@click.option("--edit", is_flag=True, help="Let the page change LAYOUT; the old file is kept as LAYOUT.orig once.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Of the page; any free one if left out.")
@SELECT
@IGNORE
@COLOUR
def command(layout: str, edit: bool, port: int, select: str, ignore: str, color: str) -> None:
    """Check LAYOUT again at each save, and show its page on this machine, loaded again each time. Ctrl-C ends it.

    The page is that of `netlister report`. A file with faults shows them; the next save mends it. The address that is
    printed opens the page in one browser, once. With --edit the wiring can be changed on the page: each change is
    shown with what becomes of the findings, and written into the file when you say so. Without it nothing is written.
    """
    from netlister.cli.check import rules_named
    from netlister.workbench.desk import Desk
    from netlister.workbench.serve import Served, Server

    chosen, ignored = rules_named(select), rules_named(ignore)
    if layout == "-":
        message = "standard input cannot be watched; save the layout as a file"
        raise click.BadParameter(message, param_hint="LAYOUT")
    if not Path(layout).is_file():
        what = "is not there; name a layout file"
        if Path(layout).exists():
            what = "is a folder; name the layout file in it" if Path(layout).is_dir() else "is no plain file"
        message = f"'{layout}' {what}"
        raise click.BadParameter(message, param_hint="LAYOUT")
    served, again = Served(), Event()
    folder = Path(layout).resolve().parent
    desk = Desk(layout, folder, tuple(chosen), tuple(ignored), again.set) if edit else None
    try:
        server = Server(served, port, desk, lambda text: click.echo(text, err=True))
    except OSError as error:
        message = f"port {port} cannot be used ({error.strerror}); leave --port out for any free one"
        raise click.BadParameter(message, param_hint="--port") from None
    look = _Watcher(layout, chosen, ignored, served, desk, colour=wants_colour(color))
    try:
        for number, _ in enumerate(_saves(layout, again)):
            look.once()
            if not number:
                does = "it can change the file; " if edit else ""
                click.echo(f"the page: {server.address()}  ({does}Ctrl-C ends it)", err=True)
            if desk is not None:
                desk.warm()
    except KeyboardInterrupt:
        click.echo("\nended", err=True)
    finally:
        server.stop()


def _saves(layout: str, again: Event) -> Iterator[None]:
    """Once at the start, then once after each change of the layout or of a file of kinds that it uses."""
    files = [Path(layout)]
    seen = None
    while True:
        now = _state(files)
        if now != seen:
            files = [Path(layout), *_used(layout, files[1:])]
            seen = _state(files)
            yield
        again.wait(EVERY)
        again.clear()


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


class _Watcher:
    """Checks the file as it is now, prints what is found and shows its page; of a file with faults the last good one.

    `desk`: where the page may change the file.
    """

    def __init__(
        self, layout: str, select: list[str], ignore: list[str], served: Served, desk: Desk | None, *, colour: bool
    ) -> None:
        self.layout = layout
        self.select = select
        self.ignore = ignore
        self.served = served
        self.desk = desk
        self.colour = colour
        self.last = ""  # the last good page

    def once(self) -> None:
        """Look at the file once."""
        from netlister.formats import text
        from netlister.source import read_source

        name = shown_name(self.layout)
        click.echo(f"-- {time.strftime('%H:%M:%S')} {name}", err=True)
        source = None
        try:
            if Path(self.layout).exists() and not Path(self.layout).is_file():
                raise _no_file(name)
            source = read_source(self.layout, name)
            self._show(source)
        except UnusableError as error:
            write(text.unusable(error))
            self._faulty(name, error, source)
        sys.stdout.flush()

    def _show(self, source: Source) -> None:
        from netlister.check import chosen, examine
        from netlister.circuit.states import state_of
        from netlister.formats import text
        from netlister.netlists.any import read_any
        from netlister.report.live import LivePage
        from netlister.report.page import page
        from netlister.rules.analysis import Analysis

        layout = read_any(source, Path(self.layout).resolve().parent)
        analysis = Analysis.of(layout, named=self.select)
        report = examine(analysis, chosen(self.select, self.ignore))
        write(text.render(report, source, colour=self.colour))
        offers = None
        if self.desk is not None:
            self.desk.take(source, layout, report)
            offers = self.desk.offers()
        self.last = page(analysis, report, state_of(analysis.circuit, {}), live=LivePage(offers))
        self.served.show(self.last)

    def _faulty(self, name: str, error: UnusableError, source: Source | None) -> None:
        from netlister.report.live import LivePage, with_faults
        from netlister.report.page import fault_page

        if self.desk is not None:
            self.desk.lose("The file cannot be used as it is now. Mend it first; see the top of the page.")
        if self.last:
            self.served.show(with_faults(self.last, name, error, None if source is None else source.text))
        else:
            self.served.show(fault_page(name, error, live=LivePage()))


def _no_file(name: str) -> UnusableError:
    message = f"'{name}' is no plain file any more; put the layout file in its place again"
    return UnusableError([FileFault(Span(name, 1, 1, 1, 1), message)])

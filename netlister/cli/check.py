"""`netlister check`."""

from __future__ import annotations

import gc
import sys

import click

from netlister.cli.common import (
    COLOUR,
    FORMAT,
    LAYOUT,
    edits_finder,
    folder_of,
    open_layout,
    unusable,
    wants_colour,
    write,
)
from netlister.poles.reach import LIMIT
from netlister.source import UnusableError, suggest

_LEVELS = ("note", "warning", "error", "never")


@click.command("check")
@LAYOUT
@FORMAT
@click.option("--select", metavar="RULES", default="", help="Only these rules, separated by commas.")
@click.option("--ignore", metavar="RULES", default="", help="All but these rules, separated by commas.")
@click.option("--fail-on", type=click.Choice(_LEVELS), default="error", help="Exit with 1 from this severity up.")
@click.option("--quiet", "-q", is_flag=True, help="Write nothing where nothing is wrong.")
@click.option(
    "--limit", type=click.IntRange(0), default=LIMIT, show_default=True, help="Steps of proof for one question; 0: any."
)
@click.option("--allow-unproved", is_flag=True, help="Exit with 0 though the limit left something open.")
@click.option("--all", "every", is_flag=True, help="Show all causes, not the first 20 alone.")
@COLOUR
def command(
    layout: str,
    style: str,
    select: str,
    ignore: str,
    fail_on: str,
    quiet: bool,
    limit: int,
    allow_unproved: bool,
    every: bool,
    color: str,
) -> None:
    """Check LAYOUT (`-`: standard input) over every combination of positions.

    Exits with 0 where nothing is an error and everything was proved, 1 where something is or was not, 2 where the file
    cannot be used.
    """
    gc.disable()  # nothing made here is thrown away before the end
    from netlister.check import check

    chosen, ignored = rules_named(select), rules_named(ignore)
    source, read = open_layout(layout, style)
    try:
        report = check(read, chosen, ignored, limit)
    except UnusableError as error:
        unusable(error, read.name, style)
    if style == "json":
        from netlister.formats import json

        write(json.render(report, edits_finder(source, read, folder_of(layout))))
    else:
        from netlister.formats import text

        write(text.render(report, source, colour=wants_colour(color), quiet=quiet, every=every))
    failing = fail_on != "never" and any(f.severity.label in _LEVELS[_LEVELS.index(fail_on) :] for f in report.findings)
    open_ended = not report.proved and not allow_unproved
    sys.stdout.flush()
    sys.exit(1 if failing or open_ended else 0)


def rules_named(text: str) -> list[str]:
    """The names of rules as given, separated by commas; one that there is not is said."""
    from netlister.rules import BY_NAME

    names = [name.strip() for name in text.split(",") if name.strip()]
    for name in names:
        if name not in BY_NAME:
            message = f"there is no rule '{name}'{suggest(name, BY_NAME)}; 'netlister explain' lists the rules"
            raise click.BadParameter(message)
    return names

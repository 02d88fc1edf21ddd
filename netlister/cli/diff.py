"""`netlister diff`."""

from __future__ import annotations

import sys

import click

from netlister.cli.common import FORMAT, open_layout, unusable, write
from netlister.source import UnusableError


@click.command("diff")
@click.argument("old")
@click.argument("new")
@FORMAT
def command(old: str, new: str, style: str) -> None:
    """Say what changed in the wiring from OLD to NEW, not in the text.

    Joints, feeds, contacts and gear, nets joined or parted, findings that came and went. Exits with 0 where the wiring
    is the same, 1 where it differs, 2 where a file cannot be used.
    """
    from netlister.compare import compare, object_of, text_of

    first, before = open_layout(old, style)
    second, after = open_layout(new, style)
    try:
        found = compare(before, after)
    except UnusableError as error:
        unusable(error, second.name, style)
    if style == "json":
        from netlister.formats import json

        write(json.dump(object_of(found, first.name, second.name)))
    else:
        write(text_of(found))
    sys.exit(0 if found.same else 1)

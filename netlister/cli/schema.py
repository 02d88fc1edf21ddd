"""`netlister schema`."""

from __future__ import annotations

import click

from netlister.cli.common import read_input, unusable, write_file
from netlister.source import UnusableError

FILE = "netlister.schema.json"
"""The name under which `netlister start` looks for it beside the layout."""


@click.command("schema")
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
@click.option("--use", "extra", multiple=True, metavar="FILE", help="A file with kinds of your own, to know them too.")
def command(output: str, extra: tuple[str, ...]) -> None:
    """Write the JSON Schema (draft-07) of layout files: keys, kinds, options and rules, for completion in an editor.

    Written as netlister.schema.json beside a layout, it is named in the first line of what `netlister start` writes;
    an editor that knows YAML and JSON Schema follows that line, without a network.
    """
    from netlister.kinds import library
    from netlister.outputs.json_schema import text

    try:
        kinds = library(None, [read_input(path) for path in extra])
    except UnusableError as error:
        unusable(error, "", "text")
    write_file(output, text(kinds))

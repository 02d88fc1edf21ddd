"""`netlister mend`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from netlister.cli.common import (
    FORMAT,
    LAYOUT,
    OVER,
    edits_finder,
    folder_of,
    one_target,
    open_layout,
    shown_name,
    unusable,
    write,
    write_file,
    write_over,
)
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.formats.json import EditsOf
    from netlister.mend import Mended
    from netlister.source import Source


@click.command("mend")
@LAYOUT
@click.option("-o", "--output", metavar="FILE", default="", help="Write the mended layout here; `-`: stdout.")
@OVER
@click.option(
    "--choose", type=click.IntRange(1), default=1, metavar="N", help="The Nth repair, where there are several."
)
@click.option("--keep", multiple=True, metavar="NAME", help="Change nothing of this piece, joint, machine, feed …")
@click.option("--at-most", type=click.IntRange(1), default=None, metavar="N", help="No more than N changes.")
@FORMAT
def command(
    layout: str, output: str, over: bool, choose: int, keep: tuple[str, ...], at_most: int | None, style: str
) -> None:
    """Find the least repair of LAYOUT, show it as a difference of the file, and write it where that is asked for.

    What is written is read and checked again in full first. Exits with 0 where the layout is mended or right, 1 where
    an error stays that no repair was found for (the rest is mended), 2 where the file cannot be used.
    """
    from netlister.edits.text import EditError, new_text, text_edits
    from netlister.edits.write import unified
    from netlister.mend import mend
    from netlister.netlists.any import read_any
    from netlister.source import Source

    one_target(layout, output, style, over=over, instead="'-o mended.yaml', or use '--write'")
    source, read = open_layout(layout, style)
    folder = folder_of(layout)
    _known(keep, read)
    try:
        found = mend(read, keep, at_most, choose)
        text, trouble = source.text, ""
        if choose > max(len(found.repairs), 1):
            message = f"there {_are(len(found.repairs))} to choose from"
            raise click.BadParameter(message, param_hint="--choose")
        if found.repairs:
            try:
                text = new_text(source, text_edits(read, source, found.repairs[choose - 1].edit, folder))
                _same_again(read_any(Source(source.name, text), folder), found, choose)
            except EditError as error:
                trouble, text = str(error), source.text
    except UnusableError as error:
        unusable(error, shown_name(layout), style)
    if style == "json":
        from netlister.formats import json

        write(json.dump(_object(found, source, edits_finder(source, read, folder))))
    elif output != "-":
        write(unified(source, text) if text != source.text else "")
    click.echo(found.to_text(choose, trouble), nl=False, err=style == "json" or output == "-")
    if trouble and (output or over):
        message = f"nothing is written: {trouble}"
        raise click.ClickException(message)
    if output:
        write_file(output, text)
    elif over and text != source.text:
        write_over(layout, source, text)
    sys.stdout.flush()
    sys.exit(1 if found.wrong else 0)


def _known(keep: tuple[str, ...], layout: Any) -> None:
    """Refuse a name to keep that the layout does not have."""
    from netlister.source import suggest

    names = {
        *layout.pieces,
        *layout.variables,
        *layout.machines,
        *layout.supplies,
        *layout.buses,
        *layout.reversers,
        *layout.units,
        *layout.components,
        *(j.name for j in layout.joints),
        *(c.full for c in layout.contacts),
        *(p.plug for p in layout.pins),
        *(entry.name for entry in (*layout.feeds, *layout.links) if entry.name),
        *(".".join(end) for j in layout.joints for end in (j.start, j.end)),
    }
    for name in keep:
        if name not in names:
            message = f"there is no '{name}' in this layout{suggest(name, sorted(names))}"
            raise click.BadParameter(message, param_hint="--keep")


def _same_again(read: Any, found: Mended, choose: int) -> None:
    """Check what would be written, from its text, and hold it against what was said of it.

    What the reading itself has to say, as of a feed without `tap`, may change with the text.
    """
    from netlister.check import check
    from netlister.edits.text import EditError
    from netlister.rules.reading import OF_TEXT

    after = check(read, causes=False)
    left = {(f.rule, f.subject) for f in after.findings if f.rule not in OF_TEXT}
    if left != {key for key in found.repairs[choose - 1].left if key[0] not in OF_TEXT} or not after.proved:
        raise EditError("the mended file, read and checked again, is not what the repair was proved to be")


def _are(count: int) -> str:
    return "is one repair" if count == 1 else f"are {count} repairs" if count else "is none"


def _object(found: Mended, source: Source, edits_of: EditsOf) -> dict[str, Any]:
    """The repairs as the plain values of `--format json`."""
    from netlister.formats.json import repair_object

    repairs = [repair_object(repair, edits_of) for repair in found.repairs]
    return {"format": "netlister-repairs/1", "layout": source.name, "least": found.least, "repairs": repairs}

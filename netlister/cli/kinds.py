"""`netlister kinds`."""

from __future__ import annotations

import click

from netlister.cli.common import write


@click.command("kinds")
@click.argument("name", required=False)
@click.option("--hand", default="", help="left, right or wye; right if left out.")
@click.option("--option", "options", multiple=True, metavar="NAME=VALUE", help="An option of the kind: jumpers=true.")
def command(name: str | None, hand: str, options: tuple[str, ...]) -> None:
    """List the kinds of track pieces, or show all of one: ends, rails, what conducts in each position, wheel paths."""
    from netlister.kinds import KindError, library
    from netlister.outputs import kind_text

    known = library()
    if name is None:
        write(kind_text.kinds_list(known))
        return
    pairs = tuple((option.partition("=")[0], option.partition("=")[2]) for option in options)
    try:
        write(kind_text.kind_page(known, name, hand, pairs))
    except KindError as error:
        raise click.BadParameter(str(error)) from None

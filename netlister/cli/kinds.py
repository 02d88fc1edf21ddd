"""`netlister kinds`."""

from __future__ import annotations

import click

from netlister.cli.common import write


@click.command("kinds")
@click.argument("name", required=False)
@click.option("--hand", default="", help="left, right or wye; right if left out.")
@click.option("--option", "options", multiple=True, metavar="NAME=VALUE", help="An option of the kind: jumpers=true.")
@click.option("--format", "form", type=click.Choice(["text", "html"]), default="text", help="text or html.")
def command(name: str | None, hand: str, options: tuple[str, ...], form: str) -> None:
    """List the kinds of track pieces, or show all of one: ends, rails, what conducts in each position, wheel paths."""
    from netlister.kinds import KindError, library
    from netlister.outputs import kind_page, kind_text

    known = library()
    if name is None:
        if form == "html":
            raise click.UsageError("'--format html' is for one kind; name it, as in 'kinds live-frog --format html'")
        write(kind_text.kinds_list(known))
        return
    pairs = tuple((option.partition("=")[0], option.partition("=")[2]) for option in options)
    try:
        made = kind_page.kind_page if form == "html" else kind_text.kind_page
        write(made(known, name, hand, pairs))
    except KindError as error:
        raise click.BadParameter(str(error)) from None

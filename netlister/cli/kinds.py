"""`netlister kinds`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netlister.cli import complete
from netlister.cli.common import read_input, shown_name, unusable, write, write_file
from netlister.finding import Severity
from netlister.source import Source, UnusableError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.kinds import Library


@click.command("kinds")
@click.argument("name", required=False, shell_complete=complete.kinds)
@click.option("--hand", default="", help="left, right or wye; right if left out.")
@click.option("--option", "options", multiple=True, metavar="NAME=VALUE", help="An option of the kind: jumpers=true.")
@click.option("--format", "form", type=click.Choice(["text", "html"]), default="text", help="text or html.")
@click.option(
    "--use", "extra", multiple=True, metavar="FILE", help="A file with kinds of your own, checked as it is read."
)
@click.option(
    "--from-readings", "readings", metavar="FILE", help="Write the kind that a meter's readings in FILE give."
)
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write that; standard output if left out.")
def command(
    name: str | None,
    hand: str,
    options: tuple[str, ...],
    form: str,
    extra: tuple[str, ...],
    readings: str | None,
    output: str,
) -> None:
    """List the kinds of track pieces, or show all of one: ends, rails, what conducts in each position, wheel paths.

    With --from-readings, write a kind of your own from which rails beep to which in each position.
    """
    from netlister.kinds import KindError
    from netlister.outputs import kind_page, kind_text

    if readings is None and output != "-":
        raise click.BadParameter("there is nothing to write without --from-readings", param_hint="--output")
    if readings is not None and (name is not None or hand or options):
        raise click.UsageError("--from-readings writes the kind that the file names; leave NAME and its options out")
    known = _library(extra)
    if readings is not None:
        _from_readings(readings, output, known)
        return
    if name is None:
        if form == "html":
            raise click.UsageError("'--format html' is for one kind; name it, as in 'kinds live-frog --format html'")
        write(kind_text.kinds_list(known))
        return
    pairs = tuple((option.partition("=")[0], option.partition("=")[2]) for option in options)
    try:
        if form == "html":
            write(kind_page.kind_page(known, name, hand, pairs, _drawn(name, hand, pairs, extra)))
        else:
            write(kind_text.kind_page(known, name, hand, pairs))
    except KindError as error:
        raise click.BadParameter(str(error)) from None


def _drawn(
    name: str, hand: str, options: tuple[tuple[str, str], ...], extra: tuple[str, ...]
) -> Sequence[tuple[str, str]]:
    """A piece of a kind in each position, wired right and proved so; nothing where no such wiring is found."""
    from netlister.check import check
    from netlister.circuit.build import build
    from netlister.edits.text import EditError
    from netlister.layout.read import read_layout
    from netlister.papers.kind_figures import figures
    from netlister.propose.search import propose

    known = _library(extra)
    hands = known.takes(name).hands
    hand = hand or ("right" if "right" in hands else next(iter(hands), ""))
    stubs = {f"to-{end}": end for end in known.kind(name, hand, options).ends}
    said = {"kind": name, **({"hand": hand} if hand else {}), **dict(options)}
    text = json.dumps(
        {
            "format": "netlister/1",
            **({"use": [str(Path(path).resolve()) for path in extra]} if extra else {}),
            "supplies": {"main": {"type": "dcc", "voltage": "15 V", "trip": "3 A"}},
            "track": {"it": said, **{stub: {"length": "500 mm"} for stub in stubs}},
            "joints": [{"from": f"{stub}.b", "to": f"it.{end}"} for stub, end in stubs.items()],
            "feeds": [],
        }
    )
    folder = Path()
    try:
        source = Source(f"{name}.yaml", text)
        found = propose(read_layout(source, folder), source, None, "all-live", folder)
        layout = read_layout(Source(source.name, found.text), folder)
    except (UnusableError, EditError):
        return ()
    report = check(layout, causes=False)
    right = found.right and report.proved and not any(f.severity > Severity.NOTE for f in report.findings)
    return figures(build(layout), "it") if right else ()


def _library(extra: tuple[str, ...]) -> Library:
    """The kinds of the library and of a user's files; what is wrong with these is said, exit code 2."""
    from netlister.kinds import library

    try:
        return library(None, [read_input(path, shown_name(path)) for path in extra])
    except UnusableError as error:
        unusable(error, extra[0], "text")


def _from_readings(path: str, output: str, known: Library) -> None:
    """Write the kind that readings give; what is wrong with them is said, exit code 2, and nothing written."""
    from netlister.kinds.load import read_definitions
    from netlister.kinds.readings import read_readings
    from netlister.kinds.readings_kind import kind_text
    from netlister.kinds.readings_model import reading_remarks
    from netlister.source import Source

    if output != "-" and path != "-" and Path(output).exists() and Path(path).exists() and Path(path).samefile(output):
        message = f"'{output}' is the file of the readings itself; name another, as in -o mine.yaml"
        raise click.BadParameter(message, param_hint="--output")
    shown = shown_name(path)
    try:
        found = read_readings(read_input(path, shown), known.names())
        text = kind_text(found, Path(shown).name if path != "-" else "")
        read_definitions(Source(output, text), known.names())
    except UnusableError as error:
        unusable(error, shown, "text")
    for remark in reading_remarks(found):
        click.echo(f"{shown}: {remark}", err=True)
    write_file(output, text)

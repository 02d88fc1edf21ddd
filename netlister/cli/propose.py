"""`netlister propose`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from netlister.cli.common import (
    FORMAT,
    LAYOUT,
    OVER,
    folder_of,
    one_target,
    open_layout,
    shown_name,
    unusable,
    write,
    write_file,
    write_over,
)
from netlister.lengths import Metres
from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.layout.model import Layout, Wire
    from netlister.propose.proposal import Proposal
    from netlister.source import Source

_AIMS = ("all-live", "no-blades", "every-piece", "switched-sidings", "fewest-joiners", "fewest-wires")
_FROGS = ("contact", "unit")


@click.command("propose")
@LAYOUT
@click.option("-o", "--output", metavar="FILE", default="", help="Write the layout with its wiring here; `-`: stdout.")
@OVER
@click.option("--price", "prices", metavar="WHAT=N", multiple=True, help="Of joiner, feed, contact …; see above.")
@click.option("--aim", type=click.Choice(_AIMS), default="all-live", help="What is wanted; see above.")
@click.option("--frogs", type=click.Choice(_FROGS), default="contact", help="What a frog gets that needs a pole.")
@click.option("--volts", is_flag=True, help="Add feeders, and a thicker bus, until `drop` finds nothing either.")
@click.option("--feeder-wire", metavar="SIZE", default="", help="Of each feeder that is added, as '0.5 mm2'.")
@click.option("--feeder-length", metavar="LENGTH", default="", help="Of each of its wires, as '300 mm'.")
@click.option("--why", metavar="NAME", default="", help="Say only what this joint, feed or contact is for.")
@click.option("--needless", is_flag=True, help="Say only what is written and not needed.")
@FORMAT
def command(
    layout: str,
    output: str,
    over: bool,
    prices: tuple[str, ...],
    aim: str,
    frogs: str,
    volts: bool,
    feeder_wire: str,
    feeder_length: str,
    why: str,
    needless: bool,
    style: str,
) -> None:
    """Add to the track of LAYOUT the cheapest wiring that makes it right, and prove it; what is written is kept.

    Without -o or --write the difference is shown and nothing is written. Ctrl-C ends the search and gives the best so
    far. Exits with 0 where the result is right, 1 where something is missing or wrong still, 2 where the file cannot
    be used.

    \b
    Aims:
      all-live          every rail is live in all positions
      no-blades         the same, and no rail has its pole over blades alone
      every-piece       the same as all-live, and every piece has wires of its own
      switched-sidings  a siding is dead while its turnout is set against it
      fewest-joiners    track may be dead while a turnout is set against it;
                        as few insulated joiners as can be
      fewest-wires      the same, with as few feed wires as can be
    Where track may be dead, `expect` is written to say so.

    \b
    Prices unless given: an insulated joiner 1, a feed wire (one pole) 1, the
    contact of a frog 2, an option of a piece (option) 2, a frog unit (unit) 5,
    a reverser 10.
    """  # noqa: D301 - a mark for the help text
    from netlister.edits.text import EditError
    from netlister.edits.write import unified
    from netlister.propose.search import propose

    one_target(layout, output, style, over=over, instead="'-o wired.yaml', or use '--write'")
    source, read = open_layout(layout, style)
    if why or needless:
        write(_reasons(read, why, needless=needless))
        return
    if read.netlist and (output or over):
        message = (
            "this layout comes from a netlist: make the changes in the drawing or the script, then export it again"
        )
        raise click.UsageError(message)
    folder = folder_of(layout)
    wire = _wire(feeder_wire, feeder_length)
    try:
        found = propose(
            read, source, _prices(prices), aim, folder, frogs=frogs, tell=_progress(), volts=volts, wire=wire
        )
    except UnusableError as error:
        unusable(error, shown_name(layout), style)
    except EditError as error:
        raise click.ClickException(str(error)) from None
    if style == "json":
        import json

        write(json.dumps(proposal_object(found, source.name), indent=2, ensure_ascii=False) + "\n")
    else:
        click.echo(found.to_text(), nl=False, err=output == "-")
    _put(found, source, layout, output, over=over)
    if not output and not over and style == "text":
        write("\n" + unified(source, found.text) if found.text != source.text else "")
    sys.exit(0 if found.right else 1)


def _progress() -> Any:
    """What tells of the progress, on a terminal."""
    if sys.stderr is None or not sys.stderr.isatty():
        return None
    return lambda text: click.echo(f"\r{text}\x1b[K", nl=False, err=True)


def _reasons(layout: Layout, name: str, *, needless: bool) -> str:
    """What the joiners, feed wires and contacts of a name are for; or which of all are for nothing."""
    from netlister.check import check
    from netlister.finding import Severity
    from netlister.formats.text import when_text
    from netlister.propose.why import reasons, things
    from netlister.source import suggest

    names = {known for thing in things(layout) for known in thing.names} | {joint.name for joint in layout.joints}
    if name and name not in names:
        message = (
            f"there is no joint, feed or contact '{name}' with anything to leave out{suggest(name, sorted(names))}"
        )
        raise click.BadParameter(message, param_hint="--why")
    if any(f.severity == Severity.ERROR for f in check(layout, causes=False).findings):
        message = "this layout has errors, so what a thing is for cannot be told; mend it first: netlister check"
        raise click.ClickException(message)
    lines = []
    joint = next((joint for joint in layout.joints if joint.name == name), None)
    if joint is not None:
        lines += [f"{a} and {b}: joined by metal" for a, b, insulated in joint.pairs if not insulated]
    for why in reasons(layout, name, _progress()):
        if needless and not why.needed:
            lines.append(f"{why.thing.span}: note: {why.thing.say}; by itself it is not needed")
        if needless:
            continue
        place = "" if why.thing.kind == "joiner" else f"{why.thing.span}: "
        lines.append(
            f"{place}{why.thing.say}; " + (_WITHOUT[why.thing.kind] if why.needed else _NEEDLESS[why.thing.kind])
        )
        lines += [f"    {f.severity.label} {f.rule}: {f.message}, {when_text(f)}" for f in (*why.came, *why.blades)]
    if needless:
        lines.append(_ALONE if lines else "each joiner, feed wire and contact is needed")
    return "\n".join(lines) + "\n"


_WITHOUT = {"joiner": "joined by metal", "feed": "without it", "contact": "without it"}
_NEEDLESS = {
    "joiner": "parts nothing that a plain check wants parted",
    "feed": "not needed for any pole; 'netlister drop' says whether volts need it",
    "contact": "nothing would be wrong without it",
}
_ALONE = (
    "each was left out by itself: leaving out several may be wrong; and volts may need a wire that poles do not "
    "('netlister drop')"
)


def _put(found: Proposal, source: Source, layout: str, output: str, *, over: bool) -> None:
    """Write the new text where it is wanted."""
    if output:
        write_file(output, found.text)
    elif over and not found.right:
        click.echo(f"{layout} is left as it is, since the result is not right; '-o FILE' writes it elsewhere", err=True)
    elif over and found.text != source.text:
        write_over(layout, source, found.text)


def _wire(size: str, length: str) -> Wire:
    """The wire of new feeders as given."""
    from netlister.layout.model import Wire
    from netlister.quantity import LENGTH, QuantityError, parse, parse_wire

    area = ohm = None
    try:
        if size:
            area, ohm = parse_wire(size)
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--feeder-wire") from None
    try:
        return Wire(size, ohm, area, Metres(parse(length, LENGTH)) if length else None)
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--feeder-length") from None


def _prices(given: tuple[str, ...]) -> dict[str, float]:
    from netlister.propose.model import PRICES

    prices = {}
    for text in given:
        name, _, number = text.partition("=")
        try:
            price = float(number)
        except ValueError:
            price = -1.0
        if name not in PRICES or not 0 <= price < 1e9:  # noqa: PLR2004
            message = f"'{text}' is no price; write one as in 'joiner=1', of {', '.join(PRICES)}"
            raise click.BadParameter(message, param_hint="--price")
        prices[name] = price
    return prices


def proposal_object(found: Proposal, name: str) -> dict[str, Any]:
    """A proposal as the plain values of `--format json`."""
    from netlister.formats.json import edit_object, place
    from netlister.propose.proposal import shared_out

    made = found.design
    return {
        "format": "netlister-proposal/1",
        "layout": name,
        "cost": _number(found.cost),
        "bound": _number(found.bound),
        "least": found.right and found.bound == found.cost,
        "right": found.right,
        "adds": {
            "joiners": made.joiners,
            "feeds": made.feeds,
            "contacts": made.contacts,
            "reversers": made.reversers,
            "units": made.counted["unit"],
            "options": made.counted["option"],
        },
        "aim": found.aim,
        "places": found.places,
        "stopped": found.stopped,
        "changes": [
            {
                "say": say,
                "why": why,
                "where": place(span),
                "edits": [edit_object(edit) for edit in edits],
            }
            for say, why, span, edits in shared_out(found)
        ],
        "missing": list(found.missing),
        "left": [
            {"rule": f.rule, "severity": f.severity.label, "subject": f.subject, "message": f.message}
            for f in found.left
        ],
    }


def _number(value: float) -> float | int:
    return int(value) if value == int(value) else value

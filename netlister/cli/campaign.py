"""`netlister campaign`."""

from __future__ import annotations

import sys

import click

from netlister.cli.common import FORMAT, open_layout, shown_name, write


@click.command("campaign")
@click.argument("layouts", nargs=-1, required=True)
@click.option(
    "--pairs", default=0, metavar="N", help="So many pairs of faults drawn at random; left out: all single faults."
)
@click.option("--questions", default=0, metavar="N", help="Readings asked for after the sheet, at the most.")
@click.option("--jobs", default=0, metavar="N", help="Processes; left out: as many as cores.")
@click.option("--resume", default="", metavar="FILE", help="Keep what is done in FILE, and go on from there.")
@click.option("--scheduler", default="", metavar="ADDRESS", help="Run on a dask.distributed scheduler.")
@FORMAT
def command(
    layouts: tuple[str, ...], pairs: int, questions: int, jobs: int, resume: str, scheduler: str, style: str
) -> None:
    """Put every fault into each of LAYOUTS and say how well test sheet and diagnosis find it.

    A design with errors is refused: exit code 1.
    """
    from netlister.cli.testsheet import refuse
    from netlister.formats import json
    from netlister.probe import campaign

    if scheduler:
        try:
            import distributed  # noqa: F401
        except ImportError:
            message = "this needs dask.distributed: pip install 'netlister[cluster]'"
            raise click.BadParameter(message, param_hint="--scheduler") from None
    plan = campaign.CampaignPlan(max(0, pairs), max(0, questions))
    todo: list[campaign.Task] = []
    per: list[int] = []
    for path in layouts:
        if path == "-":
            raise click.BadParameter(
                "standard input cannot be read by several processes; name a file", param_hint="LAYOUTS"
            )
        source, read = open_layout(path, style)
        refuse(source, read, style)
        some = campaign.tasks(path, plan)
        per.append(len(some))
        todo += some
    shown = sys.stderr.isatty()

    def progress(done: int, count: int) -> None:
        if shown:
            click.echo(f"\r{done} of {count} chunks", err=True, nl=done == count)

    try:
        found = campaign.results(todo, jobs=jobs, scheduler=scheduler, resume=resume, progress=progress)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--resume") from None
    told, cases, at = [], [], 0
    for path, count in zip(layouts, per, strict=True):
        mine = [case for chunk in found[at : at + count] for case in chunk]
        at += count
        told.append(campaign.summary(shown_name(path), path, plan, mine))
        cases += [{"layout": shown_name(path), **case} for case in mine]
    if style == "json":
        write(json.dump({"format": "netlister-campaign/1", "layouts": told, "cases": cases}))
        return
    for one in told:
        line = f"{one['layout']}: {one['readings']} readings, {one['faults']} faults, {one['unseen']} unseen; of "
        line += f"{one['cases']} cases {_share(one['first_three_after_sheet'])} among the first three after the sheet"
        if one["first_three"] is not None:
            line += f", {_share(one['first_three'])} after {one['asked']:g} questions on average"
        write(line + "\n")


def _share(value: float | None) -> str:
    return "none" if value is None else f"{value:.1%}"

"""`netlister check`."""

from __future__ import annotations

import gc
import sys

import click
from click.core import ParameterSource

from netlister.cli import complete
from netlister.cli.common import COLOUR, wants_colour
from netlister.cli.settings import LEVELS, settings_for
from netlister.cli.several import FORMS, CheckOptions, layouts_of, run
from netlister.poles.reach import LIMIT
from netlister.source import suggest


@click.command("check")
@click.argument("layouts", metavar="LAYOUT...", nargs=-1, required=True)
@click.option("--format", "style", type=click.Choice(FORMS), default="text", help="What to write; text if left out.")
@click.option(
    "--select",
    metavar="RULES",
    default="",
    shell_complete=complete.rules,
    help="Only these rules, separated by commas.",
)
@click.option(
    "--ignore",
    metavar="RULES",
    default="",
    shell_complete=complete.rules,
    help="All but these rules, separated by commas.",
)
@click.option("--fail-on", type=click.Choice(LEVELS), default="error", help="Exit with 1 from this severity up.")
@click.option("--quiet", "-q", is_flag=True, help="Write nothing where nothing is wrong.")
@click.option(
    "--limit", type=click.IntRange(0), default=LIMIT, show_default=True, help="Steps of proof for one question; 0: any."
)
@click.option("--allow-unproved", is_flag=True, help="Exit with 0 though the limit left something open.")
@click.option("--all", "every", is_flag=True, help="Show all causes, not the first 20 alone.")
@COLOUR
@click.pass_context
def command(
    context: click.Context,
    layouts: tuple[str, ...],
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
    """Check LAYOUT (`-`: standard input) over every combination of positions; several, or all below a folder.

    Exits with 0 where nothing is an error and everything was proved, 1 where something is or was not, 2 where a file
    cannot be used. Settings stand in netlister.toml, or under [tool.netlister] in pyproject.toml.
    """
    gc.disable()  # nothing made here is thrown away before the end
    given = CheckOptions(
        style, tuple(rules_named(select)), tuple(rules_named(ignore)), fail_on, limit, allow_unproved, quiet, every,
        wants_colour(color),
    )  # fmt: skip
    paths = layouts_of(layouts)
    jobs = [(path, _settled(context, given, path)) for path in paths]
    sys.exit(run(jobs, style, alone=tuple(paths) == layouts))


def _settled(context: click.Context, given: CheckOptions, path: str) -> CheckOptions:
    """The options for one layout: what a file of settings says, unless the command line says it.

    A rule that the command line selects is run, whatever the file ignores.
    """
    from netlister.check import chosen

    settings = settings_for(path)
    changed = {
        name: said
        for name, said in settings._asdict().items()
        if name != "file" and said is not None and context.get_parameter_source(name) is not ParameterSource.COMMANDLINE
    }
    made = given._replace(**changed)
    if context.get_parameter_source("select") is ParameterSource.COMMANDLINE and "ignore" in changed:
        made = made._replace(ignore=tuple(name for name in made.ignore if name not in made.select))
    if not chosen(made.select, made.ignore):
        message = f"no rule is left to check '{path}' by: every rule that is selected is ignored, too"
        raise click.UsageError(message)
    if made != given:
        what = [f"ignores {', '.join(made.ignore)}"] if made.ignore != given.ignore and made.ignore else []
        what += [f"checks only {', '.join(made.select)}"] if made.select != given.select and made.select else []
        what += ["lets pass what is not proved"] if made.allow_unproved and not given.allow_unproved else []
        if what:
            click.echo(f"note: {settings.file} {' and '.join(what)}", err=True)
    return made


def rules_named(text: str) -> list[str]:
    """The names of rules as given, separated by commas; an unknown one is an error."""
    from netlister.rules import BY_NAME

    names = [name.strip() for name in text.split(",") if name.strip()]
    for name in names:
        if name not in BY_NAME:
            message = f"there is no rule '{name}'{suggest(name, BY_NAME)}; 'netlister explain' lists the rules"
            raise click.BadParameter(message)
    return names

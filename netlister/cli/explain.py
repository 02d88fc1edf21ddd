"""`netlister explain`."""

from __future__ import annotations

import click

from netlister.cli import complete
from netlister.cli.common import write
from netlister.source import suggest


@click.command("explain")
@click.argument("word", metavar="[RULE|WORD]...", nargs=-1, shell_complete=complete.rules)
def command(word: tuple[str, ...]) -> None:
    """Explain RULE: what it finds, why it matters, an example that fails and one that passes, and the cure.

    Or a WORD of the trade, North American or British: `netlister explain fishplate`. Without either, list all rules.
    A kind of track piece is shown by `netlister kinds KIND`.
    """
    from netlister.formats.text import listing
    from netlister.kinds import library
    from netlister.outputs import glossary
    from netlister.rules import BY_NAME, RULES

    rule = " ".join(word)
    meaning = glossary.explained(rule)
    if not word:
        write(listing((r.name, r.title) for r in RULES))
    elif rule in BY_NAME:
        write((meaning + "\n" if meaning else "") + f"# {rule}: {BY_NAME[rule].document}")
    elif meaning:
        write(meaning)
    elif rule in library(None).names():
        message = f"'{rule}' is a kind of track piece; 'netlister kinds {rule}' shows it"
        raise click.BadParameter(message)
    else:
        hint = suggest(rule, [*BY_NAME, *glossary.every_name()])
        message = f"there is no rule or word '{rule}'{hint}; 'netlister explain' lists the rules"
        raise click.BadParameter(message)

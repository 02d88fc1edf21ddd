"""`netlister explain`."""

from __future__ import annotations

import click

from netlister.cli.common import write
from netlister.source import suggest


@click.command("explain")
@click.argument("rule", required=False)
def command(rule: str | None) -> None:
    """Explain RULE: what it finds, why it matters, an example that fails and one that passes, and the cure.

    Without RULE, list all rules.
    """
    from netlister.formats.text import listing
    from netlister.rules import BY_NAME, RULES

    if rule is None:
        write(listing((r.name, r.title) for r in RULES))
    elif rule in BY_NAME:
        write(f"# {rule}: {BY_NAME[rule].document}")
    else:
        message = f"there is no rule '{rule}'{suggest(rule, BY_NAME)}; 'netlister explain' lists the rules"
        raise click.BadParameter(message)

"""What a shell may complete: rules, kinds, names in a layout. Nothing is ever said here, whatever is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    import click


def rules(context: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:  # noqa: ARG001
    """The rules with which a list of rules, separated by commas, may go on."""
    from netlister.rules import RULES

    before, comma, last = incomplete.rpartition(",")
    return [CompletionItem(before + comma + r.name, help=r.title) for r in RULES if r.name.startswith(last)]


def kinds(context: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:  # noqa: ARG001
    """The kinds of track pieces."""
    from netlister.kinds import library

    return [CompletionItem(name) for name in library().names() if name.startswith(incomplete)]


def names(context: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:  # noqa: ARG001
    """The pieces and gear of the layout that was named before."""
    from pathlib import Path

    from netlister.netlists.any import read_any
    from netlister.source import UnusableError, read_source

    path = str(context.params.get("layout") or "")
    try:
        layout = read_any(read_source(path, path), Path(path).resolve().parent)
    except (UnusableError, OSError, ValueError):
        return []
    found = (*layout.pieces, *layout.machines, *layout.variables, *layout.reversers, *layout.buses)
    return [CompletionItem(name) for name in dict.fromkeys(found) if name.startswith(incomplete)]

"""The command `netlister`: finds the file of a command and runs it."""

from __future__ import annotations

import sys
from importlib import import_module

import click

import netlister

COMMANDS = (
    "start", "check", "poles", "routes", "drop", "wire-size", "explain", "kinds", "draw", "card", "report", "watch",
    "netlist", "symbols", "spice", "schematic", "graph", "testsheet", "diagnose",
)  # fmt: skip


class _Lazy(click.Group):
    """Imports a command only when it is asked for, so that each starts quickly."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            from netlister.source import suggest

            ctx.fail(f"there is no command '{cmd_name}'{suggest(cmd_name, COMMANDS)}")
        command: click.Command = import_module(f"netlister.cli.{cmd_name.replace('-', '_')}").command
        return command


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(netlister.__version__, prog_name="netlister")
def group() -> None:
    """Prove the wiring of a two-rail model railway over every combination of turnout positions."""


def main() -> None:
    """Run the command line."""
    try:
        group(prog_name="netlister")
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)

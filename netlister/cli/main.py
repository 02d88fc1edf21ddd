"""The command `netlister`: finds the file of a command and runs it."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from io import TextIOWrapper
from typing import TextIO

import click

import netlister

COMMANDS = (
    "start", "propose", "check", "mend", "diff", "poles", "routes", "drop", "wire-size", "explain", "kinds", "schema",
    "draw", "card", "report", "watch", "netlist", "symbols", "spice", "schematic", "graph", "schedule", "terminals",
    "labels", "materials", "steps", "workbook", "testsheet", "diagnose", "trace", "campaign", "manual",
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
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a name that the terminal cannot show is still told
    try:
        group(prog_name="netlister")
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    except OSError as error:
        if error.filename is not None:
            raise
        click.echo(f"Error: standard output cannot be written: {error.strerror}", err=True)
        _silence(sys.stdout)
        sys.exit(2)


def _silence(stream: TextIO | None) -> None:
    """Let nothing that is still held back be written when the program ends."""
    if stream is not None:
        with open(os.devnull, "wb") as nothing:  # noqa: PTH123
            os.dup2(nothing.fileno(), stream.fileno())

"""The command `netlister`: finds the file of a command and runs it."""

from __future__ import annotations

import gc
import os
import sys
from importlib import import_module
from io import TextIOWrapper
from typing import Any, TextIO

import click

import netlister

COMMANDS = (
    "start", "propose", "check", "mend", "diff", "poles", "routes", "drop", "wire-size", "explain", "kinds", "schema",
    "draw", "card", "report", "watch", "serve", "netlist", "symbols", "spice", "schematic", "graph", "schedule",
    "terminals", "labels", "materials", "steps", "workbook", "testsheet", "diagnose", "trace", "campaign", "manual",
)  # fmt: skip


EXTRAS = {
    "numpy": "volts",
    "skidl": "netlists",
    "cairosvg": "pictures",
    "weasyprint": "papers",
    "xlsxwriter": "papers",
    "segno": "papers",
    "distributed": "cluster",
    "pygls": "serve",
    "lsprotocol": "serve",
}
"""Packages that only some commands need, and the extra of the installation that brings each."""


class _ExtraMissingError(click.ClickException):
    """A package that was not installed; no answer was given, so the exit code is not that of findings."""

    exit_code = 2


class _Lazy(click.Group):
    """Imports a command only when it is asked for, so that each starts quickly."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; where a package of an extra is missing, say which extra brings it."""
        try:
            return super().invoke(ctx)
        except ModuleNotFoundError as error:
            package = (error.name or "").partition(".")[0]
            if package not in EXTRAS:
                raise
            message = f"this needs {package}, which is not installed: pip install 'netlister[{EXTRAS[package]}]'"
            raise _ExtraMissingError(message) from None

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
            stream.reconfigure(errors="backslashreplace")  # a name that the terminal cannot show is still written
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
    finally:
        gc.freeze()  # the program ends: nobody looks through what is left for what may be thrown away


def _silence(stream: TextIO | None) -> None:
    """Let nothing that is still held back be written when the program ends."""
    if stream is not None:
        with open(os.devnull, "wb") as nothing:  # noqa: PTH123
            os.dup2(nothing.fileno(), stream.fileno())

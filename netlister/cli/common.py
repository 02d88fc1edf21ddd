"""What the commands share: reading a layout, colour, faults of a file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from netlister.source import Source, UnusableError, read_source

if TYPE_CHECKING:
    from netlister.layout.model import Layout

LAYOUT = click.argument("layout")
FORMAT = click.option(
    "--format", "style", type=click.Choice(["text", "json"]), default="text", help="What to write; text if left out."
)
COLOUR = click.option(
    "--color", type=click.Choice(["auto", "always", "never"]), default="auto", help="Colour in the text."
)


def shown_name(path: str) -> str:
    """The name under which a file is spoken of: as given, but never a whole path from the root."""
    if path == "-" or not Path(path).is_absolute():
        return path if path != "-" else "<stdin>"
    try:
        return str(Path(path).relative_to(Path.cwd()))
    except ValueError:
        return Path(path).name


def open_layout(path: str, style: str = "text") -> tuple[Source, Layout]:
    """Read a layout, or say what is wrong with it and leave with exit code 2."""
    from netlister.netlists.rebuild import read_any

    name = shown_name(path)
    try:
        source = read_source(path, name)
        layout = read_any(source, None if path == "-" else Path(path).resolve().parent)
    except UnusableError as error:
        unusable(error, name, style)
    return source, layout


def unusable(error: UnusableError, name: str, style: str) -> NoReturn:
    """Say what makes a file unusable and leave with exit code 2."""
    if style == "json":
        from netlister.formats import json

        click.echo(json.dump(json.unusable_object(name, error)), nl=False)
    else:
        from netlister.formats import text

        click.echo(text.unusable(error), nl=False)
    sys.exit(2)


def wants_colour(choice: str) -> bool:
    """Whether to colour the output: as told, else on a terminal where NO_COLOR is not set."""
    import os

    if choice == "auto":
        return sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    return choice == "always"


def write(text: str) -> None:
    """Write text to standard output as UTF-8 with plain line ends, whatever the machine."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8", "surrogateescape"))
    sys.stdout.buffer.flush()


def not_the_layout(layout: str, output: str, instead: str, option: str = "--output") -> None:
    """Refuse to write over the layout itself."""
    if output != "-" and _same(layout, output):
        message = f"'{output}' is the layout itself; name another file, as in {instead}"
        raise click.BadParameter(message, param_hint=option)


def write_file(output: str, text: str) -> None:
    """Write text to a file, whole or not at all, or for `-` to standard output."""
    write_bytes(output, text.encode("utf-8", "surrogateescape"))


def write_bytes(output: str, data: bytes) -> None:
    """Write bytes to a file, whole or not at all, or for `-` to standard output."""
    if output == "-":
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    try:
        _write_whole(Path(output), data)
    except OSError as error:
        message = f"'{output}' cannot be written: {error.strerror}"
        raise click.ClickException(message) from None


def _same(one: str, other: str) -> bool:
    import contextlib

    with contextlib.suppress(OSError):
        return one != "-" and Path(one).samefile(other)
    return False


def _write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all: beside it first, then into its place."""
    import os
    import shutil

    if path.exists() and not path.is_file():
        path.write_bytes(data)  # a device or a pipe, or an error
        return
    path = path.resolve()
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("xb") as file:
            file.write(data)
        if path.exists():
            shutil.copymode(path, beside)
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise

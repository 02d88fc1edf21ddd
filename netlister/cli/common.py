"""What the commands share: reading a layout, colour, faults of a file."""

from __future__ import annotations

import errno
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from netlister.source import Source, UnusableError, read_source

if TYPE_CHECKING:
    from netlister.formats.json import EditsOf
    from netlister.layout.model import Layout
    from netlister.repairs.model import Repair

LAYOUT = click.argument("layout")
FORMAT = click.option(
    "--format", "style", type=click.Choice(["text", "json"]), default="text", help="What to write; text if left out."
)
OVER = click.option(
    "--write", "over", is_flag=True, help="Write it over LAYOUT; the old file is kept as LAYOUT.orig once."
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
    from netlister.netlists.any import read_any

    name = shown_name(path)
    try:
        source = read_input(path, name)
        layout = read_any(source, folder_of(path))
    except UnusableError as error:
        unusable(error, name, style)
    _inputs().extend(Path(path).parent / used for used in layout.use)
    return source, layout


def _inputs() -> list[Path]:
    """The files that this run of a command reads; none of them is written over."""
    context = click.get_current_context(silent=True)
    found: list[Path] = [] if context is None else context.meta.setdefault("netlister.inputs", [])
    return found


def read_input(path: str, name: str = "") -> Source:
    """Read a file, or standard input for `-`, and remember it. Raises UnusableError."""
    if path != "-":
        _inputs().append(Path(path))
    return read_source(path, name)


def folder_of(path: str) -> Path | None:
    """The folder of a layout's file; None for standard input."""
    return None if path == "-" else Path(path).resolve().parent


READ_BACK = 400_000
"""Characters of text that are read again to prove the edits of repairs; of longer files only what is written is."""


def edits_finder(source: Source, layout: Layout, folder: Path | None) -> EditsOf:
    """Finds the edits of the text for each change of a repair; none where the file is written so that none can be made.

    Changes that write in one place are made by the edits of the first of them.
    """
    left = READ_BACK
    known: dict[Any, list[dict[str, Any]]] = {}

    def edits_of(edit: Any) -> list[dict[str, Any]]:
        nonlocal left
        from netlister.edits.model import ImpossibleError
        from netlister.edits.text import EditError, text_edits
        from netlister.formats.json import edit_object

        if edit not in known:
            read_back = left >= len(source.text)
            left -= len(source.text)
            try:
                edits = text_edits(layout, source, edit, folder, read_back=read_back)
            except (EditError, ImpossibleError):
                edits = []
            known[edit] = [edit_object(one) for one in edits]
        return known[edit]

    def edits_of_repair(repair: Repair) -> list[list[dict[str, Any]]]:
        each = [edits_of(chosen.edit) for chosen in repair.choices]
        if len(each) == 1:
            return each
        together = edits_of(repair.edit)
        if all(each) and sorted((e for edits in each for e in edits), key=repr) == sorted(together, key=repr):
            return each
        return [together, *([] for _ in each[1:])]  # two write in one place

    return edits_of_repair


def unusable(error: UnusableError, name: str, style: str) -> NoReturn:
    """Say what makes a file unusable and leave with exit code 2."""
    if style == "json":
        from netlister.formats import json

        write(json.dump(json.unusable_object(name, error)))
    else:
        from netlister.formats import text

        write(text.unusable(error))
    sys.exit(2)


def wants_colour(choice: str) -> bool:
    """Whether to colour the output: as asked for, else on a terminal where NO_COLOR is not set."""
    import os

    if choice == "auto":
        return sys.stdout is not None and sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    return choice == "always"


def write(text: str) -> None:
    """Write text to standard output as UTF-8 with plain line ends, whatever the machine."""
    _write_out(text.encode("utf-8", "surrogateescape"))


def _write_out(data: bytes) -> None:
    if sys.stdout is None:
        raise OSError(errno.EBADF, "standard output is closed")
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def not_the_layout(layout: str, output: str, instead: str, option: str = "--output") -> None:
    """Refuse to write over the layout itself."""
    if output != "-" and _same(layout, output):
        message = f"'{output}' is the layout itself; name another file, as in {instead}"
        raise click.BadParameter(message, param_hint=option)


def one_target(layout: str, output: str, style: str, *, over: bool, instead: str) -> None:
    """Refuse options of a command that changes a layout which leave open where the new text goes."""
    if output and over:
        raise click.UsageError("'--output' and '--write' exclude each other")
    if output == "-" and style == "json":
        raise click.UsageError("'--format json' goes to standard output already; name a file with '--output'")
    if output:
        not_the_layout(layout, output, instead)


def write_file(output: str, text: str) -> None:
    """Write text to a file, whole or not at all, or for `-` to standard output."""
    write_bytes(output, text.encode("utf-8", "surrogateescape"))


def write_bytes(output: str, data: bytes) -> None:
    """Write bytes to a file, whole or not at all, or for `-` to standard output."""
    if output == "-":
        _write_out(data)
        return
    _not_an_input(output)
    try:
        _put_in_place([(_write_beside(Path(output), data), Path(output))])
    except OSError as error:
        message = f"'{output}' cannot be written: {error.strerror}"
        raise click.ClickException(message) from None


def write_over(path: str, source: Source, text: str) -> None:
    """Write a new text over the layout that was read from a file, and say where the old one is kept."""
    from netlister.edits.write import WriteError, write_layout

    try:
        kept = write_layout(path, source, text)
    except WriteError as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"wrote {path}" + (f"; the old file is kept as {kept.name}" if kept else ""), err=True)


def write_set(files: dict[Path, bytes]) -> None:
    """Write several files that belong together, all or none: none is in its place before all are written."""
    for path in files:
        _not_an_input(str(path))
    beside: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            beside.append((_write_beside(path, data), path))
        _put_in_place(beside)
    except OSError as error:
        for written, path in beside:
            if written != path:
                written.unlink(missing_ok=True)
        message = f"'{error.filename or next(iter(files))}' cannot be written: {error.strerror}"
        raise click.ClickException(message) from None


def _not_an_input(output: str) -> None:
    for path in _inputs():
        if _same(str(path), output):
            message = f"'{output}' is a file that was read for this; name another one to write"
            raise click.ClickException(message)


def _same(one: str, other: str) -> bool:
    import contextlib

    with contextlib.suppress(OSError):
        return one != "-" and Path(one).samefile(other)
    return False


def _write_beside(path: Path, data: bytes) -> Path:
    """Write what shall be in a file into a new one beside it, and give its place; into a device or pipe directly."""
    from netlister.edits.write import written_beside

    if path.exists() and not path.is_file():
        path.write_bytes(data)  # a device or a pipe, or an error
        return path
    return written_beside(path.resolve(), data)


def _put_in_place(written: list[tuple[Path, Path]]) -> None:
    for beside, path in written:
        if beside != path:
            try:
                beside.replace(path.resolve())
            except BaseException:
                beside.unlink(missing_ok=True)
                raise

"""Settings of `check` from a file: `netlister.toml`, or `[tool.netlister]` of `pyproject.toml`.

The nearest such file counts, from the folder of the layout upwards; what is written on the command line goes first.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import click

LEVELS = ("note", "warning", "error", "never")


class FileSettings(NamedTuple):
    """What a file of settings says; None where it says nothing. `file`: its name, or nothing."""

    file: str = ""
    select: tuple[str, ...] | None = None
    ignore: tuple[str, ...] | None = None
    fail_on: str | None = None
    limit: int | None = None
    allow_unproved: bool | None = None


def settings_for(path: str) -> FileSettings:
    """The settings that hold for a layout. Raises click.UsageError naming the file and what is wrong with it."""
    folder = Path.cwd() if path == "-" else Path(path).resolve().parent
    for above in (folder, *folder.parents):
        found = _read(above)
        if found is not None:
            return found
    return FileSettings()


def _read(folder: Path) -> FileSettings | None:
    for name in ("netlister.toml", "pyproject.toml"):
        path = folder / name
        if not path.is_file():
            continue
        import tomllib

        try:
            data = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            if name == "pyproject.toml":
                continue  # another program's file, and its own affair
            message = f"{_said(path)}: it cannot be read as TOML: {error}"
            raise click.UsageError(message) from None
        table = data if name == "netlister.toml" else data.get("tool", {}).get("netlister")
        if table is not None:
            return _checked(path, table)
    return None


def _said(path: Path) -> str:
    try:
        return str(path.relative_to(Path.cwd()))
    except ValueError:
        return path.name


def _checked(path: Path, table: Any) -> FileSettings:
    file = _said(path)
    if not isinstance(table, dict):
        message = f"{file}: 'netlister' must be a table of settings"
        raise click.UsageError(message)
    for key, value in table.items():
        fault = _fault(key, value)
        if fault:
            message = f"{file}: {fault}"
            raise click.UsageError(message)
    made: dict[str, Any] = {key.replace("-", "_"): tuple(v) if isinstance(v, list) else v for key, v in table.items()}
    return FileSettings(file, **made)


KNOWN = ("select", "ignore", "fail-on", "limit", "allow-unproved")


def _fault(key: str, value: object) -> str:
    """What is wrong with a setting, or nothing."""
    from netlister.source import suggest

    if key not in KNOWN:
        known = ", ".join(KNOWN)
        return f"there is no setting '{key}'{suggest(key, KNOWN) or f'; there are {known}'}"
    if key in {"select", "ignore"}:
        return _faulty_rules(key, value)
    if key == "fail-on":
        return "" if value in LEVELS else f"'fail-on' must be one of {', '.join(LEVELS)}"
    if key == "limit":
        return "" if type(value) is int and value >= 0 else "'limit' must be a whole number of steps, 0 for any"
    return "" if type(value) is bool else "'allow-unproved' must be true or false"


def _faulty_rules(key: str, value: object) -> str:
    from netlister.rules import BY_NAME
    from netlister.source import suggest

    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        return f"'{key}' must be a list of rules, as in {key} = [\"feed-without-tap\"]"
    for one in value:
        if one not in BY_NAME:
            return f"there is no rule '{one}'{suggest(one, BY_NAME)}; 'netlister explain' lists the rules"
    return ""

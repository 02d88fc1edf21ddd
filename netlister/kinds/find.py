"""Where the kinds' files are: inside an installed package, else beside it in a checkout."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1]


def folder(package: Path = PACKAGE) -> Path:
    """The folder of the kinds that every layout can use: `_parts` in the package, else `parts` beside it."""
    installed = package / "_parts"
    return installed if installed.is_dir() else package.parent / "parts"


@cache
def files(place: Path | None = None) -> dict[str, Path]:
    """The file of each kind below a folder, by the kind's name, sorted. Each file is named as its kind.

    Nothing is read but names. Without a folder, that of the kinds that every layout can use.
    """
    found: dict[str, Path] = {}
    for inside, _, names in os.walk(place or folder()):
        for name in names:
            if name.endswith(".yaml"):
                found[name[: -len(".yaml")]] = Path(inside) / name
    return dict(sorted(found.items()))

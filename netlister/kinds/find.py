"""Where the kinds' files are: inside an installed package, else beside it in a checkout."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path


def folder() -> Path:
    """The folder of the kinds that every layout can use."""
    package = Path(__file__).parents[1]
    installed = package / "_parts"
    return installed if installed.is_dir() else package.parent / "parts"


@cache
def files() -> dict[str, Path]:
    """The file of each kind, by the kind's name, sorted; each file is named as its kind."""
    found: dict[str, Path] = {}
    for place, _, names in os.walk(folder()):
        for name in names:
            if name.endswith(".yaml"):
                found[name[: -len(".yaml")]] = Path(place) / name
    return dict(sorted(found.items()))

"""How much a test tries: less in the suite of everyday, all of it with `NETLISTER_LONG=1`."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Sequence

T = TypeVar("T")
LONG = bool(os.environ.get("NETLISTER_LONG"))


def seeds(few: int, many: int) -> range:
    """Seeds of random cases."""
    return range(many if LONG else few)


def some(things: Sequence[T], few: int) -> Sequence[T]:
    """All of them, or so many of them spread evenly, the first among them."""
    if LONG or len(things) <= few:
        return things
    return [things[k * len(things) // few] for k in range(few)]

"""Treads of wheels, heads of rails, and how far past the nose of a frog a tread touches both V rails.

The figures and their sources are in `wheels.yaml`, beside this file.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

from netlister.compose import compose
from netlister.lengths import Metres
from netlister.quantity import LENGTH, STATUSES, parse
from netlister.source import Mapping, Source

NEAR = 0.1e-3
"""Gauges that differ by no more than this, in m, are one gauge: 22.42 mm and 22.5 mm are."""


class Tread(NamedTuple):
    """The width of a tread, and who says so."""

    width: Metres
    source: str


@cache
def _tables() -> Mapping:
    path = Path(__file__).with_name("wheels.yaml")
    root = compose(Source(path.name, path.read_text(encoding="utf-8")))
    assert isinstance(root, Mapping)
    for name, section in root.value:
        for node in (section,) if isinstance(section, Mapping) else section.value:
            status = {key.value: value.value for key, value in node.value}.get("status")
            if status not in STATUSES:
                msg = f"'{name.value}' has the status '{status}'; write one of {', '.join(STATUSES)}"
                raise ValueError(msg)
    return root


def _section(name: str) -> dict[str, object]:
    found = next(value for key, value in _tables().value if key.value == name)
    assert isinstance(found, Mapping)
    return {key.value: value for key, value in found.value}


@cache
def _by_code(section: str) -> dict[int, Metres]:
    table = _section(section)["by-code"]
    assert isinstance(table, Mapping)
    return {int(key.value): Metres(parse(value.value, LENGTH)) for key, value in table.value}


@cache
def treads() -> dict[int, Metres]:
    """The width of the tread in m by wheel code (NMRA RP-25)."""
    return _by_code("treads")


@cache
def heads() -> dict[int, Metres]:
    """The width of the rail head in m by rail code (NMRA RP-15.1, table 1)."""
    return _by_code("heads")


@cache
def widest_tread(gauge: Metres) -> Tread | None:
    """The widest tread that the standards allow for a track gauge; None where no figure is known."""
    entries = next(value for key, value in _tables().value if key.value == "gauges")
    found = []
    for entry in entries.value:
        fields = {key.value: value.value for key, value in entry.value}
        if abs(parse(fields["gauge"], LENGTH) - gauge) <= NEAR:
            found.append(Tread(Metres(parse(fields["tread"], LENGTH)), fields["source"]))
    return max(found, default=None)


def head_width(code: int) -> Metres | None:
    """The width of the head of a rail of a code.

    Between two codes of the table it is interpolated; beyond them None.
    """
    table = heads()
    below = max((c for c in table if c <= code), default=None)
    above = min((c for c in table if c >= code), default=None)
    if below is None or above is None:
        return None
    if below == above:
        return table[below]
    return table[below] + (table[above] - table[below]) * (code - below) / (above - below)


def bridged(number: float, tread: Metres, head: Metres) -> tuple[Metres, Metres]:
    """From where to where a tread touches both V rails, in m from the theoretical point; the same twice: nowhere.

    `number`: of the frog; `tread`, `head`: widths in m. Worked out here, from the geometry alone: at the distance x the
    gauge faces of the V rails are x / number apart. The rails are two only where that is at least twice the head; a
    tread against one gauge face touches the other rail while the spread less its head is no more than the tread.
    """
    start = 2 * head * number
    return start, max(start, number * (tread + head))

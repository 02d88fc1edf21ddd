"""What mends the circuit of a script, and what bare track in one needs: told in its parts and pins, with its lines."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from netlister.skidl.front import read_parts
from netlister.source import Source, UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.mend import Mended
    from netlister.propose.proposal import Proposal


def mend(circuit: Any = None, use: Iterable[str] = (), **options: Any) -> Mended:
    """The least repairs of a circuit, as `netlister mend` finds those of a layout; `to_text()` tells them.

    `options` are those of `netlister.mend.mend`. What to do is said in parts and pins, with the lines of the scripts;
    nothing is changed. Raises UnusableError as `check` does.
    """
    from netlister.mend import mend as mended

    layout, places = read_parts(circuit, use)
    try:
        found = mended(layout, **options)
    except UnusableError as error:
        raise UnusableError(places.told(fault) for fault in error.faults) from None

    def told(repair: Any) -> Any:
        return repair._replace(choices=tuple(c._replace(span=places.true(c.span)) for c in repair.choices))

    return found._replace(repairs=tuple(told(repair) for repair in found.repairs))


def propose(circuit: Any = None, use: Iterable[str] = (), **options: Any) -> Proposal:
    """The cheapest wiring for the track in a circuit, as `netlister propose` finds it; `to_text()` tells it.

    `options` are those of `netlister.propose_text`. What to do is said in parts and pins, with the lines of the
    scripts; nothing is changed. Raises UnusableError as `check` does.
    """
    from netlister.propose.search import propose as proposed

    layout, places = read_parts(circuit, use)
    try:
        found = proposed(layout, Source(places.name, ""), **options)
    except UnusableError as error:
        raise UnusableError(places.told(fault) for fault in error.faults) from None
    return replace(found, place=places.true)

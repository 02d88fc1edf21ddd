"""What the entries of a layout are in the drawing or script that it was read from: references and pins."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.source import Span


class DrawnFeed(NamedTuple):
    """A part that leads from a pole to a rail. `letter`: of the pole; `rail`: the terminal of the rail."""

    reference: str
    pole_pin: str
    rail_pin: str
    letter: str
    rail: str


class DrawnJoiner(NamedTuple):
    """A joiner: its reference, and its pins at the first and at the second end of its joint."""

    reference: str
    pins: tuple[str, str]


class DrawnAs(NamedTuple):
    """A part: its reference and the name of its symbol."""

    reference: str
    symbol: str


@dataclass(slots=True)
class DrawnLayout:
    """A drawing, as far as words about it need it; places are those of the entries of the layout.

    `names`: by name or terminal of the layout the reference, pin or net, where that is another. `parts`: by place.
    `joiners`: by place of a joint its left and its right joiner. `feeds`: by place of an entry of
    the feeds. `screws`: by name of a junction the reference of the terminal that is drawn there. `leads`: by a
    contact's own terminal the reference of the lead that takes it to a pole, and its pin at the pole. `links`: of each
    wire the reference, or nothing where two things only lie on one net. `nets`: the net of each
    rail.
    """

    names: dict[str, str] = field(default_factory=dict)
    parts: dict[Span, DrawnAs] = field(default_factory=dict)
    joiners: dict[Span, tuple[DrawnJoiner, DrawnJoiner]] = field(default_factory=dict)
    feeds: dict[Span, list[DrawnFeed]] = field(default_factory=dict)
    screws: dict[str, str] = field(default_factory=dict)
    links: list[str] = field(default_factory=list)
    nets: dict[str, str] = field(default_factory=dict)
    leads: dict[str, tuple[str, str]] = field(default_factory=dict)

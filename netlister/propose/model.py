"""What a design is made of: what was chosen before it, its changes with their reasons, and what they cost."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.model import Wire

if TYPE_CHECKING:
    from netlister.edits.model import Change

PRICES = {"joiner": 1.0, "feed": 1.0, "contact": 2.0, "reverser": 10.0, "unit": 5.0, "option": 2.0}
"""What each thing costs unless a price is given: a feed by the wire (one pole); an option is a piece altered."""

FROGS = ("contact", "unit")
"""What may give a frog its pole."""


AIMS = {
    "all-live": "every rail is live in all positions, for the least price",
    "no-blades": "every rail is live in all positions, and none has its pole over the blades of a turnout alone",
    "every-piece": "every rail is live in all positions, and every piece has its own wires: no joiner has to conduct",
    "switched-sidings": "a siding beyond a turnout is dead while the turnout is set against it; all else is live",
    "fewest-joiners": "track may be dead while a turnout is set against it; as few insulated joiners as can be",
    "fewest-wires": "track may be dead while a turnout is set against it; as few feed wires as can be",
}
"""What a wiring is to do. The first is meant where none is named."""

SWITCHING = ("switched-sidings", "fewest-joiners", "fewest-wires")
"""The aims that let turnouts switch track."""


NO_WIRE = Wire("", None, None, None)


class Section(NamedTuple):
    """A reversing section: its pieces, and the joints at its ends."""

    pieces: tuple[str, ...]
    joints: tuple[int, ...]


class Preferences(NamedTuple):
    """What is chosen before a design is made.

    `extra`: rails that need a wire although blades lead to them. `frogs`: what a frog gets. `crossings`: what the frogs
    of a crossing get. `by_hand`: whether sections on direct current are turned by hand switches, whatever a turnout
    could say. `metal`: pairs of a joint and a side that stay joined to a frog, so that a turnout switches the track
    beyond; `bladed`: rails whose net needs no wire for the same reason, and frogs that need no
    contact, since one that they are joined to has its pole over blades. `wire`: of each feeder that is added.
    """

    sections: tuple[Section, ...] = ()
    aim: str = "all-live"
    extra: frozenset[str] = frozenset()
    frogs: str = "contact"
    crossings: str = "contact"
    by_hand: bool = False
    metal: frozenset[tuple[int, int]] = frozenset()
    bladed: frozenset[str] = frozenset()
    wire: Wire = NO_WIRE


class Saving(NamedTuple):
    """What may be left out where a turnout switches the track beyond.

    `metal`: joints, with the side, that need no joiner. `terminal`: a rail whose net then needs none of its `wires`, or
    a frog whose net then needs none of its `contacts`. `rails`: all rails of that net.
    """

    metal: tuple[tuple[int, int], ...]
    terminal: str
    wires: int
    rails: frozenset[str]
    contacts: int = 0


@dataclass(slots=True)
class Design:
    """Changes with the reason for each; what is missing and cannot be added.

    `counted`: what is added, by the names of the prices. `doubtful`: joiners between two frogs that one machine moves,
    which might do without; `spared`: the contacts that would then do for two frogs. `savings`: per net what may be left
    out, best first: such joiners, and what turnouts that may switch track could save.
    """

    changes: list[tuple[Change, str]] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    counted: dict[str, int] = field(default_factory=lambda: dict.fromkeys(PRICES, 0))
    doubtful: int = 0
    spared: int = 0
    contradictions: int = 0
    savings: list[tuple[Saving, ...]] = field(default_factory=list)

    def cost(self, prices: dict[str, float]) -> float:
        """The price of all that is added."""
        return sum(count * prices[what] for what, count in self.counted.items())

    @property
    def joiners(self) -> int:
        """Insulated rail joints."""
        return self.counted["joiner"]

    @property
    def feeds(self) -> int:
        """Feed wires, one pole each."""
        return self.counted["feed"]

    @property
    def contacts(self) -> int:
        """Contacts of frogs."""
        return self.counted["contact"]

    @property
    def reversers(self) -> int:
        """Reversers."""
        return self.counted["reverser"]

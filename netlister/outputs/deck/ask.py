"""What a deck is asked for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.outputs.deck.timing import Timing

if TYPE_CHECKING:
    from netlister.circuit.model import State
    from netlister.layout.model import Value
    from netlister.lengths import Metres
    from netlister.outputs.deck.timing import Throw


class DeckError(ValueError):
    """What cannot be calculated, or is not there. `option`: the one that asked for it, if any.

    The message says what to write instead.
    """

    def __init__(self, message: str, option: str = "") -> None:
        super().__init__(message)
        self.option = option


class TrainPlace(NamedTuple):
    """A train at a place in m along a route of a piece (from its entering end), drawing a current in A."""

    train: str
    piece: str
    route: str
    at: Metres
    amps: float


@dataclass(frozen=True, slots=True)
class Ask:
    """What a deck is asked for.

    `state`: a value per variable of the circuit. `devices`: per automatic device 0 (a reverser straight, a frog unit
    on pole A) or 1. `steps`: places of one train, one after the other. `high`: the resistances of the least hopeful
    sources. `ideal`: supplies without the resistance that they have. `diodes`: as diodes, not as what conducts both
    ways.
    """

    state: State
    devices: tuple[Value, ...] = ()
    trains: tuple[TrainPlace, ...] = ()
    steps: tuple[TrainPlace, ...] = ()
    probes: tuple[str, ...] = ()
    throws: tuple[Throw, ...] = ()
    timing: Timing = field(default_factory=lambda: Timing(0.2, {}))
    stop: float = 0.0
    high: bool = True
    ideal: bool = False
    diodes: bool = False
    temperature: float = 20.0

    @property
    def moving(self) -> bool:
        """Whether anything is thrown."""
        return bool(self.throws)

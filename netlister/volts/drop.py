"""What each piece of track gets at its worst place: loop resistance, volts lost, short-circuit current."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import build
from netlister.volts.network_build import build_network
from netlister.volts.protection import Protection
from netlister.volts.solver import Solver
from netlister.volts.worst import profiles, worst_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.circuit.model import Circuit, When
    from netlister.layout.model import Layout, Supply
    from netlister.lengths import Metres
    from netlister.volts.network import Network
    from netlister.volts.profile import Case, Profile


class Drop(NamedTuple):
    """A piece at its worst place and in its worst state.

    `loop`: from the supply's terminals, in ohm, by the least hopeful resistances; `loop_low`: by the most hopeful.
    `at`: in m along `route` from its entering end. `when`: the positions that it needs, of the circuit's variables.
    `amps`: the current for which `volts_lost` and `share` are (None: none is known). `short`: the current that a short
    there draws, with the supply's own resistance (None: nothing limits it). `bound`: no less than the true loop.
    """

    piece: str
    route: str
    loop: float
    loop_low: float
    at: Metres
    when: When
    supply: str
    amps: float | None
    volts_lost: float | None
    share: float | None
    short: float | None
    bound: bool


class Survey:
    """The volts of a layout, worked out when asked for.

    `amps`: the current to calculate with, in place of the least trip current on the way to each piece. `temperature`:
    of wires and rails, in degC.
    """

    def __init__(self, circuit: Circuit, amps: float | None = None, temperature: float = 20.0) -> None:
        self.circuit = circuit
        self.amps = amps
        self.network: Network = build_network(circuit, temperature)
        self.solver = Solver(self.network)
        self.profiles: list[Profile] = list(profiles(self.solver))
        self._worst = worst_of(self.profiles)
        self._low = self._worst
        if any(e.ohm.low != e.ohm.high for e in self.network.elements):
            self._low = worst_of(profiles(Solver(self.network, high=False)))

    @classmethod
    def of(cls, layout: Layout, amps: float | None = None, temperature: float = 20.0) -> Survey:
        """The volts of a layout."""
        return cls(build(layout), amps, temperature)

    @property
    def layout(self) -> Layout:
        """The layout."""
        return self.circuit.layout

    def current(self, supply: str, piece: str = "") -> float | None:
        """The current to calculate with for a supply, in A; on a piece the least trip current on the way to it."""
        if self.amps is not None:
            return self.amps
        return self.protection.of_piece(piece, supply) if piece else self.layout.supplies[supply].trip

    def pieces(self) -> dict[str, Drop | None]:
        """Per piece, in the order of the layout, its worst place; None where it has no voltage in any state."""
        return self._pieces

    @cached_property
    def _pieces(self) -> dict[str, Drop | None]:
        found: dict[str, Drop | None] = {}
        for name in self.layout.pieces:
            profile, case = self._worst.get(name, (None, None))
            low = self._low.get(name, (None, None))[1]
            found[name] = None if profile is None or case is None else self._drop(profile, case, low)
        return found

    def _drop(self, profile: Profile, case: Case, low: Case | None) -> Drop:
        supply = self.layout.supplies[case.supply]
        amps = self.current(case.supply, profile.piece)
        lost = None if amps is None else case.loop * amps
        share = None if lost is None or not supply.voltage else lost / supply.voltage
        return Drop(
            profile.piece,
            profile.route,
            case.loop,
            case.loop if low is None else low.loop,
            case.at,
            case.when,
            case.supply,
            amps,
            lost,
            share,
            short_current(supply, case.loop),
            not profile.exact,
        )

    @cached_property
    def protection(self) -> Protection:
        """What protects each piece and wire."""
        return Protection(self.solver)

    def beyond(self, limit: Callable[[str, Supply], float | None]) -> dict[str, list[When]]:
        """Per piece the states in which its loop is above a limit in ohm, where there are any.

        `limit`: of a piece and a supply; None where there is none.
        """
        found: dict[str, list[When]] = {}
        for profile in self.profiles:
            limits = {s.name: limit(profile.piece, s) for s in self.layout.supplies.values()}
            whens = profile.beyond({name: ohm for name, ohm in limits.items() if ohm is not None})
            if whens:
                found.setdefault(profile.piece, []).extend(whens)
        return found

    def positions(self, when: When) -> dict[str, str]:
        """Positions by name; what automatic devices choose for themselves is left out."""
        variables = self.circuit.variables
        return {variables[v].name: variables[v].positions[values[0]] for v, values in when if v < len(variables)}


def short_current(supply: Supply, loop: float) -> float | None:
    """The current in A that a short draws over a loop in ohm; None where nothing limits it."""
    ohm = loop + supply.resistance
    return supply.voltage / ohm if ohm > 0 else None

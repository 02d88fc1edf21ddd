"""What is fed through each detector, breaker or fuse: the poles of the circuit that `circuit.behind` makes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.poles.diagram import NEVER

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.circuit.numbers import Net, PoleNumber
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Poles
    from netlister.routes.settings import Settings


class PartsBehind:
    """What is fed through the detectors of a layout, or through its breakers and fuses.

    `poles`: of a circuit with a pole of its own behind each such part. `names`: per such pole the part. `ahead`: per
    part the terminal on its side towards the supply. `settings`: those of the layout itself.
    """

    def __init__(
        self, poles: Poles, names: dict[PoleNumber, str], ahead: dict[str, str], settings: Callable[[], Settings]
    ) -> None:
        self.settings = settings
        self.poles = poles
        self.names = names
        self.ahead = ahead
        self._base: dict[str, dict[PoleNumber, Function]] = {}

    def net(self, terminal: str) -> Net:
        """The net of a terminal."""
        return self.poles.nets.of[self.poles.circuit.node[terminal]]

    def base(self, part: str) -> dict[PoleNumber, Function]:
        """The poles of the supplies that a part gets its current from, over other such parts or not, and when."""
        known = self._base.get(part)
        if known is None:
            known = self._base[part] = {}
            either, both = self.poles.diagrams.either, self.poles.diagrams.both
            for pole, f in self.poles.has(self.net(self.ahead[part])):
                more = self.base(self.names[pole]) if pole in self.names else {pole: f}
                for p, g in more.items():
                    if p < self.poles.count:
                        known[p] = either(known.get(p, NEVER), both(f, g))
        return known

"""What is behind each part of a kind in a wire: the circuit once more, with a pole of its own behind each of them."""

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
    """What is behind the detectors of a layout, or behind its breakers and fuses."""

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
        """The poles ahead of a part, through others before it or not, and when."""
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

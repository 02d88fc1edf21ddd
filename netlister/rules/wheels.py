"""What lies under the wheels of a train and gives them no current."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.lengths import HERE, Nanometres
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.routes.standing import Spot, turned, without_gaps
from netlister.routes.track import Step
from netlister.rules.electric import dead, lacking

if TYPE_CHECKING:
    from netlister.circuit.numbers import Net
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.routes.standing import Sides
    from netlister.routes.track import Lying, TrackGraph
    from netlister.rules.analysis import Analysis

_NO_CUTS = ((False, False), (False, False))


class Wheels:
    """What gives a wheel nothing, along the steps of a layout."""

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis
        self.track: TrackGraph = analysis.track
        self._sides: dict[tuple[str, int], Sides] = {}
        self._turned: dict[tuple[str, int], Sides] = {}
        self._lacking: dict[tuple[Net, Net | None], Function] = {}

    def sides(self, step: Step) -> Sides:
        """The stretches under the left and the right wheels of a step that give nothing."""
        key = (step.piece, step.route)
        found = self._sides.get(key)
        if found is None:
            found = self._sides[key] = self._ahead(Step(step.piece, step.route, forward=True))
            self._turned[key] = turned(found, self.track.length(step)) if any(found) else found
        return found if step.forward else self._turned[key]

    def _ahead(self, step: Step) -> Sides:
        track = self.track
        piece = track.piece(step)
        cuts = self._cuts(step)
        if piece.kind.plain and piece.name not in self.analysis.meant_dead and cuts == _NO_CUTS:
            return (), ()
        measured = track.measure(step)
        if not measured.stated:
            return (), ()
        rails = tuple(self._rails(step, *sides) for sides in (measured[1:3], measured[2:0:-1]))
        left, right = (
            without_gaps(rails[side], self._gaps(step, measured.length, cut)) if any(cut) else rails[side]
            for side, cut in enumerate(zip(*cuts, strict=True))
        )
        return left, right

    def _cuts(self, step: Step) -> tuple[tuple[bool, bool], tuple[bool, bool]]:
        insulated, none = self.track.insulated, (False, False)
        return insulated.get(self.track.entry(step), none), insulated.get(self.track.exit(step), none)

    def _gaps(self, step: Step, length: Nanometres, cut: tuple[bool, ...]) -> list[Spot]:
        """The halves of insulated joints that lie in a piece; where they would overlap the first goes before."""
        track = self.track
        half = track.gap // 2
        entry, leave = cut
        found: list[Spot] = []
        if entry and half:
            joint = track.settings.beyond[track.entry(step)].joint.name
            found.append(Spot(HERE, min(half, length), ALWAYS, "gap", joint))
        if leave and half:
            start = max(found[0].stop if found else HERE, length - half)
            joint = track.settings.beyond[track.exit(step)].joint.name
            if start < length:
                found.append(Spot(start, length, ALWAYS, "gap", joint))
        return found

    def _rails(self, step: Step, own: tuple[Lying, ...], opposite: tuple[Lying, ...]) -> tuple[Spot, ...]:
        piece = self.track.piece(step)
        plain = piece.kind.plain and piece.name not in self.analysis.meant_dead
        found: list[Spot] = []
        for one in own:
            for other in opposite:
                start, stop = max(one.start, other.start), min(one.stop, other.stop)
                if start >= stop:
                    continue
                if one.rail is None:
                    found.append(Spot(start, stop, ALWAYS, "dead", piece.name))
                elif not plain:
                    function = self._lack(piece, one.rail, other.rail)
                    if function != NEVER:
                        function = self.analysis.poles.diagrams.both(function, self._counts(step))
                    if function != NEVER:
                        found.append(Spot(start, stop, function, "rail", piece.terminal(one.rail)))
        return tuple(found)

    def _counts(self, step: Step) -> Function:
        """The states in which rails of a route are for this rule to tell.

        Those in which it is set, and not without current at both its ends: that is `dead-track`, unless it is meant
        to be dead in every state.
        """
        analysis, track = self.analysis, self.track
        piece = track.piece(step)
        meant = analysis.meant_dead.get(piece.name, NEVER)
        when = track.when(step)
        if meant != NEVER and analysis.always(meant):
            return when
        if piece.kind.plain:
            return NEVER
        diagrams = analysis.poles.diagrams
        out = ALWAYS
        for _, end in (track.entry(step), track.exit(step)):
            rails = piece.kind.ends[end]
            nets = [analysis.net(piece.terminal(rail)) for rail in (rails.left, rails.right)]
            out = diagrams.both(out, dead(analysis, nets[:1], nets[1:]))
            if out == NEVER:
                break
        return diagrams.without(when, diagrams.either(out, meant))

    def _lack(self, piece: Piece, rail: str, opposite: str | None) -> Function:
        net = self.analysis.net
        key = (net(piece.terminal(rail)), None if opposite is None else net(piece.terminal(opposite)))
        found = self._lacking.get(key)
        if found is None:
            found = self._lacking[key] = lacking(self.analysis, *key)
        return found

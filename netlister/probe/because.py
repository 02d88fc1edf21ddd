"""How a fault makes a train stop or trip the supply, in words: over what, for how far, what its wheels join."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.lengths import Nanometres, metres
from netlister.probe.live import Live
from netlister.probe.scene import NOTHING, Acts, Scene
from netlister.quantity import show

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.probe.explain import Explanation
    from netlister.probe.running import Footing, Running, TrainRun
    from netlister.probe.symptoms import Symptom


def because(symptoms: Sequence[Symptom], explanation: Explanation) -> list[str]:
    """For each symptom of a train what the faults of an explanation do to it."""
    return [said for s in symptoms if s.running is not None and (said := _how(s, s.running, explanation))]


def _how(symptom: Symptom, running: Running, explanation: Explanation) -> str:
    made, name = symptom.made, f"'{running.train.name}'"
    for acts, state in (symptom.places[k] for k in range(len(symptom.calm))):
        scene = Scene(made, Acts(made, acts), state)
        live, good = Live(made, scene, scene.effect(explanation.damages)), Live(made, scene, NOTHING)
        if symptom.what == "backwards" or (found := symptom.how(live, good)) is None:
            continue
        run, much = found
        if symptom.what == "dead":
            dead = next(f for f in run.footings if f.length and not live.feeds(f) and good.feeds(f))
            on = "" if live.feeds(next(f for f in reversed(run.footings) if f.length)) else " and farther"
            return (
                f"{name} has no current for {show(metres(Nanometres(much)), 'mm', 3)}{on}, {_running(running, run)}: "
                f"{' and '.join(_feet(live, dead))}"
            )
        if much < 0:
            return "the poles are joined wherever the train is"
        return f"{name}, {_running(running, run)}, joins {_joined(live, run.footings[much])}"
    return ""


def _running(running: Running, run: TrainRun) -> str:
    track = running.track
    return f"running over '{run.step.piece}' from {track.entry(run.step)[1]} to {track.exit(run.step)[1]}"


def _feet(live: Live, footing: Footing) -> Iterator[str]:
    for side, rails in (("left", footing.left), ("right", footing.right)):
        on = ", ".join(_rail(live, n) for n in rails) or "nothing"
        yield f"its {side}-hand wheels that pick up are on {on}"


def _joined(live: Live, footing: Footing) -> str:
    """What the wheels join, of which two are different poles whatever a reverser does, if there are such."""
    met, poles = live.met(footing), live.made.circuit.poles
    own = [[n for n in some if not all(poles[p].device for p in live.poles(n))] for some in met]
    sure = [some for some in own if len(some) > 1]
    return "; ".join(" and ".join(_rail(live, n) for n in some) for some in sure or met)


def _rail(live: Live, node: int) -> str:
    made, poles = live.made, live.poles(node)
    has = " and ".join(made.circuit.poles[p].name for p in poles) or "no pole"
    return f"{made.names[node]} ({has})"


def assumptions(symptoms: Sequence[Symptom]) -> list[str]:
    """What was taken of each train that a symptom names, and where it stops as drawn already."""
    found: dict[str, None] = {}
    for s in symptoms:
        if s.running is None:
            continue
        train = s.running.train
        if not train.axles:
            length = f", and for a trip as {show(train.length, 'mm', 3)} of wheels" if train.length else ""
            found[
                f"'{train.name}' has no axles in the file: where it stops it counts as one pair of wheels{length}. "
                "Write its axles, and it is known where it picks up."
            ] = None
            continue
        apart = " and ".join(
            f"{len(some)} on the {side} over {show(train.axles[max(some) - 1] - train.axles[min(some) - 1], 'mm', 3)}"
            for side, some in (("left", train.left), ("right", train.right))
            if some
        )
        found[f"Reckoned with the wheels of '{train.name}' that pick up: {apart}."] = None
        if s.what == "dead" and (much := _as_drawn(s)):
            over = show(metres(Nanometres(much)), "mm", 3)
            found[f"As drawn '{train.name}' has no current for {over} there already: see rule 'stall'."] = None
    return list(found)


def _as_drawn(symptom: Symptom) -> int:
    """How far the train runs without current where it was seen to stop, as drawn; 0: it does not stop."""
    assert symptom.running is not None
    much = 0
    for k in range(len(symptom.calm)):
        acts, state = symptom.places[k]
        good = Live(symptom.made, Scene(symptom.made, Acts(symptom.made, acts), state), NOTHING)
        for run in symptom.runs(state):
            here = 0
            for footing in run.footings:
                here = 0 if footing.length and good.feeds(footing) else here + footing.length
                much = max(much, here)
    return much if much and much >= symptom.running.carries else 0

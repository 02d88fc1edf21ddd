"""Tracks to begin with: pieces, joints and machines without any wiring, which `propose` adds."""

from __future__ import annotations

from dataclasses import dataclass, field

from netlister.layout.terminal import named

PLANS = {
    "loop": "an oval with passing roads",
    "terminus": "a line into a fan of roads that end at buffers",
    "branch": "a line with sidings on alternate sides",
    "shelf": "a shunting shelf: a headshunt and a fan of sidings",
    "yard": "a fiddle yard: roads between two ladders",
    "balloon": "a line into a loop that brings trains back",
}
FROGS = {
    "live": "live-frog",
    "bonded": "live-frog-bonded",
    "insulated": "insulated-frog",
    "metal": "isolated-metal-frog",
}
MOST_ROADS = 200


@dataclass(slots=True)
class _TrackLines:
    """Lines of the sections of a layout as they grow."""

    kind: str
    pieces: list[str] = field(default_factory=list)
    joints: list[str] = field(default_factory=list)
    turnouts: list[str] = field(default_factory=list)

    def plain(self, name: str, millimetres: int) -> str:
        """A rail section."""
        self.pieces.append(f"  {name}: {{length: {millimetres} mm}}")
        return name

    def turnout(self, hand: str) -> str:
        """A turnout with the next free number."""
        name = f"T{len(self.turnouts) + 1}"
        self.turnouts.append(name)
        self.pieces.append(f"  {name}: {{kind: {self.kind}, hand: {hand}}}")
        return name

    def join(self, first: str, second: str) -> None:
        """A metal joint."""
        self.joints.append(f"  - {{from: {first}, to: {second}}}")

    def ladder(self, into: str, roads: int, hand: str) -> list[str]:
        """Turnouts one after the other from an end of track; the ends of the roads that leave them."""
        ends = []
        here = into
        for _ in range(roads - 1):
            turnout = self.turnout(hand)
            self.join(here, named(turnout, "toe"))
            ends.append(named(turnout, "diverging"))
            here = named(turnout, "through")
        return [*ends, here]


def plan(shape: str, roads: int, supply: str, frog: str) -> str:
    """The text of a layout without wiring. `shape`: one of PLANS; `roads`: from 2, of a balloon 1, to MOST_ROADS."""
    track = _TrackLines(FROGS[frog])
    if shape == "loop":
        _loop(track, roads)
    elif shape == "balloon":
        _balloon(track, roads)
    elif shape == "yard":
        _between(track, roads, track.plain("west", 1000), "east")
    elif shape == "branch":
        _branch(track, roads)
    else:
        entry = track.plain("line" if shape == "terminus" else "headshunt", 1000 if shape == "terminus" else 500)
        for number, end in enumerate(track.ladder(entry, roads, "right"), 1):
            road = track.plain(f"road-{number}", 600)
            track.join(end, road)
            track.pieces.append(f"  stop-{number}: {{kind: buffer}}")
            track.join(road, f"stop-{number}")
    machines = [f"  M{number}: {{throws: [{name}]}}" for number, name in enumerate(track.turnouts, 1)]
    voltage = "type: dcc, voltage: 15 V, trip: 3 A" if supply == "dcc" else "type: dc, voltage: 12 V, trip: 1 A"
    lines = [
        f"# {PLANS[shape].capitalize()}, without wiring. Change lengths and names, then see what to add:",
        "#",
        "#     netlister propose {name}",
        "#",
        "# Left and right are always seen looking forward along a piece: a rail section from its end a to its end b,",
        "# a turnout from its toe (the blades) to its frog.",
        "format: netlister/1",
        f"supplies: {{main: {{{voltage}}}}}",
        "track:",
        *track.pieces,
        *(["machines:", *machines] if machines else []),
        "joints:",
        *track.joints,
    ]
    return "\n".join(lines) + "\n"


def _between(track: _TrackLines, roads: int, entry: str, leave: str) -> None:
    """Roads between two ladders that face each other."""
    first = track.ladder(entry, roads, "right")
    second = track.ladder(f"{track.plain(leave, 1000)}.a", roads, "left")
    for number, (start, end) in enumerate(zip(first, second, strict=True), 1):
        road = track.plain(f"road-{number}", 1500)
        track.join(start, named(road, "a"))
        track.join(named(road, "b"), end)


def _loop(track: _TrackLines, roads: int) -> None:
    """An oval: the two ladders of its roads are joined round the back."""
    _between(track, roads, track.plain("west", 1000), "east")
    back = track.plain("back", 2000)
    track.join("east.b", named(back, "a"))
    track.join(named(back, "b"), "west.a")


def _branch(track: _TrackLines, roads: int) -> None:
    """A line with a turnout for each siding."""
    here = track.plain("line-1", 800)
    for number in range(1, roads):
        turnout = track.turnout("right" if number % 2 else "left")
        track.join(here, named(turnout, "toe"))
        siding = track.plain(f"siding-{number}", 500)
        track.join(named(turnout, "diverging"), siding)
        here = track.plain(f"line-{number + 1}", 800)
        track.join(named(turnout, "through"), here)


def _balloon(track: _TrackLines, roads: int) -> None:
    """A line, a turnout, and a loop from one of its legs to the other; with several roads these lie on the loop."""
    line = track.plain("line", 1500)
    turnout = track.turnout("right")
    track.join(line, named(turnout, "toe"))
    if roads == 1:
        loop = track.plain("loop", 3000)
        track.join(named(turnout, "through"), named(loop, "a"))
        track.join(named(loop, "b"), named(turnout, "diverging"))
        return
    out = track.plain("out", 1500)
    track.join(named(turnout, "through"), named(out, "a"))
    _between(track, roads, named(out, "b"), "back")
    track.join("back.b", named(turnout, "diverging"))

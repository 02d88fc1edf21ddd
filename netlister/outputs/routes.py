"""The ways from one place to another, as a table and as plain values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.lengths import HERE, Nanometres, in_mm, metres
from netlister.poles.diagram import ALWAYS
from netlister.routes.marks import marks, passed
from netlister.routes.track import TrackGraph, back, shown_mm
from netlister.routes.ways import MOST_WAYS, WaySearch, carried, contradiction

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Layout
    from netlister.poles.diagram import Function
    from netlister.routes.marks import Mark
    from netlister.routes.settings import Settings
    from netlister.routes.track import Step
    from netlister.routes.ways import FoundWays, TrackPlace, Way

FORMAT = "netlister-routes/1"
MOST_CHANGES = 4


class PlaceError(ValueError):
    """A place that was asked for does not exist. The message says what to write instead."""


class RouteAnswer(NamedTuple):
    """The answer: from where to where, the ways, and where there is none, why."""

    start: TrackPlace
    goal: TrackPlace
    changes: int
    found: FoundWays
    why: str


def place_of(layout: Layout, text: str) -> TrackPlace:
    """An end `piece.end`, or a whole piece. Raises PlaceError."""
    from netlister.source import suggest

    piece, dot, end = text.partition(".")
    if piece not in layout.pieces:
        message = f"there is no piece of track '{piece}'{suggest(piece, layout.pieces)}"
        raise PlaceError(message)
    ends = layout.pieces[piece].kind.ends
    if dot and end not in ends:
        message = f"'{piece}' has no end '{end}'; it has {', '.join(repr(e) for e in ends)}"
        raise PlaceError(message)
    return piece, end


def find(
    settings: Settings, start: TrackPlace, goal: TrackPlace, changes: int = 0, most: int = MOST_WAYS
) -> RouteAnswer:
    """Every simple way from one place to another with at most so many changes of direction, at most `most` of them."""
    track = TrackGraph(settings)
    found = WaySearch(track, start, goal, changes).run(most)
    why = "" if found.ways or found.cut else _why(track, start, goal, changes)
    return RouteAnswer(start, goal, changes, found, why)


def _why(track: TrackGraph, start: TrackPlace, goal: TrackPlace, changes: int) -> str:
    """Why there is no way."""
    said = ""
    loose = WaySearch(track, start, goal, changes).run(1, positions=False)
    if loose.ways:
        said = _contradicted(track, loose.ways[0])
    for more in range(changes + 1, MOST_CHANGES + 1):
        if WaySearch(track, start, goal, more).run(1).ways:
            times = "once" if more == 1 else f"{more} times"
            hint = f"a train that changes direction {times} gets there: add --reverse {more}"
            return f"{said}; {hint}" if said else f"no track leads there straight on; {hint}"
    if said:
        return said
    if start == goal:
        return "no way leads back to it without running over some track twice"
    return "no track leads from one to the other"


def _contradicted(track: TrackGraph, way: Way) -> str:
    found = contradiction(track, way)
    circuit = track.settings.poles.circuit
    if found is None:
        return "the positions of its turnouts contradict each other"
    if found.variable is None:
        return f"the way over '{found.step.piece}' needs positions that 'never' rules out, or that cannot be together"
    variable = circuit.variables[found.variable]
    first, then = (" or ".join(f"'{variable.positions[v]}'" for v in values) for values in (found.wanted, found.then))
    return (
        f"the way there needs '{variable.name}' at {first} first and at {then} for '{found.step.piece}', "
        "and a train under way cannot have both"
    )


# -- plain values


def place_text(place: TrackPlace) -> str:
    """A place as it is written."""
    return ".".join(place) if place[1] else place[0]


def positions_for(settings: Settings, function: Function) -> list[dict[str, str]]:
    """The positions that set a run: partial positions, any of which will do; `[{}]` where nothing is to be set."""
    if function == ALWAYS:
        return [{}]
    poles = settings.poles
    variables = poles.circuit.variables
    cubes = poles.diagrams.cover(function, function)
    entries = [{variables[v].name: variables[v].positions[x] for v, x in sorted(cube)} for cube in cubes]
    return sorted(entries, key=lambda entry: (len(entry), tuple(entry.items())))


def rounded_mm(length: Nanometres) -> float:
    """Nanometres as millimetres, to a thousandth."""
    value = round(in_mm(metres(length)), 3)
    return int(value) if value == int(value) else value


def ways_object(settings: Settings, ways: RouteAnswer) -> dict[str, Any]:
    """The answer as plain values. Lengths and places in mm."""
    track = TrackGraph(settings)
    result: dict[str, Any] = {
        "format": FORMAT,
        "layout": settings.layout.name,
        "from": place_text(ways.start),
        "to": place_text(ways.goal),
        "complete": not ways.found.cut,
        "routes": [_way(settings, track, way) for way in ways.found.ways],
    }
    if ways.why:
        result["why_none"] = ways.why
    return result


def _way(settings: Settings, track: TrackGraph, way: Way) -> dict[str, Any]:
    runs = [_run(settings, track, run, when) for run, when in zip(way.runs, way.when, strict=True)]
    unknown = sorted({p["piece"] for run in runs for p in run["pieces"] if p["length"] is None})
    return {"length": _total(run["length"] for run in runs), "unknown": unknown, "runs": runs}


def _total(lengths: Iterator[float]) -> float:
    value = round(sum(lengths), 3)
    return int(value) if value == int(value) else value


def _run(settings: Settings, track: TrackGraph, run: tuple[Step, ...], when: Function) -> dict[str, Any]:
    pieces = passed(track, run)
    found = marks(track, run)
    return {
        "set": positions_for(settings, when),
        "length": rounded_mm(sum((p.length for p in pieces), HERE)),
        "pieces": [
            {
                "piece": p.piece,
                "from": p.entry,
                "to": p.exit,
                "at": rounded_mm(p.at),
                "length": rounded_mm(p.length) if p.stated else None,
            }
            for p in pieces
        ],
        "gaps": [
            {"at": rounded_mm(m.start), "side": m.side, "rails": list(m.rails), "known": m.known}
            | ({"joint": m.joint} if m.joint else {"piece": m.piece})
            for m in found
            if m.what == "gap"
        ],
        "dead": [
            {
                "at": rounded_mm(m.start),
                "length": rounded_mm(m.stop - m.start),
                "side": m.side,
                "piece": m.piece,
                "known": m.known,
            }
            for m in found
            if m.what == "dead"
        ],
    }


# -- table


def ways_text(settings: Settings, ways: RouteAnswer) -> str:
    """The answer as text: per way the positions to set and a table of its pieces, gaps and dead lengths."""
    start, goal = place_text(ways.start), place_text(ways.goal)
    if not ways.found.ways:
        reason = ways.why or "the search was cut before it found one; name places that are nearer to each other"
        return f"{start} to {goal}: no route: {reason}\n"
    track = TrackGraph(settings)
    blocks = []
    for number, way in enumerate(ways.found.ways, 1):
        blocks.append("\n".join(_way_lines(settings, track, way, f"route {number}: {start} to {goal}")))
    if ways.found.cut:
        blocks.append(f"There may be more routes than these {len(ways.found.ways)}; see --limit.")
    return "\n\n".join(blocks) + "\n"


def _way_lines(settings: Settings, track: TrackGraph, way: Way, head: str) -> Iterator[str]:
    lengths = [track.measure(step) for run in way.runs for step in run]
    total = shown_mm(sum((m.length for m in lengths), HERE), 6)
    least = "" if all(m.stated for m in lengths) else "at least "
    yield f"{head}, {least}{total}" + ("" if not least else " (pieces without a length count as 0)")
    for number, (run, when) in enumerate(zip(way.runs, way.when, strict=True)):
        if number:
            yield _between(track, way.runs[number - 1][-1], run)
        yield f"  set: {_set_text(positions_for(settings, when))}"
        yield from _table(track, run)


def _between(track: TrackGraph, last: Step, run: tuple[Step, ...]) -> str:
    """What is done between two runs."""
    first = run[0]
    if first == back(last):
        return f"  stop on '{first.piece}', clear of '{run[1].piece}', throw, and come back"
    way = "come back off it" if (first, True) in carried(track, last) else "go on"
    return f"  stop with the whole train on '{first.piece}', move it with the train on it, and {way}"


def _set_text(entries: list[dict[str, str]]) -> str:
    return ", or ".join(", ".join(f"{name} {at}" for name, at in entry.items()) or "nothing" for entry in entries)


def _table(track: TrackGraph, run: tuple[Step, ...]) -> Iterator[str]:
    rows: list[
        tuple[int, bool, Nanometres, str, str]
    ] = []  # the step, whether a mark on it, the place, the piece, the text
    for number, p in enumerate(passed(track, run)):
        length = shown_mm(p.length, 6) if p.stated else "length not known"
        rows.append((number, False, p.at, p.piece, f"{p.entry} to {p.exit}, {length}"))
    rows += [(m.step, True, m.start, "", _mark_text(m)) for m in marks(track, run)]
    rows.sort(key=lambda row: row[:3])
    places = [shown_mm(row[2], 6) for row in rows]
    at, width = max(map(len, places)), max(len(row[3]) for row in rows)
    for place, (_, _, _, piece, text) in zip(places, rows, strict=True):
        yield f"  {place:>{at}}  {piece:<{width}}  {text}"


def _mark_text(mark: Mark) -> str:
    guess = "" if mark.known else " (place in the piece not known)"
    if mark.what == "dead":
        return f"  dead for {shown_mm(mark.stop - mark.start, 4)} under the {mark.side} wheels{guess}"
    where = f"at the joint '{mark.joint}'" if mark.joint else "inside the piece"
    return f"  gap under the {mark.side} wheels, {mark.rails[0]} to {mark.rails[1]}, {where}{guess}"

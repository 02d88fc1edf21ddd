"""The drawing of a piece on its card: rails by pole in one position, from above or from below, as it was altered."""

from __future__ import annotations

from itertools import islice, product
from math import cos, hypot, pi, sin
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when
from netlister.circuit.numbers import Var
from netlister.draw.bent import alone
from netlister.draw.labels import Box, Label, Paper
from netlister.draw.lines import Pose, at, length, part
from netlister.draw.placing import GAUGE, dots
from netlister.draw.plan import drop, feed_place, gap, label_svg, mark_of_frog, table
from netlister.draw.rails import RailRun, beside, end_pose, frogs, is_set, runs
from netlister.draw.style import LETTERS, POLES, SAID, has, path, pole_class, written
from netlister.draw.text import width
from netlister.kinds.model import Role
from netlister.layout.model import Value
from netlister.layout.terminal import named
from netlister.papers.local_poles import LocalPoles
from netlister.papers.sheets import BODY, BOLD, LINE, broken
from netlister.svg import attribute, number, point

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.lines import Line, Point
    from netlister.draw.placing import Placed
    from netlister.kinds.model import Route
    from netlister.layout.model import Layout, Piece

SMALL = 11.0
"""Names in a drawing, which explains what the tables say in full."""

SMALLEST = 0.15
THIN, THICK = 1.3, 2.8
"""Half of how thick a rail is drawn, and one with two poles."""

EVERY = 3.0
BARS = (4.0, 4.4)
"""How far the bars of an insulated joint reach along the rail and across it."""

TOUCH = 0.6
"""So near to each other rails end that meet at a gap."""

STEM, RING = 8.0, (3.6, 3.6)
"""How far the end of a feed wire is from its rail, and how far the ring or the square there reaches."""

ABOVE, BELOW = "FROM ABOVE", "FROM BELOW, mirrored"


MARKS = {
    "joint": "insulated joiner",
    "cut": "gap inside the piece: made so, or to be cut",
    "feed": "feed wire",
    "reversed": "feed wire from a reverser",
    "frog": "frog",
    "plastic": "plastic: no rail that conducts",
}
"""What the marks of a drawing mean."""


class Position(NamedTuple):
    """A position of a piece: how it is called, a state of the layout in which it stands so, the route that it sets."""

    said: str
    state: State
    route: Route | None


class Picture(NamedTuple):
    """A drawing from its upper left corner: its lines and how high it is."""

    lines: list[str]
    high: float


def positions(circuit: Circuit, piece: Piece, poles: LocalPoles | None = None) -> list[Position]:
    """The positions of a piece, in the order of its routes.

    Of a crossing, which has no blades: one for each track that can be set; where the layout does not say when that is,
    one for each position of what changes the poles of its rails.
    """
    rest = tuple(v.rest for v in circuit.variables)
    found = []
    if not piece.kind.bars:
        routes = {route.name: route for route in piece.kind.routes}
        for track, cubes in piece.sets.items():
            for cube in cubes[:1]:
                said = " and ".join(f"{n} at {p}" for n, p in cube)
                fixed = {circuit.variable[n] for n, _ in cube}
                settled = _allowed(circuit, _at(circuit, dict(cube), rest), fixed)
                if settled is not None:
                    found.append(Position(f"track {track}: {said}{settled.said}", settled.state, routes.get(track)))
        return found or _changed(circuit, piece, poles or LocalPoles(circuit), rest)
    settings = [(route.when, route) for route in piece.kind.routes]
    stands: list[tuple[tuple[tuple[str, str], ...], Route | None]] = list(settings)
    for bar in piece.kind.bars:  # a position in which there is no route: a catch-turnout open
        if len(piece.kind.bars) == 1:
            known = [when for when, _ in settings]
            stands += [(((bar.name, p),), None) for p in bar.positions if ((bar.name, p),) not in known]
    for setting, route in stands:
        when = setting_when(circuit, piece.name, setting)
        if all(values for _, values in when):  # else one machine throws both tie bars, and never so
            state = list(rest)
            for variable, values in when:
                state[variable] = values[0]
            settled = _allowed(circuit, tuple(state), {variable for variable, _ in when})
            if settled is not None:
                found.append(Position(_stands(setting, route) + settled.said, settled.state, route))
    return found


def _stands(setting: tuple[tuple[str, str], ...], route: Route | None) -> str:
    """How a piece stands: its position, or its route with how each of several tie bars stands for it."""
    if route is None or len(setting) < 2:  # noqa: PLR2004
        return ", ".join(f"{bar}: {p}" if bar else p for bar, p in setting)
    bars = " and ".join(f"tie bar {bar} at {p}" for bar, p in setting)
    return f"{route.ends[0]} to {route.ends[1]}, {bars}"


class _Settled(NamedTuple):
    """A state that may be, and what else stands otherwise in it than at rest, as read."""

    state: State
    said: str


def _allowed(circuit: Circuit, state: State, fixed: set[Var]) -> _Settled | None:
    """A state that `never` leaves, in which what is fixed stands as in another; None where there is none."""
    changed = state
    for _ in circuit.never:
        bad = next((cube for cube in circuit.never if holds_all(cube, changed)), None)
        if bad is None:
            break
        moves = [
            (v, Value(x))
            for v, _ in bad
            if v not in fixed
            for x in range(len(circuit.variables[v].positions))
            if x != changed[v]
        ]
        tried = [(*changed[:v], x, *changed[v + 1 :]) for v, x in moves]
        left = [one for one in tried if not any(holds_all(cube, one) for cube in circuit.never)]
        if not tried:
            return None
        changed = (left or tried)[0]
    if any(holds_all(cube, changed) for cube in circuit.never):
        return None
    others = [
        f"{v.name} at {v.positions[now]}"
        for v, was, now in zip(circuit.variables, state, changed, strict=True)
        if was != now
    ]
    return _Settled(changed, f", with {' and '.join(others)}" if others else "")


def holds_all(cube: Iterable[tuple[Var, Value]], state: State) -> bool:
    """Whether every value of a partial position is that of a state."""
    return all(state[v] == x for v, x in cube)


MOST_CHANGES = 8
"""So many positions of what changes the poles of a crossing are drawn."""


def _changed(circuit: Circuit, piece: Piece, poles: LocalPoles, rest: State) -> list[Position]:
    """The positions of a crossing by what changes the poles of its rails; one, always, where nothing does."""
    movers = poles.movers(piece.name)
    names = [circuit.variables[v].positions for v in movers]
    found = []
    for values in islice(product(*[range(len(each)) for each in names]), MOST_CHANGES):
        state = list(rest)
        for variable, value in zip(movers, values, strict=True):
            state[variable] = Value(value)
        said = ", ".join(
            f"{circuit.variables[v].name} at {each[value]}"
            for v, each, value in zip(movers, names, values, strict=True)
        )
        settled = _allowed(circuit, tuple(state), {Var(v) for v in movers})
        if settled is not None:
            found.append(Position(f"{said or 'always'}{settled.said}", settled.state, None))
    return found


def _at(circuit: Circuit, cube: Mapping[str, str], rest: State) -> State:
    state = list(rest)
    for name, position in cube.items():
        variable = circuit.variable[name]
        state[variable] = Value(circuit.variables[variable].positions.index(position))
    return tuple(state)


class CardDrawing:
    """Draws one piece. `used`: the classes of poles and the marks that have been drawn, for the legend."""

    def __init__(self, circuit: Circuit, name: str, poles: LocalPoles) -> None:
        self.circuit, self.name, self.layout = circuit, name, circuit.layout
        self.piece = self.layout.pieces[name]
        self.placed = alone(self.layout, name)
        self.poles = poles
        self.frogs = frogs(self.placed, GAUGE)
        self.used: set[str] = set()
        options = dict(self.piece.kind.options)
        self.cut = options.get("links") == "cut" or options.get("closure-rails") == "cut"
        self.jumpers = options.get("jumpers") == "true"
        self.unfitted = options.get("frog-wire") == "missing"

    def picture(self, position: Position, room: float, tall: float, *, below: bool) -> Picture:
        """The piece in a position, in so much room."""
        said = f"{BELOW if below else ABOVE}: {position.said}"
        titles = broken(said, BODY, room / BOLD)
        lines = [written(title, 0, BODY + LINE * k, BODY, 'font-weight="bold"') for k, title in enumerate(titles)]
        poles = self.poles.of(self.name, position.state)
        left, low, right, high = bounds(self.placed)
        factor = min((room - 40) / (right - left + 4), (tall - 60) / (high - low + 2 * GAUGE), 3.0)
        while True:
            body, box = self._rails(position.state, poles, factor, below=below)
            fits = (box.right - box.left) * factor <= room and (box.high - box.low) * factor <= tall - 24
            if fits or factor < SMALLEST:
                break
            factor *= 0.93
        top = BODY + 8 + LINE * (len(titles) - 1)
        shift_x = -box.left * factor + (room - (box.right - box.left) * factor) / 2
        shift_y = top + box.high * factor
        kind = "below" if below else "above"
        lines.append(
            f'<g class="{kind}" transform="translate({number(shift_x)} {number(shift_y)}) scale({factor:.3f})">'
        )
        return Picture([*lines, *body, "</g>"], top + (box.high - box.low) * factor)

    def legend(self, room: float) -> Picture:
        """What the lines mean."""
        lines: list[str] = []
        x, y = 0.0, BODY
        said = {pole: f"{LETTERS[pole]}: {SAID[pole]}" for pole in POLES} | MARKS
        for name, text in said.items():
            if name not in self.used:
                continue
            wide = 42 + width(text, BODY) + 10
            if x and x + wide > room:
                x, y = 0.0, y + BODY * 1.7
            lines += _sample(name, x, y - 3.5)
            lines.append(written(text, x + 40, y, BODY))
            x += wide
        return Picture(lines, y + 8)

    def _rails(
        self, state: State, poles: Mapping[str, list[str]], factor: float, *, below: bool
    ) -> tuple[list[str], Box]:
        flip = -1.0 if below else 1.0
        found = runs(self.circuit, self.placed, state, GAUGE, self.frogs)
        paper = Paper()
        body = ['<g transform="scale(1 -1)">' if below else "<g>", *table(self.placed)]
        outline = _outline(self.placed)
        paper.track([(x, y * flip) for x, y in dots(outline, EVERY)] if outline else [])
        if self.placed.pit:
            (cx, cy), r = self.placed.pit
            body.append(f'<circle class="pit" cx="{number(cx)}" cy="{number(-cy)}" r="{number(r)}"/>')
        labels: list[Label] = []
        for run in found:
            paper.track([(x, y * flip) for x, y in dots(run.line, 4.0)])
            if run.rail is None:
                body.append(f'<path class="plastic" d="{path(run.line)}"/>')
                self.used.add("plastic")
                continue
            for rail, line in self._as_cut(run, found):
                terminal = named(self.name, rail)
                pole = pole_class(self.circuit, poles[terminal])
                self.used.add(pole)
                said = attribute(f"{terminal}: {has(poles[terminal])}")
                body.append(
                    f'<path class="rail {pole}" data-rail="{attribute(terminal)}" d="{path(line)}">'
                    f"<title>{said}</title></path>"
                )
                edges = _edges(line, THICK if pole == "pole-both" else THIN)
                paper.track([(x, y * flip) for x, y in edges], rail)
        for joint, pose, side in self._gaps():
            middle = beside(pose, side * GAUGE / 2)
            paper.track([(x, y * flip) for x, y in _around(Pose(*middle, pose.heading), BARS)])
            body += [f'<g class="joint" data-joint="{attribute(joint)}">', *gap(pose, side), "</g>"]
            self.used.add("joint")
        for pose in self._cuts(found):
            body += ['<g class="inner-gap">', *_inner_gap(pose), "</g>"]
            self.used.add("cut")
            paper.track([(x, y * flip) for x, y in _around(pose, (1.5, 4.4))])
        for pose, square in self._drops(found):
            end = Pose(*beside(pose, STEM), pose.heading)
            paper.track([(x, y * flip) for x, y in [*dots([pose.point, end.point], 2.0), *_around(end, RING)]])
            body += ['<g class="feed">', *drop(pose, square=square), "</g>"]
            self.used.add("reversed" if square else "feed")
        marks, marked = self._alterations(found, flip, factor)
        body += marks
        for (fx, fy), _ in self.frogs:
            body.append(f'<path class="mark frog" d="{mark_of_frog(fx, fy)}"/>')
            self.used.add("frog")
            paper.track([(fx + x, (fy + y) * flip) for x, y in ((-4, 0), (4, 0), (0, -3.2), (0, 3.2))])
        body.append("</g>")
        labels = [*self._end_labels(factor, flip), *marked, *self._rail_labels(found, poles, factor, state, flip)]
        put = [paper.put(label) for label in labels]
        body += [line for one in put for line in label_svg(one)]
        boxes = [p.label.box(p.x, p.y) for p in put]
        left, low, right, high = bounds(self.placed)
        low, high = sorted((low * flip, high * flip))
        boxes.append(Box(left - 4, low - GAUGE, right + 4, high + GAUGE))
        lefts, lows, rights, highs = zip(*boxes, strict=True)
        return body, Box(min(lefts), min(lows), max(rights), max(highs))

    # -- as altered

    def _is_cut(self, run: RailRun) -> bool:
        """Whether a run of the frog reaches from the blades over a closure rail that was cut, or whose link was."""
        return self.cut and run.rail == "frog" and len(self.piece.kind.bars) == 1 and length(run.line) > GAUGE

    def _as_cut(self, run: RailRun, found: list[RailRun]) -> Iterator[tuple[str, list[tuple[float, float]]]]:
        """A run in its parts: with jumpers the blade before a cut closure rail belongs to its stock rail."""
        assert run.rail is not None
        whole = length(run.line)
        if not (self._is_cut(run) and self.jumpers and self._from_blade(run)):
            yield run.rail, run.line
            return
        share = _CUT * whole
        yield self._stock(run, found), part(run.line, 0, share - 1.5)
        yield run.rail, part(run.line, share + 1.5, whole)

    def _from_blade(self, run: RailRun) -> bool:
        """Whether a run begins at a blade and not beyond the frog."""
        spots = [spot for spot, _ in self.frogs]
        first, last = run.line[0], run.line[-1]
        return bool(spots) and all(abs(last[0] - first[0]) > GAUGE and first[0] < x - GAUGE / 2 for x, _ in spots)

    def _stock(self, run: RailRun, found: list[RailRun]) -> str:
        """The stock rail beside a blade: the nearest where the blade begins."""
        x, y = at(run.line, length(run.line) * 0.1).point
        distance: dict[str, float] = {}
        for other in found:
            if other.rail and self.piece.kind.roles[other.rail] is Role.STOCK:
                near = min((px - x) ** 2 + (py - y) ** 2 for px, py in dots(other.line, 1.0))
                distance[other.rail] = min(near, distance.get(other.rail, near))
        return min(distance, key=lambda rail: distance[rail])

    def _alterations(self, found: list[RailRun], flip: float, factor: float) -> tuple[list[str], list[Label]]:
        """Jumpers, cuts and the frog's wire as marks, each with its word."""
        body: list[str] = []
        labels: list[Label] = []

        def name(text: str, spot: tuple[float, float]) -> None:
            labels.append(Label(text, text, "name", SMALL / factor, (spot[0], spot[1] * flip), 5.0))

        closures = [r for r in found if self._is_cut(r) and self._from_blade(r)]
        for run in closures:
            pose = at(run.line, length(run.line) * _CUT)
            body.append('<g class="cut-closure">')
            body += gap(pose, 0)
            body.append("</g>")
            name("cut", pose.point)
        blades = [r for r in found if r.rail and self._from_blade(r) and self.piece.kind.is_changing(r.rail)]
        if self.jumpers:
            for run in blades:
                start = at(run.line, length(run.line) * 0.2).point
                stock = self._nearest(found, self._stock(run, found), start)
                body.append(
                    f'<path class="bar jumper" d="M{point(start[0], -start[1])}L{point(stock[0], -stock[1])}"/>'
                    f'<circle class="solid" cx="{number(start[0])}" cy="{number(-start[1])}" r="1.8"/>'
                    f'<circle class="solid" cx="{number(stock[0])}" cy="{number(-stock[1])}" r="1.8"/>'
                )
                name("jumper", start)
        if self.unfitted:
            for spot, _ in self.frogs:
                name("no frog wire", spot)
        return body, labels

    @staticmethod
    def _nearest(found: list[RailRun], rail: str, spot: tuple[float, float]) -> tuple[float, float]:
        points = [p for run in found if run.rail == rail for p in dots(run.line, 0.5)]
        return min(points, key=lambda p: (p[0] - spot[0]) ** 2 + (p[1] - spot[1]) ** 2)

    # -- names and marks

    def _rail_labels(
        self, found: list[RailRun], poles: Mapping[str, list[str]], factor: float, state: State, flip: float
    ) -> Iterator[Label]:
        best: dict[str, RailRun] = {}
        for run in found:
            if run.rail and (run.rail not in best or length(run.line) > length(best[run.rail].line) + 1):
                best[run.rail] = run
        here = None
        if self.piece.kind.gaps:  # rails that move: those that stand elsewhere are named in their own position
            routes = [r for r in self.piece.kind.routes if is_set(self.circuit, self.name, r, state)]
            here = {rail for r in routes for rail in (*r.left, *r.right)}
        for rail, run in best.items():
            if here is not None and rail not in here:
                continue
            terminal = named(self.name, rail)
            pole = pole_class(self.circuit, poles[terminal])
            shares = (0.85, 0.7, 0.95, 0.6) if self._is_cut(run) else (0.6, 0.8, 0.4, 0.9, 0.2)
            spots = [at(run.line, length(run.line) * share).point for share in shares]
            spots = [(x, y * flip) for x, y in spots]
            text = f"{rail} {LETTERS[pole]}"
            yield Label(text, terminal, pole, SMALL / factor, spots[0], 4.0, others=tuple(spots[1:]), rail=rail)

    def _end_labels(self, factor: float, flip: float) -> Iterator[Label]:
        near = neighbours(self.layout, self.name)
        for end, place in self.placed.ends.items():
            text = f"{end}: {near[end]}" if end in near else end
            yield Label(text, end, "name", SMALL / factor, (place[0], place[1] * flip), GAUGE / 2 + 4)

    def _gaps(self) -> Iterator[tuple[str, Pose, int]]:
        """Insulated joiners at the ends of the piece: of which joint, where on the track, on which side of it."""
        for joint in self.layout.joints:
            for own, mine in enumerate((joint.start, joint.end)):
                if mine[0] != self.name or mine[1] not in self.placed.ends:
                    continue
                pose = end_pose(self.placed, mine[1])
                end = self.piece.kind.ends[mine[1]]
                inner = pose.beyond(4.0 if end.entering else -4.0)
                for pair in joint.pairs:
                    if pair[2]:
                        rail = (pair[0], pair[1])[own][len(self.name) + 1 :]
                        side = 1 if rail == end.left else -1
                        yield joint.name, inner, side

    def _cuts(self, found: list[RailRun]) -> Iterator[Pose]:
        """Where two rails of the piece itself end at each other and nothing in it joins them but a wheel."""
        kind = self.piece.kind
        if kind.gaps:  # a table's rails end at the roads, not inside it
            return
        joins = {frozenset(pair) for pair in kind.bonds} | {frozenset(made.rails) for made in kind.made}
        for one in found:
            for two in found:
                if one.rail and two.rail and one.rail != two.rail and frozenset((one.rail, two.rail)) not in joins:
                    end = at(one.line, length(one.line))
                    if hypot(end.x - two.line[0][0], end.y - two.line[0][1]) < TOUCH:
                        yield end

    def _drops(self, found: list[RailRun]) -> Iterator[tuple[Pose, bool]]:
        """Feed wires: where each meets its rail, and whether it comes from a reverser."""
        taken: list[tuple[float, float]] = []
        for feed in self.layout.feeds:
            if feed.piece != self.name:
                continue
            for _, terminal in feed.wires:
                rail = terminal[len(self.name) + 1 :]
                where = feed_place(self.placed, [r for r in found if r.rail == rail], 0.4, taken)
                if where:
                    taken.append(where.point)
                    yield where, feed.source in self.layout.reversers


_CUT = 0.42
"""Where along the run from the tip of a blade to the end of the V rail the cut is drawn."""


def _inner_gap(pose: Pose) -> Iterator[str]:
    """A gap in a rail inside a piece: the rail is cut, one bar stands across the cut."""
    a, b = pose.beyond(-2.2), pose.beyond(2.2)
    p, q = beside(pose, 4.4), beside(pose, -4.4)
    yield f'<path class="cut" d="M{point(a.x, -a.y)}L{point(b.x, -b.y)}"/>'
    yield f'<path class="bar" d="M{point(p[0], -p[1])}L{point(q[0], -q[1])}"/>'


def _sample(name: str, x: float, y: float) -> list[str]:
    """A piece of what a line of the legend explains."""
    if name in POLES:
        return [f'<path class="rail {name}" d="M{point(x, y)}h34"/>']
    if name == "frog":
        return [f'<path class="mark" d="{mark_of_frog(x + 17, -y)}"/>']
    if name == "plastic":
        return [f'<path class="plastic" d="M{point(x, y)}h34"/>']
    middle = Pose(x + 17, -y, 0.0)
    if name == "cut":
        return [f'<path class="seam" d="M{point(x, y)}h34"/>', *_inner_gap(middle)]
    lines = [f'<path class="seam" d="M{point(x, y)}h34"/>']
    return lines + list(gap(middle, 0) if name == "joint" else drop(middle, square=name == "reversed"))


def _edges(line: Line, out: float) -> list[Point]:
    """Points along both edges of a rail that is drawn so thick."""
    steps = max(int(length(line) / EVERY), 1)
    poses = [at(line, length(line) * k / steps) for k in range(steps + 1)]
    return [beside(pose, side * out) for pose in poses for side in (1, -1)]


def _outline(placed: Placed) -> Line:
    """The edge of a turntable's pit, which no name should lie over."""
    if not placed.pit:
        return []
    (x, y), r = placed.pit
    return [(x + r * cos(k * pi / 36), y + r * sin(k * pi / 36)) for k in range(73)]


def _around(pose: Pose, box: tuple[float, float]) -> list[Point]:
    """Points of a rectangle around a pose: so far ahead and back, so far to either side."""
    ahead, out = box
    return [beside(pose.beyond(x), y) for x in (-ahead, 0.0, ahead) for y in (-out, 0.0, out)]


def neighbours(layout: Layout, name: str) -> dict[str, str]:
    """Per end of a piece the piece that is joined to it."""
    found = {}
    for joint in layout.joints:
        for mine, other in ((joint.start, joint.end), (joint.end, joint.start)):
            if mine[0] == name:
                found[mine[1]] = other[0]
    return found


def bounds(placed: Placed) -> tuple[float, float, float, float]:
    """How far a piece reaches: left, low, right, high."""
    points = [p for way in placed.ways.values() for line in way for p in line]
    points += list(placed.ends.values())
    if placed.pit:
        (x, y), r = placed.pit
        points += [(x - r, y - r), (x + r, y + r)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)

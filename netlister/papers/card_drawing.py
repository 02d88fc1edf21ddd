"""The drawing of a piece on its card: rails by pole in one position, from above or from below, as it was altered."""

from __future__ import annotations

from math import cos, hypot, pi, sin, sqrt
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.bent import single_piece
from netlister.draw.labels import Box, Label, Paper
from netlister.draw.lines import Pose, at, length
from netlister.draw.marks import drop, gap, label_svg, mark_of_frog, sliding_table
from netlister.draw.placing import GAUGE, dots
from netlister.draw.rails import RailRun, beside, end_pose, frogs, is_set
from netlister.draw.style import LETTERS, POLES, SAID, has, path, pole_class, text_svg
from netlister.draw.text import width
from netlister.layout.terminal import named
from netlister.papers.card_metal import CUT, JUMPER, STEM, Metal, wire_place
from netlister.papers.card_tables import is_gap
from netlister.papers.positions import Position, positions
from netlister.papers.sheets import BODY, BOLD, LINE, broken
from netlister.svg import attribute, number, point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.labels import Put
    from netlister.draw.lines import Line, Point
    from netlister.draw.placing import Placed
    from netlister.layout.model import Feed, Layout
    from netlister.papers.local_poles import LocalPoles

SMALL = 11.0
"""Names in a drawing, which explains what the tables say in full."""

SMALLEST = 0.15
LARGEST = 4.0
THIN, THICK = 1.3, 2.8
"""Half of how thick a rail is drawn, and one with two poles."""

MOST_NAMED = 12
"""So many tracks around a table have their names in each drawing; of more the first, and that at which it stands."""

EVERY = 3.0
BARS = (4.0, 4.4)
"""How far the bars of an insulated joint reach along the rail and across it."""

RING = (3.6, 3.6)
"""How far the ring or the square at the end of a feed wire reaches."""

ABOVE, BELOW = "FROM ABOVE", "FROM BELOW, mirrored"


MARKS = {
    "joint": "insulated joiner",
    "gap": "gap, no joiner",
    "cut": "gap inside the piece: made so, or to be cut",
    "feed": "feed wire",
    "reversed": "feed wire from a reverser",
    "frog": "frog",
    "plastic": "plastic: no rail that conducts",
}
"""What the marks of a drawing mean."""


class CardPicture(NamedTuple):
    """A drawing from its upper left corner: its lines and how high it is."""

    lines: list[str]
    high: float


class CardDrawing:
    """Draws one piece. `used`: the classes of poles and the marks that have been drawn, for the legend.

    `met`: whether its ends are told with the pieces that they meet.
    """

    def __init__(self, circuit: Circuit, name: str, poles: LocalPoles, *, met: bool = True) -> None:
        self.circuit, self.name, self.layout = circuit, name, circuit.layout
        self.piece = self.layout.pieces[name]
        self.placed = single_piece(self.layout, name)
        self.poles, self.met = poles, met
        self.frogs = frogs(self.placed, GAUGE)
        self.used: set[str] = set()
        self._known: dict[State, Metal] = {}
        self._wires: dict[State | None, list[tuple[Pose, bool]]] = {}
        self.unfitted = dict(self.piece.kind.options).get("frog-wire") == "missing"

    def metal(self, state: State) -> Metal:
        """What lies where in a state."""
        if state not in self._known:
            self._known[state] = Metal(self.circuit, self.placed, state, self.frogs)
        return self._known[state]

    def picture(self, position: Position, room: float, tall: float, *, below: bool, titled: bool = True) -> CardPicture:
        """The piece in a position, in so much room."""
        said = f"{BELOW if below else ABOVE}: {position.said}"
        titles = broken(said, BODY, room / BOLD) if titled else []
        lines = [text_svg(title, 0, BODY + LINE * k, BODY, 'font-weight="bold"') for k, title in enumerate(titles)]
        poles = self.poles.of(self.name, position.state)
        left, low, right, high = bounds(self.placed)
        factor = min((room - 40) / (right - left + 4), (tall - 60) / (high - low + 2 * GAUGE), LARGEST)
        while True:
            body, box = self._rails(position.state, poles, factor, below=below)
            fits = (box.right - box.left) * factor <= room and (box.high - box.low) * factor <= tall - 24
            if fits or factor < SMALLEST:
                break
            factor *= 0.93
        top = BODY + 8 + LINE * (len(titles) - 1) if titles else 4.0
        shift_x = -box.left * factor + (room - (box.right - box.left) * factor) / 2
        shift_y = top + box.high * factor
        kind = "below" if below else "above"
        lines.append(
            f'<g class="{kind}" transform="translate({number(shift_x)} {number(shift_y)}) scale({factor:.3f})">'
        )
        return CardPicture([*lines, *body, "</g>"], top + (box.high - box.low) * factor)

    def legend(self, room: float) -> CardPicture:
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
            lines.append(text_svg(text, x + 40, y, BODY))
            x += wide
        return CardPicture(lines, y + 8)

    def _rails(
        self, state: State, poles: Mapping[str, list[str]], factor: float, *, below: bool
    ) -> tuple[list[str], Box]:
        flip = -1.0 if below else 1.0
        metal = self.metal(state)
        paper = Paper()
        body = ['<g transform="scale(1 -1)">' if below else "<g>", *sliding_table(self.placed)]
        outline = _outline(self.placed)
        paper.track([(x, y * flip) for x, y in dots(outline, EVERY)] if outline else [])
        if self.placed.pit:
            (cx, cy), r = self.placed.pit
            body.append(f'<circle class="pit" cx="{number(cx)}" cy="{number(-cy)}" r="{number(r)}"/>')
        for run in metal.runs:
            paper.track([(x, y * flip) for x, y in dots(run.line, 4.0)])
        for strip in metal.strips:
            if strip.rail is None:
                self.used.add(kind := "pole-none" if strip.loose else "plastic")
                body.append(f'<path class="{"rail pole-none" if strip.loose else kind}" d="{path(strip.line)}"/>')
                continue
            terminal = named(self.name, strip.rail)
            pole = pole_class(self.circuit, poles[terminal])
            self.used.add(pole)
            said = attribute(f"{terminal}: {has(poles[terminal])}")
            body.append(
                f'<path class="rail {pole}" data-rail="{attribute(terminal)}" d="{path(strip.line)}">'
                f"<title>{said}</title></path>"
            )
            edges = _edges(strip.line, THICK if pole == "pole-both" else THIN)
            paper.track([(x, y * flip) for x, y in edges], strip.rail)
        for joint, mark, pose, side in self._gaps():
            middle = beside(pose, side * GAUGE / 2)
            paper.track([(x, y * flip) for x, y in _around(Pose(*middle, pose.heading), BARS)])
            body += [f'<g class="joint" data-joint="{attribute(joint)}">', *gap(pose, side), "</g>"]
            self.used.add(mark)
        for pose in metal.inner_gaps():
            body += ['<g class="inner-gap">', *_inner_gap(pose), "</g>"]
            self.used.add("cut")
            paper.track([(x, y * flip) for x, y in _around(pose, (1.5, 4.4))])
        rings = []
        for pose, square in self._drops(state):
            end = Pose(*beside(pose, STEM), pose.heading)
            paper.track([(x, y * flip) for x, y in [*dots([pose.point, end.point], 2.0), *_around(end, RING)]])
            paper.mark((end.x, end.y * flip))
            rings.append(Box(end.x - RING[0], end.y * flip - RING[1], end.x + RING[0], end.y * flip + RING[1]))
            body += ['<g class="feed">', *drop(pose, square=square), "</g>"]
            self.used.add("reversed" if square else "feed")
        marks, marked = self._alterations(metal, flip, factor)
        body += marks
        for (fx, fy), _ in self.frogs:
            body.append(f'<path class="mark frog" d="{mark_of_frog(fx, fy)}"/>')
            self.used.add("frog")
            paper.track([(fx + x, (fy + y) * flip) for x, y in ((-4, 0), (4, 0), (0, -3.2), (0, 3.2))])
            if len(self.frogs) > 1:
                paper.mark((fx, fy * flip))
        body.append("</g>")
        put = [
            *(paper.put(label) for label in (*self._end_labels(factor, state, flip), *marked)),
            *_named(paper, list(self._rail_labels(metal, poles, factor, state, flip)), self.placed, flip),
        ]
        body += [line for one in put for line in label_svg(one)]
        boxes = [p.label.box(p.x, p.y) for p in put] + rings
        left, low, right, high = bounds(self.placed)
        low, high = sorted((low * flip, high * flip))
        boxes.append(Box(left - 4, low - GAUGE, right + 4, high + GAUGE))
        lefts, lows, rights, highs = zip(*boxes, strict=True)
        return body, Box(min(lefts), min(lows), max(rights), max(highs))

    def _alterations(self, metal: Metal, flip: float, factor: float) -> tuple[list[str], list[Label]]:
        """Jumpers, cuts and the frog's wire as marks, each with its word."""
        body: list[str] = []
        labels: list[Label] = []

        def name(text: str, spot: Point) -> None:
            labels.append(Label(text, text, "name", SMALL / factor, (spot[0], spot[1] * flip), 5.0))

        for run in metal.closures:
            pose = at(run.line, length(run.line) * CUT)
            body.append('<g class="cut-closure">')
            body += gap(pose, 0)
            body.append("</g>")
            name("cut", pose.point)
        if metal.jumpers:
            for run in metal.blades():
                start = at(run.line, length(run.line) * JUMPER).point
                stock = metal.nearest(metal.stock(run), start)
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

    # -- names and marks

    def _rail_labels(
        self, metal: Metal, poles: Mapping[str, list[str]], factor: float, state: State, flip: float
    ) -> Iterator[Label]:
        best: dict[str, RailRun] = {}
        for run in metal.runs:
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
            shares = (0.85, 0.7, 0.95, 0.6) if metal.reaches(run) else (0.6, 0.8, 0.4, 0.9, 0.2)
            spots = [at(run.line, length(run.line) * share).point for share in shares]
            spots = [(x, y * flip) for x, y in spots]
            text = f"{rail} {LETTERS[pole]}"
            yield Label(text, terminal, pole, SMALL / factor, spots[0], 4.0, others=tuple(spots[1:]), rail=rail)

    def _end_labels(self, factor: float, state: State, flip: float) -> Iterator[Label]:
        near = neighbours_of(self.layout, self.name)
        ends = self.placed.ends
        if (
            self.piece.kind.gaps
        ):  # of a table no end without a track; of many those alone that it stands at, and the first
            ends = {end: place for end, place in ends.items() if end in near}
            if len(ends) > MOST_NAMED:
                routes = [r for r in self.piece.kind.routes if is_set(self.circuit, self.name, r, state)]
                there = {next(iter(ends)), *(end for route in routes for end in route.ends)}
                ends = {end: place for end, place in ends.items() if end in there}
        for end, place in ends.items():
            text = f"{end}: {near[end]}" if end in near else end
            yield Label(text, end, "name", SMALL / factor, (place[0], place[1] * flip), GAUGE / 2 + 4)

    def _gaps(self) -> Iterator[tuple[str, str, Pose, int]]:
        """Insulated joiners at the ends of the piece: of which joint, as which mark, where on the track, on which side.

        Around a table there is no joiner: the rails end at a gap.
        """
        for joint in self.layout.joints:
            mark = "gap" if is_gap(self.layout, joint) else "joint"
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
                        yield joint.name, mark, inner, side

    def _drops(self, state: State) -> list[tuple[Pose, bool]]:
        """Feed wires: where each meets its rail, and whether it comes from a reverser.

        In every position at the same place, but on rails that move as a whole.
        """
        key = state if self.piece.kind.gaps else None
        if key not in self._wires:
            shown = [state] if key else [p.state for p in positions(self.circuit, self.piece, self.poles)]
            self._wires[key] = self._placed_wires([self.metal(one) for one in shown or [state]])
        return self._wires[key]

    def _placed_wires(self, metals: list[Metal]) -> list[tuple[Pose, bool]]:
        feeds: list[Feed] = [feed for feed in self.layout.feeds if feed.piece == self.name]
        if not feeds:
            return []
        keep = [*self.placed.ends.values(), *(spot for spot, _ in self.frogs)]
        keep += [pose.point for metal in metals for pose in metal.inner_gaps()]
        keep += [
            at(run.line, length(run.line) * share).point for m in metals for run in m.closures for share in (CUT, 0.2)
        ]
        found: list[tuple[Pose, bool]] = []
        for feed in feeds:
            for _, terminal in feed.wires:
                rail = terminal[len(self.name) + 1 :]
                where = wire_place(metals, rail, [pose.point for pose, _ in found], keep)
                if where:
                    found.append((where, feed.source in self.layout.reversers))
        return found


def _named(paper: Paper, rails: list[Label], placed: Placed, flip: float) -> list[Put]:
    """Names of rails at their places: in the pit of a turntable those of what lies there, and no others."""
    if not placed.pit:
        return [paper.put(label) for label in rails]
    (cx, cy), r = (placed.pit[0][0], placed.pit[0][1] * flip), placed.pit[1]
    inner = [label for label in rails if hypot(label.point[0] - cx, label.point[1] - cy) < r]
    put = [paper.put(label) for label in inner]
    side = r * sqrt(0.5)
    paper.take(Box(cx - side, cy - side, cx + side, cy + side))
    return put + [paper.put(label) for label in rails if label not in inner]


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
    return lines + list(gap(middle, 0) if name in {"joint", "gap"} else drop(middle, square=name == "reversed"))


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
    steps = (-1.0, -0.5, 0.0, 0.5, 1.0)
    return [beside(pose.beyond(ahead * x), out * y) for x in steps for y in steps]


def neighbours_of(layout: Layout, name: str) -> dict[str, str]:
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

"""The plan of a layout in one state: both rails of every piece by pole, gaps, feeds, frogs, contacts and reversers."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from netlister.circuit.states import rail_poles
from netlister.draw.bent.parts import NAME_SIZE
from netlister.draw.fold import cut_joints
from netlister.draw.labels import Label, Paper, Put
from netlister.draw.laying import laid_out
from netlister.draw.legend import legend
from netlister.draw.lines import Line, Point, Pose, at, joined, length
from netlister.draw.lines import shares as along
from netlister.draw.marks import drop, gap, label_svg, mark_of_frog, table
from netlister.draw.placing import GAUGE, Placed, bounds, dots
from netlister.draw.rails import RailRun, beside, end_pose, frogs, rail_runs
from netlister.draw.style import LETTER, LETTERS, POLES, STYLE, has, path, pole_class, written
from netlister.draw.text import shortened, wrapped
from netlister.layout.terminal import Terminal, named
from netlister.svg import attribute, number, opening, point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.laying import Drawing
    from netlister.layout.model import Feed, Joint

EDGE, LEAST_WIDTH = 36.0, 720.0
SMALL, TITLE = 10.0, 18.0


def plan_svg(
    circuit: Circuit,
    state: State,
    poles: Mapping[str, list[str]] | None = None,
    drawing: Drawing | None = None,
    *,
    names: bool = False,
) -> str:
    """The plan as one self-contained SVG.

    `state`: a value for each variable of the circuit. `poles`: the names of the poles of every rail there; worked out
    where they are not given. `drawing`: the layout as laid out already. `names`: joints and feeds carry
    their names as well.
    """
    found = poles if poles is not None else rail_poles(circuit, state)
    return _PlanDrawing(circuit, state, found, drawing or laid_out(circuit.layout), named=names).text()


class _PlanDrawing:
    def __init__(
        self, circuit: Circuit, state: State, poles: Mapping[str, list[str]], drawing: Drawing, *, named: bool
    ) -> None:
        self.circuit, self.state, self.poles = circuit, state, poles
        self.layout = circuit.layout
        self.drawing, self.named = drawing, named
        placed = drawing.placed
        self.cut = cut_joints(circuit.layout, placed)
        self.placed = {name: placed[name] for name in circuit.layout.pieces}
        self.frogs = {n: frogs(one, GAUGE) for n, one in self.placed.items()}
        self.runs = {n: rail_runs(circuit, one, state, GAUGE, self.frogs[n]) for n, one in self.placed.items()}
        self.paper = Paper()
        self.labels: list[Label] = []
        self.used: set[str] = set()
        self.marks: set[str] = set()

    # -- parts of the drawing, each a list of lines of SVG

    def text(self) -> str:
        """All of it."""
        body = [*self._pieces(), *self._joints(), *self._feeds(), *self._frogs(), *self._gear()]
        self._names()
        put = [self.paper.put(label) for label in sorted(self.labels, key=lambda e: _ORDER.index(e.kind))]
        body += [line for one in put for line in label_svg(one)]
        left, low, right, high = self._extent(put)
        across = max(right - left, LEAST_WIDTH)
        head = self._head(across - 2 * EDGE)
        foot, foot_height = legend(
            self.drawing, self.used | self.marks, (left + EDGE, -low + EDGE / 2), across - 2 * EDGE
        )
        top = -high - len(head) * 20 - 30
        tall = (-low + EDGE / 2 + foot_height) - top
        title = attribute(self.layout.title or self.layout.name)
        lines = [
            opening(
                f"{number(left)} {number(top)} {number(across)} {number(tall)}",
                (number(across), number(tall)),
                'role="img"',
                "plan",
            ),
            f"<title>{title}</title>",
            f"<desc>{attribute(self._said())}</desc>",
            f"<style>{STYLE}</style>",
            (
                f'<rect class="paper" x="{number(left)}" y="{number(top)}" width="{number(across)}" '
                f'height="{number(tall)}" fill="#fff"/>'
            ),
        ]
        y = top + 28
        for line, size in head:
            lines.append(written(line, left + EDGE, y, size, 'class="head"'))
            y += 20
        return "\n".join([*lines, *body, *foot, "</svg>"]) + "\n"

    def _extent(self, put: list[Put]) -> tuple[float, float, float, float]:
        left, low, right, high = bounds(self.placed.values())
        boxes = [p.label.box(p.x, p.y) for p in put]
        left = min([left - GAUGE, *(b.left for b in boxes)]) - EDGE
        right = max([right + GAUGE, *(b.right for b in boxes)]) + EDGE
        low = min([low - GAUGE, *(b.low for b in boxes)])
        high = max([high + GAUGE, *(b.high for b in boxes)])
        return left, low, right, high

    def _said(self) -> str:
        at_ = ", ".join(f"{v.name} {v.positions[x]}" for v, x in zip(self.circuit.variables, self.state, strict=True))
        return f"Poles of every rail with {at_}" if at_ else "Poles of every rail"

    def _head(self, room: float) -> list[tuple[str, float]]:
        title = self.layout.title or self.layout.name
        said = wrapped(self._said(), 12, room)
        return [(shortened(title, TITLE, room), TITLE), *((line, 12.0) for line in said)]

    def _pieces(self) -> Iterator[str]:
        for name, one in self.placed.items():
            yield f'<g class="piece" data-piece="{attribute(name)}">'
            yield f"<title>{attribute(f'{name}: {one.piece.kind.title}')}</title>"
            if one.pit:
                (x, y), r = one.pit
                yield f'<circle class="pit" cx="{number(x)}" cy="{number(-y)}" r="{number(r)}"/>'
            yield from table(one)
            for run in self.runs[name]:
                self.paper.track(_dots(run.line))
                yield self._rail(name, run)
            yield from self._end_stop(one)
            yield "</g>"
            self._letters(name)

    def _rail(self, name: str, run: RailRun) -> str:
        if run.rail is None:
            self.marks.add("plastic")
            return f'<path class="plastic" d="{path(run.line)}"/>'
        terminal = named(name, run.rail)
        pole = pole_class(self.circuit, self.poles[terminal])
        self.used.add(pole)
        said = attribute(f"{terminal}: {has(self.poles[terminal])}")
        begin = f'<path class="rail {pole}" data-rail="{attribute(terminal)}"'
        return f'{begin} d="{path(run.line)}"><title>{said}</title></path>'

    def _end_stop(self, one: Placed) -> Iterator[str]:
        """A beam across the end of a dead-end piece."""
        if len(one.piece.kind.ends) != 1:
            return
        line = one.ways[""].core
        pose = at(line, length(line))
        a, b = beside(pose, GAUGE * 0.8), beside(pose, -GAUGE * 0.8)
        yield f'<path class="bar" d="M{point(a[0], -a[1])}L{point(b[0], -b[1])}"/>'

    def _letters(self, name: str) -> None:
        """The letter of each rail, beside the longest run of it."""
        best: dict[str, RailRun] = {}
        for run in self.runs[name]:
            if run.rail and (run.rail not in best or length(run.line) > length(best[run.rail].line) + 1):
                best[run.rail] = run
        branching = self.placed[name].piece.kind.branching
        for rail, run in best.items():
            terminal = named(name, rail)
            pole = pole_class(self.circuit, self.poles[terminal])
            shares = (0.62, 0.8, 0.45, 0.9, 0.3, 0.15) if branching else (0.2, 0.8, 0.12, 0.9, 0.35, 0.65)
            where, *others = (pose.point for pose in along(run.line, shares))
            self.labels.append(Label(LETTERS[pole], terminal, pole, LETTER, where, 3.0, others=tuple(others)))

    def _names(self) -> None:
        for name, one in self.placed.items():
            where = _middle(one)
            self.labels.append(Label(name, name, "name", NAME_SIZE, where, GAUGE / 2 + 5))

    # -- joints and feeds

    def _joints(self) -> Iterator[str]:
        for joint in self.layout.joints:
            one = self.placed[joint.start[0]]
            if joint.start[1] not in one.ends or joint.end[1] not in self.placed[joint.end[0]].ends:
                continue
            yield f'<g class="joint" data-joint="{attribute(joint.name)}">'
            yield f"<title>{attribute(_joint_said(joint))}</title>"
            yield from self._joint_marks(joint, end_pose(one, joint.start[1]), forward=True)
            if self.named:
                spot = one.ends[joint.start[1]]
                self.labels.append(Label(joint.name, joint.name, "joint-name", LETTER, spot, GAUGE / 2 + 5))
            if joint.name in self.cut:
                yield from self._joint_marks(joint, end_pose(self.placed[joint.end[0]], joint.end[1]), forward=False)
                self._onward(joint)
            yield "</g>"

    def _joint_marks(self, joint: Joint, pose: Pose, *, forward: bool) -> Iterator[str]:
        """A seam or gaps across the track; the rails of a joint are told along its first piece."""
        insulated = [pair[2] for pair in joint.pairs]
        if not forward and (joint.start[1] == joint.end[1]):
            insulated.reverse()
        if not all(insulated):
            self.marks.add("seam")
            a, b = beside(pose, GAUGE * 0.75), beside(pose, -GAUGE * 0.75)
            yield f'<path class="seam" d="M{point(a[0], -a[1])}L{point(b[0], -b[1])}"/>'
        for side, cut in zip((1, -1), insulated, strict=True):
            if cut:
                self.marks.add("gap")
                yield from gap(pose, side)

    def _onward(self, joint: Joint) -> None:
        """At a joint where the plan is folded: what comes next, at both ends."""
        self.marks.add("onward")
        for here, there in ((joint.start, joint.end), (joint.end, joint.start)):
            where = self.placed[here[0]].ends[here[1]]
            self.labels.append(Label(f"on to {there[0]}", joint.name, "onward", SMALL, where, GAUGE / 2 + 3, 17.0))

    def _feeds(self) -> Iterator[str]:
        taken: list[Point] = []
        for index, feed in enumerate(self.layout.feeds):
            if feed.piece not in self.placed:
                continue
            name = feed.name or f"feed {index + 1}"
            yield f'<g class="feed" data-feed="{attribute(name)}">'
            yield f"<title>{attribute(self._feed_said(feed))}</title>"
            for source, terminal in feed.wires:
                where = self._feed_place(feed, terminal, taken)
                if where is None:
                    continue
                taken.append((where.x, where.y))
                reverser = feed.source in self.layout.reversers
                self.marks.add("reverser" if reverser else "feed")
                yield from drop(where, square=reverser)
                if self.named:
                    said = f"{feed.name or source} {Terminal.of(source).own}" if feed.name else source
                    self.labels.append(Label(said, name, "feed-name", LETTER, beside(where, 8), 4.0))
                self.paper.track(_dots([where.point, beside(where, 6)]))
            yield "</g>"

    def _feed_said(self, feed: Feed) -> str:
        wires = ", ".join(f"{source} to {rail}" for source, rail in feed.wires)
        return f"feed from {feed.source}: {wires}"

    def _feed_place(self, feed: Feed, terminal: str, taken: list[Point]) -> Pose | None:
        rail = terminal[len(feed.piece) + 1 :]
        piece = self.layout.pieces[feed.piece]
        share = 0.4
        if feed.at is not None and piece.length:
            share = min(max(feed.at / piece.length, 0.08), 0.92)
        candidates = [r for r in self.runs[feed.piece] if r.rail == rail]
        return feed_place(self.placed[feed.piece], candidates, share, taken)

    # -- frogs, contacts, units, reversers

    def _frogs(self) -> Iterator[str]:
        for name, found in self.frogs.items():
            for (x, y), _ in found:
                self.marks.add("frog")
                yield f'<path class="mark frog" data-piece="{attribute(name)}" d="{mark_of_frog(x, y)}"/>'

    def _gear(self) -> Iterator[str]:
        """Contacts and units beside what they feed; reversers beside their section. As labels with a symbol."""
        yield from ()
        for contact in self.layout.contacts:
            place = self._rail_place(contact.common)
            if place:
                self.marks.add("contact")
                name = contact.full
                self.labels.append(Label(name, name, "contact", SMALL, place, 8.0, 17.0))
        for unit in self.layout.units.values():
            place = self._rail_place(unit.frog)
            if place:
                self.marks.add("unit")
                self.labels.append(Label(unit.name, unit.name, "unit", SMALL, place, 8.0, 17.0))
        for reverser in self.layout.reversers.values():
            fed = next((f for f in self.layout.feeds if f.source == reverser.name and f.piece in self.placed), None)
            if fed:
                self.marks.add("reverser")
                where = _middle(self.placed[fed.piece])
                self.labels.append(Label(reverser.name, reverser.name, "reverser", SMALL, where, GAUGE / 2 + 5, 17.0))

    def _rail_place(self, terminal: str | None) -> Point | None:
        if terminal is None or terminal not in self.circuit.node:
            return None
        name, rail = Terminal.of(terminal)
        mine = [run for run in self.runs.get(name, ()) if run.rail == rail]
        if mine:
            return self._frog_of(name, mine)
        return None

    def _frog_of(self, name: str, mine: list[RailRun]) -> Point:
        """The mark of the frog that lies on these runs, else their middle."""
        for spot, _ in self.frogs[name]:
            if all(any(hypot(spot[0] - x, spot[1] - y) < 4 for x, y in _dots(r.line)) for r in mine[:2]):
                return spot
        line = mine[0].line
        return at(line, length(line) / 2).point


_ORDER = [*POLES, "name", "onward", "contact", "unit", "reverser", "joint-name", "feed-name"]


def _joint_said(joint: Joint) -> str:
    rails = [f"{a} to {b}" for a, b, cut in joint.pairs if cut]
    return f"{joint.name}: " + (f"insulated, {' and '.join(rails)}" if rails else "metal joiners")


def _dots(line: Line) -> list[Point]:
    return dots(line, 4.0)


def _middle(one: Placed) -> Point:
    if one.pit:
        (x, y), r = one.pit
        return (x, y - r)
    ways = [joined(w.core) for w in one.ways.values()]
    if one.piece.kind.branching:
        xs = [p[0] for w in ways for p in w]
        ys = [p[1] for w in ways for p in w]
        return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    line = ways[0]
    return at(line, length(line) / 2).point


def feed_place(one: Placed, candidates: list[RailRun], share: float, taken: list[Point]) -> Pose | None:
    """A free place for a wire on the longest run of a rail, with what is outside the track to its left."""
    if not candidates:
        return None
    run = max(candidates, key=lambda r: round(length(r.line), 1))
    whole = length(run.line)
    pose = at(run.line, whole * share)
    for step in range(9):
        pose = at(run.line, whole * ((share + 0.1 * step) % 1.0))
        if all(hypot(pose.x - x, pose.y - y) > 9 for x, y in taken):
            break
    return pose if _right_of(pose, _nearest_centre(one, pose.point)) else pose.turned()


def _nearest_centre(one: Placed, spot: Point) -> Point:
    """The point of a centre line of a piece nearest to a point."""
    points = [p for w in one.ways.values() for p in _dots(joined(w.before, w.core, w.after))]
    return min(points, key=lambda p: (hypot(p[0] - spot[0], p[1] - spot[1]), p))


def _right_of(pose: Pose, spot: Point) -> bool:
    ahead = pose.beyond(1.0)
    return (ahead.x - pose.x) * (spot[1] - pose.y) - (ahead.y - pose.y) * (spot[0] - pose.x) < 0

"""The plan of a layout in one state: both rails of every piece by pole, gaps, feeds, frogs, contacts and reversers."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.states import rail_poles
from netlister.draw.bent import bent
from netlister.draw.bent.parts import NAME_SIZE
from netlister.draw.fold import cut_joints, folded
from netlister.draw.labels import Label, Paper, Put
from netlister.draw.lines import Line, Point, Pose, at, joined, length
from netlister.draw.lines import shares as along
from netlister.draw.placing import GAUGE, Drawn, Placed, bounds, components, dots, shifted, upon_another
from netlister.draw.rails import RailRun, beside, end_pose, frogs, runs
from netlister.draw.scale import to_scale
from netlister.draw.style import LETTERS, POLES, SAID, STYLE, has, path, pole_class, written
from netlister.draw.text import shortened, width, wrapped
from netlister.layout.terminal import Terminal, named
from netlister.svg import attribute, number, opening, point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.geometry import Miss
    from netlister.layout.model import Feed, Joint, Layout

EDGE, BETWEEN, LEAST_WIDTH = 36.0, 46.0, 720.0
SMALL, LETTER, TITLE = 10.0, 9.0, 18.0
MOST_SHOWN = 6
NODE_ENDS = 2


class Drawing(NamedTuple):
    """All of a layout laid out: its connected components, stacked.

    `misses`, `upon`: what as written does not close, and pieces that would lie upon each other. `crossing`: pieces that
    cross on the drawing though they are not joined there. `spread`: closing errors that were spread, and how.
    """

    parts: tuple[Drawn, ...]
    misses: tuple[Miss, ...]
    upon: tuple[tuple[str, str], ...] = ()
    crossing: tuple[tuple[str, str], ...] = ()
    spread: tuple[str, ...] = ()

    @property
    def placed(self) -> dict[str, Placed]:
        """Every piece on the drawing."""
        return {name: one for part in self.parts for name, one in part.placed.items()}


def laid_out(layout: Layout, *, fold: bool = True) -> Drawing:
    """Lay out all of a layout; parts that are not connected stand below each other, long ones in strips."""
    parts: list[Drawn] = []
    misses: list[Miss] = []
    upon: list[tuple[str, str]] = []
    spread: list[str] = []
    below = 0.0
    for names in components(layout):
        true, missed, crossed, said = to_scale(layout, names)
        misses += missed
        spread += said
        upon += crossed
        drawn = true or bent(layout, names)
        kept = folded(layout, drawn.placed) if fold else drawn.placed
        left, low, _, high = bounds(kept.values())
        shift = (-left, below - high)
        parts.append(Drawn({n: shifted(p, shift) for n, p in kept.items()}, drawn.true))
        below += low - high - BETWEEN - 2 * GAUGE
    placed = {name: one for part in parts if not part.true for name, one in part.placed.items()}
    return Drawing(tuple(parts), tuple(misses), tuple(upon), tuple(sorted(upon_another(layout, placed))), tuple(spread))


def told(miss: Miss) -> str:
    """What there is to say of ends that do not meet."""
    return f"{miss.joint.name}: laid as written the ends are {miss.gap:.0f} mm and {miss.angle:.0f} deg apart"


def remarks(drawing: Drawing) -> list[str]:
    """What there is to say of a layout that cannot be laid as written, a line each."""
    crossed = [f"{a} and {b}: laid as written one would lie upon the other" for a, b in drawing.upon]
    bent = [f"{a} and {b} cross on the drawing, but do not touch" for a, b in drawing.crossing]
    return [told(miss) for miss in drawing.misses] + list(drawing.spread) + crossed + bent


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
    return _Plan(circuit, state, found, drawing or laid_out(circuit.layout), named=names).text()


class _Plan:
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
        self.runs = {n: runs(circuit, one, state, GAUGE, self.frogs[n]) for n, one in self.placed.items()}
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
        foot, foot_height = self._legend(left + EDGE, -low + EDGE / 2, across - 2 * EDGE)
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
        node = len(self.placed[name].piece.kind.ends) > NODE_ENDS
        for rail, run in best.items():
            terminal = named(name, rail)
            pole = pole_class(self.circuit, self.poles[terminal])
            shares = (0.62, 0.8, 0.45, 0.9, 0.3, 0.15) if node else (0.2, 0.8, 0.12, 0.9, 0.35, 0.65)
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

    # -- the legend

    def _legend(self, x: float, y: float, room: float) -> tuple[list[str], float]:
        """What every line and mark means, in rows as wide as there is room; and its height."""
        lines: list[str] = ['<g class="legend">']
        cx, cy = x, y + 14
        for sample, text in self._samples():
            wide = 44 + width(text, 11) + 22
            if cx > x and cx + wide > x + room:
                cx, cy = x, cy + 24
            lines.append(f'<g transform="translate({number(cx)} {number(cy)})">{sample}')
            lines.append(f'<text x="44" y="4" font-size="11">{attribute(text)}</text></g>')
            cx += wide
        cy += 28
        for text in self._notes():
            for part in wrapped(text, 11, room):
                lines.append(f'<text x="{number(x)}" y="{number(cy)}" font-size="11">{attribute(part)}</text>')
                cy += 16
        lines.append("</g>")
        return lines, cy - y + 10

    def _samples(self) -> Iterator[tuple[str, str]]:
        for pole in POLES:
            if pole in self.used:
                letter = written(LETTERS[pole], 18, -5, LETTER, f'class="letter {pole}" text-anchor="middle"')
                yield f'<path class="rail {pole}" d="M0 0H36"/>{letter}', SAID[pole]
        rail = '<path class="rail pole-A" d="M4 0H32"/>'
        found = {
            "gap": (rail + "".join(gap(Pose(18, -GAUGE / 2, 0), 1)), "insulated joiner"),
            "seam": ('<path class="seam" d="M18 -9V9"/><path class="rail pole-A" d="M4 0H32"/>', "metal joiners"),
            "feed": (rail + "".join(drop(Pose(18, 0, 0), square=False)), "feed wire to a rail"),
            "frog": (f'<path class="mark" d="{mark_of_frog(18, 0)}"/>', "frog"),
            "plastic": ('<path class="plastic" d="M4 0H32"/>', "plastic, or a gap: nothing conducts"),
            "contact": (_symbol("contact", 10, 4), "contact that powers this rail"),
            "unit": (_symbol("unit", 10, 4), "frog unit"),
            "onward": (_symbol("onward", 10, 4), "goes on in another strip"),
            "reverser": (
                _symbol("reverser", 0, 4) + "".join(drop(Pose(28, 0, 0), square=True)),
                "reverser, and its feed wires",
            ),
        }
        for mark, sample in found.items():
            if mark in self.marks:
                yield sample

    def _notes(self) -> Iterator[str]:
        true = [part for part in self.drawing.parts if part.true]
        if true and self.drawing.misses:
            yield "To scale, but for the pieces at the joints named below, which are bent to fit."
        elif true and self.drawing.spread:
            yield "To scale; what does not quite close as written is spread over joints and straight track."
        elif len(true) == len(self.drawing.parts):
            yield (
                "Laid to scale, as written; the gauge is drawn wide."
                if _widened(self.layout, true)
                else "To scale, as written."
            )
        elif true:
            yield "Partly to scale, the rest bent to fit: how it hangs together is right, lengths and curves are not."
        else:
            yield "Bent to fit: how it hangs together is right, lengths and curves are not."
        said = remarks(self.drawing)
        yield from (f"{text}." for text in said[:MOST_SHOWN])
        if len(said) > MOST_SHOWN:
            yield f"{len(said) - MOST_SHOWN} more places do not fit as written."


_ORDER = [*POLES, "name", "onward", "contact", "unit", "reverser", "joint-name", "feed-name"]


def _widened(layout: Layout, parts: list[Drawn]) -> bool:
    del layout
    return not any(len(p.piece.kind.ends) > NODE_ENDS for part in parts for p in part.placed.values())


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
    if len(one.piece.kind.ends) > NODE_ENDS:
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


def table(one: Placed) -> Iterator[str]:
    """The outline of a table that slides: around all its ends that are gaps."""
    kind = one.piece.kind
    if not kind.gaps or one.pit:
        return
    still = [one.ends[e] for e in kind.ends if e not in kind.gaps]
    ends = [one.ends[e] for e in kind.ends if e in kind.gaps]
    xs, ys = [x for x, _ in ends], [y for _, y in ends]
    if still:  # a yard: its tracks reach back to a little beyond the end that stays where it is
        xs.append(still[0][0] + (xs[0] - still[0][0]) * 0.42)
    left, right, low, high = min(xs), max(xs), min(ys) - GAUGE, max(ys) + GAUGE
    yield (
        f'<rect class="pit" x="{number(left)}" y="{number(-high)}" width="{number(right - left)}" '
        f'height="{number(high - low)}"/>'
    )


def _nearest_centre(one: Placed, spot: Point) -> Point:
    """The point of a centre line of a piece nearest to a point."""
    points = [p for w in one.ways.values() for p in _dots(joined(w.before, w.core, w.after))]
    return min(points, key=lambda p: (hypot(p[0] - spot[0], p[1] - spot[1]), p))


def _right_of(pose: Pose, spot: Point) -> bool:
    ahead = pose.beyond(1.0)
    return (ahead.x - pose.x) * (spot[1] - pose.y) - (ahead.y - pose.y) * (spot[0] - pose.x) < 0


def gap(pose: Pose, side: int) -> Iterator[str]:
    """An insulated joiner in the rail on one side: the rail is cut, two bars stand beside the cut."""
    middle = beside(pose, side * GAUGE / 2)
    here = Pose(middle[0], middle[1], pose.heading)
    a, b = here.beyond(-3.0), here.beyond(3.0)
    yield f'<path class="cut" d="M{point(a.x, -a.y)}L{point(b.x, -b.y)}"/>'
    for one in (a, b):
        p, q = beside(one, 4.2), beside(one, -4.2)
        yield f'<path class="bar" d="M{point(p[0], -p[1])}L{point(q[0], -q[1])}"/>'


def drop(pose: Pose, *, square: bool) -> Iterator[str]:
    """A wire to a rail: a stem to the side (the left of the pose), and a dot or a square on the rail."""
    end = beside(pose, 8.0)
    yield f'<path class="bar" d="M{point(pose.x, -pose.y)}L{point(end[0], -end[1])}"/>'
    if square:
        yield f'<rect class="mark" x="{number(end[0] - 3)}" y="{number(-end[1] - 3)}" width="6" height="6"/>'
        return
    yield f'<circle class="solid" cx="{number(pose.x)}" cy="{number(-pose.y)}" r="2.6"/>'
    yield f'<circle class="mark" cx="{number(end[0])}" cy="{number(-end[1])}" r="2.4"/>'


def mark_of_frog(x: float, y: float) -> str:
    """The outline of the mark of a frog; y points up."""
    return f"M{point(x - 4, -y)}L{point(x, -y - 3.2)}L{point(x + 4, -y)}L{point(x, -y + 3.2)}Z"


def _symbol(kind: str, x: float, y: float) -> str:
    """A symbol in front of a label whose line begins at a point; y points down."""
    if kind == "contact":  # a lever between two studs
        return (
            f'<path class="bar" d="M{point(x, y - 3.5)}h4l6 -3.2"/>'
            f'<circle class="solid" cx="{number(x + 12)}" cy="{number(y - 7)}" r="1.5"/>'
            f'<circle class="solid" cx="{number(x + 12)}" cy="{number(y - 0.5)}" r="1.5"/>'
        )
    if kind == "onward":
        return f'<path class="bar" d="M{point(x, y - 3.5)}h12m-4.5 -3.5l4.5 3.5l-4.5 3.5"/>'
    if kind == "unit":
        dot = f'<circle class="solid" cx="{number(x + 7)}" cy="{number(y - 3.5)}" r="1.6"/>'
        return f'<path class="mark" d="M{point(x + 1, y - 3.5)}l6 -4.5l6 4.5l-6 4.5z"/>{dot}'
    return f'<path class="bar" d="M{point(x, y - 7)}h3l7 7h3M{point(x, y)}h3l7 -7h3"/>'


def label_svg(put: Put) -> Iterator[str]:
    """A label at its place, with a line to what it names where it stands far off."""
    label = put.label
    x, y = put.x + label.symbol, -put.y
    if put.lead:
        a, b = label.point, put.lead
        yield f'<path class="lead" d="M{point(a[0], -a[1])}L{point(b[0], -b[1])}"/>'
    names = attribute(label.names)
    if label.kind in POLES:
        yield written(label.text, x, y, label.size, f'class="letter {label.kind}" data-for="{names}"')
    elif label.kind in {"joint-name", "feed-name"}:
        yield written(label.text, x, y, label.size, f'class="small" data-for="{names}"')
    elif label.kind == "name":
        yield written(label.text, x, y, label.size, f'class="label" data-for="{names}"')
    else:
        text = written(label.text, x, y, label.size, 'class="tag"')
        yield f'<g class="{label.kind}" data-{label.kind}="{names}">{_symbol(label.kind, put.x, y)}{text}</g>'

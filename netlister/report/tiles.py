"""The plan on the page, in tiles: merged lines to be seen from afar and without a script, and what draws more.

Near by, the page's script draws every piece as an element of its own; from afar, all rails of a tile that have one pole
are one line. So a thousand turnouts open and move as quickly as ten.
"""

from __future__ import annotations

from itertools import product
from math import floor
from typing import TYPE_CHECKING, Any, NamedTuple
from xml.etree import ElementTree as ET

from netlister.draw.placing import GAUGE
from netlister.draw.plan import plan_svg
from netlister.draw.rails import rail_runs
from netlister.draw.style import LETTERS, pole_class
from netlister.layout.model import Value
from netlister.layout.terminal import Terminal
from netlister.report.strokes import Stroke, from_start, points, strokes
from netlister.svg import attribute

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from netlister.circuit.model import Circuit, State
    from netlister.draw.laying import Drawing
    from netlister.draw.placing import Placed
    from netlister.report.strokes import StrokePoint

MOST_STATES = 64
"""Positions of one piece up to which its rails are drawn in all of them; a table with more stays as it opened."""

MOST_NAMED = 1500
"""Pieces up to which joints and feeds carry their names on request: room for a name is sought among all others."""

LINE = 20
"""Height of a line of the drawing's heading."""

TILE = 7200
"""Width and height of a tile, in tenths."""

COARSE = 0.25
"""By how much a merged line may leave that of the drawing, in its units."""

THINGS = ("joint", "feed", "contact", "unit", "reverser", "onward")
"""What has a place on the plan and is no piece; the page speaks of them by number."""

UNDER = ("pit", "plastic")
OVER = ("cut", "seam", "bar", "ring", "hole", "dot", "speck", "mark", "lead")
"""The classes of lines under and over the rails, in the order in which they lie upon each other."""

STYLE = (
    ".dot,.speck,.ring,.hole{fill:none;stroke-linecap:round;stroke:#1a1a1a;stroke-width:5.2}\n"
    ".speck{stroke-width:3}.ring{stroke-width:6.1}.hole{stroke:#fff;stroke-width:3.5}\n.names{display:none}\n"
)
"""What the lines of the page need beside the style of a drawing, in a plan that is saved from it."""

RailStroke = tuple[int, Stroke]
"""A stretch of rail: the number of the rail in its piece (-1: plastic), and its line."""

TileText = tuple[str, int, int]
"""A text and where it begins, in tenths."""


class Tiled(NamedTuple):
    """The plan as SVG, merged; and as data for the page's script."""

    svg: str
    data: dict[str, Any]


def tiled(circuit: Circuit, state: State, poles: Mapping[str, list[str]], drawing: Drawing) -> Tiled:
    """The plan of a layout in a state, for the page."""
    named = len(circuit.layout.pieces) <= MOST_NAMED
    root = ET.fromstring(plan_svg(circuit, state, dict(poles), drawing, names=named))  # noqa: S314 - our own
    made = _TilePlan(circuit, state, poles, drawing.placed)
    made.read(root)
    made.lay()
    return Tiled(made.svg(root), made.data())


class _Numbers(dict[Any, int]):
    """Things told once, spoken of by number."""

    def of(self, thing: Any) -> int:
        return self.setdefault(thing, len(self))


class _MarkedThing(NamedTuple):
    """A joint, feed, contact and so on: its marks and its texts; `small`: its name, shown on request."""

    kind: str
    name: str
    title: str
    marks: list[Stroke]
    texts: list[TileText]
    small: list[TileText]


class _Tile:
    """What lies in one square of the plan, lines of one class together."""

    def __init__(self) -> None:
        self.lines: dict[str, list[str]] = {}
        self.texts: dict[str, list[TileText]] = {}
        self.box = [10**9, 10**9, -(10**9), -(10**9)]

    def draw(self, stroke: Stroke, fine: float = 0.0) -> None:
        """Add a line; with `fine` by no more points than that takes."""
        merged = Stroke(stroke.kind, *from_start(points(stroke), fine)) if fine else stroke
        self.lines.setdefault(stroke.kind, []).append(merged.path)

    def reach(self, stroke: Stroke) -> None:
        """Grow so that a line is inside."""
        for x, y in points(stroke):
            self.touch(round(x * 10), round(y * 10))

    def touch(self, x: int, y: int) -> None:
        """Grow so that a point is inside."""
        a, b, c, d = self.box
        self.box = [min(a, x), min(b, y), max(c, x), max(d, y)]

    def write(self, kind: str, text: TileText) -> None:
        """Add a text."""
        self.texts.setdefault(kind, []).append(text)
        self.touch(*text[1:])

    def svg(self, number: int) -> Iterator[str]:
        """The tile as merged elements."""
        yield f'<g class="merged" data-tile="{number}">'
        rails = sorted(kind for kind in self.lines if kind.startswith("rail"))
        for kind in (*UNDER, *rails, *(k for c in OVER for k in self.lines if k.split()[0] == c)):
            if kind in self.lines:
                yield f'<path class="{kind}" d="{"".join(self.lines[kind])}"/>'
        for kind, texts in self.texts.items():
            yield from _written(kind, texts)
        yield "</g>"


def _written(kind: str, texts: list[TileText]) -> Iterator[str]:
    """Texts of one class: single letters as one element, with a place for each."""
    single = [one for one in texts if len(one[0]) == 1] if kind.startswith("letter") else []
    if single:
        xs, ys = (" ".join(f"{place[k] / 10:g}" for _, *place in single) for k in (0, 1))
        yield f'<text class="{kind}" x="{xs}" y="{ys}">{"".join(one[0] for one in single)}</text>'
        return
    yield f'<g class="{kind}">'
    yield from (f'<text x="{x / 10:g}" y="{y / 10:g}">{attribute(text)}</text>' for text, x, y in texts)
    yield "</g>"


class _TilePlan:
    def __init__(
        self, circuit: Circuit, state: State, poles: Mapping[str, list[str]], placed: Mapping[str, Placed]
    ) -> None:
        self.circuit, self.state, self.poles, self.placed = circuit, state, poles, placed
        self.classes, self.lines, self.forms = _Numbers(), _Numbers(), _Numbers()
        self.arranged: dict[str, dict[str, list[int]]] = {}
        self.arrangements = _Numbers()
        self.tiles: dict[StrokePoint, _Tile] = {}
        self.joints = {joint.name: number for number, joint in enumerate(circuit.layout.joints)}
        self.rows: list[tuple[StrokePoint, list[Any]]] = []
        self.thing_rows: list[tuple[StrokePoint, list[Any]]] = []
        # as read from the drawing
        self.marks: dict[str, list[Stroke]] = {name: [] for name in placed}
        self.names: dict[str, TileText] = {}
        self.letters: dict[str, list[TileText]] = {name: [] for name in placed}
        self.things: list[_MarkedThing] = []
        self.named: dict[str, _MarkedThing] = {}

    # -- read from the drawing; rails come from the pieces themselves

    def read(self, root: ET.Element) -> None:
        """Take marks and labels from a drawing; a line to a label stands before it."""
        lead: list[Stroke] = []
        for one in root:
            kind, piece, label = one.get("class", ""), one.get("data-piece"), one.get("data-for")
            if kind == "lead":
                lead = strokes(one)
                continue
            if kind in THINGS:
                self._thing(one, kind, lead)
            elif piece is not None:
                self.marks[piece] += [s for child in one for s in strokes(child)] if kind == "piece" else strokes(one)
            elif label is not None:
                self._label(one, kind, label, lead)
            lead = []

    def _thing(self, one: ET.Element, kind: str, lead: list[Stroke]) -> None:
        marks = [*lead, *(s for child in one for s in strokes(child))]
        texts = [_text(child) for child in one if _tag(child) == "text"]
        title = next((child.text or "" for child in one if _tag(child) == "title"), "")
        made = _MarkedThing(kind, one.get(f"data-{kind}", ""), title, marks, texts, [])
        if marks or texts:
            self.things.append(made)
            self.named.setdefault(made.name, made)

    def _label(self, one: ET.Element, kind: str, name: str, lead: list[Stroke]) -> None:
        if kind.startswith("letter"):
            piece, rail = Terminal.of(name)
            self.letters[piece].append((rail, *_text(one)[1:]))
            self.marks[piece] += lead
        elif kind == "label":
            self.names[name] = _text(one)
            self.marks[name] += lead
        elif name in self.named:
            self.named[name].small.append(_text(one))

    # -- laid out in tiles

    def lay(self) -> None:
        """Every piece and thing into its tile, with its row of data."""
        for name, one in self.placed.items():
            self._piece(name, one)
        for thing in self.things:
            self._put(thing)

    def _tile(self, place: StrokePoint) -> tuple[StrokePoint, _Tile]:
        cell = (floor(place[0] / TILE), floor(place[1] / TILE))
        return cell, self.tiles.setdefault(cell, _Tile())

    def _piece(self, name: str, one: Placed) -> None:
        ways = self._ways(one)
        here = ways.get(" ".join(str(self.state[v]) for v in self._moving(one)), ways.get("", []))
        base = here[0][1].start if here else self.names[name][1:]
        cell, tile = self._tile(base)
        for stroke in (*(s for way in ways.values() for _, s in way), *self.marks[name]):
            tile.reach(stroke)
        for number, stroke in here:
            kind = stroke.kind if number < 0 else f"rail {self._pole(one, number)}"
            tile.draw(stroke._replace(kind=kind), COARSE)
        for stroke in self.marks[name]:
            tile.draw(stroke)
        rails = one.piece.kind.rails
        letters: list[int] = []
        for rail, x, y in self.letters[name]:
            number = rails.index(rail)
            letters += [number, x - base[0], y - base[1]]
            pole = self._pole(one, number)
            tile.write(f"letter {pole}", (LETTERS[pole], x, y))
        _, x, y = self.names[name]
        tile.write("label", self.names[name])
        rows = {key: [v for k, s in way for v in (k, *self._row(s, base)[1:])] for key, way in ways.items()}
        number = self.arrangements.of(repr(rows))
        self.arranged.setdefault(str(number), rows)
        form = self._form(self.marks[name], base)
        self.rows.append((cell, [*base, number, form, letters, x - base[0], y - base[1]]))

    def _pole(self, one: Placed, rail: int) -> str:
        return pole_class(self.circuit, self.poles[one.piece.terminal(one.piece.kind.rails[rail])])

    def _moving(self, one: Placed) -> list[int]:
        circuit = self.circuit
        return list(dict.fromkeys(circuit.variable[circuit.layout.bars[bar].variable] for bar in one.piece.bars))

    def _ways(self, one: Placed) -> dict[str, list[RailStroke]]:
        """The rails of a piece per values of what moves it ("0", "1 0"); one that stays as it is has them at ""."""
        variables = self._moving(one)
        counts = [len(self.circuit.variables[v].positions) for v in variables]
        ways = list(product(*(map(Value, range(count)) for count in counts))) if variables else []
        if not ways or len(ways) > MOST_STATES:
            variables, ways = [], [()]
        found = {}
        for values in ways:
            there = list(self.state)
            for variable, value in zip(variables, values, strict=True):
                there[variable] = value
            found[" ".join(map(str, values))] = [
                (
                    -1 if run.rail is None else one.piece.kind.rails.index(run.rail),
                    Stroke("plastic" if run.rail is None else "rail", *from_start([(x, -y) for x, y in run.line])),
                )
                for run in rail_runs(self.circuit, one, tuple(there), GAUGE)
            ]
        return found

    def _row(self, stroke: Stroke, base: StrokePoint) -> tuple[int, int, int, int]:
        """A line by numbers: of its class, its place from that of its piece, of the rest of it."""
        x, y = stroke.start
        return self.classes.of(stroke.kind), x - base[0], y - base[1], self.lines.of(stroke.rest)

    def _form(self, marks: Iterable[Stroke], base: StrokePoint) -> int:
        return self.forms.of(tuple(v for stroke in marks for v in self._row(stroke, base)))

    def _put(self, thing: _MarkedThing) -> None:
        base = thing.marks[0].start if thing.marks else thing.texts[0][1:]
        cell, tile = self._tile(base)
        for stroke in thing.marks:
            tile.draw(stroke)
            tile.reach(stroke)
        for text in thing.texts:
            tile.write("tag", text)
        texts, small = (
            [v for t, x, y in of for v in ("" if t == thing.name else t, x - base[0], y - base[1])]
            for of in (thing.texts, thing.small)
        )
        form = self._form(thing.marks, base)
        title = "" if thing.kind in {"joint", "feed"} else thing.title  # the script tells them itself
        row = [
            THINGS.index(thing.kind),
            self.joints[thing.name] if thing.kind == "joint" else thing.name,
            title,
            *base,
            form,
            texts,
            small,
        ]
        self.thing_rows.append((cell, row))

    # -- written

    def data(self) -> dict[str, Any]:
        """Pieces in the order of the layout, things, and the box of each tile; in tenths, y down.

        A piece: its place, the numbers of its rails' arrangement and of its marks' form, its letters (number of the
        rail, x, y), where its name stands, its tile. All but the first two from its own place.
        """
        order = {cell: k for k, cell in enumerate(sorted(self.tiles))}
        return {
            "classes": list(self.classes),
            "lines": list(self.lines),
            "forms": [list(form) for form in self.forms],
            "rails": [self.arranged[str(k)] for k in range(len(self.arranged))],
            "pieces": [[*row, order[cell]] for cell, row in self.rows],
            "kinds": THINGS,
            "things": [[*row, order[cell]] for cell, row in self.thing_rows],
            "tiles": [self.tiles[cell].box for cell in order],
            "style": STYLE,
        }

    def svg(self, root: ET.Element) -> str:
        """The merged plan, without what the page says itself: heading and style."""
        inner = [line for k, cell in enumerate(sorted(self.tiles)) for line in self.tiles[cell].svg(k)]
        left, top, across, tall = map(float, root.get("viewBox", "").split())
        cut = LINE * sum(one.get("class") == "head" for one in root)
        size = f'width="{across:g}" height="{tall - cut:g}"'
        title = next((one.text or "" for one in root if _tag(one) == "title"), "")
        return "\n".join(
            [
                (
                    f'<svg xmlns="http://www.w3.org/2000/svg" class="plan" viewBox="{left:g} {top + cut:g} {across:g} '
                    f'{tall - cut:g}" {size} role="img">'
                ),
                f"<title>{attribute(title)}</title>",
                f'<rect class="paper" x="{left:g}" y="{top + cut:g}" {size}/>',
                *inner,
                *(_plain(one) for one in root if one.get("class") == "legend"),
                "</svg>\n",
            ]
        )


def _tag(one: ET.Element) -> str:
    return one.tag.rpartition("}")[2]


def _text(one: ET.Element) -> TileText:
    return one.text or "", round(float(one.get("x", "0")) * 10), round(float(one.get("y", "0")) * 10)


def _plain(one: ET.Element) -> str:
    """An element as HTML has it, without names of spaces."""
    more = "".join(f' {key}="{attribute(value)}"' for key, value in one.attrib.items())
    inner = attribute(one.text or "").strip() + "".join(map(_plain, one))
    return f"<{_tag(one)}{more}>{inner}</{_tag(one)}>"

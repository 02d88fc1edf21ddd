"""The card of a reverser: how it changes over, its wires, the ends of its section, tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.model import holds
from netlister.draw.style import written
from netlister.papers.card_base import OFF, Card
from netlister.papers.local_poles import node_groups
from netlister.papers.sheets import BODY
from netlister.svg import number, point

if TYPE_CHECKING:
    from netlister.layout.model import Joint, Reverser
    from netlister.papers.card_base import Whole
    from netlister.papers.sheets import Flow

WHY_REVERSED = (
    "Track that comes back upon itself turns the train round, so its left rail meets the right rail of the line. "
    "While a train is on this section, its two poles are changed over, so that both ends fit in turn."
)


class OfReverser(Card):
    """The card of a reverser."""

    heading = "Reverser: turns the poles of one section round"

    def __init__(self, of: Whole, name: str) -> None:
        super().__init__(of, name)
        self.reverser: Reverser = self.layout.reversers[name]
        mode = "automatic" if self.reverser.automatic else f"follows {self.reverser.variable}"
        board = of.boards.get(name, "")
        self.under = f"{mode}, fed from {self.reverser.bus}{'; board ' + board if board else ''}"
        self.feeds = [f for f in self.layout.feeds if f.source == name]

    def fill(self, flow: Flow) -> None:
        """Put onto sheets: the changeover, wires, joints at the ends of the section, tests."""
        straight, crossed = self._states()
        each = flow.room / 2
        flow.picture(
            176,
            lambda x, y: [
                *_box(x, y, each - 20, straight, over=False),
                *_box(x + each, y, each - 20, crossed, over=True),
            ],
        )
        self.caution(flow)
        tables = self.of.wiring.of_gear(self.name)
        self.wires(flow, f"Wires at {self.name}", tables.here, near=self.name)
        self.colours(flow, tables.here)
        self._ends(flow)
        self._test(flow)
        flow.heading("Why")
        flow.text(WHY_REVERSED)

    def _states(self) -> tuple[str, str]:
        if self.reverser.automatic:
            return "straight", "crossed"
        variable = next(v for v in self.circuit.variables if v.name == self.reverser.variable)
        named = [
            ", ".join(p for i, p in enumerate(variable.positions) if (i in self.reverser.straight) is s)
            for s in (True, False)
        ]
        return f"straight: {variable.name} at {named[0]}", f"crossed: {variable.name} at {named[1]}"

    def section(self) -> list[str]:
        """The pieces of the section: those that it feeds and all that metal joiners on both rails join to them."""
        found = list(dict.fromkeys(f.piece for f in self.feeds))
        near: dict[str, list[str]] = {}
        for joint in self.layout.joints:
            if not any(insulated for *_, insulated in joint.pairs):
                for (one, _), (other, _) in ((joint.start, joint.end), (joint.end, joint.start)):
                    if self._leaves(one, joint):
                        near.setdefault(one, []).append(other)
        for name in found:
            found += [other for other in near.get(name, ()) if other not in found]
        return found

    def ends(self) -> list[Joint]:
        """The joints at which the section ends."""
        pieces = set(self.section())
        return [
            j
            for j in self.layout.joints
            if any(insulated for *_, insulated in j.pairs)
            and any(piece in pieces and self._leaves(piece, j) for piece, _ in (j.start, j.end))
        ]

    def _leaves(self, piece: str, joint: Joint) -> bool:
        """Whether a joint of a piece is one of its section; of a table only where it is one of the rails that are fed.

        The roads around a turntable are joined to it in the layout, but not to its bridge.
        """
        fed = {rail for f in self.feeds for _, rail in f.wires}
        return not self.layout.pieces[piece].kind.gaps or any({a, b} & fed for a, b, _ in joint.pairs)

    def _ends(self, flow: Flow) -> None:
        pieces = self.section()
        if not pieces:
            flow.text("It feeds no track yet.")
            return
        flow.heading("Its section and the joints at its ends")
        flow.text(f"Pieces: {', '.join(pieces)}.")
        rows = [(a, b, "INSULATED" if cut else "METAL") for j in self.ends() for a, b, cut in j.pairs]
        if rows:
            flow.table("joints", ("rail", "meets", "joiner"), rows)
        half = [j.name for j in self.ends() if not all(cut for *_, cut in j.pairs)]
        if half:
            flow.text(
                f"At {', '.join(half)} one rail is metal as the layout is written: a reverser needs both rails "
                "insulated at both ends, unless that rail is meant to be common. Run 'netlister check' before you "
                "solder.",
                bold=True,
            )
        elif not rows and (tables := [p for p in pieces if self.layout.pieces[p].kind.gaps]):
            flow.text(f"Its rails end at the gaps around {', '.join(tables)}, where no joiner is.")
        elif len(rows) < 4:  # noqa: PLR2004
            flow.text(
                "The section has fewer than two insulated ends: run 'netlister check' before you solder.", bold=True
            )

    def _test(self, flow: Flow) -> None:
        flow.heading("Test")
        flow.text(OFF)
        flow.text("All turnouts and switches as they rest.")
        rest = tuple(v.rest for v in self.circuit.variables)
        net = node_groups(len(self.circuit.names), [c for c in self.circuit.conductors if holds(c.when, rest)])
        pairs = [(a, b) for joint in self.ends() for a, b, cut in joint.pairs if cut]
        for name in dict.fromkeys(f.piece for f in self.feeds):
            rails = sorted({rail for f in self.feeds if f.piece == name for _, rail in f.wires})
            pairs += [(rails[0], rails[1])] if len(rails) == 2 else []  # noqa: PLR2004
        node = self.circuit.node
        beeps = [(a, "beeps" if net[node[a]] == net[node[b]] else "does not beep", b) for a, b in pairs]
        flow.ticks([f"{a} {said} to {b}" for a, said, b in beeps])
        flow.text(
            "Then with the supply on, by its instructions: at each gap, on the same side, no voltage across it means "
            "right; full voltage means that it must change over before a train crosses."
        )


def _box(x: float, y: float, room: float, said: str, *, over: bool) -> list[str]:
    """The two wires in, the changeover, the two wires out."""
    lines = [written(said, x, y + BODY, BODY, 'font-weight="bold"')]
    top, low = y + 66, y + 126
    left, right = x + room * 0.3, x + room * 0.7
    lines.append(
        f'<rect class="mark" x="{number(left)}" y="{number(top - 34)}" width="{number(right - left)}" '
        f'height="{number(low - top + 60)}"/>'
    )
    ends = (low, top) if over else (top, low)
    for pole, start, end in (("A", top, ends[0]), ("B", low, ends[1])):
        line = f"M{point(x, start)}H{number(left + 14)}L{point(right - 14, end)}H{number(x + room)}"
        lines.append(f'<path class="rail pole-{pole}" d="{line}"/>')
    for letter, line_y in zip("AB", (top, low), strict=True):
        lines.append(written(f"in-{letter}", x, line_y - 8, BODY))
        lines.append(written(f"out {letter}", right + 6, line_y - 8, BODY))
    for letter, line_y in zip("BA" if over else "AB", (top, low), strict=True):
        lines.append(written(letter, right + 6, line_y + 17, BODY, f'class="letter pole-{letter}"'))
    return lines

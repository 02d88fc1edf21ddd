"""Joints from the joiners of their two rails."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.drawing import DrawnJoiner
from netlister.netlists.drawing import key_of
from netlister.netlists.values import mapping
from netlister.quantity import shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.kinds.model import End
    from netlister.netlists.building import Building
    from netlister.netlists.drawing import DrawnPart, DrawnPin

PAIR = 2
KINDS = ("metal-joiner", "insulated-joiner")


class JoinerReading(NamedTuple):
    """A way to read two joiners: the ends that they join, and which of them is on the left, seen from the first."""

    start: tuple[str, str]
    end: tuple[str, str]
    left: DrawnPart
    right: DrawnPart


class JointMaker:
    """Makes joints of joiners."""

    def __init__(self, build: Building) -> None:
        self.build = build
        self.nets = build.nets
        self.used: set[tuple[str, str]] = set()

    def all(self) -> None:
        """Turn all joiners into joints: those that say their ends first, since they leave the others less to guess."""
        groups = list(self._groups())
        entries = {}
        for group in sorted(groups, key=lambda g: not any(key in part.fields for part in g for key in ("from", "to"))):
            way = self._way(group)
            if way is not None:
                self.used |= {way.start, way.end}
                entries[group[0].reference.text] = (way, group)
        for group in groups:
            if group[0].reference.text in entries:
                self._joint(*entries[group[0].reference.text])

    def _groups(self) -> Iterator[list[DrawnPart]]:
        """Pairs of joiners: those of one name, and those without a name that alone lie between two pieces."""
        joiners = [part for part in self.build.drawing.parts if key_of(part.kind.text) in KINDS]
        groups: dict[object, list[DrawnPart]] = {}
        for part in joiners:
            if any(pin not in part.pins for pin in "12"):
                message = (
                    f"the joiner '{shown(part.reference.text)}' joins nothing on one side; wire both its pins to rails"
                )
                self.build.fault(part.reference.span, message)
                continue
            key = ("name", part.name.text) if "name" in part.fields else frozenset(self._pieces(part))
            groups.setdefault(key, []).append(part)
        for group in groups.values():
            first = group[0]
            if len(group) == PAIR:
                yield group
            elif len(group) == 1:
                message = (
                    f"the joiner '{shown(first.reference.text)}' has no second one for the other rail of its joint; "
                    "draw one, metal or insulated"
                )
                message += (
                    ", and give both the same field 'Name'; if it is drawn, see that it is not marked as excluded from "
                    "the board: the editor leaves such parts out"
                )
                self.build.fault(first.reference.span, message)
            else:
                listed = ", ".join(f"'{shown(part.reference.text)}'" for part in group)
                message = (
                    f"a joint has two joiners, and these are {len(group)}: {listed}; "
                    "give the two of each joint a field 'Name' of their own"
                )
                self.build.fault(first.reference.span, message)

    def _pieces(self, part: DrawnPart) -> set[str]:
        return {piece for pin in "12" for piece, _ in self.nets.rails.get(part.pins[pin].net, ())}

    def _way(self, group: list[DrawnPart]) -> JoinerReading | None:
        """The ends that two joiners join, or None and a fault."""
        ways = list(dict.fromkeys(self._ways(group)))
        fields = {k: part.fields[k] for part in reversed(group) for k in ("from", "to", "rail") if k in part.fields}
        first = group[0]
        name = "' and '".join(shown(part.reference.text) for part in group)
        for key, number in (("from", 0), ("to", 1)):
            if key in fields:
                wanted = self._end(fields[key].text)
                ways = [way for way in ways if way[number] == wanted] or self._turned(ways, number, wanted)
        side = first.fields.get("rail")
        if side is not None and side.text in {"left", "right"}:
            ways = [w for w in ways if (w.left if side.text == "left" else w.right) is first] or ways
        free = [way for way in ways if not {way.start, way.end} & self.used]
        if free and (len(free) == 1 or "from" in fields or self._alike(free)):
            return free[0]
        if free:
            ends = " or ".join(f"{'.'.join(way.start)} to {'.'.join(way.end)}" for way in free[:4])
            message = f"the joiners '{name}' may join {ends}; write which in their fields 'From' and 'To'"
        elif ways:
            ends = " and ".join(".".join(end) for end in ways[0][:2])
            message = f"the joiners '{name}' join {ends}, one of which is joined already; an end is joined once"
        elif "from" in fields or "to" in fields:
            said = " and ".join(f"'{shown(fields[key].text)}'" for key in ("from", "to") if key in fields)
            message = (
                f"the joiners '{name}' say that they join {said}, and their pins do not lie on the rails there; "
                "mend the drawing or the fields 'From' and 'To'"
            )
        else:
            message = (
                f"the joiners '{name}' do not lie between the left and the right rails of two ends of track; "
                "look which rails they join"
            )
        self.build.fault(first.reference.span, message)
        return None

    def _turned(self, ways: list[JoinerReading], number: int, wanted: tuple[str, str]) -> list[JoinerReading]:
        """Ways read from the other end."""
        turned = []
        for way in ways:
            if way[1 - number] == wanted:
                straight = self._named(way.start).entering != self._named(way.end).entering
                left, right = (way.left, way.right) if straight else (way.right, way.left)
                turned.append(JoinerReading(way.end, way.start, left, right))
        return turned

    def _named(self, end: tuple[str, str]) -> End:
        return self.nets.kinds[end[0]].ends[end[1]]

    def _end(self, text: str) -> tuple[str, str]:
        piece, _, end = text.partition(".")
        return piece, end

    def _alike(self, ways: list[JoinerReading]) -> bool:
        """Whether ways differ only in which end of plain track they take, which changes nothing."""
        firsts = {(way.start[0], way.end[0]) for way in ways}
        open_ends: dict[str, set[str]] = {}
        for way in ways:
            for piece, end in (way.start, way.end):
                open_ends.setdefault(piece, set()).add(end)
        return len({frozenset(pair) for pair in firsts}) == 1 and all(
            len(ends) == 1 or self.nets.kinds[piece].plain for piece, ends in open_ends.items()
        )

    def _ways(self, group: list[DrawnPart]) -> Iterator[JoinerReading]:
        """Every way to read two joiners; along the pieces, from leaving to entering ends, first."""
        one, other = group
        for first, second in (("1", "2"), ("2", "1")):
            for third, fourth in ((first, second), (second, first)):
                yield from self._between(
                    (one, other), (one.pins[first], other.pins[third]), (one.pins[second], other.pins[fourth])
                )

    def _between(
        self, group: tuple[DrawnPart, DrawnPart], here: tuple[DrawnPin, DrawnPin], there: tuple[DrawnPin, DrawnPin]
    ) -> Iterator[JoinerReading]:
        found = []
        ends = list(self._ends(*here))
        others = list(self._ends(*there)) if ends else []
        for start, end_here, flipped in ends:
            for stop, end_there, crossed in others:
                if start == stop and end_here.name == end_there.name:
                    continue
                faces = end_here.entering == end_there.entering
                if (flipped != crossed) == faces:
                    left, right = (group[1], group[0]) if flipped else group
                    way = JoinerReading((start, end_here.name), (stop, end_there.name), left, right)
                    found.append((end_here.entering, not end_there.entering, way))
        found.sort(key=lambda item: item[:2])
        yield from (way for _, _, way in found)

    def _ends(self, one: DrawnPin, other: DrawnPin) -> Iterator[tuple[str, End, bool]]:
        """Ends whose two rails lie on the nets of two pins, and whether the first pin is on the right."""
        on_one, on_other = (self.nets.rails.get(pin.net, ()) for pin in (one, other))
        for piece in sorted({piece for piece, _ in on_one}.intersection(piece for piece, _ in on_other)):
            for end in self.nets.kinds[piece].ends.values():
                if (piece, end.left) in on_one and (piece, end.right) in on_other:
                    yield piece, end, False
                if (piece, end.right) in on_one and (piece, end.left) in on_other:
                    yield piece, end, True

    def _joint(self, way: JoinerReading, group: list[DrawnPart]) -> None:
        build, first = self.build, group[0]
        span = first.reference.span
        start = self._named(way.start)
        left, right = self._drawn(way, way.left, start.left), self._drawn(way, way.right, start.right)
        build.drawn.joiners[span] = left, right
        insulated = [key_of(part.kind.text) == "insulated-joiner" for part in (way.left, way.right)]
        how = {(False, False): "none", (True, False): "left", (False, True): "right"}.get(
            (insulated[0], insulated[1]), "both"
        )
        stated = next((part.fields["insulate"] for part in group if "insulate" in part.fields), None)
        if stated is not None and stated.text == "vee" and how == self._vee(way):
            how = "vee"
        fields = [build.given("from", ".".join(way.start), span), build.given("to", ".".join(way.end), span)]
        fields.append(build.given("insulate", how, span))
        if "name" in first.fields:
            fields.append(build.given("id", first.name.text, span))
        build.lists["joints"].append(mapping(fields, span))

    def _drawn(self, way: JoinerReading, part: DrawnPart, rail: str) -> DrawnJoiner:
        """A joiner with its pin at the first end first."""
        first = (way.start[0], rail) in self.nets.rails.get(part.pins["1"].net, ())
        return DrawnJoiner(part.reference.text, ("1", "2") if first else ("2", "1"))

    def _vee(self, way: JoinerReading) -> str:
        """What `insulate: vee` would insulate at a joint."""
        here, there = self._named(way.start), self._named(way.end)
        sides = [there.left, there.right]
        if here.entering == there.entering:
            sides.reverse()
        one, other = (self.nets.kinds[end[0]] for end in (way.start, way.end))
        left, right = (
            one.is_changing(a) or other.is_changing(b) for a, b in zip((here.left, here.right), sides, strict=True)
        )
        gaps = way.start[1] in self.nets.kinds[way.start[0]].gaps or way.end[1] in self.nets.kinds[way.end[0]].gaps
        if gaps or (left and right):
            return "both"
        return "left" if left else "right" if right else "none"

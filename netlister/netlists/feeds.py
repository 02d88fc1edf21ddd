"""Feeds from the wires of their poles."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.drawing import DrawnFeed
from netlister.layout.terminal import named
from netlister.netlists.values import entry, mapping, scalar, sequence

if TYPE_CHECKING:
    from netlister.netlists.building import Building
    from netlister.netlists.drawing import DrawnPart
    from netlister.source import TextNode


class Wired(NamedTuple):
    """A feed as drawn: what feeds, by which pole, and the rail that is fed, with the piece or end it is written at.

    `pins`: the pin at the pole and the one at the rail.
    """

    part: DrawnPart
    pins: tuple[str, str]
    source: str
    letter: str
    target: str
    rail: str


class Feeds:
    """Makes entries of feeds; a feed that does not lead from a pole to a rail is a wire."""

    def __init__(self, build: Building) -> None:
        self.build = build
        self.nets = build.nets

    def all(self) -> None:
        """Turn all feeds into entries."""
        entries: dict[tuple[str, str], list[Wired]] = {}
        for part in self.build.by_kind["feed"]:
            wired = self._wired(part)
            if wired is None:
                self.build.wire(part)
                continue
            own = part.fields["entry"].text if "entry" in part.fields else f"of {part.reference.text}"
            entries.setdefault((own, wired.source), []).append(wired)
        for group in entries.values():
            self._entry(group)

    def _wired(self, part: DrawnPart) -> Wired | None:
        """What a feed joins, whichever way round it is drawn."""
        nets = [part.pins[pin].net if pin in part.pins else None for pin in "12"]
        stated = part.fields.get("from")
        for pins in (("1", "2"), ("2", "1")):
            pole, other = nets if pins == ("1", "2") else nets[::-1]
            if pole is None or other is None:
                continue
            source = self.nets.feeding(pole, "" if stated is None else stated.text)
            rails = self.nets.rails.get(other, [])
            if source is None or not rails or self.nets.rails.get(pole):
                continue
            to, rail = part.fields.get("to"), part.fields.get("rail")
            target = "" if to is None else to.text
            piece = target.partition(".")[0]
            named = [pair for pair in rails if pair[0] == piece and (rail is None or pair[1] == rail.text)]
            first = named[0] if named else min(rails, key=lambda pair: (".".join(pair) != other, pair))
            end = target.partition(".")[2]
            if not named or (end and end not in self.nets.kinds[piece].ends):
                target = first[0]
            return Wired(part, pins, *source, target, first[1])
        return None

    def _entry(self, group: list[Wired]) -> None:
        """One entry, or where one cannot say it one for each piece."""
        targets: dict[str, dict[str, str]] = {}
        for wired in group:
            targets.setdefault(wired.target, {})[wired.letter] = wired.rail
        words = self._words(targets)
        if words is not None:
            self._write(group, list(targets), words)
            return
        for target, rails in targets.items():
            self._write([wired for wired in group if wired.target == target], [target], rails)

    def _words(self, targets: dict[str, dict[str, str]]) -> dict[str, str] | None:
        """The one rail or side per pole that is meant at all of several pieces, or None."""
        rails = list(targets.values())
        if all(r == rails[0] for r in rails):
            return rails[0]
        sides = [self._sides(target, r) for target, r in targets.items()]
        return sides[0] if all(s == sides[0] for s in sides) else None

    def _sides(self, target: str, rails: dict[str, str]) -> dict[str, str]:
        """Rails as the left and the right of an end."""
        piece, _, end = target.partition(".")
        kind = self.nets.kinds[piece]
        seen = (kind.ends[end].left, kind.ends[end].right) if end else kind.sides
        if seen is None:
            return rails
        return {letter: {seen[0]: "left", seen[1]: "right"}.get(rail, rail) for letter, rail in rails.items()}

    def _write(self, group: list[Wired], targets: list[str], words: dict[str, str]) -> None:
        first = group[0]
        build, part = self.build, first.part
        span = part.reference.span
        build.drawn.feeds[span] = [
            DrawnFeed(w.part.reference.text, *w.pins, w.letter, named(w.target.partition(".")[0], w.rail))
            for w in group
        ]
        items: list[TextNode] = [scalar(target, span) for target in targets]
        fields = [entry("to", span, sequence(items, span)), build.given("from", first.source, span)]
        fields += [build.given(letter, word, span) for letter, word in words.items()]
        fields += build.plain(part, "tap", "wire", "length")
        if not self._at_its_end(part, targets[0]):
            fields += build.plain(part, "at")
        if "name" in part.fields:
            fields.append(build.given("id", part.name.text, span))
        build.lists["feeds"].append(mapping(fields, span))

    def _at_its_end(self, part: DrawnPart, target: str) -> bool:
        """Whether the place of a feed is the far end of plain track, as the end that it names says already."""
        piece, _, end = target.partition(".")
        kind = self.nets.kinds[piece]
        if not end or not kind.plain or kind.ends[end].entering or "at" not in part.fields:
            return False
        length = self.build.pieces[piece][0].fields.get("length")
        return length is not None and length.text == part.fields["at"].text

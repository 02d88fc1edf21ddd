"""What each joiner, feed wire and contact of a layout is for: what would be wrong without it, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.check import check
from netlister.edits.model import Insulate, Refeed, TakeOut, apply

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.edits.model import Change
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.source import Span


class Omissible(NamedTuple):
    """Something that is written and could be left out. `names`: under which it may be asked for."""

    say: str
    names: tuple[str, ...]
    without: Change
    span: Span
    kind: str  # "joiner", "feed" or "contact"


class Why(NamedTuple):
    """What would be wrong without a thing: findings that would come. `blades`: what would rely on blades alone."""

    thing: Omissible
    came: tuple[Finding, ...]
    blades: tuple[Finding, ...]

    @property
    def needed(self) -> bool:
        """Whether anything would be wrong."""
        return bool(self.came or self.blades)


def things(layout: Layout) -> Iterator[Omissible]:
    """All insulated rails of joints, wires of feeds, and contacts."""
    for number, joint in enumerate(layout.joints):
        gaps = any(end in layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end))
        for side, (a, b, insulated) in enumerate(joint.pairs):
            if insulated and not gaps:
                say = f"{a} and {b}: insulated"
                yield Omissible(say, (joint.name,), Insulate(number, side, False), joint.span, "joiner")
    for number, feed in enumerate(layout.feeds):
        for wire in feed.wires:
            rest = tuple(other for other in feed.wires if other != wire)
            without = Refeed(number, feed.source, rest) if rest else TakeOut("feeds", number)
            names = tuple(name for name in (feed.name, feed.piece, wire[1]) if name)
            yield Omissible(f"{wire[0]} to {wire[1]}: a feed wire of '{feed.piece}'", names, without, feed.span, "feed")
    for number, contact in enumerate(layout.contacts):
        if contact.common is not None:
            name = contact.full
            say = f"{contact.common}: wired to the contact '{name}'"
            yield Omissible(say, (name, contact.common), TakeOut("contacts", number), contact.span, "contact")


def reasons(layout: Layout, name: str = "", tell: Callable[[str], None] | None = None) -> Iterator[Why]:
    """What would be wrong without each thing of a name, or without each of all, by itself."""
    chosen = [thing for thing in things(layout) if not name or name in thing.names]
    if not chosen:
        return
    known = _keys(check(layout, causes=False).findings)
    bladed = _keys(check(layout, select=("blade-fed",), causes=False).findings)
    for number, thing in enumerate(chosen, 1):
        if tell is not None:
            tell(f"{number} of {len(chosen)}: {thing.say}")
        without = apply((thing.without,), layout)
        came = [f for f in check(without, causes=False).findings if _key(f) not in known]
        blades = [f for f in check(without, select=("blade-fed",), causes=False).findings if _key(f) not in bladed]
        yield Why(thing, tuple(came), tuple(blades))


def _key(finding: Finding) -> tuple[str, str, object, object]:
    return finding.rule, finding.subject, finding.when, finding.severity


def _keys(findings: tuple[Finding, ...]) -> set[tuple[str, str, object, object]]:
    return {_key(finding) for finding in findings}

"""Joints that are metal where they must be insulated, and the other way round."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.edits.model import Insulate
from netlister.repairs.choices.sections import at_section
from netlister.repairs.model import choice

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Joint, Layout
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice


def at_joint(places: EntryPlaces, number: int) -> Iterator[Choice]:
    """What may be wrong with a joint."""
    joint = places.layout.joints[number]
    left, right = (pair[2] for pair in joint.pairs)
    framed = any(places.layout.pieces[name].kind.framed for name, _ in (joint.start, joint.end))
    for word, sides in _insulations(places.layout, joint):
        if framed and word != "both":
            continue  # a wheel over the one cut would join the poles through the frame
        edit = tuple(Insulate(number, side, True) for side in sides)
        headline = f"the joint '{joint.name}' is metal where it must be insulated"
        if left or right:
            headline = f"the joint '{joint.name}' has a metal joiner where it must be insulated"
        say = f"insulate '{joint.name}': write 'insulate: {word}' there"
        yield choice("joint-metal", edit, headline, say, joint.span)
    if (
        left != right
        and not framed
        and not any(map(places.layout.is_changing, (t for p in joint.pairs for t in p[:2])))
    ):
        was, other = ("left", "right") if left else ("right", "left")
        edit = (Insulate(number, 0, not left), Insulate(number, 1, not right))
        headline = f"the joint '{joint.name}' is insulated in the {was} rail and must be in the {other}"
        say = f"insulate the {other} rail alone at '{joint.name}': write 'insulate: {other}' there"
        yield choice("joint-side", edit, headline, say, joint.span)
    if any(end in places.layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end)):
        return
    cut = tuple(side for side, insulated in enumerate((left, right)) if insulated)
    for sides in dict.fromkeys((cut, *((side,) for side in cut))):
        if not sides:
            continue
        stays = [s for s in cut if s not in sides]
        word = ("none", "left", "right")[0 if not stays else 1 + stays[0]]
        edit = tuple(Insulate(number, side, False) for side in sides)
        headline = f"the joint '{joint.name}' is insulated where it must be metal"
        say = f"use metal joiners at '{joint.name}': write 'insulate: {word}' there"
        yield choice("joint-insulated", edit, headline, say, joint.span)
    for piece in joint.pieces:
        yield from at_section(places, piece)


def _insulations(layout: Layout, joint: Joint) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Words for more insulation than there is, and the sides that it insulates."""
    now = tuple(pair[2] for pair in joint.pairs)
    vee = tuple(any(map(layout.is_changing, pair[:2])) for pair in joint.pairs)
    seen = {now}
    for word, wanted in (("vee", vee), ("left", (True, False)), ("right", (False, True)), ("both", (True, True))):
        new = (wanted[0] or now[0], wanted[1] or now[1])
        if any(wanted) and new not in seen:
            seen.add(new)
            yield "both" if all(new) else word, tuple(s for s in (0, 1) if new[s] and not now[s])

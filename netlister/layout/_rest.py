"""Trains, what is meant, what is ruled out, limits, constants and baseboards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister import quantity
from netlister.layout.model import Expectation, Train
from netlister.layout.schema import CONSTANTS, EXPECT, LIMITS, METAL, TRAIN
from netlister.lengths import NO_LENGTH, Metres
from netlister.quantity import QuantityError, shown
from netlister.source import Scalar, Sequence

if TYPE_CHECKING:
    from netlister.layout._context import LayoutReader
    from netlister.source import TextNode

_DIGITS = 10


def read_rest(r: LayoutReader) -> None:
    """Read all sections that say something of what the others have."""
    read_trains(r)
    read_expect(r)
    read_never(r)
    read_values(r)
    read_boards(r)


# -- trains


def read_trains(r: LayoutReader) -> None:
    """Read the section `trains`."""
    joints = {joint.name for joint in r.layout.joints} if r.entries_of["trains"] else set()
    for name, key, value in r.entries_of["trains"]:
        fields = r.fields(value, TRAIN.keys, "a train")
        axles = _axles(r, fields["axles"]) if "axles" in fields else ()
        every = tuple(range(1, len(axles) + 1))
        picked = {
            field: _numbers(r, fields[field], field, len(axles)) if field in fields else default
            for field, default in (("left", every), ("right", every), ("conducting", ()))
        }
        parked = ""
        if "parked" in fields:
            parked = r.text(fields["parked"], "the id of a joint") or ""
            if parked not in joints and (parked or type(fields["parked"]) is Scalar):
                _no_joint(r, fields["parked"], parked, joints)
        r.layout.trains[name] = Train(
            name,
            r.length(fields, TRAIN["length"]),
            r.amount(fields, TRAIN["current"]),
            axles,
            picked["left"],
            picked["right"],
            picked["conducting"],
            r.length(fields, TRAIN["wheel"]),
            parked,
            r.place(key),
            r.length(fields, TRAIN["carries-on"]),
            _resistances(r, fields["axle-resistance"], len(axles)) if "axle-resistance" in fields else (),
        )


def _no_joint(r: LayoutReader, node: TextNode, name: str, joints: set[str]) -> None:
    if not r.faults:  # a faulty joint has no name here
        hint = r.suggest(name, sorted(joints)) or "; write a joint's 'id', or its ends as in 'west/T1.toe'"
        r.fault(node, f"there is no joint '{shown(name)}'{hint}")


def _axles(r: LayoutReader, node: TextNode) -> tuple[Metres, ...]:
    """The places of the axles behind the first, which may be left out."""
    found: list[Metres] = []
    for item in r.entries(node, "a row of distances from the first axle, as in '[0 mm, 35 mm]',"):
        place = r.measure(item, quantity.LENGTH, "axles")
        if place is None:
            continue
        if found and place < found[-1]:
            r.fault(item, f"'{shown(item.value)}' comes before the axle before it; write the distances in order")
        found.append(Metres(place))
    return tuple(found) if not found or not found[0] else (NO_LENGTH, *found)


def _resistances(r: LayoutReader, node: TextNode, count: int) -> tuple[float | None, ...]:
    """The resistance from wheel to wheel of each axle: one for all, a row of one each, or some by their numbers."""
    field = "axle-resistance"
    if type(node) is Scalar:
        return (r.measure(node, quantity.RESISTANCE, field),) * max(count, 1)
    if not count:
        r.fault(node, f"'{field}' of single axles needs these; add 'axles', as in 'axles: [0 mm, 35 mm]'")
        return ()
    found: list[float | None] = [None] * count
    if type(node) is Sequence:
        if len(node.value) != count:
            r.fault(node, f"'{field}' has {len(node.value)} values and the train {count} axles; write one for each")
            return ()
        return tuple(
            None if type(item) is Scalar and item.value == METAL else r.measure(item, quantity.RESISTANCE, field)
            for item in node.value
        )
    what = f"a resistance for each axle that has one, as in '{{2: 5 kohm}}', a row with '{METAL}' for the others,"
    for text, key, value in r.items(node, what):
        known = text.isascii() and text.isdigit() and len(text) < _DIGITS and 0 < int(text) <= count
        if not known:
            r.fault(key, f"there is no axle '{shown(text)}'; this train has {count}, counted from 1")
        else:
            found[int(text) - 1] = r.measure(value, quantity.RESISTANCE, field)
    return tuple(found)


def _numbers(r: LayoutReader, node: TextNode, field: str, count: int) -> tuple[int, ...]:
    """Numbers of axles."""
    found: list[int] = []
    for item in r.entries(node, "a row of axle numbers, as in '[1, 2]',"):
        text = r.text(item, "the number of an axle")
        if text is None:
            continue
        if not (text.isascii() and text.isdigit() and len(text) < _DIGITS and int(text) > 0):
            r.fault(item, f"'{shown(text)}' in '{field}' is no number of an axle; they count from 1")
        elif not count:
            r.fault(item, f"'{field}' counts axles, and none are given; add 'axles', as in 'axles: [0 mm, 35 mm]'")
            return ()
        elif int(text) > count:
            r.fault(item, f"there is no axle {text}; this train has {count}")
        else:
            found.append(int(text))
    return tuple(dict.fromkeys(found))


# -- what is meant and what cannot be


def read_expect(r: LayoutReader) -> None:
    """Read the section `expect`."""
    section = r.sections.get("expect")
    if section is None:
        return
    for node in r.entries(section[1], "a row of expectations"):
        fields = r.fields(node, EXPECT.keys, "an expectation")
        needed = () if r.lacks(node, fields, "track") and "load" in fields else (("track", "siding"),)
        for field, example in (*needed, ("is", "live")):
            if r.lacks(node, fields, field):
                r.fault(node, f"this expectation has no '{field}'; add it, as in '{field}: {example}'")
        state = r.word(fields["is"], EXPECT["is"].words, "is") if "is" in fields else None
        pieces = _pieces(r, fields["track"]) if "track" in fields else ()
        loads = _loads(r, fields["load"]) if "load" in fields else ()
        what = "positions, as in '{T1: through}',"
        cubes = r.cubes(fields["when"], what) if "when" in fields else [()]
        for cube in cubes:
            r.layout.expectations.append(Expectation((*pieces, *loads), state == "live", cube, r.place(node)))


def _pieces(r: LayoutReader, node: TextNode) -> tuple[str, ...]:
    found = []
    for item in r.one_or_more(node, "name a piece of track"):
        text = r.text(item, "the name of a piece of track")
        if text is None:
            continue
        if text in r.layout.pieces:
            found.append(text)
        elif text.partition(".")[0] in r.layout.pieces:
            r.fault(item, f"a whole piece of track is live or dead; write '{shown(text.partition('.')[0])}'")
        else:
            r.unknown_name(item, text, "a piece of track", r.layout.pieces)
    return tuple(dict.fromkeys(found))


def _loads(r: LayoutReader, node: TextNode) -> tuple[str, ...]:
    loads = {name for name, one in r.layout.components.items() if one.kind == "load"}
    found = []
    for item in r.one_or_more(node, "name a load"):
        text = r.text(item, "the name of a load")
        if text in loads:
            found.append(text)
        elif text is not None and text in r.layout.components:
            r.fault(item, f"'{shown(text)}' is no load; a component that is to be live or dead has 'kind: load'")
        elif text is not None:
            r.unknown_name(item, text, "a load", loads)
    return tuple(dict.fromkeys(found))


def read_never(r: LayoutReader) -> None:
    """Read the section `never`."""
    section = r.sections.get("never")
    if section is None:
        return
    what = "a combination of positions, as in '{T1: diverging, T2: through}',"
    for node in r.entries(section[1], "a row of combinations that cannot be"):
        cubes = r.cubes(node, what)
        if not node.value:
            r.fault(node, "an entry without positions would rule out everything; name positions or drop it")
        span = r.place(node)
        r.layout.never.extend((cube, span) for cube in cubes)


# -- values


def read_values(r: LayoutReader) -> None:
    """Read the title, the notes and the values at top level, and `limits`."""
    layout = r.layout
    if "title" in r.sections:
        layout.title = r.text(r.sections["title"][1], "the text of 'title'") or ""
    if "notes" in r.sections:
        layout.notes = _notes(r, r.sections["notes"][1])
    for name, dimension in CONSTANTS.items():
        if name in r.sections:
            value = r.measure(r.sections[name][1], dimension, name)
            if value is not None:
                layout.constants[name] = value
    if "rail" in r.sections:
        _rail(r, r.sections["rail"][1])
    if "limits" in r.sections:
        _limits(r, r.sections["limits"][1])


def _limits(r: LayoutReader, section: TextNode) -> None:
    for name, key, node in r.items(section, "a limit under its name, as in '{drop: 5 %}',"):
        if name not in LIMITS.keys:
            r.unknown(key, name, f"there is no limit '{shown(name)}'", [limit.name for limit in LIMITS.row])
            continue
        value = r.measure(node, LIMITS[name].dimension, name)
        if value is not None:
            r.layout.limits[name] = value


def _notes(r: LayoutReader, node: TextNode) -> str:
    if type(node) is Sequence:
        return "\n".join(r.text(item, "a text") or "" for item in node.value)
    return r.text(node, "a text") or ""


def _rail(r: LayoutReader, node: TextNode) -> None:
    """The rail: a section such as code-100 or code-250-brass, or its resistance per metre."""
    text = r.text(node, "a rail section, as in 'code-100',")
    if text is None:
        return
    r.layout.rail = text
    code = text.removeprefix("code-").removesuffix("-brass")
    if text.startswith("code-") and code.isascii() and code.isdigit() and len(code) < 5:  # noqa: PLR2004
        return
    try:
        r.layout.constants["rail"] = quantity.parse(text, quantity.PER_LENGTH)
    except QuantityError as error:
        if not text[:1].isdigit():
            ways = "write it as in 'code-100', 'code-250-brass' or '57 mohm/m'"
            r.fault(node, f"there is no rail section '{shown(text)}'; {ways}")
        else:
            r.fault(node, f"'rail': {error}")


# -- baseboards


def read_boards(r: LayoutReader) -> None:
    """Read the section `boards`."""
    things = [name for name, (section, _) in r.known.items() if section not in {"boards", "trains"}]
    blocks = dict.fromkeys(name.partition(".")[0] for name in r.junctions)  # terminal strips
    for name, _, value in r.entries_of["boards"]:
        found = []
        if type(value) is Scalar and not value.value:
            r.layout.boards[name] = ()
            continue
        for item in r.one_or_more(value, "name what stands on this board") if value.value else ():
            text = r.text(item, "the name of a piece or of gear")
            if text is None:
                continue
            if text in blocks or (text in r.known and r.known[text][0] not in {"boards", "trains"}):
                found.append(text)
            else:
                r.unknown_name(item, text, "a piece, gear or terminal strip", [*things, *blocks])
        r.layout.boards[name] = tuple(dict.fromkeys(found))

"""Values that the page sends, looked up in the layout before they are used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.layout.model import Wire
from netlister.layout.schema import INSULATE, PLAIN
from netlister.layout.terminal import Terminal, named
from netlister.lengths import Metres
from netlister.quantity import LENGTH, QuantityError, parse, parse_wire
from netlister.source import suggest
from netlister.workbench.model import AskError

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from netlister.layout.model import Layout, Piece

GivenValues = dict[str, Any]
"""What the page asks: plain values as they came, of any type."""

MOST_TEXT = 200
"""Characters of one text that the page may send."""


def text_of(fields: Mapping[str, Any], key: str) -> str:
    """A text, or nothing where it is left out."""
    value = fields.get(key, "")
    if not isinstance(value, str) or len(value) > MOST_TEXT or (value and not value.isprintable()):
        message = f"'{key}' must be a short text on one line"
        raise AskError(message)
    return value.strip()


def number_of(fields: Mapping[str, Any], key: str, entries: Collection[object]) -> int:
    """The number of an entry."""
    value = fields.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < len(entries):
        message = f"there is no such {key}; load the page again"
        raise AskError(message)
    return value


def name_of(fields: Mapping[str, Any], key: str, known: Collection[str], what: str) -> str:
    """A name that must be known."""
    name = text_of(fields, key)
    if name not in known:
        message = f"there is no {what} '{name}'{suggest(name, sorted(known))}" if name else f"name the {what}"
        raise AskError(message)
    return name


def sources_of(layout: Layout) -> dict[str, tuple[str, str]]:
    """What can feed rails, by name, with its poles A and B."""
    found = {s.name: s.poles for s in layout.supplies.values() if not s.accessory}
    found |= {b.name: b.poles for b in layout.buses.values() if not layout.supplies[b.supply].accessory}
    return found | {r.name: r.outputs for r in layout.reversers.values()}


def default_source(layout: Layout) -> str:
    """The bus that is meant where none is written, or nothing."""
    buses = [b for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
    written_end = [b.name for b in buses if not b.implicit] or [b.name for b in buses]
    return written_end[0] if len(written_end) == 1 else ""


def end_of(layout: Layout, text: str) -> tuple[Piece, str]:
    """An end of a piece."""
    at = Terminal.of(text)
    piece = layout.pieces.get(at.owner)
    if piece is None or at.own not in piece.kind.ends:
        message = f"there is no end '{text}'; name one as in '{next(iter(layout.pieces), 'T1')}.a'"
        raise AskError(message)
    return piece, at.own


def open_end(layout: Layout, text: str) -> tuple[Piece, str]:
    """An end of a piece that is joined to nothing."""
    piece, end = end_of(layout, text)
    for joint in layout.joints:
        if (piece.name, end) in {joint.start, joint.end}:
            message = f"'{text}' is joined already, by the joint '{joint.name}'"
            raise AskError(message)
    return piece, end


def written_end(piece: Piece, end: str, *, entering: bool) -> str:
    """An end as it is written: a rail-section alone means its b behind `from`, its a behind `to`."""
    short = piece.kind.name == PLAIN and end == ("a" if entering else "b")
    return piece.name if short else named(piece.name, end)


def terminal_of(layout: Layout, text: str) -> tuple[str, str]:
    """A terminal by its name, and the bus or supply that is named."""
    head, own = Terminal.of(text)
    sources = sources_of(layout)
    if head in sources and own in {"A", "B"}:
        return sources[head]["AB".index(own)], head if head not in layout.reversers else ""
    piece = layout.pieces.get(head)
    if piece is not None and own in piece.kind.rails:
        if own in piece.kind.sealed:
            message = f"no wire can be put to '{text}'"
            raise AskError(message)
        return text, ""
    example = next((named(p.name, p.kind.rails[0]) for p in layout.pieces.values()), "T1.frog")
    pole = named(next(iter(sources), "main"), "A")
    message = f"there is no '{text}'; name a rail, as in '{example}', or a pole, as in '{pole}'"
    raise AskError(message)


def all_names(layout: Layout) -> set[str]:
    """Every name that is taken."""
    return {
        *layout.supplies,
        *layout.buses,
        *layout.pieces,
        *layout.machines,
        *layout.variables,
        *layout.types,
        *layout.reversers,
        *layout.units,
        *layout.components,
        *(pin.plug for pin in layout.pins),
        *layout.boards,
        *layout.trains,
        *(joint.name for joint in layout.joints),
        *(feed.name for feed in layout.feeds if feed.name),
        *(link.name for link in layout.links if link.name),
    }


def new_name(layout: Layout, name: str) -> str:
    """A name that is free and can be written."""
    if not name:
        raise AskError("give it a name")
    if "." in name or "/" in name:
        message = f"a name has no dot and no stroke in it; write '{name.replace('.', '-').replace('/', '-')}'"
        raise AskError(message)
    if name in all_names(layout):
        message = f"the name '{name}' is taken"
        raise AskError(message)
    return name


def wire_of(fields: GivenValues) -> Wire:
    """What the wire of a feed is made of, and how long it is."""
    size = text_of(fields, "wire")
    try:
        area, ohm = parse_wire(size) if size else (None, None)
    except QuantityError as error:
        raise AskError(str(error)) from None
    return Wire(size, ohm, area, length_of(fields, "length"))


def length_of(fields: GivenValues, key: str) -> Metres | None:
    """A length, or None where it is left out."""
    text = text_of(fields, key)
    try:
        return Metres(parse(text, LENGTH)) if text else None
    except QuantityError as error:
        raise AskError(str(error)) from None


def insulation_of(fields: GivenValues) -> dict[str, object]:
    """What a new joint says of its insulation; nothing where it is metal."""
    word = text_of(fields, "insulate") or "none"
    if word not in INSULATE:
        raise AskError("say which rails are insulated: none, left, right, both or vee")
    return {} if word == "none" else {"insulate": word}

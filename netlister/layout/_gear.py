"""Reversers, frog units, components, plugs and wires."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout._context import either
from netlister.layout._names import bus_at, end_at, terminal
from netlister.layout._power import bus_of
from netlister.layout.forms import Amount
from netlister.layout.model import (
    Component,
    FrogUnit,
    Link,
    Notice,
    Pin,
    Reverser,
)
from netlister.layout.schema import COMPONENT, COMPONENT_KINDS, COMPONENTS, LINK, PLUG, REVERSER, UNIT
from netlister.quantity import shown
from netlister.source import Sequence

if TYPE_CHECKING:
    from netlister.layout._context import Fields, LayoutReader
    from netlister.layout.model import Value
    from netlister.source import TextNode


# -- devices


def name_outputs(r: LayoutReader) -> None:
    """Make the outputs of the reversers known as terminals and as sources."""
    for name, _, _ in r.entries_of["reversers"]:
        r.sources[name] = (f"{name}.A", f"{name}.B")


def read_gear(r: LayoutReader) -> None:
    """Read all sections of gear, in the order in which one names another."""
    read_reversers(r)
    read_units(r)
    read_components(r)
    read_plugs(r)
    read_wires(r)


def read_reversers(r: LayoutReader) -> None:
    """Read the section `reversers`."""
    for name, key, value in r.entries_of["reversers"]:
        fields = r.fields(value, REVERSER.keys, "a reverser")
        bus = bus_of(r, key, name, fields.get("from"))
        automatic = "mode" in fields
        variable: str | None = None
        straight: tuple[Value, ...] = ()
        if "follows" in fields:
            if automatic:
                r.fault(fields["mode"], "a reverser is automatic or follows something, not both; leave one out")
            variable, straight = _straight(r, key, name, fields)
        elif "mode" in fields:
            r.word(fields["mode"], REVERSER["mode"].words, "mode")
            if "straight" in fields:
                r.fault(fields["straight"], "'straight' is for a reverser that follows something; leave it out")
        elif r.lacks(value, fields, "mode") and r.lacks(value, fields, "follows"):
            r.missing(key, name, "does not say how it works; add 'mode: automatic', or 'follows' and 'straight'")
        if bus is None:
            continue
        outputs = r.sources[name]
        span = r.place(key)
        time = r.amount(fields, REVERSER["time"])
        if "time" in fields and not automatic:
            r.fault(fields["time"], "'time' is for a reverser that is automatic; leave it out")
        r.layout.reversers[name] = Reverser(
            name, bus, r.sources[bus], outputs, automatic, variable, straight, span, time
        )
        if automatic and _type_of(r, bus) == "dc":
            message = f"the automatic reverser '{shown(name)}' is fed by direct current: it would send the train back"
            fix = "let it follow a turnout, and throw the main line over while the train stands"
            r.layout.notices.append(Notice("reverser-on-dc", name, message, fix, span))


def _type_of(r: LayoutReader, bus: str) -> str:
    found = r.layout.buses.get(bus)
    supply = r.layout.supplies.get(bus if found is None else found.supply)
    return "" if supply is None else supply.type


def _straight(r: LayoutReader, key: TextNode, name: str, fields: Fields) -> tuple[str | None, tuple[Value, ...]]:
    """The variable that a reverser follows, and the values in which it is straight."""
    leader = r.text(fields["follows"], "the name of a machine or turnout")
    positioned = None if leader is None else r.find_positioned(fields["follows"], leader)
    if "straight" not in fields:
        r.missing(key, name, "does not say when it is straight; add it, as in 'straight: [through]'")
        return None, ()
    if positioned is None or leader is None:
        return None, ()
    values: list[Value] = []
    for node in r.one_or_more(fields["straight"], f"name positions of '{shown(leader)}'"):
        values += r.position(node, leader, positioned) or ()
    return positioned.variable, tuple(sorted(set(values)))


def read_units(r: LayoutReader) -> None:
    """Read the section `frog-units`."""
    for name, key, value in r.entries_of["frog-units"]:
        fields = r.fields(value, UNIT.keys, "a frog unit")
        bus = bus_of(r, key, name, fields.get("from"))
        if "feeds" not in fields:
            if r.lacks(value, fields, "feeds"):
                r.missing(key, name, "feeds nothing; add the terminal of a frog, as in 'feeds: T1.frog'")
            continue
        frog = _frog(r, fields["feeds"])
        time = r.amount(fields, UNIT["time"])
        if frog is not None and bus is not None:
            r.layout.units[name] = FrogUnit(name, frog, r.sources[bus], r.place(key), time, bus)


def _frog(r: LayoutReader, node: TextNode) -> str | None:
    """The terminal of a frog."""
    text = r.text(node, "the terminal of a frog, as in 'T1.frog',")
    if text is None:
        return None
    piece = r.layout.pieces.get(text.partition(".")[0])
    if piece is None:
        head = text.partition(".")[0]
        r.unknown_name(node, head, "a piece of track", r.layout.pieces)
        return None
    frogs = [f"{piece.name}.{rail}" for rail in piece.kind.frogs]
    if not frogs:
        r.fault(node, f"'{shown(piece.name)}' is a '{piece.kind.name}', which has no frog of metal to feed")
        return None
    _, _, tail = text.partition(".")
    end = piece.kind.ends.get(tail.partition(".")[0])
    if end is not None and tail.endswith((".left", ".right")):
        text = f"{piece.name}.{end.left if tail.endswith('.left') else end.right}"
    if text in frogs:
        return text
    r.fault(node, f"'{shown(node.value)}' is no frog; write {either(frogs)}")
    return None


def read_components(r: LayoutReader) -> None:
    """Read the section `components`."""
    for name, key, value in r.entries_of["components"]:
        fields = r.fields(value, COMPONENT.keys, "a component")
        kind = r.word(fields["kind"], COMPONENT["kind"].words, "kind") if "kind" in fields else None
        for field, example in (("kind", "breaker"), ("from", "main.A"), ("to", "siding.left")):
            if r.lacks(value, fields, field):
                r.missing(key, name, f"has no '{field}'; add it, as in '{field}: {example}'")
        ends = [terminal(r, fields[field]) for field in ("from", "to") if field in fields]
        values = _values(r, fields, kind)
        pair = _pair(ends)
        if pair is not None:
            buses = (bus_at(r, fields["from"]), bus_at(r, fields["to"]))
            at = (end_at(r, fields["from"]), end_at(r, fields["to"]))
            span = r.place(key)
            r.layout.components[name] = Component(name, kind or "", pair, span=span, buses=buses, ends_at=at, **values)


def _values(r: LayoutReader, fields: Fields, kind: str | None) -> dict[str, float | None]:
    """The quantities of a component; those that only some kinds take are faults at others."""
    found = {}
    of_some = {key for some in COMPONENT_KINDS for key in some.takes}
    own = COMPONENTS.get(kind or "")
    for key in COMPONENT.row:
        if not isinstance(key.form, Amount):
            continue
        rated = key._replace(form=Amount(own.rating)) if key.name == "rating" and own is not None else key
        found[key.attribute] = r.amount(fields, rated)
        if key.name in fields and own is not None and key.name in of_some and key.name not in own.takes:
            takers = either(some.name for some in COMPONENT_KINDS if key.name in some.takes)
            r.fault(fields[key.name], f"'{key.name}' is for {takers}, not for a '{kind}'; leave it out")
    return found


def _pair(ends: list[str | None]) -> tuple[str, str] | None:
    if len(ends) == 2 and ends[0] is not None and ends[1] is not None:  # noqa: PLR2004
        return ends[0], ends[1]
    return None


def read_plugs(r: LayoutReader) -> None:
    """Read the section `plugs`."""
    for name, key, value in r.entries_of["plugs"]:
        fields = r.fields(value, PLUG.keys, "a plug")
        optional = r.truth(fields["optional"], "optional") if "optional" in fields else False
        if "pins" not in fields:
            if r.lacks(value, fields, "pins"):
                r.missing(key, name, "has no pins; add them, as in 'pins: {1: [west.left, east.left]}'")
            continue
        for pin, pin_key, node in r.items(
            fields["pins"], "a pin under its number, as in '{1: [west.left, east.left]}',"
        ):
            nodes = node.value if type(node) is Sequence else []
            if len(nodes) != 2:  # noqa: PLR2004
                r.fault(node, f"pin '{shown(pin)}' joins two terminals; write them, as in '[west.left, east.left]'")
                continue
            pair = _pair([terminal(r, n) for n in nodes])
            if pair is not None:
                buses = (bus_at(r, nodes[0]), bus_at(r, nodes[1]))
                at = (end_at(r, nodes[0]), end_at(r, nodes[1]))
                r.layout.pins.append(Pin(name, pin, pair, name if optional else None, r.place(pin_key), buses, at))


def read_wires(r: LayoutReader) -> None:
    """Read the section `wires`."""
    section = r.sections.get("wires")
    if section is None:
        return
    for node in r.entries(section[1], "a row of wires"):
        fields = r.fields(node, LINK.keys, "a wire")
        for field in ("from", "to"):
            if r.lacks(node, fields, field):
                r.fault(node, f"this wire has no '{field}'; add a terminal, as in '{field}: T1.frog'")
        pair = _pair([terminal(r, fields[field]) for field in ("from", "to") if field in fields])
        name = r.name_id(fields["id"]) if "id" in fields else ""
        wire = r.wire(fields, "a wire")
        colour = r.colour(fields.get("colour"), "colour")
        if pair is not None:
            buses = (bus_at(r, fields["from"]), bus_at(r, fields["to"]))
            at = (end_at(r, fields["from"]), end_at(r, fields["to"]))
            r.layout.links.append(Link(name, pair, wire, colour, r.place(node), buses, at))

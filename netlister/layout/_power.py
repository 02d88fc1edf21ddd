"""Supplies and buses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister import quantity
from netlister.layout._context import NO_WIRE, circles
from netlister.layout.model import Bus, Supply
from netlister.layout.schema import BUS, POLES, SUPPLY
from netlister.quantity import shown

if TYPE_CHECKING:
    from netlister.layout._context import Fields, LayoutReader
    from netlister.source import TextNode


# -- supplies


def read_supplies(r: LayoutReader) -> None:
    """Read the section `supplies`."""
    ties: dict[str, tuple[TextNode, str]] = {}  # supply -> the node of its `common`, and its text
    for name, key, value in r.entries_of["supplies"]:
        fields = r.fields(value, SUPPLY.keys, "a supply")
        supply = _supply(r, name, key, value, fields)
        r.layout.supplies[name] = supply
        common = fields.get("common")
        if common is not None:
            text = r.text(common, "a pole of another supply, as in 'cab1.B',")
            if text is not None:
                ties[name] = (common, text)
    _tie(r, ties)
    for name, supply in r.layout.supplies.items():
        r.sources[name] = supply.poles


def _supply(r: LayoutReader, name: str, key: TextNode, value: TextNode, fields: Fields) -> Supply:
    accessory = r.truth(fields["accessory"], "accessory") if "accessory" in fields else False
    if not accessory and r.lacks(value, fields, "type"):
        r.missing(key, name, "has no type; add 'type: dc' or 'type: dcc'")
    if r.lacks(value, fields, "voltage"):
        r.missing(key, name, "has no voltage; add it, as in 'voltage: 15 V'")
    kind = r.word(fields["type"], SUPPLY["type"].words, "type") if "type" in fields else None
    positive = fields.get("positive")
    letter = "B"
    if positive is not None:
        letter = r.word(positive, POLES, "positive") or "B"
        if kind == "dcc":
            r.fault(positive, "'positive' is for a supply of type dc; on dcc neither pole is; leave it out")
    for field in ("station", "output", "ground"):
        if field in fields and (kind == "dc" or accessory):
            what = "a supply for accessories" if accessory else "a supply of type dc"
            r.fault(
                fields[field], f"'{field}' is for a supply of type dcc that runs trains, not for {what}; leave it out"
            )
    return Supply(
        name,
        kind or ("ac" if accessory else "dcc"),
        r.amount(fields, SUPPLY["voltage"]) or 0.0,
        r.amount(fields, SUPPLY["trip"]),
        r.amount(fields, SUPPLY["resistance"]) or 0.0,
        letter,
        (f"{name}.A", f"{name}.B"),
        "",
        r.place(key),
        r.amount(fields, SUPPLY["trip-time"]),
        accessory,
        _label(r, fields.get("station"), "the name of a command station"),
        "output" in fields and r.word(fields["output"], SUPPLY["output"].words, "output") == "programming",
        _label(r, fields.get("winding"), "the name of a transformer's winding"),
        _label(r, fields.get("ground"), "the name of a ground"),
    )


def _label(r: LayoutReader, node: TextNode | None, what: str) -> str:
    """A name that only says what belongs together."""
    text = None if node is None else r.text(node, what)
    if text == "" and node is not None:
        r.fault(node, f"no name is written here; write {what}, or leave the key out")
    return text or ""


def _tie(r: LayoutReader, ties: dict[str, tuple[TextNode, str]]) -> None:
    """Resolve `common`: the pole of a supply is that of the supply at the root of the chain."""
    to: dict[str, dict[str, str]] = {letter: {} for letter in POLES}
    for name, (node, text) in ties.items():
        other, _, letter = text.partition(".")
        if other not in r.layout.supplies:
            _no_such_supply(r, node, text)
        elif letter not in POLES:
            r.fault(node, f"'{shown(text)}' is no pole; write '{shown(other)}.A' or '{shown(other)}.B'")
        else:
            to[letter][name] = other
            r.layout.supplies[name] = r.layout.supplies[name]._replace(common=text)
    for letter, leads in to.items():
        lost = circles(leads)
        for circle in lost:
            _circle(r, ties[circle[0]][0], letter, circle)
        if not lost:
            _share(r, letter, leads)


def _share(r: LayoutReader, letter: str, leads: dict[str, str]) -> None:
    """Give every supply that is tied the pole of the supply at the root of its chain."""
    roots: dict[str, str] = {}
    for name in leads:
        chain = []
        root = name
        while root in leads and root not in roots:
            chain.append(root)
            root = leads[root]
        root = roots.get(root, root)
        roots.update(dict.fromkeys(chain, root))
        supply = r.layout.supplies[name]
        poles = (f"{root}.A", supply.poles[1]) if letter == "A" else (supply.poles[0], f"{root}.B")
        r.layout.supplies[name] = supply._replace(poles=poles)


def _no_such_supply(r: LayoutReader, node: TextNode, text: str) -> None:
    other, _, letter = text.partition(".")
    if other in r.known and r.known[other][0] != "supplies":
        r.fault(node, f"'common' is tied to a pole of another supply; '{shown(other)}' is none")
        return
    listed = [f"{s}.{p}" for s in r.layout.supplies for p in POLES]
    message = f"there is no pole '{shown(text)}' of a supply"
    if not r.silent(other):
        r.unknown(node, text if letter else f"{text}.B", message, listed)


def _circle(r: LayoutReader, node: TextNode, letter: str, circle: list[str]) -> None:
    if len(circle) == 1:
        r.fault(node, f"'{shown(circle[0])}' is tied to itself; name a pole of another supply or leave 'common' out")
        return
    way = " to ".join(f"'{shown(s)}.{letter}'" for s in (*circle, circle[0]))
    r.fault(node, f"these commons run in a circle: {way}; leave 'common' out at one of them")


# -- buses


def read_buses(r: LayoutReader) -> None:
    """Read the section `buses`, and add an ideal bus for every supply that has none."""
    given = {name: (key, r.fields(value, BUS.keys, "a bus")) for name, key, value in r.entries_of["buses"]}
    plain = {name: _bus(r, name, key, fields) for name, (key, fields) in given.items() if "from" not in fields}
    owners = {bus.supply for bus in plain.values()}
    buses = r.layout.buses
    for supply in r.layout.supplies.values():
        if supply.name not in owners and supply.name not in given:
            ideal = Bus(
                supply.name, supply.name, supply.poles, NO_WIRE, "line", (), "", None, implicit=True, span=supply.span
            )
            plain[supply.name] = ideal
    for name in _in_order(r, given, plain):
        key, fields = given[name]
        plain[name] = _branch(r, name, key, fields, plain)
    for name in (*given, *(n for n in plain if n not in given)):
        if name in plain:
            buses[name] = plain[name]
            r.sources[name] = plain[name].poles


def _bus(r: LayoutReader, name: str, key: TextNode, fields: Fields) -> Bus:
    """A bus that starts at a supply."""
    supply = _supply_of(r, name, key, fields)
    if "at" in fields:
        r.fault(fields["at"], "'at' is for a branch of another bus; add 'from' with that bus's name or leave 'at' out")
    if name in r.layout.supplies and supply not in {name, ""}:
        r.fault(key, f"'{shown(name)}' is a supply, and this is a bus of '{shown(supply)}'; choose another name")
    poles = r.layout.supplies[supply].poles if supply else ("", "")
    return _with_wire(
        r, fields, Bus(name, supply, poles, NO_WIRE, "line", (), "", None, implicit=False, span=r.place(key))
    )


def _with_wire(r: LayoutReader, fields: Fields, bus: Bus) -> Bus:
    form = fields.get("form")
    return bus._replace(
        wire=r.wire(fields, "a bus"),
        form=(r.word(form, BUS["form"].words, "form") if form is not None else None) or "line",
        colours=_colours(r, fields.get("colours")),
        breaker=r.amount(fields, BUS["breaker"]),
        trip_time=_breaker_time(r, fields),
    )


def _breaker_time(r: LayoutReader, fields: Fields) -> float | None:
    """How long the breaker of a bus takes."""
    node = fields.get("trip-time")
    if node is not None and "breaker" not in fields:
        r.fault(
            node, "'trip-time' is that of the bus's breaker; add 'breaker' with its current or leave 'trip-time' out"
        )
    return r.amount(fields, BUS["trip-time"])


def _supply_of(r: LayoutReader, name: str, key: TextNode, fields: Fields) -> str:
    """The supply of a bus, or nothing where that is faulty. It may be left out where it is plain which."""
    node, supplies = fields.get("supply"), r.layout.supplies
    if node is None:
        if name in supplies:
            return name
        if len(supplies) == 1:
            return next(iter(supplies))
        if supplies:
            r.missing(key, name, "has no supply; add 'supply' with the name of one, or 'from' with that of a bus")
        return ""
    text = r.text(node, "the name of a supply")
    if text is None or text in supplies:
        return text or ""
    if supplies or "supplies" in r.sections:
        r.unknown_name(node, text, "a supply", supplies)
    return ""


def _colours(r: LayoutReader, node: TextNode | None) -> tuple[tuple[str, str], ...]:
    if node is None:
        return ()
    found = []
    for letter, key, value in r.items(node, "a colour for each pole, as in '{A: BN, B: BU}',"):
        if letter in POLES:
            found.append((letter, r.colour(value, f"colours.{letter}")))
        else:
            r.fault(key, f"'{shown(letter)}' is no pole; write 'A' or 'B'")
    return tuple(found)


def _in_order(r: LayoutReader, given: dict[str, tuple[TextNode, Fields]], plain: dict[str, Bus]) -> list[str]:
    """The branches, each after what it branches from; circles are faults."""
    parents: dict[str, str] = {}
    for name, (key, fields) in given.items():
        node = fields.get("from")
        if node is None:
            continue
        if "supply" in fields:
            r.fault(fields["supply"], "a branch has the supply of its bus; leave 'supply' out, or leave 'from' out")
        text = r.text(node, "the name of a bus")
        if name in r.layout.supplies:
            r.fault(key, f"'{shown(name)}' is a supply, and a branch has a name of its own; choose another name")
            continue
        if text is not None and (text in plain or text in given):
            parents[name] = text
            continue
        r.faulty.add(name)
        if text is not None:
            r.unknown_name(node, text, "a bus", [*given, *(p for p in plain if p not in given)])
    return _roots_first(r, given, parents, plain)


def _roots_first(
    r: LayoutReader, given: dict[str, tuple[TextNode, Fields]], parents: dict[str, str], plain: dict[str, Bus]
) -> list[str]:
    children: dict[str, list[str]] = {}
    for name, parent in parents.items():
        children.setdefault(parent, []).append(name)
    order: list[str] = []
    stack = list(plain)
    while stack:
        for name in children.get(stack.pop(), ()):
            order.append(name)
            stack.append(name)
    r.faulty |= parents.keys() - set(order)
    for circle in circles(parents):
        way = " from ".join(f"'{shown(b)}'" for b in (*circle, circle[0]))
        message = f"these buses branch in a circle: {way}; name the supply of one of them"
        r.fault(given[circle[0]][1]["from"], message)
    return order


def _branch(r: LayoutReader, name: str, key: TextNode, fields: Fields, buses: dict[str, Bus]) -> Bus:
    parent = buses[fields["from"].value]
    at = r.length(fields, BUS["at"])
    length = parent.wire.length
    if at is not None and length is not None and at > length:
        r.fault(fields["at"], beyond("at", fields["at"], f"the bus '{shown(parent.name)}'", length))
    bare = Bus(
        name, parent.supply, parent.poles, NO_WIRE, "line", (), parent.name, at, implicit=False, span=r.place(key)
    )
    return _with_wire(r, fields, bare)


def beyond(field: str, node: TextNode, of: str, length: float) -> str:
    return f"'{field}' ({shown(node.value)}) lies beyond the end of {of}, which is {quantity.show(length, 'm')} long"


def default_source(r: LayoutReader) -> str | None:
    """The bus that is meant where none is named: the only one, those of accessories not counted."""
    buses = [bus for bus in r.layout.buses.values() if not is_accessory(r, bus.name)]
    written = [bus.name for bus in buses if not bus.implicit] or [bus.name for bus in buses]
    return written[0] if len(written) == 1 else None


def is_accessory(r: LayoutReader, source: str) -> bool:
    """Whether a bus or supply is for accessories alone."""
    bus = r.layout.buses.get(source)
    supply = r.layout.supplies.get(source if bus is None else bus.supply)
    return supply is not None and supply.accessory


def refuse_accessory(r: LayoutReader, node: TextNode, source: str) -> bool:
    """Whether track would be fed by a supply for accessories: a fault."""
    if not is_accessory(r, source):
        return False
    message = f"'{shown(source)}' is for accessories and runs no train"
    r.fault(node, f"{message}; name another source, or leave out 'accessory: true' at its supply")
    return True


def bus_of(r: LayoutReader, key: TextNode, name: str, node: TextNode | None) -> str | None:
    """The bus (or supply) that feeds a device: as written, or the only one."""
    if node is None:
        found = default_source(r)
        if found is None and r.layout.buses:
            several = f"there are several buses, so name one, as in 'from: {first_bus(r)}'"
            r.missing(key, name, f"has no 'from'; {several if first_bus(r) else NO_TRAINS}")
        return found
    text = r.text(node, "the name of a bus")
    if text is None:
        return None
    if text in r.layout.buses or text in r.layout.supplies:
        return None if refuse_accessory(r, node, text) else text
    r.unknown_name(node, text, "a bus", dict.fromkeys([*r.layout.buses, *r.layout.supplies]))
    return None


def first_bus(r: LayoutReader) -> str:
    """The first bus that runs trains, or nothing."""
    return next((name for name in r.layout.buses if not is_accessory(r, name)), "")


NO_TRAINS = "every supply here is for accessories; add one of type dc or dcc"

"""From the layout to its circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.circuit.model import Circuit, Conductor, Device, Pole, When
from netlister.circuit.numbers import Net, Node, PoleNumber, Var
from netlister.layout.model import Value
from netlister.layout.schema import BLOCKING
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from netlister.kinds.model import Kind, Setting
    from netlister.layout.model import (
        Component,
        Contact,
        Cube,
        Feed,
        Joint,
        Layout,
        Link,
        Piece,
        Pin,
        Reverser,
        Variable,
    )


SECTIONS = ("pieces", "joints", "reversers", "contacts", "feeds", "links", "components", "pins")
"""The sections of a layout whose entries make conductors, in the order in which they do."""


def build(layout: Layout, variables: Sequence[Variable] = ()) -> Circuit:
    """Build the circuit of a layout.

    `variables`: those of a circuit of the same layout before a change, which keep their numbers.
    """
    poles = _poles(layout)
    names = [pole.name for pole in poles]
    node = {name: Node(number) for number, name in enumerate(names)}
    known = {v.name: v for v in variables}
    known.update(layout.variables)
    numbers = {name: Var(i) for i, name in enumerate(known)}
    circuit = Circuit(layout, poles, names, node, list(known.values()), numbers)
    for section in SECTIONS:
        entries = getattr(layout, section)
        make = _MAKERS[section]
        for entry in entries.values() if isinstance(entries, dict) else entries:
            circuit.conductors += make(circuit, entry)
    circuit.devices = _devices(circuit)
    circuit.never = [values_of(circuit, cube) for cube, _ in layout.never]
    return circuit


def conductors_of(circuit: Circuit, section: str, entry: Any) -> list[Conductor]:
    """What conducts by an entry of a section; terminals that are new become nodes of the circuit."""
    return list(_MAKERS[section](circuit, entry))


def values_of(circuit: Circuit, cube: Cube) -> tuple[tuple[Var, Value], ...]:
    """A partial position as numbers of variables and of their values."""
    return tuple(
        (circuit.variable[name], Value(circuit.variables[circuit.variable[name]].positions.index(position)))
        for name, position in cube
    )


def _poles(layout: Layout) -> list[Pole]:
    owners: dict[str, list[str]] = {}
    for supply in layout.supplies.values():
        for name in supply.poles:
            owners.setdefault(name, []).append(supply.name)
    poles = []
    for name, supplies in owners.items():
        types = frozenset(layout.supplies[s].type for s in supplies)
        poles.append(Pole(name, name[-1], frozenset(supplies), types, ""))
    by_name = {pole.name: pole for pole in poles}
    for reverser in layout.reversers.values():
        if reverser.automatic:
            for output, source in zip(reverser.outputs, reverser.inputs, strict=True):
                like = by_name[source]
                poles.append(Pole(output, output[-1], like.supplies, like.types, reverser.name))
    return poles


def node_of(circuit: Circuit, name: str) -> Node:
    """The node of a terminal or junction, made where it is new."""
    number = circuit.node.get(name)
    if number is None:
        number = circuit.node[name] = Node(len(circuit.names))
        circuit.names.append(name)
    return number


def pole_of(circuit: Circuit, name: str) -> PoleNumber:
    """The number of a pole."""
    return PoleNumber(Net(circuit.node[name]))


def _piece(circuit: Circuit, piece: Piece) -> Iterator[Conductor]:
    kind, name, names, node = piece.kind, piece.name, circuit.names, circuit.node
    local = {}
    for rail in kind.rails:
        terminal = named(name, rail)
        number = node.get(terminal)
        if number is None:
            number = node[terminal] = Node(len(names))
            names.append(terminal)
            circuit.rails.append(number)
        local[rail] = number
    for a, b in kind.bonds:
        yield Conductor(local[a], local[b], "bond", name)
    if kind.made:
        bars = _bars(circuit, piece.bars, kind)
        for made in kind.made:
            a, b = made.rails
            when = _when(bars, made.when)
            if all(values for _, values in when):
                yield Conductor(local[a], local[b], "blade", name, None, when)


_Bars = dict[str, tuple[Var, tuple[str, ...]]]


def _bars(circuit: Circuit, names: tuple[str, ...], kind: Kind) -> _Bars:
    """Per tie bar of the kind the number of its variable and its own position per value."""
    found = {}
    for bar, full in zip(kind.bars, names, strict=True):
        follows = circuit.layout.bars[full]
        found[bar.name] = (circuit.variable[follows.variable], follows.positions)
    return found


def _when(bars: _Bars, setting: Setting) -> When:
    """The condition on variables under which tie bars stand as `setting` says; unmeetable ones have no values."""
    by_variable: dict[Var, tuple[Value, ...]] = {}
    for bar, position in setting:
        variable, positions = bars[bar]
        values = tuple(Value(i) for i, p in enumerate(positions) if p == position)
        if variable in by_variable:
            values = tuple(i for i in values if i in by_variable[variable])
        by_variable[variable] = values
    return tuple(by_variable.items())


def setting_when(circuit: Circuit, piece: str, setting: Setting) -> When:
    """The condition on the variables under which the tie bars of a piece stand as `setting` says."""
    if not setting:
        return ()
    found = circuit.layout.pieces[piece]
    return _when(_bars(circuit, found.bars, found.kind), setting)


def _joint(circuit: Circuit, joint: Joint) -> Iterator[Conductor]:
    node = circuit.node
    for a, b, insulated in joint.pairs:
        if not insulated:
            yield Conductor(node[a], node[b], "joiner", joint.name, joint)


def _contact(circuit: Circuit, contact: Contact) -> Iterator[Conductor]:
    owner = contact.full
    terminal = named(owner, "common")
    if terminal not in circuit.node:
        circuit.commons.append(Node(len(circuit.names)))
    common = node_of(circuit, terminal)
    if contact.common is not None:
        yield Conductor(common, node_of(circuit, contact.common), "lead", owner, contact)
    variable = circuit.variable[contact.variable]
    for (position, to), values in zip(contact.throws, contact.values, strict=True):
        throw = node_of(circuit, named(owner, position))
        if to is not None:
            yield Conductor(throw, node_of(circuit, to), "lead", owner, contact)
        yield Conductor(common, throw, "contact", owner, contact, ((variable, values),))


def _reverser(circuit: Circuit, reverser: Reverser) -> Iterator[Conductor]:
    if reverser.automatic:
        return
    node = circuit.node
    a, b = (node[name] for name in reverser.inputs)
    left, right = (node_of(circuit, name) for name in reverser.outputs)
    assert reverser.variable is not None
    variable = circuit.variable[reverser.variable]
    count = len(circuit.variables[variable].positions)
    straight: When = ((variable, reverser.straight),)
    crossed: When = ((variable, tuple(i for i in map(Value, range(count)) if i not in reverser.straight)),)
    for when, first, second in ((straight, a, b), (crossed, b, a)):
        if when[0][1]:
            yield Conductor(left, first, "reverser", reverser.name, None, when)
            yield Conductor(right, second, "reverser", reverser.name, None, when)


def _feed(circuit: Circuit, feed: Feed) -> Iterator[Conductor]:
    for source, rail in feed.wires:
        yield Conductor(node_of(circuit, source), circuit.node[rail], "feed", feed.name, feed)


def _link(circuit: Circuit, link: Link) -> Iterator[Conductor]:
    a, b = (node_of(circuit, end) for end in link.ends)
    yield Conductor(a, b, "wire", link.name, link)


def _component(circuit: Circuit, component: Component) -> Iterator[Conductor]:
    a, b = (node_of(circuit, end) for end in component.ends)
    if component.kind not in BLOCKING:
        yield Conductor(a, b, "component", component.name)


def _pin(circuit: Circuit, pin: Pin) -> Iterator[Conductor]:
    a, b = (node_of(circuit, end) for end in pin.ends)
    when: When = () if pin.variable is None else ((circuit.variable[pin.variable], (Value(0),)),)
    yield Conductor(a, b, "plug", pin.full, pin, when)


_MAKERS: dict[str, Callable[[Circuit, Any], Iterator[Conductor]]] = {
    "pieces": _piece,
    "joints": _joint,
    "reversers": _reverser,
    "contacts": _contact,
    "feeds": _feed,
    "links": _link,
    "components": _component,
    "pins": _pin,
}


def _devices(circuit: Circuit) -> list[Device]:
    node, layout = circuit.node, circuit.layout
    devices = []
    for reverser in layout.reversers.values():
        if reverser.automatic:
            a, b = (pole_of(circuit, name) for name in reverser.inputs)
            left, right = (pole_of(circuit, name) for name in reverser.outputs)
            devices.append(Device(reverser.name, "reverser", (a, b), (left, right)))
    for unit in layout.units.values():
        inputs = (pole_of(circuit, unit.inputs[0]), pole_of(circuit, unit.inputs[1]))
        devices.append(Device(unit.name, "unit", inputs, node=node[unit.frog]))
    return devices

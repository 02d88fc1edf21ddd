"""From the layout to its circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.model import Circuit, Conductor, Device, Pole, When

if TYPE_CHECKING:
    from netlister.kinds.model import Kind, Setting
    from netlister.layout.model import Contact, Cube, Layout


BLOCKING = frozenset({"load", "capacitor"})
"""Kinds of components through which no pole reaches anything."""


def build(layout: Layout) -> Circuit:
    """Build the circuit of a layout."""
    poles = _poles(layout)
    names = [pole.name for pole in poles]
    node = {name: number for number, name in enumerate(names)}
    variables = list(layout.variables.values())
    numbers = {v.name: i for i, v in enumerate(variables)}
    circuit = Circuit(layout, poles, names, node, variables, numbers)
    _pieces(circuit)
    _joints(circuit)
    _reversers(circuit)
    for index, contact in enumerate(layout.contacts):
        _contact(circuit, index, contact)
    _wiring(circuit)
    circuit.never = [values_of(circuit, cube) for cube, _ in layout.never]
    return circuit


def values_of(circuit: Circuit, cube: Cube) -> tuple[tuple[int, int], ...]:
    """A partial position as numbers of variables and of their values."""
    return tuple(
        (circuit.variable[name], circuit.variables[circuit.variable[name]].positions.index(position))
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


def node_of(circuit: Circuit, name: str) -> int:
    """The node of a terminal or junction, made where it is new."""
    number = circuit.node.get(name)
    if number is None:
        number = circuit.node[name] = len(circuit.names)
        circuit.names.append(name)
    return number


def _pieces(circuit: Circuit) -> None:
    names, node, conductors, rails = circuit.names, circuit.node, circuit.conductors, circuit.rails
    layout = circuit.layout
    for piece in layout.pieces.values():
        kind, name = piece.kind, piece.name
        first = len(names)
        local = {}
        for number, rail in enumerate(kind.rails, first):
            terminal = f"{name}.{rail}"
            names.append(terminal)
            node[terminal] = local[rail] = number
        rails.extend(range(first, len(names)))
        for a, b in kind.bonds:
            conductors.append(Conductor(local[a], local[b], "bond", name))
        if kind.made:
            bars = _bars(circuit, piece.bars, kind)
            for made in kind.made:
                a, b = made.rails
                when = _when(bars, made.when)
                if all(values for _, values in when):
                    conductors.append(Conductor(local[a], local[b], "blade", name, -1, when))


_Bars = dict[str, tuple[int, tuple[str, ...]]]


def _bars(circuit: Circuit, names: tuple[str, ...], kind: Kind) -> _Bars:
    """Per tie bar of the kind the number of its variable and its own position per value."""
    found = {}
    for bar, full in zip(kind.bars, names, strict=True):
        follows = circuit.layout.bars[full]
        found[bar.name] = (circuit.variable[follows.variable], follows.positions)
    return found


def _when(bars: _Bars, setting: Setting) -> When:
    """The condition on variables under which tie bars stand as `setting` says; unmeetable ones have no values."""
    by_variable: dict[int, tuple[int, ...]] = {}
    for bar, position in setting:
        variable, positions = bars[bar]
        values = tuple(i for i, p in enumerate(positions) if p == position)
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


def _joints(circuit: Circuit) -> None:
    node, conductors = circuit.node, circuit.conductors
    for index, joint in enumerate(circuit.layout.joints):
        for a, b, insulated in joint.pairs:
            if not insulated:
                conductors.append(Conductor(node[a], node[b], "joiner", joint.name, index))


def _contact(circuit: Circuit, index: int, contact: Contact) -> None:
    owner = f"{contact.owner}.{contact.name}"
    common = node_of(circuit, f"{owner}.common")
    circuit.commons.append(common)
    if contact.common is not None:
        circuit.conductors.append(Conductor(common, node_of(circuit, contact.common), "lead", owner, index))
    variable = circuit.variable[contact.variable]
    for (position, terminal), values in zip(contact.throws, contact.values, strict=True):
        throw = node_of(circuit, f"{owner}.{position}")
        if terminal is not None:
            circuit.conductors.append(Conductor(throw, node_of(circuit, terminal), "lead", owner, index))
        circuit.conductors.append(Conductor(common, throw, "contact", owner, index, ((variable, values),)))


def _reversers(circuit: Circuit) -> None:
    node = circuit.node
    for reverser in circuit.layout.reversers.values():
        a, b = (node[name] for name in reverser.inputs)
        if reverser.automatic:
            left, right = (node[name] for name in reverser.outputs)
            circuit.devices.append(Device(reverser.name, "reverser", (a, b), (left, right)))
            continue
        left, right = (node_of(circuit, name) for name in reverser.outputs)
        assert reverser.variable is not None
        variable = circuit.variable[reverser.variable]
        count = len(circuit.variables[variable].positions)
        straight: When = ((variable, reverser.straight),)
        crossed: When = ((variable, tuple(i for i in range(count) if i not in reverser.straight)),)
        for when, first, second in ((straight, a, b), (crossed, b, a)):
            if when[0][1]:
                circuit.conductors.append(Conductor(left, first, "reverser", reverser.name, -1, when))
                circuit.conductors.append(Conductor(right, second, "reverser", reverser.name, -1, when))


def _wiring(circuit: Circuit) -> None:
    layout, node, conductors = circuit.layout, circuit.node, circuit.conductors
    for index, feed in enumerate(layout.feeds):
        for source, rail in feed.wires:
            conductors.append(Conductor(node_of(circuit, source), node[rail], "feed", feed.name, index))
    for index, link in enumerate(layout.links):
        a, b = (node_of(circuit, end) for end in link.ends)
        conductors.append(Conductor(a, b, "wire", link.name, index))
    for component in layout.components.values():
        a, b = (node_of(circuit, end) for end in component.ends)
        if component.kind not in BLOCKING:
            conductors.append(Conductor(a, b, "component", component.name))
    for index, pin in enumerate(layout.pins):
        a, b = (node_of(circuit, end) for end in pin.ends)
        when: When = () if pin.variable is None else ((circuit.variable[pin.variable], (0,)),)
        conductors.append(Conductor(a, b, "plug", f"{pin.plug}.{pin.pin}", index, when))
    for unit in layout.units.values():
        inputs = (node[unit.inputs[0]], node[unit.inputs[1]])
        circuit.devices.append(Device(unit.name, "unit", inputs, node=node[unit.frog]))

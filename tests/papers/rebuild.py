"""Nets from the rows of a schedule or of a card and from the metal of pieces, sharing no code with what wrote the rows."""

from __future__ import annotations

import os
from collections import defaultdict

import pytest

from netlister.circuit.model import holds


class Joined:
    """Names that are joined."""

    def __init__(self):
        self.parent = {}

    def root(self, name):
        self.parent.setdefault(name, name)
        while self.parent[name] != name:
            name = self.parent[name]
        return name

    def join(self, a, b):
        self.parent[self.root(a)] = self.root(b)

    def groups(self, names):
        """The partition of some names, as a set of sets."""
        found = defaultdict(set)
        for name in names:
            found[self.root(name)].add(name)
        return {frozenset(group) for group in found.values()}


def of_circuit(circuit, state):
    """What the circuit that is checked joins in a state."""
    nets = Joined()
    for c in circuit.conductors:
        if holds(c.when, state):
            nets.join(circuit.names[c.a], circuit.names[c.b])
    return nets


def position_of(layout, circuit, state, name):
    """The position of a variable or a tie bar in a state."""
    if name in layout.bars:
        bar = layout.bars[name]
        return bar.positions[state[circuit.variable[bar.variable]]]
    return layout.variables[name].positions[state[circuit.variable[name]]]


def metal(circuit, state):
    """What joins besides wires, from the layout's own entries: pieces, joiners, contacts, components, reversers."""
    layout = circuit.layout
    for piece in layout.pieces.values():
        yield from of_piece(circuit, state, piece)
    for joint in layout.joints:
        for a, b, insulated in joint.pairs:
            if not insulated:
                yield a, b
    for contact in layout.contacts:
        for (place, _), values in zip(contact.throws, contact.values, strict=True):
            if state[circuit.variable[contact.variable]] in values:
                yield f"{contact.owner}.{contact.name}.common", f"{contact.owner}.{contact.name}.{place}"
    for part in layout.components.values():
        if part.kind not in {"load", "capacitor"}:
            yield f"{part.name}.from", f"{part.name}.to"
    for r in layout.reversers.values():
        if not r.automatic:
            straight = state[circuit.variable[r.variable]] in r.straight
            yield f"{r.name}.A", f"{r.name}.in-{'A' if straight else 'B'}"
            yield f"{r.name}.B", f"{r.name}.in-{'B' if straight else 'A'}"


def of_piece(circuit, state, piece):
    """What the metal of a piece joins in a state."""
    for a, b in piece.kind.bonds:
        yield f"{piece.name}.{a}", f"{piece.name}.{b}"
    names = {bar.name: full for bar, full in zip(piece.kind.bars, piece.bars, strict=True)}
    for made in piece.kind.made:
        if all(position_of(circuit.layout, circuit, state, names[bar]) == at for bar, at in made.when):
            yield f"{piece.name}.{made.rails[0]}", f"{piece.name}.{made.rails[1]}"


def halves(layout, circuit, state, name, half):
    """The name of a plug's pin on one half: apart while an optional plug is out."""
    plug = name.partition(".")[0]
    variable = layout.variables.get(plug)
    out = variable is not None and variable.kind == "plug" and state[circuit.variable[plug]] == 1
    return f"{name}|{half}" if out else name


def _pdf_works():
    """Whether PDF can be written here: the library, and Pango of the system on which it stands."""
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):
        return False
    return True


NEEDS_PDF = pytest.mark.skipif(
    not _pdf_works() and "NETLISTER_CI" not in os.environ, reason="no Pango here; apt-get install libpango-1.0-0"
)

"""What changes over while a variable moves, each at its own moment: blades, contacts, poles of a reverser."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple, cast

from netlister.circuit.model import Conductor
from netlister.layout.model import Contact, Value
from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit, When
    from netlister.circuit.numbers import Var


class Changeover(NamedTuple):
    """Something that changes over at a moment of its own: the blades of a tie bar, a contact, one pole of a reverser.

    `make_first`: whether it makes the new contact before it breaks the old one.
    """

    what: str  # "blades" | "contact" | "reverser"
    name: str  # the tie bar, `owner.contact`, or the reverser's output
    make_first: bool


class MovedConductor(NamedTuple):
    """A conductor, and when it conducts: while each of its changeovers stands at one of the values beside it.

    `rest`: what other variables must be besides, where a blade contact depends on several tie bars.
    """

    conductor: Conductor
    changeovers: tuple[tuple[Changeover, tuple[Value, ...]], ...]
    rest: When


def moved_conductors(circuit: Circuit) -> dict[Var, list[MovedConductor]]:
    """Per variable the conductors that depend on it. Plugs are left out: nobody moves one while a train runs."""
    pieces = circuit.layout.pieces
    found: dict[Var, list[MovedConductor]] = defaultdict(list)
    for conductor in circuit.conductors:
        if not conductor.when or conductor.what == "plug":
            continue
        what, owner = conductor.what, conductor.owner
        make_first = False
        if what == "blade":
            if len(pieces[owner].bars) > 1:
                continue  # see below: its blade contacts depend on several tie bars
            what = "blades"
        elif what == "contact":
            make_first = cast(Contact, conductor.entry).action == "make-before-break"
        else:
            owner = circuit.names[conductor.a]
        ((variable, values),) = conductor.when
        found[variable].append(MovedConductor(conductor, ((Changeover(what, owner, make_first), values),), ()))
    for piece in pieces.values():
        if len(piece.bars) > 1 and piece.kind.made:
            for variable, part in _of_several_bars(circuit, piece.name):
                found[variable].append(part)
    return found


def _of_several_bars(circuit: Circuit, name: str) -> Iterator[tuple[Var, MovedConductor]]:
    """The blade contacts of a piece with several tie bars, for each variable that one of them follows."""
    piece = circuit.layout.pieces[name]
    bars = dict(zip([bar.name for bar in piece.kind.bars], piece.bars, strict=True))
    for made in piece.kind.made:
        a, b = (circuit.node[named(name, rail)] for rail in made.rails)
        stands = []
        for bar, position in made.when:
            follows = circuit.layout.bars[bars[bar]]
            values = tuple(Value(i) for i, p in enumerate(follows.positions) if p == position)
            blades = Changeover("blades", bars[bar], make_first=False)
            stands.append((circuit.variable[follows.variable], blades, values))
        for variable in dict.fromkeys(v for v, _, _ in stands):
            rest: dict[Var, tuple[Value, ...]] = {}
            for v, _, values in stands:
                if v != variable:
                    rest[v] = tuple(x for x in values if x in rest.get(v, values))
            changeovers = tuple((changeover, values) for v, changeover, values in stands if v == variable)
            yield variable, MovedConductor(Conductor(a, b, "blade", name), changeovers, tuple(rest.items()))

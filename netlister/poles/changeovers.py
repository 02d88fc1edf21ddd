"""What changes over by itself while a variable moves: blades, contacts, poles of a reverser; and what conducts then."""

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
    """Something that changes over by itself: the blades of a tie bar, a contact, one pole of a reverser.

    `both`: whether it makes before it breaks.
    """

    what: str  # "blades" | "contact" | "reverser"
    name: str  # the tie bar, `owner.contact`, or the reverser's output
    both: bool


class MovedConductor(NamedTuple):
    """A conductor that is there while its changeovers stand at some of their values, and `rest` holds."""

    conductor: Conductor
    changeovers: tuple[tuple[Changeover, tuple[Value, ...]], ...]
    rest: When


def moved_conductors(circuit: Circuit) -> dict[Var, list[MovedConductor]]:
    """What conducts only sometimes as a variable stands, for each variable; plugs are not moved under way."""
    pieces = circuit.layout.pieces
    found: dict[Var, list[MovedConductor]] = defaultdict(list)
    several = set()
    for conductor in circuit.conductors:
        if not conductor.when or conductor.what == "plug":
            continue
        what, owner = conductor.what, conductor.owner
        both = False
        if what == "blade":
            if len(pieces[owner].bars) > 1:
                several.add(owner)
                continue
            what = "blades"
        elif what == "contact":
            both = cast(Contact, conductor.entry).action == "make-before-break"
        else:
            owner = circuit.names[conductor.a]
        ((variable, values),) = conductor.when
        found[variable].append(MovedConductor(conductor, ((Changeover(what, owner, both), values),), ()))
    for piece in pieces.values():
        if len(piece.bars) > 1 and piece.kind.made:
            for variable, part in _lapped(circuit, piece.name):
                found[variable].append(part)
    return found


def _lapped(circuit: Circuit, name: str) -> Iterator[tuple[Var, MovedConductor]]:
    """The blade contacts of a piece with several tie bars, for each variable that one of them follows."""
    piece = circuit.layout.pieces[name]
    bars = dict(zip([bar.name for bar in piece.kind.bars], piece.bars, strict=True))
    for made in piece.kind.made:
        a, b = (circuit.node[named(name, rail)] for rail in made.rails)
        stands = []
        for bar, position in made.when:
            follows = circuit.layout.bars[bars[bar]]
            values = tuple(Value(i) for i, p in enumerate(follows.positions) if p == position)
            stands.append((circuit.variable[follows.variable], Changeover("blades", bars[bar], both=False), values))
        for variable in dict.fromkeys(v for v, _, _ in stands):
            rest: dict[Var, tuple[Value, ...]] = {}
            for v, _, values in stands:
                if v != variable:
                    rest[v] = tuple(x for x in values if x in rest.get(v, values))
            changeovers = tuple((changeover, values) for v, changeover, values in stands if v == variable)
            yield variable, MovedConductor(Conductor(a, b, "blade", name), changeovers, tuple(rest.items()))

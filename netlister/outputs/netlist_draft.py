"""What the parts of a netlist are drafted with: a part, and the names, places and conditions that many of them have."""

from __future__ import annotations

from collections import defaultdict
from pathlib import PurePath
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.devices import DEVICES
from netlister.layout.terminal import Terminal, named
from netlister.outputs.netlist_fields import PartFields, filled
from netlister.outputs.netlist_nets import net_names

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.model import Circuit, Conductor, Entry, When
    from netlister.layout.model import Contact
    from netlister.source import Span

TRACK = "track"
WIRING = "wiring"
PASSES = "1 to 2"
ALWAYS = "always"
NEVER = "never"
AUTOMATIC = "as the device chooses"


def letter_of(kind: str) -> str:
    """The reference letter of a part that is no piece of track and no contact; `-` may stand for spaces in its name."""
    return DEVICES[kind.replace(" ", "-")].letter


class NetlistPart(NamedTuple):
    """A part of the netlist.

    `reference` is unique; `library` and `kind` say what it is (the kind of a piece of track may be the modeller's
    own); `tag` names it by the layout's names, so that it stays the same when other parts come and go. `pins` are
    pairs of the pin's name and of the name of its net.
    """

    reference: str
    library: str
    kind: str
    value: str
    tag: str
    fields: PartFields
    pins: tuple[tuple[str, str], ...]


class Drafts:
    """A circuit whose parts are drafted."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.layout = circuit.layout
        self.names = net_names(circuit)
        self.sometimes: dict[tuple[str, str, Entry | None], list[Conductor]] = defaultdict(list)
        for conductor in circuit.conductors:
            if conductor.when:
                self.sometimes[conductor.what, conductor.owner, conductor.entry].append(conductor)
        self.board: dict[str, list[str]] = defaultdict(list)
        for board, things in circuit.layout.boards.items():
            for thing in things:
                self.board[thing].append(board)

    def net(self, terminal: str) -> str:
        """The net of a terminal."""
        return self.names[self.circuit.node[terminal]]

    def nets(self, pins: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
        """Pairs of pin and net for pairs of pin and terminal."""
        return tuple((pin, self.net(terminal)) for pin, terminal in pins)

    def pair(self, what: str, name: str, ends: tuple[str, str], fields: PartFields, value: str = "") -> NetlistPart:
        """A part with two pins, 1 and 2; where `fields` says nothing else it always conducts."""
        if "Conducts" not in dict(fields):
            fields = (*fields, ("Conducts", ALWAYS))
        tag = " ".join(filter(None, (what, name, *ends)))
        pins = self.nets((("1", ends[0]), ("2", ends[1])))
        return NetlistPart(letter_of(what), WIRING, what, value or what, tag, fields, pins)

    def head(self, name: str, span: Span, thing: str = "") -> PartFields:
        """The fields that every part has: its name in the layout, its place in the file, its baseboard."""
        place = f"{PurePath(span.file).name}:{span.line}:{span.column}"
        boards = ", ".join(self.board.get(thing or name, ()))
        return filled(("Name", name), ("Place", place), ("Board", boards))

    def conducts(self, what: str, owner: str, entry: Entry | None, pins: Iterable[tuple[str, str]]) -> PartFields:
        """The field that says which pins are joined in which positions."""
        pin_of = {self.circuit.node[terminal]: pin for pin, terminal in reversed(list(pins))}
        texts = [
            f"{pin_of[c.a]} to {pin_of[c.b]} while {self.condition(c.when)}"
            for c in self.sometimes.get((what, owner, entry), ())
        ]
        return filled(("Conducts", "; ".join(texts)))

    def condition(self, when: When) -> str:
        """A condition as text."""
        variables = self.circuit.variables
        return " and ".join(
            f"{variables[v].name}={'|'.join(dict.fromkeys(variables[v].positions[i] for i in values))}"
            for v, values in when
        )

    def contact_letter(self, contact: Contact) -> str:
        """Q for what a machine or the blades move, S for a hand switch, K for a relay."""
        if contact.owner in self.layout.pieces or contact.owner in self.layout.machines:
            return "Q"
        return "S" if contact.variable == contact.owner else "K"

    def written(
        self, pins: Iterable[str], terminals: Iterable[str | None], buses: Iterable[str], ends: Iterable[str]
    ) -> PartFields:
        """The terminals that pins are wired to as written, where the net alone does not say which."""
        found = []
        for pin, terminal, bus, end in zip(pins, terminals, buses, ends, strict=True):
            if terminal is None:
                continue
            node = self.circuit.node[terminal]
            is_pole = bool(bus) and node < len(self.circuit.poles)
            text = named(bus, self.circuit.poles[node].letter) if is_pole else terminal
            if end:
                piece, rail = Terminal.of(terminal)
                text = named(named(piece, end), self.layout.pieces[piece].kind.ends[end].side_of(rail))
            if text != self.names[node]:
                found.append((f"Terminal {pin}", text))
        return tuple(found)

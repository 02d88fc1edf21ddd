"""What the nets of a netlist mean: which terminals lie on each, and how a layout says what a pin is wired to."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from netlister.netlists.drawing import key_of
from netlister.quantity import shown

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from netlister.kinds.model import Kind
    from netlister.netlists.drawing import DrawnNetlist, DrawnPart, DrawnPin
    from netlister.source import Span

REVERSERS = ("automatic-reverser", "following-reverser")
NAMELESS = ("unconnected-(", "Net-(", "N$")
"""How nets begin that nobody gave a name: those of common schematic editors, and of scripts."""


class DrawnSource(NamedTuple):
    """Something that feeds: a supply, a bus or a reverser, and the nets of its poles A and B (None: not wired)."""

    name: str
    what: str
    nets: tuple[str | None, str | None]


class DrawnNets:
    """The nets with what lies on them.

    `own`: per contact's pin, by reference and pin, the name of its own terminal.
    """

    def __init__(
        self,
        drawing: DrawnNetlist,
        kinds: dict[str, Kind],
        own: dict[tuple[str, str], str],
        known: Collection[str],
        fault: Callable[[Span, str], None],
    ) -> None:
        self.drawing, self.kinds, self.own, self.known, self.fault = drawing, kinds, own, known, fault
        self.rails: dict[str, list[tuple[str, str]]] = defaultdict(list)
        self.poles: dict[str, list[str]] = defaultdict(list)
        self.outputs: dict[str, list[str]] = defaultdict(list)
        self.contacts: dict[str, list[str]] = defaultdict(list)
        self.junctions: dict[str, list[str]] = defaultdict(list)
        self.net_of: dict[str, str] = {}
        self.sources: dict[str, DrawnSource] = {}
        self.roots: dict[str, str] = {}  # a pole -> the pole that it is tied to
        self.lead: dict[str, str] = {}  # a contact's own terminal -> the pole that a lead takes it to
        self.leads: dict[str, tuple[str, str]] = {}  # the same -> the lead's reference and its pin at the pole
        self.leaded: dict[str, list[str]] = defaultdict(list)  # net -> the own terminals on it that have a lead
        self.wires: list[DrawnPart] = []  # leads that are no more than wires
        self.commons: dict[str, str] = {}
        for part in drawing.parts:
            self._sort(part, key_of(part.kind.text))
        self._tie_poles()
        self._buses()
        for part in drawing.parts:
            if key_of(part.kind.text) == "lead":
                self._lead(part)

    def _sort(self, part: DrawnPart, kind: str) -> None:
        """Note what the pins of a part are to their nets."""
        name = part.name.text
        for pin in part.pins.values():
            net = pin.net
            text = f"{name}.{pin.name}"
            if name in self.kinds and part.kind.text == self.kinds[name].name:
                self.rails[net].append((name, pin.name))
            elif kind == "supply":
                self.poles[net].append(text)
            elif kind in REVERSERS and pin.name in {"A", "B"}:
                self.outputs[net].append(text)
            elif (part.reference.text, pin.name) in self.own:
                text = self.own[part.reference.text, pin.name]
                self.contacts[net].append(text)
            elif kind == "terminal":
                self.junctions[net].append(name)
                continue
            else:
                continue
            self.net_of[text] = net
        if kind == "supply" or kind in REVERSERS:
            nets = (self._net(part, "A"), self._net(part, "B"))
            self.sources[name] = DrawnSource(name, "supply" if kind == "supply" else "reverser", nets)

    @staticmethod
    def _net(part: DrawnPart, pin: str) -> str | None:
        found = part.pins.get(pin)
        return None if found is None else found.net

    # ---- poles

    def _tie_poles(self) -> None:
        """Common returns: as fields say, else where poles of one letter lie on one net."""
        for part in self.drawing.parts:
            common = part.fields.get("common")
            if key_of(part.kind.text) == "supply" and common is not None:
                letter = common.text[-1:]
                self.roots[f"{part.name.text}.{letter}"] = common.text
        for poles in self.poles.values():
            first = poles[0]
            for pole in poles[1:]:
                supply, _, letter = pole.rpartition(".")
                tied = any(f"{supply}.{x}" in self.roots for x in "AB")
                if letter == first[-1] and not tied and self.root(pole) != self.root(first):
                    self.roots[pole] = first
                    self.commons[supply] = first

    def root(self, pole: str) -> str:
        """The pole that a pole is tied to in the end, or itself."""
        seen = {pole}
        while pole in self.roots and self.roots[pole] not in seen:
            pole = self.roots[pole]
            seen.add(pole)
        return pole

    # ---- buses

    def _buses(self) -> None:
        """Find what each bus hangs on, where its pins say so."""
        parts = {p.name.text: p for p in self.drawing.parts if key_of(p.kind.text) == "bus"}
        self.bus_supply: dict[str, str] = {}
        for name, part in parts.items():
            nets = (self._net(part, "A"), self._net(part, "B"))
            if nets == (None, None):
                nets = self._nets_above(part, parts)
            elif not self._on_poles(part, nets):
                continue
            self.sources[f"bus {name}"] = DrawnSource(name, "bus", nets)
            for letter, net in zip("AB", nets, strict=True):
                if net is not None:
                    self.net_of.setdefault(f"{name}.{letter}", net)

    def _nets_above(self, part: DrawnPart, parts: dict[str, DrawnPart]) -> tuple[str | None, str | None]:
        """The nets of the bus that one without wired pins branches from, or of its supply."""
        seen: set[str] = set()
        supplies = [s.name for s in self.sources.values() if s.what == "supply"]
        while "from" in part.fields and part.fields["from"].text in parts and part.name.text not in seen:
            seen.add(part.name.text)
            part = parts[part.fields["from"].text]
        if part.pins:
            return self._net(part, "A"), self._net(part, "B")
        name = part.fields["supply"].text if "supply" in part.fields else part.name.text
        if name not in supplies and len(supplies) == 1:
            name = supplies[0]
        found = self.sources.get(name)
        return (None, None) if found is None else found.nets

    def _on_poles(self, part: DrawnPart, nets: tuple[str | None, str | None]) -> bool:
        """Whether the pins of a bus lie on the two poles of one supply; a fault if not."""
        fitting = [
            s.name
            for s in self.sources.values()
            if s.what == "supply" and all(net is None or net == own for net, own in zip(nets, s.nets, strict=True))
        ]
        stated = part.fields.get("supply")
        if fitting:
            name = part.name.text
            own = name if name in fitting else fitting[0]
            self.bus_supply[name] = stated.text if stated is not None and stated.text in fitting else own
            return True
        message = (
            f"the pins of the bus '{shown(part.reference.text)}' do not lie on poles A and B of one supply: draw it on "
            "the nets of its supply, A on A and B on B, and write a breaker in front of it as its field 'Breaker'"
        )
        self.fault(part.reference.span, message)
        return False

    # ---- leads

    def _lead(self, part: DrawnPart) -> None:
        """A lead takes a contact's own terminal to a pole; any other is a wire."""
        nets = [self._net(part, "1"), self._net(part, "2")]
        for number in "12":
            pole, other = nets if number == "1" else nets[::-1]
            if pole is None or other is None or not (self.poles.get(pole) or self.outputs.get(pole)):
                continue
            if self._solids(other):
                continue
            own = [text for text in self.contacts.get(other, ()) if text not in self.lead]
            mine = [text for text in own if text.startswith(part.name.text + ".")]
            chosen = mine[:1] or (own if len(own) == 1 else [])
            if chosen:
                self.lead[chosen[0]] = pole
                self.leads[chosen[0]] = part.reference.text, number
                self.leaded[other].append(chosen[0])
                return
        self.wires.append(part)

    # ---- terminals

    def _solids(self, net: str) -> list[str]:
        """The terminals on a net that are more than a meeting of wires: poles, outputs, rails not bonded."""
        found: list[str] = []
        for pole in self.poles.get(net, ()):
            if all(self.root(pole) != self.root(other) for other in found):
                found.append(pole)
        found += self.outputs.get(net, ())
        rails = self.rails.get(net, ())
        if len(rails) == 1:
            return [*found, ".".join(rails[0])]
        ordered = sorted(rails, key=lambda rail: (".".join(rail) != net, ".".join(rail)))
        kept: list[tuple[str, str]] = []
        for piece, rail in ordered:
            if not any(piece == other and rail in self._bonded(piece, first) for other, first in kept):
                kept.append((piece, rail))
        return found + [".".join(rail) for rail in kept]

    def _bonded(self, piece: str, rail: str) -> set[str]:
        """The rails of a piece that are always joined to one of them."""
        found = {rail}
        more = True
        while more:
            more = False
            for a, b in self.kinds[piece].bonds:
                if (a in found) != (b in found):
                    found |= {a, b}
                    more = True
        return found

    def terminal(self, net: str) -> str:
        """How a layout names what lies on a net."""
        solids = self._solids(net)
        if solids:
            return solids[0]
        if self.leaded.get(net):
            return self.leaded[net][0]
        if net in self.contacts.get(net, ()):
            return net
        name = min(self.junctions.get(net, ()), default=net)
        return f"net {name}" if name.partition(".")[0] in self.known else name

    def ties(self) -> Iterator[tuple[str, str, Span]]:
        """Pairs of terminals that only lie on one net, as the wires that join them, with the place of the net."""
        for net, (place, _) in self.drawing.nets.items():
            solids = self._solids(net) or self.leaded.get(net, [])
            for other in solids[1:]:
                yield solids[0], other, place.span

    def _net_of(self, text: str) -> str | None:
        """The net of a terminal as written, which may name a rail by an end of its piece and a side."""
        piece, _, rest = text.partition(".")
        end, _, side = rest.partition(".")
        if text not in self.net_of and piece in self.kinds and side in {"left", "right"}:
            found = self.kinds[piece].ends.get(end)
            if found is not None:
                text = f"{piece}.{found.left if side == 'left' else found.right}"
        return self.net_of.get(text)

    def contact(self, part: DrawnPart, place: str, pin: DrawnPin) -> str | None:
        """What a pin of a contact is wired to; None for nothing."""
        own = self.own[part.reference.text, pin.name]
        net = self.lead.get(own, pin.net)
        hint = part.fields.get(f"terminal-{key_of(place)}")
        if hint is not None and self._net_of(hint.text) == net and hint.text != own:
            return hint.text
        found = self.terminal(net)
        if found == own or (net == pin.net and self._alone(net, found)):
            return None
        return found

    def _alone(self, net: str, name: str) -> bool:
        """Whether nothing else lies on a net, and nobody gave it a name."""
        parts = [part for part, _ in self.drawing.nets[net][1]]
        return len(parts) == 1 and (net.startswith(NAMELESS) or name in self.known or name.startswith("net "))

    def end(self, part: DrawnPart, number: str) -> tuple[str, Span]:
        """What a pin of a part with two is wired to, and where that is said."""
        pin = part.pins.get(number)
        if pin is None:
            return f"pin {number} of {part.reference.text}", part.reference.span
        hint = part.fields.get(f"terminal-{number}")
        if hint is not None and self._net_of(hint.text) == pin.net:
            return hint.text, pin.span
        return self.terminal(pin.net), pin.span

    # ---- what feeds

    def feeding(self, net: str, wanted: str = "") -> tuple[str, str] | None:
        """What feeds a net, and by which of its poles: what is `wanted`, where it does, else the nearest to say."""
        found: dict[tuple[str, str], tuple[str, str]] = {}
        for source in self.sources.values():
            for letter, own in zip("AB", source.nets, strict=True):
                if own == net:
                    found.setdefault((source.what, source.name), (source.name, letter))
        for pair in found.values():
            if pair[0] == wanted:
                return pair
        by_kind = {
            what: [pair for (kind, _), pair in found.items() if kind == what] for what in ("reverser", "supply", "bus")
        }
        if by_kind["reverser"]:
            return by_kind["reverser"][0]
        return (
            by_kind["bus"][0] if len(by_kind["bus"]) == 1 else next(iter([*by_kind["supply"], *by_kind["bus"]]), None)
        )

    def source(self, part: DrawnPart, pins: tuple[str, str]) -> str | None:
        """The bus or supply that a device hangs on, by its two pins, else by its field; None where that is faulty."""
        stated = part.fields.get("from")
        nets = tuple(self._net(part, pin) for pin in pins)
        if nets == (None, None):
            return None if stated is None else stated.text
        fitting = [
            s
            for s in self.sources.values()
            if s.what != "reverser" and all(net is None or net == own for net, own in zip(nets, s.nets, strict=True))
        ]
        names = [s.name for s in fitting]
        if stated is not None and stated.text in names:
            return stated.text
        buses = [s.name for s in fitting if s.what == "bus"]
        if fitting:
            return buses[0] if len(buses) == 1 else names[0]
        message = (
            f"pins '{pins[0]}' and '{pins[1]}' of '{shown(part.reference.text)}' do not lie on poles A and B of one "
            f"supply; join '{pins[0]}' to A and '{pins[1]}' to B"
        )
        self.fault(part.reference.span, message)
        return None

    def frog(self, part: DrawnPart) -> str | None:
        """The frog that the pin `frog` of a unit is wired to."""
        net = self._net(part, "frog")
        hint = part.fields.get("terminal-frog")
        if net is None:
            return None
        if hint is not None and self._net_of(hint.text) == net:
            return hint.text
        found = self.rails.get(net, ())
        rails = [f"{piece}.{rail}" for piece, rail in found]
        frogs = sorted(f"{piece}.{rail}" for piece, rail in found if self.kinds[piece].is_frog(rail))
        return net if net in frogs else next(iter(frogs), next(iter(rails), None))

    # ---- for findings

    def drawn(self) -> dict[str, str]:
        """What terminals are in the drawing, where that has another name: a pin of a contact, or the net of a rail."""
        found = {text: f"{reference}.{pin}" for (reference, pin), text in self.own.items()}
        for net, rails in self.rails.items():
            own = {f"{piece}.{rail}" for piece, rail in rails}
            if net not in own and not net.startswith(NAMELESS) and not self._poled(net):
                found |= dict.fromkeys(own, f"net {net}")
        return {name: found[name] for name in sorted(found) if found[name] != name}

    def _poled(self, net: str) -> bool:
        return net in {self.root(pole) for pole in self.poles.get(net, ())}

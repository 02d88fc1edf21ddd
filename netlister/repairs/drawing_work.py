"""What is to be done on a drawing, in its words: parts by reference, wires from pin to pin, fields by name."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from netlister.layout.terminal import Terminal
from netlister.outputs.symbols import contact_positions
from netlister.repairs.words import list_in_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.layout.drawing import DrawnAs, DrawnJoiner, DrawnLayout
    from netlister.layout.model import Contact, Layout
    from netlister.source import Span

_METAL, _INSULATED = "metal joiner", "insulated joiner"


class NoWordsError(Exception):
    """A change of something that the drawing does not have as a part of its own."""


class DrawingWork:
    """Finds parts and pins on a drawing, and gathers what is to be done there by kinds of work."""

    def __init__(self, layout: Layout, drawing: DrawnLayout) -> None:
        self.layout, self.drawing = layout, drawing
        self.exchanged: dict[str, list[str]] = defaultdict(list)
        self.taken_out: list[str] = []
        self.parted: list[str] = []
        self.drawn: list[str] = []
        self.wired: list[str] = []
        self.unwired: list[str] = []
        self.written: list[str] = []
        self.new: dict[str, str] = {}  # terminals of what is drawn anew
        self.positions: dict[str, tuple[str, ...]] = {}  # of switches that are drawn anew

    def text(self) -> str:
        """All of it as a sentence."""
        said = [
            f"exchange {list_in_words(refs)} for {'an ' if kind == _INSULATED else 'a '}{kind}"
            if len(refs) == 1
            else f"exchange {list_in_words(refs)} for {kind}s"
            for kind, refs in self.exchanged.items()
        ]
        said += [f"take out {list_in_words(self.taken_out)}"] if self.taken_out else []
        said += self.parted
        said += self.drawn
        said += [f"wire {list_in_words(self.wired)}"] if self.wired else []
        said += [f"leave {list_in_words(self.unwired)} open"] if self.unwired else []
        said += self.written
        return "; ".join(said)

    def part(self, span: Span) -> str:
        """The reference of the part that an entry was."""
        return self.as_drawn(span).reference

    def as_drawn(self, span: Span) -> DrawnAs:
        """The part that an entry was."""
        found = self.drawing.parts.get(span)
        if found is None:
            raise NoWordsError
        return found

    def at(self, terminal: str, bus: str = "") -> str:
        """A terminal as a pin, or as a net where it is no more than that."""
        layout = self.layout
        if terminal in self.new:
            return self.new[terminal]
        owner, own = Terminal.of(terminal)
        if owner in layout.supplies and own in {"A", "B"}:
            if bus in layout.buses and not layout.buses[bus].implicit and layout.buses[bus].span in self.drawing.parts:
                return pin_of(self.part(layout.buses[bus].span), own)
            return pin_of(self.part(layout.supplies[owner].span), own)
        for section in (layout.pieces, layout.reversers):
            if owner in section and own:
                return pin_of(self.part(section[owner].span), own)
        if terminal in self.drawing.screws:
            return pin_of(self.drawing.screws[terminal], "1")
        drawn = self.drawing.names.get(terminal, "")
        if drawn.startswith("net "):
            return drawn
        if drawn:
            reference, pin = Terminal.of(drawn)
            return pin_of(reference, pin)
        return f"net {terminal.removeprefix('net ')}"

    def own(self, contact: Contact, place: str) -> str:
        """A pin of a contact."""
        drawn = self.drawing.names.get(contact.terminal(place))
        if drawn is not None:
            reference, pin = Terminal.of(drawn)
            return pin_of(reference, pin)
        part = self.as_drawn(contact.span)
        pins = contact_positions(self.layout.library).get(part.symbol) if self.layout.library else None
        positions = [position for position, _ in contact.throws]
        if pins is not None and place != "common" and place not in pins and len(pins) >= len(positions):
            place = pins[positions.index(place)]  # the pins are numbered
        return pin_of(part.reference, place)

    def wire(self, pin: str, to: str) -> None:
        """Wire a pin to another, or to a net."""
        self.wired.append(f"{pin} to {to}")

    def exchange(self, joiner: DrawnJoiner, *, insulated: bool) -> None:
        """Put another sort of joiner in the place of one."""
        self.exchanged[_INSULATED if insulated else _METAL].append(joiner.reference)

    def write(self, field: str, reference: str, value: str) -> None:
        """Write a value into a field of a part."""
        self.written.append(f"write '{value}' into the field '{_title(field)}' of {reference}")

    def draw(self, symbol: str, fields: Mapping[str, str], pins: Mapping[str, str]) -> None:
        """A part more. `pins`: what each is wired to."""
        article = "an" if symbol[0] in "aeiou" else "a"
        said = [f"'{_title(name)}' {value}" for name, value in fields.items() if value]
        wires = [f"pin {pin} to {to}" for pin, to in pins.items()]
        text = f"draw {article} '{symbol}'"
        text += f" with {list_in_words(said)}" if said else ""
        self.drawn.append(f"{text}, {list_in_words(wires)}" if wires else text)

    def shares(self, source: str) -> bool:
        """Whether a bus lies on the nets of others."""
        bus = self.layout.buses.get(source)
        return bus is not None and sum(other.supply == bus.supply for other in self.layout.buses.values()) > 1


def pin_of(reference: str, pin: str) -> str:
    """A pin in words."""
    return f"{reference} pin {pin}"


def _title(field: str) -> str:
    return field.replace("-", " ").capitalize()

"""What a netlist says: parts with their fields, and nets with the pins that lie on them, each with its place."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from netlister import expressions
from netlister.expressions import Atom, List
from netlister.quantity import shown
from netlister.source import FileFault, UnusableError

if TYPE_CHECKING:
    from netlister.source import Source, Span

EDITORS_OWN = frozenset({"reference", "footprint", "datasheet", "description", "skidl-tag"})
"""Fields that every part of a schematic has and that say nothing of wiring."""


class PlacedText(NamedTuple):
    """A text and its place."""

    text: str
    span: Span


DrawnText = PlacedText | Atom
Place = DrawnText | List
"""What has a place; that of an atom or a list is worked out when it is asked for, which most never are."""


class DrawnPin(NamedTuple):
    """A pin of a part that lies on a net."""

    name: str
    net: str
    place: Place

    @property
    def span(self) -> Span:
        """Its place."""
        return self.place.span


@dataclass(slots=True, eq=False)
class DrawnPart:
    """A part. `kind` is the name of its symbol; `fields` are by key: the name in small letters, `-` for spaces."""

    reference: DrawnText
    kind: DrawnText
    fields: dict[str, DrawnText] = field(default_factory=dict)
    named: dict[str, str] = field(default_factory=dict)  # key -> the field's name as written
    pins: dict[str, DrawnPin] = field(default_factory=dict)

    @property
    def name(self) -> DrawnText:
        """What the part is called in a layout: its field `Name`, else its reference."""
        return self.fields.get("name", self.reference)


@dataclass(slots=True)
class DrawnNetlist:
    """A netlist. `nets` holds per net its place and the pins on it, as pairs of part and pin."""

    source: Source
    title: DrawnText | None = None
    parts: list[DrawnPart] = field(default_factory=list)
    nets: dict[str, tuple[Place, list[tuple[DrawnPart, DrawnPin]]]] = field(default_factory=dict)

    def connect(self, part: DrawnPart, pin: DrawnPin, place: Place) -> None:
        """Put a pin on its net; `place` is that of the net."""
        part.pins[pin.name] = pin
        self.nets.setdefault(pin.net, (place, []))[1].append((part, pin))


@lru_cache(4096)
def key_of(name: str) -> str:
    """A field's or a symbol's name as it is compared: in small letters, `-` for spaces and underscores."""
    return "-".join(name.replace("_", " ").lower().split())


def read(source: Source) -> DrawnNetlist:
    """Read a netlist in KiCad's format. Raises UnusableError, which lists every fault with its place.

    Of a part's fields those that are empty are left out, as are those that every schematic has.
    """
    whole = expressions.read(source)
    if whole.head != "export":
        message = (
            f"a netlist begins with '(export', not with '({shown(whole.head)}'; export it from the schematic again, "
            "in KiCad's own format"
        )
        raise UnusableError([FileFault(whole.span, message)])
    reader = _DrawingReader(source)
    reader.title(whole)
    for components in whole.lists("components"):
        for comp in components.lists("comp"):
            reader.part(comp)
    for nets in whole.lists("nets"):
        for net in nets.lists("net"):
            reader.net(net)
    if not reader.by_reference and not reader.faults:
        message = (
            "there are no parts in this netlist; draw some, see that they are not marked as excluded from the board "
            "(the editor leaves such parts out), and export it again"
        )
        reader.faults.append(FileFault(whole.span, message))
    if reader.faults:
        raise UnusableError(reader.faults)
    return reader.drawing


class _DrawingReader:
    def __init__(self, source: Source) -> None:
        self.drawing = DrawnNetlist(source)
        self.faults: list[FileFault] = []
        self.by_reference: dict[str, DrawnPart] = {}

    def title(self, whole: List) -> None:
        """The title of the first sheet that has one."""
        for design in whole.lists("design"):
            for sheet in design.lists("sheet"):
                block = sheet.first("title_block")
                title = None if block is None else block.text("title")
                if title is not None and title.text and self.drawing.title is None:
                    self.drawing.title = title

    def part(self, comp: List) -> None:
        """Read one part."""
        reference, source = comp.text("ref"), comp.first("libsource")
        kind = None if source is None else source.text("part")
        if reference is None:
            self.faults.append(FileFault(comp.span, "this part has no reference; number the parts and export again"))
            return
        name = reference.text
        if name in self.by_reference:
            first = self.by_reference[name].reference.span.line
            message = f"'{shown(name)}' is here a second time; it stands in line {first} already: number the parts anew"
            self.faults.append(FileFault(reference.span, message))
            return
        if kind is None:
            message = f"'{shown(name)}' does not say of which symbol it is; there is no '(libsource … (part …))' in it"
            self.faults.append(FileFault(reference.span, message))
            return
        part = DrawnPart(reference, kind)
        self.by_reference[name] = part
        self.drawing.parts.append(part)
        self._fields(part, comp)

    def _fields(self, part: DrawnPart, comp: List) -> None:
        """Fields, as newer and older editors write them; many write each of them twice."""
        fields = comp.first("fields")
        for entry in () if fields is None else fields.lists("field"):
            value = entry.atom(2)
            name = None if value is None else entry.said("name")
            if name is not None and value is not None:
                _field(part, name, value)
        for entry in comp.lists("property"):
            name, value = entry.said("name"), entry.text("value")
            if name is not None and value is not None and key_of(name) not in part.fields:
                _field(part, name, value)

    def net(self, net: List) -> None:
        """Read one net."""
        name = net.text("name")
        if name is None:
            self.faults.append(FileFault(net.span, "this net has no name"))
            return
        plain = name.text.replace("{slash}", "/").replace("{brace}", "{")
        for node in net.lists("node"):
            self._node(net, plain, node)

    def _node(self, net: List, name: str, node: List) -> None:
        reference, pin, function = node.said("ref"), node.text("pin"), node.said("pinfunction")
        if reference is None or pin is None:
            self.faults.append(FileFault(node.span, "a pin on a net has a '(ref …)' and a '(pin …)'; one is missing"))
            return
        part = self.by_reference.get(reference)
        if part is None:
            message = f"there is no part '{shown(reference)}' in this netlist; export it again"
            wrong = node.text("ref")
            self.faults.append(FileFault(node.span if wrong is None else wrong.span, message))
            return
        number = pin.text
        if number.isdigit() and function and not function.isdigit():
            number = function
        if number in part.pins:
            if part.pins[number].net != name:
                message = f"pin '{shown(number)}' of '{shown(reference)}' lies on two nets; it lies on one"
                self.faults.append(FileFault(pin.span, message))
            return
        self.drawing.connect(part, DrawnPin(number, name, pin), net)


def _field(part: DrawnPart, name: str, value: Atom) -> None:
    key = key_of(name)
    if value.text and value.text != "~" and key not in EDITORS_OWN and key not in part.fields:
        part.fields[key] = value
        part.named[key] = name

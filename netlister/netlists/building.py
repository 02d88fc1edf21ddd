"""The sections of a layout as they grow from the parts of a netlist, and what all who add to them share."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from netlister.layout import schema
from netlister.layout.drawing import DrawnLayout
from netlister.layout.schema import NAMED
from netlister.netlists.values import entry, mapping, scalar
from netlister.source import Allow, FileFault, UnusableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from netlister.kinds.model import Kind
    from netlister.netlists.drawing import DrawnNetlist, DrawnPart, DrawnText
    from netlister.netlists.nets import DrawnNets
    from netlister.source import Span, TextNode

RENAMED = {
    key.field.lower().replace(" ", "-"): key.name
    for key in schema.SUPPLY.row
    if key.field and key.field.lower().replace(" ", "-") != key.name
}
"""Fields of the netlist that is written whose keys in a layout are other ones."""


class Building:
    """The sections of a layout as they grow from the parts of a netlist."""

    nets: DrawnNets  # made when the pieces of track are known

    def __init__(self, drawing: DrawnNetlist, folder: Path | None) -> None:
        self.drawing = drawing
        self.folder = folder
        self.faults: list[FileFault] = []
        self.allows: list[Allow] = []
        self.named: dict[str, list[tuple[TextNode, TextNode]]] = {section: [] for section in NAMED}
        self.lists: dict[str, list[TextNode]] = {"joints": [], "feeds": [], "wires": []}
        self.top: list[tuple[TextNode, TextNode]] = []
        self.by_kind: dict[str, list[DrawnPart]] = defaultdict(list)
        self.pieces: dict[str, tuple[DrawnPart, Kind | None]] = {}
        self.contacts: dict[str, list[tuple[TextNode, TextNode]]] = defaultdict(list)  # owner -> its contacts
        self.positions: dict[str, tuple[str, ...]] = {}  # machine, switch or turnout -> positions
        self.boards: dict[str, list[tuple[str, Span]]] = {}
        self.drawn = DrawnLayout()
        self._others: set[str] = set()
        self.start = drawing.source.start()

    # ---- helps

    def fault(self, span: Span, message: str) -> None:
        """Note a fault."""
        self.faults.append(FileFault(span, message))

    def node(self, make: Callable[[DrawnText], TextNode], value: DrawnText) -> TextNode | None:
        """A node made of a field, or None and its faults."""
        try:
            return make(value)
        except UnusableError as error:
            self.faults += error.faults
            return None

    def add(
        self, section: str, part: DrawnPart, entries: Iterable[tuple[TextNode, TextNode] | None], name: str = ""
    ) -> None:
        """Add an entry to a section whose entries have names."""
        span = part.reference.span
        value = mapping([e for e in entries if e is not None], span)
        self.named[section].append((scalar(name or part.name.text, span), value))

    def plain(self, part: DrawnPart, *keys: str) -> list[tuple[TextNode, TextNode]]:
        """The fields of some keys as entries, their text as it is."""
        found = []
        for key in keys:
            value = part.fields.get(key)
            if value is not None:
                found.append(entry(RENAMED.get(key, key), value.span, scalar(value.text, value.span)))
        return found

    def made(
        self, part: DrawnPart, key: str, make: Callable[[DrawnText], TextNode], name: str = ""
    ) -> tuple[TextNode, TextNode] | None:
        """A field as an entry whose value is a list or the like."""
        value = part.fields.get(key)
        node = None if value is None else self.node(make, value)
        return None if node is None or value is None else entry(name or key, value.span, node)

    def given(self, name: str, text: str, span: Span) -> tuple[TextNode, TextNode]:
        """An entry with a text."""
        return entry(name, span, scalar(text, span))

    def ends(self, part: DrawnPart) -> list[tuple[TextNode, TextNode]]:
        """What the two pins of a part are wired to, as `from` and `to`."""
        return [self.given(key, *self.nets.end(part, pin)) for key, pin in (("from", "1"), ("to", "2"))]

    def wire(self, part: DrawnPart) -> None:
        """An entry of the wires."""
        span = part.reference.span
        fields = [*self.ends(part), *self.plain(part, "wire", "length", "colour")]
        if "name" in part.fields:
            fields.append(self.given("id", part.name.text, span))
        self.lists["wires"].append(mapping(fields, span))
        self.drawn.links.append(part.reference.text)

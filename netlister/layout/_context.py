"""What the readers of all sections share: the layout as it grows, the names known, and how fields are read."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister import quantity
from netlister.layout.forms import EntrySchema
from netlister.layout.model import Layout, Value, Wire
from netlister.layout.schema import NAMED
from netlister.lengths import Metres
from netlister.quantity import QuantityError, shown
from netlister.source import Mapping, Reader, Scalar, Sequence, Span, suggest

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from netlister.kinds import Library
    from netlister.layout.forms import Key
    from netlister.layout.model import Cube
    from netlister.quantity import Dimension
    from netlister.source import FileFault, Source, TextNode

NamedEntry = tuple[str, "TextNode", "TextNode"]
"""An entry of a section: its name, the name's node, and the node of its values."""

THINGS = {section: form.thing if isinstance(form, EntrySchema) else "a board" for section, form in NAMED.items()}
"""The sections whose entries have names, and what such an entry is."""

TRUTH = ("true", "false")
PATIENCE = 100_000  # names compared for suggestions in one file; without an end many faults would take minutes
NO_WIRE = Wire("", None, None, None)


class Positioned(NamedTuple):
    """Something with positions: per own position the values of the variable in which it stands so."""

    variable: str
    positions: tuple[str, ...]
    values: tuple[tuple[Value, ...], ...]
    choices: tuple[str, ...]  # the variable's own positions


def singles(count: int) -> tuple[tuple[Value, ...], ...]:
    """The values of something that is its own variable: ((0,), (1,), …)."""
    return _PAIR if count == 2 else tuple((Value(i),) for i in range(count))  # noqa: PLR2004


_PAIR = ((Value(0),), (Value(1),))


Fields = dict[str, "TextNode"]
"""The values of an entry, by key."""


class LayoutReader(Reader):
    """One file being read. Faults are gathered; the names of faulty entries stay known, to keep silence about."""

    def __init__(self, source: Source, library: Library) -> None:
        super().__init__(source)
        self.library = library
        self.layout = Layout(source.name, library=library)
        self.kinds_missing = False  # whether a file of kinds could not be used, so that some kinds are unknown
        self.sections: dict[str, tuple[TextNode, TextNode]] = {}  # section -> node of its name, node of its values
        self.entries_of: dict[str, list[NamedEntry]] = {thing: [] for thing in THINGS}
        self.known: dict[str, tuple[str, TextNode]] = {}  # name -> section, node
        self.doubled: set[str] = set()  # names that a supply and a bus share
        self.ids: dict[str, tuple[str, TextNode]] = {}
        self.faulty: set[str] = set()  # names whose entries cannot be used; no more is said of them
        self.refused: set[str] = set()  # the first parts of names with dots and the like
        self.sources: dict[str, tuple[str, str]] = {}  # supply, bus or reverser -> its poles A and B
        self.positioned: dict[str, Positioned] = {}
        self.bar_positions: dict[str, tuple[str, ...]] = {}  # tie bar -> its own positions
        self.contacts: dict[str, dict[str, tuple[str, ...]]] = {}  # owner -> contact -> positions
        self.terminals: dict[str, str] = {}  # as written -> canonical
        self.texts: dict[str, str] = {}  # the names of rails that joints and feeds touch, so that each is held once
        self.junctions: dict[str, list[TextNode]] = {}
        self._patience = PATIENCE
        self._told: list[FileFault] = []  # the faults of the fields of the entry read last

    def drop(self, *names: str) -> None:
        """Let go of the nodes of sections that have been read: in a large file there are millions."""
        for name in names:
            self.entries_of.pop(name, None)
            if name in self.sections:
                key, value = self.sections[name]
                self.sections[name] = (key, Scalar("", value.start, value.length))

    # -- mappings and their fields

    def fields(self, node: TextNode, allowed: frozenset[str], thing: str) -> Fields:
        """The fields of an entry; those that `allowed` does not have are faults."""
        self._told = []
        if type(node) is Mapping:
            try:
                found = {key.value: value for key, value in node.value}
                if len(found) == len(node.value) and found.keys() <= allowed:
                    return found
            except TypeError:  # a key that is a list
                pass
        return self._fields_slowly(node, allowed, thing)

    def _fields_slowly(self, node: TextNode, allowed: frozenset[str], thing: str) -> Fields:
        found = {}
        before = len(self.faults)
        for name, key, value in self.items(node, thing):
            if name in allowed:
                found[name] = value
            else:
                self.unknown(key, name, f"{thing} takes no '{shown(name)}'", sorted(allowed))
        self._told = self.faults[before:]
        return found

    def lacks(self, node: TextNode, fields: Fields, field: str) -> bool:
        """Whether the entry whose fields were read last lacks a field, and nothing said of it explains that."""
        if field in fields:
            return False
        if type(node) is not Mapping and self._told:
            return False
        return not any(f.message.endswith(f"did you mean '{field}'?") for f in self._told)

    def unknown(self, node: TextNode, name: str, message: str, known: Iterable[str]) -> None:
        """A fault about a word that is none of `known`, with the nearest of them or all of them."""
        listed = list(dict.fromkeys(known))
        hint = self.suggest(name, listed)
        if not hint and listed and len(listed) <= _FEW:
            hint = f"; write {either(listed)}"
        self.fault(node, message + hint)

    def suggest(self, name: str, known: list[str]) -> str:
        """Return `"; did you mean 'x'?"` or nothing; nothing at all after very many faults."""
        self._patience -= len(known)
        if self._patience < 0 or len(name) > _LONGEST:
            return ""
        return suggest(name, known)

    def missing(self, key: TextNode, name: str, message: str) -> None:
        """A fault about something left out of the entry called `name`."""
        self.fault(key, f"'{shown(name)}' {message}")

    # -- values

    def word(self, node: TextNode, known: Collection[str], field: str) -> str | None:
        """A text that must be one of a few."""
        if type(node) is Scalar and node.value in known:
            return str(node.value)
        text = self.text(node, f"the text of '{field}'")
        if text is not None:
            message = f"nothing is written for '{field}'" if not text else f"'{field}' cannot be '{shown(text)}'"
            listed = list(known)
            hint = f"; write {either(listed)}" if len(listed) <= _FEW else self.suggest(text, listed)
            self.fault(node, message + hint)
        return None

    def truth(self, node: TextNode, field: str) -> bool:
        """Whether a field says true."""
        return self.word(node, TRUTH, field) == "true"

    def measure(self, node: TextNode | None, dimension: Dimension, field: str) -> float | None:
        """A quantity in SI units; None where it is left out or faulty."""
        if node is None:
            return None
        if type(node) is Scalar:
            try:
                return quantity.parse(node.value, dimension)
            except QuantityError as error:
                self.fault(node, f"'{field}': {error}")
            return None
        self.text(node, f"{dimension.name}, as in '{dimension.example}',")
        return None

    def amount(self, fields: Fields, key: Key) -> float | None:
        """The quantity under a key in SI units; None where it is left out or faulty."""
        node = fields.get(key.name)
        return None if node is None else self.measure(node, key.dimension, key.name)

    def length(self, fields: Fields, key: Key) -> Metres | None:
        """The length under a key; None where it is left out or faulty."""
        found = self.amount(fields, key)
        return None if found is None else Metres(found)

    def wire(self, fields: Fields, of: str) -> Wire:
        """The fields `wire` and `length` of an entry."""
        made, length = fields.get("wire"), fields.get("length")
        if made is None and length is None:
            return NO_WIRE
        measured = self.measure(length, quantity.LENGTH, "length")
        metres = None if measured is None else Metres(measured)
        text = "" if made is None else self.text(made, f"the wire of {of}")
        if made is None or text is None:
            return Wire("", None, None, metres)
        try:
            conductor = quantity.parse_wire(text)
        except QuantityError as error:
            self.fault(made, f"'wire': {error}")
            return Wire(text, None, None, metres)
        return Wire(text, conductor.ohm_per_m, conductor.area_mm2, metres)

    def colour(self, node: TextNode | None, field: str) -> str:
        """The letters of a colour."""
        text = None if node is None else self.text(node, f"the letters of '{field}'")
        if node is None or text is None:
            return ""
        try:
            return quantity.parse_colour(text)
        except QuantityError as error:
            self.fault(node, f"'{field}': {error}")
            return ""

    def one_or_more(self, node: TextNode, what: str) -> list[TextNode]:
        """The nodes of a list, or the one node that stands in its place."""
        found = list(node.value) if type(node) is Sequence else [node]
        if not found or (type(node) is Scalar and not node.value):
            self.fault(node, f"nothing is named here; {what}")
            return []
        return found

    # -- names

    def name_id(self, node: TextNode | None) -> str:
        """The `id` of an entry, which must be a name of its own."""
        text = None if node is None else self.text(node, "a name")
        if node is None or text is None:
            return ""
        if not text:
            self.fault(node, "an id cannot be empty; write a name or leave 'id' out")
            return ""
        first = self.ids.get(text) or self.known.get(text)
        if first is not None:
            self.fault(node, f"the id '{shown(text)}' is taken: {self.taken(first)}")
            return ""
        self.ids[text] = ("id", node)
        return text

    def taken(self, first: tuple[str, TextNode]) -> str:
        """Words for who has a name, and where."""
        what = THINGS.get(first[0], "an id")
        return f"{what} has it in line {self.line(first[1])}; choose another name"

    def unknown_name(self, node: TextNode, name: str, what: str, known: Iterable[str]) -> None:
        """A fault about a name that is not `what`; silence about one whose own entry is faulty already."""
        if self.silent(name):
            return
        if not name:
            self.fault(node, f"no name is written here; write the name of {what}")
            return
        known = list(known)
        section = self.known.get(name)
        if section is not None:
            hint = self.suggest(name, [k for k in known if k != name])
            self.fault(node, f"'{shown(name)}' is {THINGS[section[0]]}, not {what}{hint}")
            return
        self.unknown(node, name, f"there is no {what.split(' ', 1)[1]} '{shown(name)}'", known)

    def silent(self, name: str) -> bool:
        """Whether what is wrong with a name has been said already."""
        head = name.partition(".")[0]
        return name in self.faulty or head in self.faulty or head in self.refused

    # -- positions

    def find_positioned(self, node: TextNode, name: str) -> Positioned | None:
        """Something with positions, by its name."""
        found = self.positioned.get(name)
        if found is None and name not in self.bar_positions and not self.silent(name):
            bars = [bar for bar in self.bar_positions if bar.startswith(name + ".")]
            if bars:
                self.fault(node, f"'{shown(name)}' has several tie bars; write {either(bars)}")
            else:
                what = "a machine, turnout or switch"
                self.unknown_name(node, name, what, self.positioned)
        return found

    def position(self, node: TextNode, name: str, positioned: Positioned) -> tuple[Value, ...] | None:
        """The values of its variable in which something stands as written."""
        text = self.text(node, f"a position of '{shown(name)}'")
        if text is None:
            return None
        if text in positioned.positions:
            return positioned.values[positioned.positions.index(text)]
        self.fault(node, f"'{shown(name)}' has no position '{shown(text)}'; write {either(positioned.positions)}")
        return None

    def cubes(self, node: TextNode, what: str) -> list[Cube]:
        """A partial position as written, as partial positions of variables (several where a relay repeats one)."""
        found: list[Cube] = [()]
        for name, key, value in self.items(node, what):
            positioned = self.find_positioned(key, name)
            values = None if positioned is None else self.position(value, name, positioned)
            if positioned is None or values is None:
                continue
            pairs = [(positioned.variable, positioned.choices[v]) for v in values]
            found = [(*cube, pair) if pair not in cube else cube for cube in found for pair in pairs]
        return found

    # -- places

    def place(self, node: TextNode) -> Span:
        """The place of a node, quickly."""
        return self.source.span(node.start, node.length)


_LONGEST = 80
_FEW = 14


def either(words: Iterable[str]) -> str:
    """Words in quotes, joined by commas and `or`."""
    quoted = [f"'{shown(word)}'" for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def circles(leads: dict[str, str]) -> list[list[str]]:
    """The circles in which names lead to names, each from its first in the order of the dictionary."""
    order = {name: number for number, name in enumerate(leads)}
    seen: dict[str, str] = {}
    found = []
    for start in leads:
        path: list[str] = []
        here = start
        while here in leads and here not in seen:
            seen[here] = start
            path.append(here)
            here = leads[here]
        if seen.get(here) == start:
            circle = path[path.index(here) :]
            first = circle.index(min(circle, key=order.__getitem__))
            found.append(circle[first:] + circle[:first])
    return found

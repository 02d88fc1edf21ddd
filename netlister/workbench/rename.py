"""A name changed wherever it stands, found by what the schema says may be written at each place.

A word that only looks like the name (a position, a title, a kind) is left alone. What comes of it is read again, and
must be the same circuit but for the name.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from netlister.circuit.build import build
from netlister.edits.patch import scalar
from netlister.edits.tree import tree_of
from netlister.layout.schema import LISTED, NAMED, TOP, Either, EntrySchema, Rows, Text, Under
from netlister.layout.terminal import Terminal
from netlister.workbench.model import AskError

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.edits.tree import Tree
    from netlister.layout.model import Layout
    from netlister.layout.schema import Form
    from netlister.source import Source

NO_NAMES = {"", "a position", "one of its positions", "a kind", "a rail", "a file", "the number of an axle"}
"""What a text may be without being the name of anything in the layout."""


def renamed(source: Source, old: str, new: str) -> str:
    """The text with a thing named otherwise. Raises AskError where nothing has the old name."""
    places = _Places(old, new)
    root = tree_of(source.text)
    for key, value in root.meant.pairs:
        places.section(key.meant.text, value)
    if not places.defined:
        message = f"nothing that can be named is called '{old}'"
        raise AskError(message)
    text = source.text
    for start, end, word in sorted(places.found.values(), reverse=True):
        text = text[:start] + word + text[end:]
    return text


def same_but_for_the_name(before: Layout, after: Layout, old: str, new: str) -> bool:
    """Whether two layouts are one circuit, where everything called `old` is called `new`."""

    def called(name: str) -> str:
        return mapped(name, old, new)

    def as_it_is(name: str) -> str:
        return name

    return bool(_circuit(before, called) == _circuit(after, as_it_is))


def mapped(name: str, old: str, new: str) -> str:
    """A name or terminal under the new name; of a joint that is called by its two ends, each of them."""
    if "/" in name:
        return "/".join(mapped(part, old, new) for part in name.split("/"))
    terminal = Terminal.of(name)
    return str(terminal._replace(owner=new)) if terminal.owner == old else name


def _circuit(layout: Layout, called: Callable[[str], str]) -> Any:
    circuit = build(layout)
    names = [called(name) for name in circuit.names]
    variables = [(called(v.name), v.kind, v.positions) for v in circuit.variables]
    conductors = Counter(
        (frozenset((names[c.a], names[c.b])), c.what, frozenset((variables[v][0], values) for v, values in c.when))
        for c in circuit.conductors
    )
    devices = sorted((called(d.name), d.kind) for d in circuit.devices)
    rails = {names[node] for node in circuit.rails}
    meant = Counter((tuple(map(called, e.pieces)), e.live) for e in layout.expectations)
    left = sorted(called(train.parked) for train in layout.trains.values())
    return set(names), sorted(variables), conductors, devices, rails, meant, left


class _Places:
    """The places of a text at which a name stands, by where they begin: start, end and the new word."""

    def __init__(self, old: str, new: str) -> None:
        self.old = old
        self.new = new
        self.found: dict[int, tuple[int, int, str]] = {}
        self.defined = False

    def section(self, name: str, node: Tree) -> None:
        """Look through a section of the file."""
        form = TOP.get(name)
        if form is None:
            return
        if name in NAMED:
            for key, value in node.meant.pairs:
                if key.meant.text == self.old:
                    self.defined = True
                    self._write(key)
                self._under(NAMED[name], value)
        elif name in LISTED:
            for item in node.meant.items:
                entry = item.value_of("id") if item.meant.kind == "map" else None
                if entry is not None and entry.meant.text == self.old:
                    self.defined = True
                    self._write(entry)
                self._under(LISTED[name], item)

    def _under(self, form: Form, node: Tree) -> None:
        node = node.meant
        match form:
            case Text():
                if node.kind == "scalar" and form.of not in NO_NAMES:
                    self._write(node)
            case Rows():
                for item in node.items if node.kind == "list" else [node]:
                    self._under(form.of, item)
            case Under():
                for key, value in node.pairs:
                    if isinstance(form.of, Text) and form.of.of == "a position":
                        self._write(key)
                    self._under(form.of, value)
            case Either():
                self._either(form, node)
            case EntrySchema():
                for key, value in node.pairs:
                    name = key.meant.text
                    if name in form.keys:
                        self._under(form[name].form, value)
                    elif form.others is not None:
                        self._under(form.others, value)

    def _either(self, form: Either, node: Tree) -> None:
        """Look under the form that fits what is written."""
        fits = {"scalar": (Text,), "map": (Under, EntrySchema), "list": (Rows,)}[node.kind]
        for one in form.forms:
            if isinstance(one, fits):
                self._under(one, node)
                return

    def _write(self, node: Tree) -> None:
        node = node.meant
        word = mapped(node.text, self.old, self.new)
        if word == node.text:
            return
        if node.style in {"|", ">"}:
            raise AskError("the name stands in a block of text; change it by hand")
        self.found[node.start] = (node.start, node.end, scalar(word, node.style))

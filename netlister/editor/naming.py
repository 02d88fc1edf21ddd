"""Names in the text of a layout: where each is given, where it is used, and how it is given another."""

from __future__ import annotations

import re
from collections import Counter
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from netlister.editor.spots import CUBE, is_entry, spots
from netlister.edits.patch import as_yaml
from netlister.layout.forms import Text
from netlister.layout.schema import CONTACT
from netlister.layout.terminal import Terminal, named
from netlister.quantity import shown
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.circuit.model import Circuit
    from netlister.editor.document import OpenDocument
    from netlister.editor.spots import TextSpot
    from netlister.edits.tree import TreeNode

PART, CONTACT_NAME, ID, JUNCTION, KIND = "part", "contact", "id", "junction", "kind"
"""What a name is of: an entry of a section; a contact, with its owner; a joint, feed or wire; a junction; a kind."""

NAMED = (PART, ID, CONTACT_NAME, JUNCTION)
"""What can be named otherwise in the text of a layout."""


class Use(NamedTuple):
    """A name where it stands in the text.

    `what`, `name`: what it is of. `start`, `end`: its place, or that of the whole text it stands in, where that is
    written otherwise than meant. `given`: whether it gets its name here. `node`, `at`: the text in which it stands, and
    behind how many characters of it.
    """

    what: str
    name: str
    start: int
    end: int
    given: bool
    node: TreeNode
    at: int

    @property
    def word(self) -> str:
        """The name as it stands here: without that of its owner."""
        return Terminal.of(self.name).own if self.what == CONTACT_NAME else self.name


@lru_cache(maxsize=1)
def names_of(text: str, tree: TreeNode) -> Names:
    """The names in a text with its tree; those of the last text are kept."""
    return Names(text, tree)


def names_in(document: OpenDocument) -> Names | None:
    """The names in a document's text as it is now, or None where it is no YAML."""
    return None if document.tree is None else names_of(document.text, document.tree)


class NamingError(Exception):
    """A name that cannot be changed as was asked; says why."""


class Replaced(NamedTuple):
    """A piece of text to write in place of another."""

    start: int
    end: int
    text: str


class Names:
    """The names in a text that is YAML."""

    def __init__(self, text: str, tree: TreeNode) -> None:
        self.text = text
        self.listed = list(spots(tree))
        self.entries = {str(s.path[1]): s for s in self.listed if is_entry(s)}
        self.contacts = {
            named(str(s.path[1]), str(s.path[3])): s for s in self.listed if s.role == "name" and _names_contact(s)
        }
        self.uses = sorted(self._uses(), key=lambda use: (use.start, use.end))

    def at(self, offset: int, *, exactly: bool = False) -> Use | None:
        """The name at a place of the text; unless `exactly`, also the last in a text that goes on behind it."""
        found = [use for use in self.uses if use.start <= offset <= use.end]
        if not found and not exactly:
            found = [use for use in self.uses if use.node.start <= offset <= use.node.end][-1:]
        return min(found, key=lambda use: use.end - use.start, default=None)

    def of(self, use: Use) -> list[Use]:
        """Every place of the name, where it is given first."""
        same = {(u.start, u.end): u for u in self.uses if (u.what, u.name) == (use.what, use.name)}
        return sorted(same.values(), key=lambda u: (not u.given, u.start))

    def given(self, what: str, name: str) -> list[Use]:
        """Where a name is given."""
        return [use for use in self.uses if use.given and (use.what, use.name) == (what, name)]

    def called(self, name: str) -> Use | None:
        """Where what is called so in full gets its name (of a contact `M1.frog`); None where nothing is."""
        return next((use for what in NAMED for use in self.given(what, name)), None)

    def all(self) -> list[str]:
        """The full names of all that can be named otherwise."""
        return list(dict.fromkeys(use.name for use in self.uses if use.given and use.what in NAMED))

    def section(self, name: str) -> str:
        """The section that an entry stands in, or nothing."""
        found = self.entries.get(name)
        return str(found.path[0]) if found is not None else ""

    # -- where names stand

    def _uses(self) -> Iterator[Use]:
        ids = {s.node.meant.text for s in self.listed if s.role == "text" and s.key is not None and s.key.name == "id"}
        for spot in self.listed:
            node = spot.node.meant
            if node.kind != "scalar" or not node.text:
                continue
            if is_entry(spot):
                yield self._use(PART, node.text, node, 0, given=True)
            elif spot.role == "name" and _names_contact(spot):
                yield self._use(CONTACT_NAME, named(str(spot.path[1]), node.text), node, 0, node.text, given=True)
            elif spot.role == "variable":
                yield from self._owner(node, 0, node.text)
            elif spot.role == "text" and isinstance(spot.form, Text):
                yield from self._text(spot, node, ids)
            elif spot.role == "text" and spot.form == CUBE:
                yield from self._owner(node, 0, node.text)

    def _text(self, spot: TextSpot, node: TreeNode, ids: set[str]) -> Iterator[Use]:
        assert isinstance(spot.form, Text)
        assert spot.key is not None
        match spot.form.refers:
            case "terminal":
                yield from self._terminal(node)
            case "entry":
                yield from self._owner(node, 0, node.text)
            case "kind":
                yield self._use(KIND, node.text, node, 0)
            case "joint" if node.text in ids:
                yield self._use(ID, node.text, node, 0)
            case "joint":  # the two ends that it joins
                first, _, second = node.text.partition("/")
                yield from self._owner(node, 0, first)
                yield from self._owner(node, len(first) + 1, second)
            case _ if spot.key.name == "id":
                yield self._use(ID, node.text, node, 0, given=True)

    def _owner(self, node: TreeNode, at: int, text: str) -> Iterator[Use]:
        owner = Terminal.of(text).owner
        if owner:
            yield self._use(PART, owner, node, at, owner)

    def _terminal(self, node: TreeNode) -> Iterator[Use]:
        owner, own = Terminal.of(node.text)
        if owner not in self.entries:
            yield self._use(JUNCTION, node.text, node, 0, given=True)
            return
        yield self._use(PART, owner, node, 0, owner)
        first, place = Terminal.of(own)
        if place and named(owner, first) in self.contacts:  # `T1.frog.common`; `T1.frog` is a rail
            yield self._use(CONTACT_NAME, named(owner, first), node, len(owner) + 1, first)

    def _use(  # noqa: PLR0913
        self, what: str, name: str, node: TreeNode, at: int, text: str = "", *, given: bool = False
    ) -> Use:
        """A name that begins `at` so many characters of what is meant by a node."""
        text = text or name
        raw = self.text[node.start : node.end]
        quote = 1 if node.style in {"'", '"'} else 0
        if node.style in {"|", ">"} or raw[quote : len(raw) - quote] != node.text:  # written otherwise than meant
            return Use(what, name, node.start, node.end, given, node, at)
        start = node.start + quote + at
        return Use(what, name, start, start + len(text), given, node, at)

    # -- another name

    def renamed(self, use: Use, new: str) -> list[Replaced]:
        """The edits that give something another name everywhere, in quotes where it needs them. Raises NamingError."""
        if use.what == KIND:
            raise NamingError("a kind has its name in its own file; change it there")
        self._may_be(use, new)
        nodes: dict[int, tuple[TreeNode, list[int]]] = {}
        for one in self.uses:
            if (one.what, one.name) == (use.what, use.name):
                nodes.setdefault(one.node.start, (one.node, []))[1].append(one.at)
        found = []
        for node, places in nodes.values():
            if node.style in {"|", ">"}:
                line = self.text.count("\n", 0, node.start) + 1
                message = f"'{shown(use.word)}' cannot be changed in line {line}, in a block of text; write it plainly"
                raise NamingError(message)
            text = node.text
            for at in sorted(set(places), reverse=True):
                text = text[:at] + new + text[at + len(use.word) :]
            found.append(Replaced(node.start, node.end, as_yaml(text, node.style)))
        return found

    def _may_be(self, use: Use, new: str) -> None:
        """Refuse a name that cannot stand in its place."""
        trouble = ""
        if not new or not new.isprintable() or new != new.strip():
            trouble = "a name is a printable text without a space at either end"
        elif use.what != JUNCTION and "." in new:
            trouble = "a name has no dot, which parts a piece from its rail"
        elif "/" in new:
            trouble = "a name has no stroke, which parts the two ends of a joint"
        elif use.what in {PART, JUNCTION, ID} and self._taken(use, new):
            trouble = f"the name '{shown(new)}' is taken; choose another"
        elif use.what == CONTACT_NAME and named(Terminal.of(use.name).owner, new) in self.contacts:
            trouble = f"there is a contact '{shown(new)}' there already; choose another name"
        if trouble:
            raise NamingError(trouble)

    def _taken(self, use: Use, new: str) -> bool:
        known = {u.name for u in self.uses if u.what in {PART, ID, JUNCTION} and u.name != use.name}
        heads = {Terminal.of(u.name).owner for u in self.uses if u.what == JUNCTION and use.what != JUNCTION}
        return new in known or new in heads or (use.what == JUNCTION and Terminal.of(new).owner in self.entries)


def _names_contact(spot: TextSpot) -> bool:
    """Whether it names a contact of something."""
    owner = ("track", "machines", "switches")
    return (
        len(spot.path) == 4  # noqa: PLR2004 - section, owner, `contacts`, name
        and spot.path[0] in owner
        and spot.path[2] == "contacts"
        and getattr(spot.form, "of", None) is CONTACT
    )


def replaced(text: str, edits: list[Replaced]) -> str:
    """The text with all edits made."""
    for one in sorted(edits, reverse=True):
        text = text[: one.start] + one.text + text[one.end :]
    return text


def rename(document: OpenDocument, offset: int, new: str) -> list[Replaced]:
    """The edits that give what stands at a place another name, everywhere in the text.

    The new text is read, and its circuit is held against the old one: but for the name they are the same, conductor by
    conductor. Raises NamingError where there is no name, or it cannot be changed so.
    """
    now, names = document.current, names_in(document)
    if now is None or names is None:
        raise NamingError("the file as it is cannot be used; mend what is wrong with it first")
    use = names.at(offset, exactly=True)
    if use is None or not names.given(use.what, use.name):
        raise NamingError("there is no name here that can be changed")
    edits = names.renamed(use, new)
    try:
        after = _circuit(document, replaced(document.text, edits))
    except UnusableError as error:
        message = f"with that name the file could not be used: {error.faults[0].message}"
        raise NamingError(message) from None
    if not same_but_for(Renaming.of(use, new), now.analysis.circuit, after):
        raise NamingError("with that name the file would say something else; change it by hand")
    return edits


def _circuit(document: OpenDocument, text: str) -> Circuit:
    """The circuit of a text. Raises UnusableError."""
    from netlister.circuit.build import build
    from netlister.layout.read import read_layout
    from netlister.source import Source

    return build(read_layout(Source(document.name, text), document.folder))


class Renaming(NamedTuple):
    """Another name for one thing. `what`: what it is; `old`, `new`: its full names."""

    what: str
    old: str
    new: str

    @classmethod
    def of(cls, use: Use, new: str) -> Renaming:
        """What is renamed, where something is given a new name at one of its places."""
        return cls(use.what, use.name, named(Terminal.of(use.name).owner, new) if use.what == CONTACT_NAME else new)

    def now(self, text: str) -> str:
        """What a name, a terminal or a joint (also one called by its two ends) is called now."""
        if self.what == JUNCTION:
            return self.new if text == self.old else text
        return "/".join(self._one(part) for part in text.split("/"))

    def _one(self, text: str) -> str:
        if self.what == CONTACT_NAME and text == self.old:  # a rail that is called as the contact is
            return text
        within = self.what != ID and text.startswith(f"{self.old}.")
        return self.new + text[len(self.old) :] if within or text == self.old else text

    def owner(self, text: str) -> str:
        """What has a conductor, as it is called now."""
        return self.new if text == self.old else self.now(text)


def same_but_for(renaming: Renaming, before: Circuit, after: Circuit) -> bool:
    """Whether two circuits are the same, where something in the first has another name in the second."""
    return _said(before, renaming.now, renaming.owner) == _said(after, str, str)


def _said(circuit: Circuit, now: Callable[[str], str], owner: Callable[[str], str]) -> tuple[object, ...]:
    """A circuit, and what is meant of it, as plain values, with every name and `owner` as it is `now`."""
    variables, layout = circuit.variables, circuit.layout
    return (
        {now(name) for name in circuit.names},
        sorted((now(p.name), sorted(map(now, p.supplies))) for p in circuit.poles),
        sorted((now(v.name), v.kind, v.positions) for v in variables),
        Counter(
            (
                now(circuit.names[c.a]),
                now(circuit.names[c.b]),
                c.what,
                owner(c.owner),
                tuple((now(variables[v].name), tuple(values)) for v, values in c.when),
            )
            for c in circuit.conductors
        ),
        sorted(map(now, (circuit.names[n] for n in circuit.rails))),
        sorted((now(d.name), d.kind, now(circuit.names[d.node])) for d in circuit.devices),
        sorted(sorted((now(variables[v].name), int(x)) for v, x in cube) for cube in circuit.never),
        Counter(
            (tuple(map(now, e.pieces)), e.live, tuple((now(v), p) for v, p in e.when)) for e in layout.expectations
        ),
        sorted((now(train.name), now(train.parked)) for train in layout.trains.values()),
        len(layout.notices),
    )


def definition_in_kinds(text: str, name: str) -> int | None:
    """Where a file of kinds gives a kind its name, or None."""
    match = re.search(rf"^(?:\s*-)?\s*kind:\s*([\"']?){re.escape(name)}\1\s*(?:#.*)?$", text, re.MULTILINE)
    return None if match is None else text.index(name, match.start() + match[0].index("kind:") + len("kind:"))

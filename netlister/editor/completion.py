"""What may be written at a place of the text. The text may be half-written: the place is filled in for the parser."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import TYPE_CHECKING, NamedTuple

from netlister.editor.entries import WrittenEntries
from netlister.editor.filling import FILLER, filled_in
from netlister.editor.hover import ALLOW, form_said, kind_of, used_library
from netlister.editor.spots import CUBE, TERMINAL, spots
from netlister.kinds import KindError
from netlister.layout.forms import Amount, Colour, Either, EntrySchema, RailSection, Text, Truth, WireSize, Word
from netlister.layout.schema import COMPONENT, COMPONENTS, CONTACT, NAMED, PIECE, TOP
from netlister.layout.terminal import Terminal, named
from netlister.quantity import COLOURS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.editor.document import OpenDocument
    from netlister.editor.spots import TextSpot
    from netlister.layout.forms import Form

KEY, NAME, WORD, VALUE, PAGE = "key", "name", "word", "value", "page"
"""Kinds of items."""


class Item(NamedTuple):
    """Something that may be written. `text`: what is inserted; `detail`: one line; `says`: more, as Markdown."""

    label: str
    kind: str
    text: str
    detail: str = ""
    says: str = ""


class Offer(NamedTuple):
    """What may be written in place of the text from `start` to `end`."""

    start: int
    end: int
    items: tuple[Item, ...]

    def nearest(self, typed: str) -> tuple[tuple[Item, ...], bool]:
        """At most MOST of them, those that have the signs of what is typed in their order, and whether that is all."""
        if len(self.items) <= MOST:
            return self.items, True
        fitting = [item for item in self.items if _in_order(typed.lower(), item.label.lower())]
        return tuple(fitting[:MOST]), False


MOST = 400
"""Items that are offered at once; the editor asks again when more is typed."""


NOTHING = Offer(0, 0, ())


def _in_order(signs: str, text: str) -> bool:
    """Whether signs stand in a text in their order, with others between."""
    left = iter(text)
    return all(sign in left for sign in signs)


def complete(document: OpenDocument, offset: int) -> Offer:
    """What may be written at a place, in the order in which it is best offered."""
    text = document.text
    comment = _in_comment(text, offset)
    if comment is not None:
        return comment
    if not text.strip():
        return Offer(offset, offset, (Item("format", KEY, "format: netlister/1", "begin a layout"),))
    found = filled_in(text, offset)
    if found is None:
        return NOTHING
    filled, tree = found
    spot = next((s for s in spots(tree) if s.node.kind == "scalar" and FILLER in s.node.text), None)
    if spot is None:
        return NOTHING
    typed, _, rest = spot.node.text.partition(FILLER)
    start, end = offset - len(typed), offset + len(rest)
    if text[start:end] != typed + rest:  # in quotes with escapes, or over several lines
        start, end = offset, offset
    known = used_library(document)
    items = tuple(_Offers(filled, tree, known).of(spot, typed))
    return Offer(start, end, items)


def _in_comment(text: str, offset: int) -> Offer | None:
    """Rules, in a comment that allows one; nothing in any other comment; None outside of comments."""
    start = max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1
    line = text[start:offset]
    allow = ALLOW.search(line)
    if allow is not None and allow.end() == len(line):
        from netlister.rules import RULES

        items = tuple(Item(r.name, WORD, r.name, r.title, f"# {r.name}: {r.document.strip()}") for r in RULES)
        return Offer(start + allow.start(1), offset, items)
    mark = re.search(r"(?:^|\s)#", line)
    return NOTHING if mark is not None and line.count('"') % 2 == 0 and line.count("'") % 2 == 0 else None


class _Offers(WrittenEntries):
    """What may be written at a spot of a tree, of which one text is the filler."""

    def of(self, spot: TextSpot, typed: str) -> Iterator[Item]:
        if spot.role == "section":
            yield from self._sections()
        elif spot.role in {"key", "unknown", "position"} and spot.schema is not None:
            yield from self._keys(spot)
        elif spot.role == "variable":
            yield from self._variables()
        elif spot.role == "option":
            yield from self._option_values(spot)
        elif spot.role == "text" and isinstance(spot.form, EntrySchema):
            yield from self._keys(spot._replace(schema=spot.form, entry=None))
        elif spot.role == "text" and spot.form is not None:
            yield from self._values(spot, spot.form, typed)
        elif spot.role == "name" and spot.path[-2:-1] == ("colours",):
            yield from (Item(letter, KEY, f"{letter}: ") for letter in "AB")

    # -- keys

    def _sections(self) -> Iterator[Item]:
        there = {key.meant.text for key, _ in self.tree.pairs}
        for name, key in TOP.items():
            if name not in there:
                yield Item(name, KEY, "format: netlister/1" if name == "format" else f"{name}:", key.says)

    def _keys(self, spot: TextSpot) -> Iterator[Item]:
        assert spot.schema is not None
        there = {key.meant.text for key, _ in spot.entry.pairs} if spot.entry is not None else set()
        if spot.schema is PIECE:
            yield from (item for item in self._piece_keys(spot) if item.label not in there)
            return
        if spot.schema is CONTACT:
            owner = str(spot.path[1])
            for position in self.positions(owner):
                if position not in there:
                    yield Item(position, KEY, f"{position}: ", f"the throw of '{owner}' at {position}")
        kind = kind_of(spot.entry) if spot.schema is COMPONENT else ""
        for key in spot.schema.row:
            some_take_it = any(key.name in of.takes for of in COMPONENTS.values())
            if kind in COMPONENTS and some_take_it and key.name not in COMPONENTS[kind].takes:
                continue
            if key.name not in there:
                yield Item(key.name, KEY, f"{key.name}: ", key.says, form_said(key.form))

    def _piece_keys(self, spot: TextSpot) -> Iterator[Item]:
        """The keys that a piece of its kind takes, and its options."""
        name = kind_of(spot.entry)
        try:
            takes = self.known.takes(name)
            kind = self.known.kind(name, next(iter(takes.hands), ""))
            definition = self.known.definition(name)
        except KindError:
            yield Item("kind", KEY, "kind: ", PIECE["kind"].says)
            return
        for key in PIECE.row:
            if kind.takes(key.name):
                yield Item(key.name, KEY, f"{key.name}: ", key.says, form_said(key.form))
        for option, values in takes.options.items():
            note = definition.option_notes.get(option)
            yield Item(option, KEY, f"{option}: ", note.what if note else "", "one of " + ", ".join(values))

    # -- values

    def _values(self, spot: TextSpot, form: Form, typed: str) -> Iterator[Item]:
        match form:
            case Word():
                yield from self._words(spot, form)
            case Truth():
                yield from (Item(word, WORD, word) for word in ("true", "false"))
            case Either(forms):
                for one in forms:
                    if not isinstance(one, EntrySchema):
                        yield from self._values(spot, one, typed)
            case Amount(dimension):
                number = re.match(r"\s*[0-9.]+", typed)
                said = dimension.name
                if number:
                    yield from (
                        Item(f"{number[0].strip()} {u}", VALUE, f"{number[0].strip()} {u}", said)
                        for u in dimension.listed
                        if u
                    )
                else:
                    yield Item(dimension.example, VALUE, dimension.example, said)
            case WireSize():
                sizes = ("0.25 mm2", "0.5 mm2", "0.75 mm2", "1 mm2", "1.5 mm2", "2.5 mm2", "AWG 24", "AWG 20", "AWG 14")
                yield from (Item(size, VALUE, size) for size in sizes)
            case Colour():
                yield from (Item(letters, WORD, letters, name) for letters, name in COLOURS.items())
            case RailSection():
                yield from self._rail_sections()
            case Text():
                yield from self._texts(spot, form, typed)
            case _:
                if form == CUBE:
                    yield from self._variables()

    def _words(self, spot: TextSpot, form: Word) -> Iterator[Item]:
        words: Iterable[str] = form.words
        if spot.schema is PIECE and spot.key is not None and spot.key.name == "hand":
            with suppress(KindError):
                words = self.known.takes(kind_of(spot.entry)).hands or words
        for word in words:
            means = COMPONENTS[word].means if spot.schema is COMPONENT and word in COMPONENTS else ""
            yield Item(word, WORD, word, means)

    def _rail_sections(self) -> Iterator[Item]:
        from netlister.volts.values import default_values

        sections = [name for name in default_values()["rails"] if name.startswith("code-")]
        yield from (Item(name, WORD, name, "a rail section") for name in sections)

    def _option_values(self, spot: TextSpot) -> Iterator[Item]:
        try:
            values = self.known.takes(kind_of(spot.entry)).options.get(str(spot.path[-1]), ())
        except KindError:
            return
        yield from (Item(value, WORD, value) for value in values)

    def _texts(self, spot: TextSpot, form: Text, typed: str) -> Iterator[Item]:  # noqa: C901 - one text after the other
        of = form.of
        if form == TERMINAL:
            yield from self._terminals(typed)
        elif of == "a kind":
            for name in self.known.names():
                found = self.known.definition(name)
                yield Item(name, WORD, name, found.title, found.summary)
        elif of == "an end":
            yield from self._ends(typed)
        elif of == "a piece or an end":
            yield from self._parts(("track",))
            yield from self._ends(typed)
        elif of == "a rail":
            yield from (Item(side, WORD, side) for side in ("left", "right"))
            yield from self._rails_of_target(spot)
        elif of == "the terminal of a frog":
            for name, kind in self.pieces():
                yield from (Item(named(name, r), NAME, named(name, r), kind.title) for r in kind.frogs)
        elif of == "a position":
            yield from self._positions_here(spot)
        elif of == "one of its positions":
            yield from (Item(p, WORD, p) for p in self.positions(str(spot.path[1])))
        elif of == "a turnout or tie bar":
            for name, kind in self.pieces():
                for bar in kind.bars:
                    text = named(name, bar.name) if bar.name and len(kind.bars) > 1 else name
                    yield Item(text, NAME, text, kind.title)
        elif of == "a joint":
            yield from (Item(u.name, NAME, u.name, "a joint") for u in self.names.uses if u.what == "id")
        elif of in _SECTIONS:
            yield from self._parts(_SECTIONS[of])
        elif of == "a pole of another supply":
            for item in self._parts(("supplies",)):
                yield from (Item(named(item.label, p), NAME, named(item.label, p)) for p in "AB")

    def _parts(self, sections: tuple[str, ...]) -> Iterator[Item]:
        for name, spot in self.names.entries.items():
            section = str(spot.path[0])
            if section in sections and FILLER not in name:
                form = NAMED[section]
                yield Item(name, NAME, name, form.thing if isinstance(form, EntrySchema) else "a board")

    def _variables(self) -> Iterator[Item]:
        yield from (item._replace(text=f"{item.label}: ") for item in self._parts(("machines", "switches")))
        for name, kind in self.pieces():
            for bar in kind.bars:
                text = named(name, bar.name) if bar.name and len(kind.bars) > 1 else name
                yield Item(text, NAME, f"{text}: ", kind.title)

    def _positions_here(self, spot: TextSpot) -> Iterator[Item]:
        """Positions, where a position is due: of what the key names, or of what is followed."""
        owner = str(spot.path[-1]) if isinstance(spot.path[-1], str) else ""
        if owner == "straight" or "straight" in spot.path:
            follows = spot.entry.value_of("follows") if spot.entry is not None else None
            owner = follows.meant.text if follows is not None else ""
        yield from (Item(p, WORD, p, f"a position of '{owner}'") for p in self.positions(owner))

    def _terminals(self, typed: str) -> Iterator[Item]:
        """Terminals of what is named before the dot, or of everything."""
        owner = Terminal.of(typed).owner if "." in typed else ""
        for name, spot in self.names.entries.items():
            if FILLER in name or (owner and name != owner):
                continue
            section = str(spot.path[0])
            yield from (Item(t, NAME, t, says) for t, says in self._terminals_of(name, section, own=bool(owner)))

    def _terminals_of(self, name: str, section: str, *, own: bool) -> Iterator[tuple[str, str]]:
        if section in {"supplies", "buses", "reversers"}:
            yield from ((named(name, pole), "a pole") for pole in "AB")
        elif section == "track":
            kind = self.kind(name)
            if kind is not None:
                yield from ((named(name, rail), kind.title) for rail in kind.rails if rail not in kind.sealed)
                ends = kind.ends if own else ()
                yield from ((named(name, named(e, side)), "at that end") for e in ends for side in ("left", "right"))
        if own:
            for contact in self.names.contacts:
                of, last = Terminal.of(contact)
                if of == name:
                    places = ("common", *self.positions(name))
                    yield from ((named(contact, place), f"of contact '{last}'") for place in places)

    def _ends(self, typed: str) -> Iterator[Item]:
        owner = Terminal.of(typed).owner if "." in typed else ""
        used = {
            s.node.meant.text
            for s in self.names.listed
            if s.role == "text" and isinstance(s.form, Text) and s.form.of == "an end"
        }
        for name, kind in self.pieces():
            if owner and name != owner:
                continue
            if kind.plain and not owner:
                yield Item(name, NAME, name, "the rail-section: its b under 'from', its a under 'to'")
            for end in kind.ends:
                text = named(name, end)
                if text not in used:
                    yield Item(text, NAME, text, kind.title)

    def _rails_of_target(self, spot: TextSpot) -> Iterator[Item]:
        to = spot.entry.value_of("to") if spot.entry is not None else None
        first = to.meant.items[0] if to is not None and to.meant.items else to
        kind = self.kind(Terminal.of(first.meant.text).owner) if first is not None else None
        if kind is not None and not kind.plain:
            yield from (Item(rail, WORD, rail, kind.title) for rail in kind.rails)


_SECTIONS: dict[str, tuple[str, ...]] = {
    "a supply": ("supplies",),
    "a bus": ("buses", "supplies"),
    "a bus, supply or reverser": ("buses", "supplies", "reversers"),
    "a machine or turnout": ("machines", "track"),
    "a machine, turnout or switch": ("machines", "switches", "track"),
    "a piece": ("track",),
    "a load": ("components",),
    "a piece or gear": (
        *("track", "machines", "switches", "reversers", "frog-units", "components", "plugs", "supplies"),
    ),
}
"""The sections whose entries a text names."""

"""The table of names of all sections, and what a terminal as written means."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout._context import THINGS, either
from netlister.layout.model import Notice
from netlister.layout.schema import POLES
from netlister.quantity import shown
from netlister.source import Mapping, Scalar

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout._context import LayoutReader
    from netlister.layout.model import Component, Link, Pin
    from netlister.source import Span, TextNode


def register(r: LayoutReader) -> None:
    """Enter the names of all sections, in the order of the file, and note their entries."""
    for section, (_, values) in r.sections.items():
        if section in THINGS:
            _register_section(r, section, values)


def _register_section(r: LayoutReader, section: str, values: TextNode) -> None:
    entries, known = r.entries_of[section], r.known
    if type(values) is not Mapping:
        for _ in r.items(values, f"{THINGS[section]} under its name"):
            pass
        return
    for key, value in values.value:
        name = key.value
        if type(name) is str and name not in known and "." not in name and name and name.isprintable():
            known[name] = (section, key)
            entries.append((name, key, value))
        else:
            _register_slowly(r, section, key, value)


def _register_slowly(r: LayoutReader, section: str, key: TextNode, value: TextNode) -> None:
    if type(key) is not Scalar:
        r.fault(key, "a name is due here, not a list or a mapping")
        return
    name = key.value
    if not name:
        r.fault(key, f"the name of {THINGS[section]} is empty; write one")
        return
    if "." in name or not name.isprintable():
        fault = "has a dot, which parts a piece from its rail" if "." in name else "has characters that do not print"
        instead = "".join(c if c.isprintable() and c != "." else "-" for c in name)
        r.fault(key, f"the name '{shown(name)}' {fault}; write '{shown(instead)}'")
        r.refused.add(name.partition(".")[0])
        return
    first = r.known[name]
    if {first[0], section} == {"supplies", "buses"} and name not in r.doubled:
        r.doubled.add(name)
        r.entries_of[section].append((name, key, value))  # a bus may have its supply's name
    elif first[0] == section:
        line = r.line(first[1])
        r.fault(key, f"'{shown(name)}' is here a second time; it stands in line {line} already")
    else:
        r.fault(key, f"the name '{shown(name)}' is taken: {r.taken(first)}")


# -- terminals


def terminal(r: LayoutReader, node: TextNode) -> str | None:
    """The canonical name of the terminal or junction written at a node; a junction is counted."""
    if type(node) is not Scalar:
        r.text(node, "a terminal, as in 'T1.frog',")
        return None
    text = node.value
    found = r.terminals.get(text)
    if found is not None:
        return found
    head, _, tail = text.partition(".")
    piece = r.layout.pieces.get(head)
    if piece is not None and tail in piece.kind.rails:
        if tail in piece.kind.sealed:
            no_wire(r, node, head, tail)
            return None
        r.terminals[text] = text
        return str(text)
    if head in r.known:
        found = _known_terminal(r, node, text, head, tail)
        if found is not None:
            r.terminals[text] = found
        return found
    if not text:
        r.fault(node, "no terminal is written here; write one, as in 'T1.frog', 'main.A' or 'TB1.3'")
        return None
    if r.refused and r.silent(text):
        return None
    r.junctions.setdefault(text, []).append(node)
    return str(text)


def bus_at(r: LayoutReader, node: TextNode | None) -> str:
    """The bus or supply whose pole is written at a node, or nothing."""
    if type(node) is not Scalar:
        return ""
    head, _, tail = node.value.partition(".")
    return head if tail in POLES and (head in r.layout.buses or head in r.layout.supplies) else ""


def end_at(r: LayoutReader, node: TextNode | None) -> str:
    """The end of a piece that is written at a node, as `b` in `siding.b.left`, or nothing."""
    if type(node) is not Scalar:
        return ""
    head, _, tail = node.value.partition(".")
    end, dot, _ = tail.partition(".")
    piece = r.layout.pieces.get(head)
    return end if dot and piece is not None and end in piece.kind.ends else ""


def no_wire(r: LayoutReader, node: TextNode, piece: str, rail: str) -> None:
    """Say that a rail has no wire that something could be put to."""
    options = r.layout.pieces[piece].kind.options
    said = " and ".join(f"'{option}: {value}'" for option, value in options)
    r.fault(node, f"'{shown(piece)}.{rail}' has no wire to it, as {said} says; fit one, or put nothing to it")


def _known_terminal(r: LayoutReader, node: TextNode, text: str, head: str, tail: str) -> str | None:
    """A terminal of something known by its name, or a fault."""
    if head in r.faulty:
        return None
    poles = r.sources.get(head)
    if poles is not None and tail in POLES:
        return poles[POLES.index(tail)]
    first, _, last = tail.partition(".")
    piece = r.layout.pieces.get(head)
    if piece is not None and last in {"left", "right"} and first in piece.kind.ends:
        end = piece.kind.ends[first]
        return f"{head}.{end.left if last == 'left' else end.right}"
    positions = r.contacts.get(head, {}).get(first)
    if positions is not None and (last == "common" or last in positions):
        return str(text)
    _no_terminal(r, node, head, tail)
    return None


def terminals_of(r: LayoutReader, name: str) -> list[str]:
    """Every way to write a terminal of something, rails first."""
    found = []
    piece = r.layout.pieces.get(name)
    if piece is not None:
        found += [f"{name}.{rail}" for rail in piece.kind.rails]
        found += [f"{name}.{end}.{side}" for end in piece.kind.ends for side in ("left", "right")]
    if name in r.sources:
        found += [f"{name}.{letter}" for letter in POLES]
    for contact, positions in r.contacts.get(name, {}).items():
        found += [f"{name}.{contact}.{place}" for place in ("common", *dict.fromkeys(positions))]
    return found


def _no_terminal(r: LayoutReader, node: TextNode, head: str, tail: str) -> None:
    thing = THINGS[r.known[head][0]]
    known = terminals_of(r, head)
    if not known:
        r.fault(node, f"'{shown(head)}' is {thing} and has no terminals; name a rail, a pole or a contact's terminal")
        return
    if not tail:
        message = f"'{shown(head)}' is {thing}, not one of its terminals"
        hint = ""
    else:
        message = f"'{shown(head)}' has no terminal '{shown(tail)}'"
        hint = r.suggest(f"{head}.{tail}", known)
    piece = r.layout.pieces.get(head)
    listed = known[: len(piece.kind.rails)] if piece is not None else known[:9]
    r.fault(node, message + (hint or f"; write {either(listed)}"))


def lone_junctions(r: LayoutReader) -> None:
    """Warn of every free junction that is named only once."""
    lone = {name: nodes[0] for name, nodes in r.junctions.items() if len(nodes) == 1}
    if not lone:
        return
    candidates = list(r.junctions)
    heads = list(r.known)
    for name, node in lone.items():
        hint = r.suggest(name, [c for c in candidates if c != name])
        if not hint:
            hint = _near_terminal(r, name, heads)
        fix = f"write the same name at the other end of the wire{hint}"
        message = f"the junction '{shown(name)}' is named only here, so what is wired to it goes nowhere"
        r.layout.notices.append(Notice("lone-junction", name, message, fix, r.place(node)))


def joined_to_themselves(r: LayoutReader) -> None:
    """Warn of every wire, component, pin and throw that joins a terminal to itself, as written: no strap, no detour."""
    for subject, what, ends, there, span in _joining(r):
        if ends[0] == ends[1] and there[0] == there[1]:
            name = shown(ends[0] or "")
            message = f"{what} leads from '{name}' to the same '{name}', and so joins nothing"
            fix = "write the terminal that the other end is really wired to, or leave it out"
            r.layout.notices.append(Notice("joins-nothing", subject, message, fix, span))


_Joining = tuple[str, str, tuple[str | None, str | None], tuple[tuple[str, str], tuple[str, str]], "Span"]
"""A name, what it is, its terminals, per terminal the bus and the end of a piece written there, and its place."""


def _joining(r: LayoutReader) -> Iterator[_Joining]:
    """All that joins two terminals."""
    layout = r.layout
    for link in layout.links:
        yield link.name or "/".join(link.ends), "this wire", link.ends, _written(link), link.span
    for component in layout.components.values():
        name = component.name
        yield name, f"the {component.kind} '{shown(name)}'", component.ends, _written(component), component.span
    for pin in layout.pins:
        yield pin.full, f"pin '{shown(pin.pin)}' of '{shown(pin.plug)}'", pin.ends, _written(pin), pin.span
    for contact in layout.contacts:
        common, *throws = zip(contact.buses, contact.ends_at, strict=True)
        for (position, to), there, span in zip(contact.throws, throws, contact.throw_spans, strict=True):
            if to is not None:
                what = f"the throw '{shown(position)}' of '{shown(contact.full)}'"
                yield contact.full, what, (contact.common, to), (common, there), span


def _written(entry: Link | Component | Pin) -> tuple[tuple[str, str], tuple[str, str]]:
    """Per terminal the bus and the end of a piece that are written there: two ends of one rail are two places."""
    (one, other), (first, second) = entry.buses, entry.ends_at
    return (one, first), (other, second)


def _near_terminal(r: LayoutReader, name: str, heads: list[str]) -> str:
    """A suggestion from the terminals of the thing whose name is nearest."""
    head, _, tail = name.partition(".")
    near = r.suggest(head, heads)
    if not near or not tail:
        return ""
    thing = near[len("; did you mean '") : -len("'?")]
    return r.suggest(f"{thing}.{tail}", terminals_of(r, thing))

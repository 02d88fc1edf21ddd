"""What a word of a layout means, shown where the pointer rests on it, as Markdown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from netlister.editor.naming import CONTACT_NAME, KIND, PART, names_in
from netlister.editor.poles import poles_said, poles_when
from netlister.editor.spots import spot_at
from netlister.kinds import KindError, library
from netlister.layout.forms import Amount, EntrySchema, Truth, Under, WireSize, Word
from netlister.layout.schema import COMPONENTS, NAMED, PIECE
from netlister.layout.terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.editor.document import Checked, OpenDocument
    from netlister.editor.naming import Names, Use
    from netlister.editor.spots import TextSpot
    from netlister.edits.tree import TreeNode
    from netlister.kinds import Library
    from netlister.layout.forms import Form, Key
    from netlister.layout.model import Layout

ALLOW = re.compile(r"#\s*netlister:\s*allow\s+([\w-]*)")
"""A comment that allows a finding, as far as it is typed."""

MOST_RAILS = 16
"""Rails of one piece whose poles are told."""


class Meaning(NamedTuple):
    """What is shown of a piece of the text."""

    start: int
    end: int
    markdown: str


def hover(document: OpenDocument, offset: int) -> Meaning | None:
    """What stands at a place: a name with its poles, a key, a kind, a rule in a comment; None: nothing known."""
    rule = _rule(document.text, offset)
    names = names_in(document)
    if rule is not None or names is None:
        return rule
    use = names.at(offset)
    if use is not None:
        told = list(_of_name(document, names, use, offset))
        if told:
            return Meaning(use.start, use.end, "\n\n".join(told))
    spot = spot_at(names.listed, offset)
    if spot is None:
        return None
    text = _of_spot(document, spot)
    return Meaning(spot.node.start, spot.node.end, text) if text else None


# -- rules


def _rule(text: str, offset: int) -> Meaning | None:
    start = max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1
    for match in ALLOW.finditer(text, start):
        if match.start(1) <= offset <= match.end(1):
            page = rule_page(match[1])
            return Meaning(match.start(1), match.end(1), page) if page else None
        if match.start() > offset:
            break
    return None


def rule_page(name: str) -> str:
    """The page of a rule, or nothing where there is none."""
    from netlister.rules import BY_NAME

    return f"# {name}: {BY_NAME[name].document.strip()}" if name in BY_NAME else ""


def rule_summary(name: str) -> str:
    """The page of a rule without its examples, or nothing where there is none."""
    page = rule_page(name)
    parts = re.split(r"(?m)^(?=## )", page)
    kept = [part.strip() for part in parts if not part.startswith(("## Fails", "## Passes"))]
    return "\n\n".join(kept) + f"\n\n`netlister explain {name}` shows examples." if page else ""


# -- names


def _of_name(document: OpenDocument, names: Names, use: Use, offset: int) -> Iterator[str]:
    if use.what == KIND:
        yield from _kind(used_library(document), use.name)
    elif use.what == CONTACT_NAME:
        owner, contact = Terminal.of(use.name)
        yield f"**{use.name}**: changeover contact '{contact}' of '{owner}'"
        yield from _contact(document.checked, use.name)
    elif use.what == PART:
        section = names.section(use.name)
        form = NAMED.get(section)
        thing = form.thing if isinstance(form, EntrySchema) else "a board" if form else "nothing known"
        yield f"**{use.name}**: {thing}"
        terminal = _terminal(document.checked, use, offset)
        if terminal:
            yield from _poles(document, [terminal])
        elif section == "track":
            yield from _piece(document, use.name)
        yield from _positions(document.checked, use.name)


def used_library(document: OpenDocument) -> Library:
    """The kinds that the text may use: with those of its own files as they last could be read."""
    known = document.checked.layout.library if document.checked is not None else None
    return known if known is not None else library()


def _kind(known: Library, name: str) -> Iterator[str]:
    from netlister.outputs.kind_text import kind_page

    try:
        hands = known.takes(name).hands
        hand = "right" if "right" in hands else next(iter(hands), "")
        yield f"```text\n{kind_page(known, name, hand).strip()}\n```"
    except KindError as error:
        yield str(error)


def _piece(document: OpenDocument, name: str) -> Iterator[str]:
    checked = document.checked
    piece = checked.layout.pieces.get(name) if checked is not None else None
    if checked is None or piece is None:
        return
    hand = f", {piece.kind.hand}-hand" if piece.kind.hand and piece.kind.hand != "wye" else ""
    yield f"{piece.kind.title} (`{piece.kind.name}`{hand})"
    rails = [piece.terminal(rail) for rail in piece.kind.rails]
    yield from _poles(document, rails[:MOST_RAILS])


def _poles(document: OpenDocument, terminals: list[str]) -> Iterator[str]:
    checked = document.checked
    if checked is None:
        return
    rows = [
        f"| `{terminal}` | {poles_said(poles_when(checked.analysis, terminal))} |"
        for terminal in terminals
        if terminal in checked.analysis.circuit.node
    ]
    if rows:
        yield "\n".join(["| terminal | pole |", "| --- | --- |", *rows]) + _as_it_was(document)


def _as_it_was(document: OpenDocument) -> str:
    return "" if document.current is not None else "\n\n*of the text as it last could be checked*"


def _terminal(checked: Checked | None, use: Use, offset: int) -> str:
    """The terminal that is written where the name stands, by the name that the circuit has for it."""
    if checked is None or use.given or "." not in use.node.text or offset > use.node.end:
        return ""
    text = use.node.text
    circuit = checked.analysis.circuit
    if text in circuit.node:
        return text
    owner, own = Terminal.of(text)
    bus = checked.layout.buses.get(owner)
    if bus is not None and own in {"A", "B"}:
        return bus.poles[0 if own == "A" else 1]
    piece = checked.layout.pieces.get(owner)
    end, side = Terminal.of(own)
    if piece is None or end not in piece.kind.ends or side not in {"left", "right"}:
        return ""
    found = piece.kind.ends[end]
    return piece.terminal(found.left if side == "left" else found.right)


def _positions(checked: Checked | None, name: str) -> Iterator[str]:
    """What positions something has, or what moves it."""
    if checked is None:
        return
    layout = checked.layout
    variable = layout.variables.get(name)
    if variable is not None:
        yield f"positions: {', '.join(variable.positions)}"
    thrown = layout.machines.get(name, ())
    if thrown:
        yield f"throws {', '.join(thrown)}"
    for bar in _bars(layout, name):
        thrower = layout.bars[bar].variable
        if thrower not in {name, bar}:
            pairs = zip(layout.variables[thrower].positions, layout.bars[bar].positions, strict=True)
            yield f"thrown by {thrower}: " + ", ".join(f"{bar} {own} at {thrower} {of}" for of, own in pairs)
        elif bar != name:
            yield f"{bar}: {', '.join(layout.bars[bar].positions)}"


def _bars(layout: Layout, name: str) -> tuple[str, ...]:
    piece = layout.pieces.get(name)
    return tuple(bar for bar in piece.bars if bar in layout.bars) if piece is not None else ()


def _contact(checked: Checked | None, name: str) -> Iterator[str]:
    for contact in checked.layout.contacts if checked is not None else ():
        if contact.full == name:
            common = contact.common or "nothing"
            throws = "; ".join(f"{position}: to {end or 'nothing'}" for position, end in contact.throws)
            yield f"common: {common}; {throws}"


# -- keys and values


def _of_spot(document: OpenDocument, spot: TextSpot) -> str:
    key = spot.key
    if spot.role in {"section", "key"} and key is not None:
        return f"**{key.name}**: {_said(key)}"
    if spot.role in {"unknown", "option"} and spot.schema is PIECE and len(spot.path) > 2:  # noqa: PLR2004
        return _option(document, spot)
    if spot.role == "text" and key is not None:
        if key.name == "kind" and spot.node.text in COMPONENTS:
            return f"**{spot.node.text}**: {COMPONENTS[spot.node.text].means}"
        return f"**{key.name}**: {_said(key)}"
    return ""


def _said(key: Key) -> str:
    default = f" Left out: {key.default}." if key.default else ""
    required = " Required." if key.required else ""
    takes = form_said(key.form)
    return f"{key.says}{default}{required}" + (f"\n\n{takes}" if takes else "")


def form_said(form: Form) -> str:
    """What may be written, in words; nothing where the meaning of the key says it."""
    match form:
        case Amount(dimension):
            units = ", ".join(unit for unit in dimension.listed if unit)
            return f"{dimension.name}, as in `{dimension.example}`" + (f"; units: {units}" if units else "")
        case Word(words):
            return "one of " + ", ".join(f"`{word}`" for word in words)
        case Truth():
            return "`true` or `false`"
        case WireSize():
            return "a cross-section `2.5 mm2`, a gauge number `AWG 14`, or a resistance per length `20 mohm/m`"
        case Under(EntrySchema() as of):
            return of.says
        case _:
            return ""


def _option(document: OpenDocument, spot: TextSpot) -> str:
    """What an option of a kind is."""
    name, option = kind_of(spot.entry), str(spot.path[-1])
    try:
        definition = used_library(document).definition(name)
    except KindError:
        return ""
    if option not in definition.options:
        return ""
    note = definition.option_notes.get(option)
    values = ", ".join(f"`{value}`" for value in definition.options[option][0])
    left_out = f" Left out: `{note.default}`." if note is not None and note.default else ""
    return f"**{option}** (of `{name}`): {note.what if note is not None else 'an option'}.{left_out}\n\none of {values}"


def kind_of(entry: TreeNode | None) -> str:
    """The kind that the entry of a piece names, or that it has without a name."""
    found = entry.value_of("kind") if entry is not None else None
    return found.meant.text if found is not None and found.meant.text else "rail-section"

"""The outline of a layout: its sections, their entries, and the contacts of each."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.editor.hover import kind_of
from netlister.layout.schema import NAMED, TOP

if TYPE_CHECKING:
    from netlister.edits.tree import TreeNode

SECTION, PART, CONTACT, ENTRY = "section", "part", "contact", "entry"


class Outlined(NamedTuple):
    """Something in the outline. `start`, `end`: all of it; `name_start`, `name_end`: its name."""

    name: str
    detail: str
    what: str
    start: int
    end: int
    name_start: int
    name_end: int
    inner: tuple[Outlined, ...] = ()


def outline(tree: TreeNode) -> list[Outlined]:
    """The outline of a text."""
    found = []
    for key, value in tree.pairs if tree.kind == "map" else ():
        name = key.meant.text
        inner: list[Outlined] = []
        if name in NAMED and value.meant is value:
            inner = [_part(name, one, of) for one, of in value.pairs]
        elif value.meant is value and value.kind == "list":
            inner = [_row(number, item) for number, item in enumerate(value.items, 1)]
        says = TOP[name].says if name in TOP else ""
        found.append(_one(name, says, SECTION, (key, value), tuple(inner)))
    return found


def _one(
    name: str, detail: str, what: str, pair: tuple[TreeNode, TreeNode], inner: tuple[Outlined, ...] = ()
) -> Outlined:
    key, value = pair
    return Outlined(name or "?", detail, what, key.start, max(key.end, value.end), key.start, key.end, inner)


def _part(section: str, key: TreeNode, value: TreeNode) -> Outlined:
    contacts = value.value_of("contacts") if value.meant is value else None
    inner = [_one(k.meant.text, "contact", CONTACT, (k, v)) for k, v in contacts.pairs] if contacts is not None else []
    return _one(key.meant.text, kind_of(value) if section == "track" else "", PART, (key, value), tuple(inner))


def _row(number: int, item: TreeNode) -> Outlined:
    told = {k.meant.text: _short(v) for k, v in item.meant.pairs}
    name = told.get("id") or " to ".join(told[k] for k in ("from", "to") if told.get(k)) or f"entry {number}"
    return Outlined(name, "", ENTRY, item.start, max(item.end, item.start), item.start, max(item.end, item.start))


def _short(node: TreeNode) -> str:
    node = node.meant
    return ", ".join(map(_short, node.items)) if node.items else node.text

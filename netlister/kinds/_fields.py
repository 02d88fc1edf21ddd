"""The keys of a mapping, each one of a few."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.quantity import shown
from netlister.source import suggest

if TYPE_CHECKING:
    from netlister.source import Reader, TextNode


def fields_of(reader: Reader, node: TextNode, what: str, has: str, keys: tuple[str, ...]) -> dict[str, TextNode]:
    """The values by key. Another key than one of `keys` is a fault; `has` says whose it is: "a kind has"."""
    found: dict[str, TextNode] = {}
    for name, key, value in reader.items(node, what):
        if name in keys:
            found[name] = value
        else:
            hint = suggest(name, keys) or f"; the keys are {', '.join(keys)}"
            reader.fault(key, f"{has} no '{shown(name)}'{hint}")
    return found

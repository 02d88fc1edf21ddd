"""Whether two layouts say the same, entry by entry, wherever it stands in the file."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from netlister.kinds.model import Kind
from netlister.source import Span

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.layout.model import Layout

_NO_MATTER = {"name", "notices", "library", "use", "drawing"}
"""Fields of a layout that follow from the rest, or from the name of the file."""

_DROPPED = {
    "joints": {"insulate"},  # the word; what it means is in the pairs
    "feeds": {"target"},
    "contacts": {"throw_spans", "ends_at", "buses"},
    "components": {"ends_at", "buses"},
    "pins": {"ends_at", "buses"},
    "links": {"ends_at", "buses"},
}
"""Fields of entries that say how something is written."""


def differences(wanted: Layout, read: Layout) -> list[str]:
    """What differs between two layouts, in words; nothing where they are the same but for places and order.

    A bus that an end of `wanted` names must be named in `read`, too.
    """
    found = []
    for field in fields(wanted):
        if field.name in _NO_MATTER:
            continue
        a, b = getattr(wanted, field.name), getattr(read, field.name)
        if isinstance(a, dict):
            for key in a.keys() | b.keys():
                if key not in a or key not in b or _said(field.name, a[key]) != _said(field.name, b[key]):
                    found.append(f"'{key}' under {field.name}")
        elif isinstance(a, list):
            left = Counter(_said(field.name, entry) for entry in a)
            left.subtract(Counter(_said(field.name, entry) for entry in b))
            found += [f"{field.name}: {_shown(entry)}" for entry, count in left.items() if count]
        elif a != b:
            found.append(field.name)
    return found or _buses(wanted, read)


def _shown(entry: object) -> str:
    text = str(entry)
    return text if len(text) < 160 else text[:157] + "…"  # noqa: PLR2004


def _said(section: str, entry: Any) -> Any:
    """An entry without places, as a value that can be compared."""
    dropped = _DROPPED.get(section, set())
    if hasattr(entry, "_fields"):
        parts = [
            (name, tuple(sorted(value)) if name == "wires" else _bare(value))
            for name, value in zip(entry._fields, entry, strict=True)
            if name not in dropped and not isinstance(value, Span)
        ]
        return tuple(parts)
    return _bare(entry)


def _bare(value: Any) -> Any:
    if isinstance(value, Span):
        return None
    if isinstance(value, Kind):
        return value.name, value.hand, tuple(sorted(value.options))
    if isinstance(value, dict):
        return tuple(sorted((key, _bare(inner)) for key, inner in value.items()))
    if isinstance(value, tuple) and type(value) is tuple:
        return tuple(_bare(inner) for inner in value)
    return value


def _buses(wanted: Layout, read: Layout) -> list[str]:
    """Ends that name another bus than is meant."""
    keys: dict[str, Callable[[Any], Any]] = {
        "contacts": lambda e: (e.owner, e.name),
        "pins": lambda e: (e.plug, e.pin),
        "links": lambda e: (e.name, e.ends),
        "components": lambda e: e.name,
    }
    found = []
    for section, key in keys.items():
        a, b = getattr(wanted, section), getattr(read, section)
        named: dict[Any, Counter[tuple[str, ...]]] = {}
        for entry in b.values() if isinstance(b, dict) else b:
            named.setdefault(key(entry), Counter())[entry.buses] += 1
        for entry in a.values() if isinstance(a, dict) else a:
            there = named.get(key(entry), Counter())
            fits = [
                buses
                for buses, count in there.items()
                if count and all(not want or want == has for want, has in zip(entry.buses, buses, strict=False))
            ]
            if fits:
                there[fits[0]] -= 1
            else:
                found.append(f"the bus at {key(entry)}")
    return found

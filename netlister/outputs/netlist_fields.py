"""Fields of the parts of a netlist: what a layout says of an entry, as text."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.forms import Amount, Truth
from netlister.layout.schema import LIMITS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.layout.forms import EntrySchema
    from netlister.layout.model import Expectation, Train, Wire

PartFields = tuple[tuple[str, str], ...]


def sets_text(sets: dict[str, list[dict[str, str]]]) -> str:
    """The positions that set the tracks of a crossing; where a track has several, in a list."""
    return field_text({track: cubes[0] if len(cubes) == 1 else cubes for track, cubes in sets.items()} or "")


def expectation_value(expectation: Expectation, loads: list[str]) -> dict[str, object]:
    """An entry of `expect`, as a value that `field_text` writes."""
    found: dict[str, object] = {}
    for key, names in (("track", [p for p in expectation.pieces if p not in loads]), ("load", loads)):
        if named := [p for p in names if p in expectation.pieces]:
            found[key] = named
    found["is"] = "live" if expectation.live else "dead"
    if expectation.when:
        found["when"] = dict(expectation.when)
    return found


def train_value(train: Train) -> dict[str, object]:
    """An entry of `trains`, as a value that `field_text` writes."""
    found: dict[str, object] = {
        "length": amount(train.length, "m"),
        "current": amount(train.current, "A"),
        "axles": [amount(place, "m") for place in train.axles],
        "wheel": amount(train.wheel, "m"),
        "parked": train.parked,
    }
    every = tuple(range(1, len(train.axles) + 1))
    for name, numbers in (("left", train.left), ("right", train.right)):
        if numbers != every:
            found[name] = [str(n) for n in numbers]
    found["conducting"] = [str(n) for n in train.conducting]
    found["carries-on"] = amount(train.carries_on, "m")
    row = [amount(ohm, "ohm") or "metal" for ohm in train.resistances]
    found["axle-resistance"] = row[0] if len(set(row)) == 1 and row[0] != "metal" else row
    return {name: value for name, value in found.items() if value or name in {"left", "right"}}


def limit_text(name: str, value: float) -> str:
    """A limit with its unit."""
    if name == "drop":
        return amount(value * 100, "%")
    return amount(value, LIMITS[name].dimension.si)


_BARE = re.compile(r"[A-Za-z0-9_][\w./+-]*( [\w./%+-]+)*")


def field_text(value: object) -> str:
    """A value of a field as a line of YAML: texts, lists and mappings."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{field_text(name)}: {field_text(inner)}" for name, inner in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(field_text(inner) for inner in value) + "]"
    text = str(value)
    if not text or _BARE.fullmatch(text):
        return text
    return json.dumps(text, ensure_ascii=False)


def listed(values: Iterable[str | dict[str, str]]) -> str:
    """A row of names as a field: `T1, T2`, and where they are not all plain as a line of YAML."""
    row = list(values)
    if all(isinstance(v, str) and _BARE.fullmatch(v) for v in row):
        return ", ".join(str(v) for v in row)
    return field_text(row) if row else ""


def filled(*fields: tuple[str, str]) -> PartFields:
    """The fields that say something."""
    return tuple(field for field in fields if field[1])


def amount(value: float | None, unit: str) -> str:
    """A quantity as text, or nothing."""
    return "" if value is None else f"{value:.9g} {unit}".rstrip()


def wire_fields(wire: Wire) -> dict[str, str]:
    """The fields of a wire."""
    return {"wire": wire.text, "length": amount(wire.length, "m")}


def entry_fields(entry: EntrySchema, thing: NamedTuple, **others: str) -> PartFields:
    """The fields of an entry, in the order of its keys: values that are not kept as the schema says are `others`."""
    found = []
    for key in entry.row:
        if not key.field:
            continue
        if key.name in others:
            text = others[key.name]
        else:
            value = getattr(thing, key.attribute)
            if isinstance(key.form, Amount):
                text = amount(value, key.dimension.si)
            else:
                text = ("true" if value else "") if isinstance(key.form, Truth) else str(value)
        found.append((key.field, text))
    return filled(*found)

"""The JSON Schema of layout files, draft-07: completion and hover in editors. It follows from `layout.schema`.

An editor reads `1` as a number and `true` as a truth value, where the reader of layouts takes the text as written; so
a text may be any scalar here. What a schema cannot say (that a name is known, that an end is joined once) only
`netlister check` finds.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from netlister.layout.forms import (
    Amount,
    Colour,
    Either,
    EntrySchema,
    RailSection,
    Rows,
    Text,
    Truth,
    Under,
    WireSize,
    Word,
)
from netlister.layout.schema import COMPONENT, COMPONENTS, PIECE, PLAIN, TOP
from netlister.quantity import AREA, COLOURS, PER_LENGTH
from netlister.rules import RULES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.kinds import Library
    from netlister.layout.forms import Form, Key
    from netlister.quantity import Dimension
    from netlister.rules.model import Rule

Schema = dict[str, Any]

_DRAFT = "http://json-schema.org/draft-07/schema#"
_NUMBER = r"\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*"
_SCALAR: Schema = {"type": ["string", "number", "boolean", "null"]}
_GAUGE = r"(-?[0-9]{1,3}|0{2,4}|[1-4]/0)"
_COMPONENT_KEYS = frozenset(key for kind in COMPONENTS.values() for key in kind.takes)


def text(library: Library, rules: Iterable[Rule] = RULES) -> str:
    """The schema as the text of a file; the same kinds and rules give the same text."""
    return json.dumps(json_schema(library, rules), indent=1, ensure_ascii=False) + "\n"


def json_schema(library: Library, rules: Iterable[Rule] = RULES) -> Schema:
    """The schema as an object, with all kinds of a library, their options, and all rules."""
    properties = {name: _described(key) for name, key in TOP.items()}
    kinds = library.names()
    properties["track"] = _under({"$ref": "#/definitions/piece"}) | {"description": TOP["track"].says}
    known: Schema = {"properties": {"track": {"additionalProperties": {"$ref": "#/definitions/known"}}}}
    named = [rule.name for rule in rules]
    return {
        "$schema": _DRAFT,
        "title": "A layout file of netlister",
        "type": "object",
        "required": [name for name, key in TOP.items() if key.required],
        "additionalProperties": False,
        "properties": properties,
        "if": {"not": {"required": ["use"]}},
        "then": known,
        "definitions": {
            "piece": _piece(library),
            "kind": _choice((name, library.definition(name).summary) for name in kinds),
            "known": {"properties": {"kind": {"$ref": "#/definitions/kind"}}},
            "rule": _choice((rule.name, rule.title) for rule in rules),
            "allow": {
                "description": "The text of a comment that allows a finding, after 'netlister:'.",
                "type": "string",
                "pattern": f"^allow ({'|'.join(re.escape(name) for name in named)}): *\\S",
            },
        },
    }


# -- pieces of track


def _piece(library: Library) -> Schema:
    """A piece of track: the keys of all kinds, and what each kind takes of them."""
    properties = {key.name: _described(key) for key in PIECE.row}
    properties["kind"] = {
        "description": f"{PIECE['kind'].says} Left out: {PLAIN}.",
        "anyOf": [{"$ref": "#/definitions/kind"}, {"type": "string"}],
    }
    options: dict[str, set[str]] = {}
    for name in library.names():
        for option, said in library.definition(name).option_notes.items():
            options.setdefault(option, set()).add(said.what)
    for option, says in options.items():
        properties[option] = {"description": "; ".join(sorted(filter(None, says))) or option}
    rules = [_of_kind(library, name) for name in library.names()]
    return {"type": ["object", "null"], "description": PIECE.says, "properties": properties, "allOf": rules}


def _of_kind(library: Library, name: str) -> Schema:
    """What a piece of one kind takes."""
    takes = library.takes(name)
    kind = library.kind(name, next(iter(takes.hands), ""))
    fields: Schema = {"hand": {"enum": list(takes.hands)}} if takes.hands else {}
    for option, values in takes.options.items():
        if takes.number is not None and takes.number.option == option:
            counts = range(takes.number.least, takes.number.most + 1)
            fields[option] = {"enum": [*counts, *map(str, counts)]}
        else:
            fields[option] = _words(values)
    keys = [key.name for key in PIECE.row if kind.takes(key.name)]
    if takes.number is not None and takes.number.was:
        keys.append(takes.number.was)
    kept = {"required": ["hand"]} if takes.hands else {}
    chosen: Schema = {"properties": {"kind": {"const": name}}, "type": "object"}
    return {
        "if": chosen if name == PLAIN else chosen | {"required": ["kind"]},
        "then": {"propertyNames": {"enum": [*keys, *takes.options]}, "properties": fields, **kept},
    }


# -- forms


def _described(key: Key) -> Schema:
    """What may stand under a key, with its meaning."""
    says = f"{key.says} Left out: {key.default}." if key.default else key.says
    return {"description": says, **_form(key.form)}


def _form(form: Form) -> Schema:  # noqa: PLR0911
    match form:
        case Amount(dimension):
            return _amount(dimension)
        case Word(words):
            return _words(words)
        case Truth():
            return {"enum": [True, False, "true", "false"]}
        case WireSize():
            units = "|".join(re.escape(unit) for unit in (*AREA.units, *PER_LENGTH.units))
            gauge = rf"\s*([Aa][Ww][Gg]\s*{_GAUGE}|{_GAUGE}\s*[Aa][Ww][Gg])\s*"
            return {"type": "string", "pattern": f"^({_NUMBER}({units})\\s*|{gauge})$"}
        case Colour():
            letters = "|".join(COLOURS)
            return {"type": "string", "pattern": f"^({letters}){{1,2}}$"}
        case RailSection():
            ohms = _amount(PER_LENGTH)
            section = {"type": "string", "pattern": r"^code-[0-9]{1,4}(-brass)?$"}
            return {"anyOf": [section, ohms]}
        case Rows(of, alone):
            inner = _form(of)
            row: Schema = {"type": ["array", "null"], "items": inner}
            return {"anyOf": [inner, row]} if alone else row
        case Under(of, names):
            return _under(_form(of), names)
        case Either(forms):
            return {"anyOf": [_form(one) for one in forms]}
        case Text():
            return _SCALAR
        case _:
            return _entry(form)


def _under(inner: Schema, names: tuple[str, ...] = ()) -> Schema:
    found: Schema = {"type": ["object", "null"], "additionalProperties": inner}
    return found | ({"propertyNames": {"enum": list(names)}} if names else {})


def _entry(entry: EntrySchema) -> Schema:
    """An entry with its keys."""
    required = [key.name for key in entry.row if key.required]
    found: Schema = {
        "type": "object",
        "description": entry.says,
        "properties": {key.name: _described(key) for key in entry.row},
        "additionalProperties": _form(entry.others) if entry.others else False,
    }
    if not required:
        found["type"] = ["object", "null"]
    if required:
        found["required"] = required
    if entry is COMPONENT:
        found["properties"]["kind"] |= _choice((kind.name, kind.means) for kind in COMPONENTS.values())
        found["allOf"] = [_of_component(name) for name in COMPONENTS]
        found["properties"]["rating"] = {"description": COMPONENT["rating"].says}
    if any(key.name == "accessory" for key in entry.row):
        found["required"] = [name for name in required if name != "type"]
        found["anyOf"] = [{"required": ["type"]}, {"required": ["accessory"]}]
    return found


def _of_component(name: str) -> Schema:
    """What a component of one kind takes."""
    kind = COMPONENTS[name]
    keys = [key.name for key in COMPONENT.row if key.name not in _COMPONENT_KEYS or key.name in kind.takes]
    return {
        "if": {"properties": {"kind": {"const": name}}, "required": ["kind"]},
        "then": {"propertyNames": {"enum": keys}, "properties": {"rating": _amount(kind.rating)}},
    }


def _amount(dimension: Dimension) -> Schema:
    """A quantity as text; a plain number may be a number."""
    units = "|".join(re.escape(unit) for unit in dimension.units if unit)
    said: Schema = {"type": "string", "pattern": f"^{_NUMBER}({units})\\s*$", "examples": [dimension.example]}
    if units:
        return said
    return {"anyOf": [{"type": "number", "minimum": 0}, said | {"pattern": f"^{_NUMBER}$"}]}


def _words(words: Iterable[str]) -> Schema:
    """A few words; those that an editor reads as something else stand for it, too."""
    listed: list[object] = []
    for word in words:
        listed += {"true": [True], "false": [False]}.get(word, [])
        listed.append(word)
    return {"enum": listed}


def _choice(words: Iterable[tuple[str, str]]) -> Schema:
    """One of some words, each with its meaning."""
    return {"oneOf": [{"const": word, "description": says} for word, says in words]}

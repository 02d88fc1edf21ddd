"""`netlister schema`: what the reader takes, the schema takes; what is misspelt, it does not. Judged by jsonschema."""

from __future__ import annotations

import json
import re
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner
from jsonschema import Draft7Validator

from netlister.cli.main import group
from netlister.kinds import library
from netlister.layout.read import read_layout
from netlister.layout.schema import COMPONENTS, TOP
from netlister.outputs.json_schema import json_schema, text
from netlister.rules import RULES
from netlister.source import Source, UnusableError
from tests.as_json import as_json
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout

ROOT = Path(__file__).parents[1]
LIBRARY = library()
SCHEMA = json_schema(LIBRARY)
JUDGE = Draft7Validator(SCHEMA)
FILES = sorted((ROOT / "examples").glob("*/layout.yaml"))
BLOCKS = re.findall(
    r"^```yaml\n(format:.*?)^```$", (ROOT / "netlister" / "manual" / "format.md").read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
)  # fmt: skip


def wrong(written: str) -> list[str]:
    return [f"{'/'.join(map(str, error.path))}: {error.message[:200]}" for error in JUDGE.iter_errors(as_json(written))]


def test_it_is_a_schema_of_draft_07():
    Draft7Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "http://json-schema.org/draft-07/schema#"
    assert text(LIBRARY) == CliRunner().invoke(group, ["schema"]).output


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.name)
def test_every_example_validates(path):
    assert wrong(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("block", BLOCKS)
def test_every_layout_of_the_reference_validates(block):
    assert wrong(block) == []


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_layout_of_the_manual_validates(rule):
    """All but those that are meant not to be usable."""
    for block in re.findall(r"^```yaml\n(.*?)^```", rule.document, re.DOTALL | re.MULTILINE):
        try:
            read_layout(Source("layout.yaml", block))
        except UnusableError:
            continue
        assert wrong(block) == []


@pytest.mark.parametrize("seed", range(150))
def test_every_random_layout_that_the_reader_takes_validates(seed):
    written = dump(random_layout(Random(seed)) if seed % 3 else random_gear(Random(seed)))
    read_layout(Source("layout.yaml", written))
    assert wrong(written) == []


SMALL = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 1 m}
  T1: {kind: insulated-frog, hand: left, jumpers: true}
  TT: {kind: turntable, roads: 3}
components: {F1: {kind: breaker, from: main.A, to: TB1.1, trip-time: 20 ms}}
joints: [{from: line, to: T1.toe, insulate: none}]
feeds: [{to: line, at: 20 mm}]
trains: {goods: {length: 1 m}}
limits: {joiners: 2}
"""

MISSPELT = [
    ("track:", "trakc:"),
    ("voltage:", "votlage:"),
    ("type: dcc", "type: dc3"),
    ("15 V", "15"),
    ("15 V", "15 mm"),
    ("length: 1 m}\n  T1", "lenght: 1 m}\n  T1"),
    ("insulated-frog", "insulted-frog"),
    ("hand: left", "hand: lft"),
    (", hand: left", ""),
    ("jumpers: true", "jumper: true"),
    ("jumpers: true", "jumpers: maybe"),
    ("roads: 3", "roads: 300"),
    ("roads: 3", "jumpers: true"),
    ("length: 1 m}\n  T1", "frog: dead}\n  T1"),
    ("kind: breaker", "kind: braker"),
    ("kind: breaker", "kind: diode"),
    ("insulate: none", "insulate: nothing"),
    ("at: 20 mm", "att: 20 mm"),
    ("to: line, at", "too: line, at"),
    ("goods: {length", "goods: {width"),
    ("joiners: 2", "joiner: 2"),
    ("joiners: 2", "joiners: 2 m"),
    ("netlister/1", "netlister/7"),
]


def test_a_small_layout_validates():
    assert wrong(SMALL) == []
    read_layout(Source("layout.yaml", SMALL))


@pytest.mark.parametrize(("right", "slip"), MISSPELT)
def test_what_is_misspelt_does_not_validate(right, slip):
    """Neither the reader takes it nor the schema."""
    assert right in SMALL
    written = SMALL.replace(right, slip)
    assert wrong(written) != []
    with pytest.raises(UnusableError):
        read_layout(Source("layout.yaml", written))


def test_a_misspelt_rule_does_not_validate():
    rule = Draft7Validator(SCHEMA | {"$ref": "#/definitions/rule"})
    allow = Draft7Validator(SCHEMA | {"$ref": "#/definitions/allow"})
    for known in RULES:
        assert rule.is_valid(known.name)
        assert allow.is_valid(f"allow {known.name}: fed by hand")
    assert not rule.is_valid("pole-shrot")
    assert not allow.is_valid("allow pole-shrot: fed by hand")
    assert not allow.is_valid("allow pole-short:")


def test_kinds_of_a_users_own_are_taken_where_the_layout_uses_files():
    own = SMALL.replace("insulated-frog, hand: left, jumpers: true", "wharf, tide: high")
    assert wrong(own) != []
    assert wrong("use: wharf.yaml\n" + own) == []


def test_each_key_kind_option_and_rule_has_a_description():
    """What an editor shows on hovering: nothing goes without."""
    bare = []

    def look(schema, where):
        for name, inner in schema.get("properties", {}).items():
            if not inner.get("description") and "if" not in where[-2:]:
                bare.append((*where, name))
        for name, inner in schema.items():
            if isinstance(inner, dict) and name not in {"then", "if", "known"}:
                look(inner, (*where, name))

    look(SCHEMA, ())
    assert [name for name in bare if "definitions" not in name or "piece" in name] == []
    described = {choice["const"] for choice in SCHEMA["definitions"]["kind"]["oneOf"] if choice["description"]}
    assert described == set(LIBRARY.names())
    assert all(choice["description"] for choice in SCHEMA["definitions"]["rule"]["oneOf"])
    assert set(SCHEMA["properties"]) == set(TOP)
    assert len(COMPONENTS) == len(
        SCHEMA["properties"]["components"]["additionalProperties"]["properties"]["kind"]["oneOf"]
    )


def test_start_names_the_schema_only_where_it_lies_beside_the_layout(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run = CliRunner()
    assert run.invoke(group, ["start", "first.yaml"]).exit_code == 0
    assert "yaml-language-server" not in (tmp_path / "first.yaml").read_text(encoding="utf-8")
    assert run.invoke(group, ["schema", "-o", "netlister.schema.json"]).exit_code == 0
    assert json.loads((tmp_path / "netlister.schema.json").read_text(encoding="utf-8")) == SCHEMA
    assert run.invoke(group, ["start", "second.yaml"]).exit_code == 0
    first = (tmp_path / "second.yaml").read_text(encoding="utf-8").splitlines()[0]
    assert first == "# yaml-language-server: $schema=netlister.schema.json"
    assert run.invoke(group, ["check", "second.yaml"]).exit_code == 0

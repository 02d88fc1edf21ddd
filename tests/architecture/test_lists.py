"""What is added must be in every list that should have it; held by additions that are made here and must be missed.

Lists that follow from the code (explain, the JSON Schema, symbols, did-you-mean) are asked whether they do.
"""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pytest
from click.testing import CliRunner

from netlister import quantity, rules
from netlister.cli.main import COMMANDS, group
from netlister.kinds import Library
from netlister.kinds.find import folder
from netlister.layout import forms, schema
from netlister.layout.forms import Amount, EntrySchema, Key
from netlister.layout.schema import COMPONENT_KINDS, ComponentKind
from netlister.outputs import glossary
from netlister.outputs.json_schema import json_schema
from netlister.outputs.symbols import all_symbols
from netlister.repairs.model import weights
from netlister.rules import MENDED, RULES, pole_short
from netlister.workbench.asks import ASKS
from tests.properties import reference as oracle

if TYPE_CHECKING:
    from netlister.rules.model import Rule

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "netlister"

TOLD_UNMENDED = {
    "hand-reversing": "is meant to be so",
    "metal-buffer": "its message says all",
    "districts-crossed": "which bus was meant, only the modeller knows",
    "reverser-fed-by-blades": "wants a new feed at a place that only the modeller knows",
    "detectors-apart": "is a matter of style",
    "detector-bypassed": "wants a wire laid elsewhere",
    "breaker-bypassed": "wants a wire laid elsewhere",
    "frog-on-other-supply": "its message says all",
    "component-bridged": "wants a gap or a wire taken away, which only the modeller knows",
    "diode-turned": "its message says all",
    "load-unpowered": "which pole was meant, only the modeller knows",
    "supply-voltage": "wants another supply",
    "breaker-order": "wants another breaker",
    "wire-load": "wants thicker wire or a breaker",
    "wire-colour": "wants other wire",
    "board-crossing": "wants a plug",
    "throw-short": "its message says all",
    "nose-bridge": "wants a file and varnish",
    "blade-fed": "wants one more feed; its message says where",
    "unit-race": "wants another device",
    "reversing-route": "wants a reverser, which 'propose' adds",
    "reversing-length": "wants a longer section",
    "stall": "wants another locomotive or feed",
    "parked": "wants the vehicle elsewhere",
    "unmeasured": "wants a length, time or current",
    "old-word": "its message says all",
}
"""Rules of a plain check whose findings have no repair, and why."""


class Lists(NamedTuple):
    """Everything that is listed somewhere."""

    rules: tuple[Rule, ...]
    kinds: tuple[str, ...]
    sections: dict[str, forms.Form]
    components: tuple[ComponentKind, ...]
    commands: tuple[str, ...]
    outputs: tuple[str, ...]
    format_page: str
    readme: str
    decisions: tuple[str, ...]
    asks: tuple[str, ...]
    trials: tuple[str, ...]


def modules(package: str) -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in (PACKAGE / package).glob("*.py") if path.stem != "__init__"))


def as_they_are() -> Lists:
    decisions = PACKAGE / "manual" / "decisions"
    return Lists(
        RULES,
        tuple(Library().names()),
        {**schema.NAMED, **schema.LISTED},
        COMPONENT_KINDS,
        COMMANDS,
        (*modules("outputs"), *modules("papers"), *modules("formats"), "deck", "schematic"),
        (ROOT / "netlister" / "manual" / "format.md").read_text(encoding="utf-8"),
        (ROOT / "README.md").read_text(encoding="utf-8"),
        tuple(sorted(path.name for path in decisions.glob("*.md"))),
        tuple(ASKS),
        tuple(weights()),
    )


def missing(lists: Lists) -> list[str]:
    """What is missing, and where."""
    found = [*_rules(lists), *_kinds(lists), *_keys(lists), *_commands(lists), *_asks(lists), *_trials(lists)]
    return found + [f"no command writes the output '{name}'" for name in lists.outputs if name not in _written()]


def _rules(lists):
    page = lists.format_page
    listed = {rule.RULE.name for rule in vars(rules).values() if hasattr(rule, "RULE")}
    for rule in lists.rules:
        if f"`{rule.name}`" not in page:
            yield f"the reference lacks the rule '{rule.name}'"
        if rule.default and rule.name not in {*MENDED, *TOLD_UNMENDED} and not _reading(rule):
            yield f"neither do repairs try the rule '{rule.name}' nor is it said why not"
        if rule.name not in listed and not _reading(rule):
            yield f"'rules/__init__.py' does not list '{rule.name}'"
    for path in (PACKAGE / "rules").glob("*.py"):
        made = re.findall(r"^RULE = rule\(\s*(?:name=)?\"([\w-]+)\"", path.read_text(encoding="utf-8"), re.MULTILINE)
        for name in made:
            if name not in {rule.name for rule in lists.rules}:
                yield f"'{path.name}' makes the rule '{name}', which is not listed"


def _reading(rule):
    return rule in rules.reading.RULES or rule in rules.allowing.RULES


def _kinds(lists):
    for kind in lists.kinds:
        if f"| `{kind}` |" not in lists.format_page:
            yield f"the reference lacks the kind '{kind}'"
        if kind not in {*oracle.FIXED_KINDS, *oracle.OPTIONAL_KINDS, *TWO_WAY}:
            yield f"tests/properties/reference.py has no table of the kind '{kind}', typed by hand"
    for kind in lists.kinds:
        for option in _options(kind):
            if f"`{option}`" not in lists.format_page:
                yield f"the reference lacks the option '{option}'"
    count = re.search(r"one of (\d+) kinds", lists.readme)
    if count is None or int(count[1]) != len(lists.kinds):
        yield f"the README does not count {len(lists.kinds)} kinds"


@cache
def _options(kind):
    library = Library()
    return tuple(library.takes(kind).options) if kind in library.names() else ()


TWO_WAY = {
    *("live-frog", "live-frog-bonded", "isolated-metal-frog", "insulated-frog", "catch-turnout"),
    *("copper-clad-live-frog", "single-blade-live"),
}


def _keys(lists):
    for section, form in lists.sections.items():
        if f"`{section}`" not in lists.format_page and f"### {section}" not in lists.format_page:
            yield f"the reference lacks the section '{section}'"
        rows = _rows_of(lists.format_page, section)
        for key in form.row if isinstance(form, EntrySchema) else ():
            if f"`{key.name}`" not in rows and f"`{key.name}:" not in rows:
                yield f"the reference lacks the key '{key.name}' of '{section}'"
            if section != "components" and key.name not in _texts_in(
                "layout"
            ):  # whose quantities are read by the table
                yield f"no reader looks at the key '{key.name}' of '{section}'"
            if not key.says.endswith(".") or len(key.says) < 8:
                yield f"the key '{key.name}' of '{section}' has no sentence that says what it means"
            words = key.form.words if isinstance(key.form, forms.Word) else ()
            for word in () if section == "components" else words:
                if f"`{word}`" not in rows and f": {word}`" not in rows:
                    yield f"the reference lacks the word '{word}' of '{key.name}' of '{section}'"
    for top in schema.TOP:
        if f"`{top}`" not in lists.format_page and f"`{top}:" not in lists.format_page:
            yield f"the reference lacks '{top}'"
    for limit in schema.LIMITS.row:
        if limit.name not in _texts_in("rules") | _texts_in("volts"):
            yield f"nothing is held to the limit '{limit.name}'"
        if f"{limit.name}:" not in lists.format_page:
            yield f"the reference lacks the limit '{limit.name}'"
    rows = _rows_of(lists.format_page, "components")
    for kind in lists.components:
        if f"`{kind.name}`" not in rows:
            yield f"the reference lacks the component '{kind.name}'"


SHARED = {"both": {"machines", "switches"}, "units, automatic reversers": {"frog-units", "reversers"}}
"""Rows of the reference that are of two sections."""


def _rows_of(page, section):
    """The rows of the reference's tables that are of a section."""
    found, owners, heading = [], set(), ""
    for line in page.splitlines():
        if line.startswith("#"):
            heading = line.lstrip("# ")
        if not line.startswith("|"):
            owners = {heading}
            continue
        first = line.split("|")[1].strip()
        if first.startswith("`") and first.strip("`") in {*schema.NAMED, *schema.LISTED}:
            owners = {first.strip("`")}
        elif first in SHARED:
            owners = SHARED[first]
        if section in owners:
            found.append(line)
    return "\n".join(found)


def _commands(lists):
    told = re.findall(r"`([a-z-]+)`", lists.readme.partition("## Commands\n")[2].partition("\n## ")[0])
    for command in lists.commands:
        if command not in told:
            yield f"the README lacks the command '{command}'"
        if not (PACKAGE / "cli" / f"{command.replace('-', '_')}.py").is_file():
            yield f"there is no module for the command '{command}'"
    for path in (PACKAGE / "cli").glob("*.py"):
        name = path.stem.replace("_", "-")
        if "@click.command(" in path.read_text(encoding="utf-8") and name not in lists.commands:
            yield f"'cli/main.py' does not list the command '{name}'"


def _asks(lists):
    offered = (PACKAGE / "report" / "edit.js").read_text(encoding="utf-8")
    tried = (ROOT / "tests" / "workbench" / "test_texts.py").read_text(encoding="utf-8")
    for ask in lists.asks:
        if f'do: "{ask}"' not in offered:
            yield f"the page does not offer '{ask}'"
        if not re.search(rf'do"?[:=] ?"{ask}"', tried):
            yield f"no text of '{ask}', as a person would type it, stands in tests/workbench/test_texts.py"
    for ask in re.findall(r'do: "([a-z-]+)"', offered):
        if ask not in {*lists.asks, "mend", "mend-all", "propose"}:  # these three the desk searches for itself
            yield f"'workbench/asks.py' does not list '{ask}', which the page offers"


def _trials(lists):
    texts = _texts_in("repairs/choices")
    for trial in lists.trials:
        if trial not in texts:
            yield f"no choice in 'repairs/choices/' is called '{trial}', which has a weight"


@cache
def _texts_in(package):
    """Every text in the modules of a package; of `layout` but for the tables that say what a layout may hold."""
    paths = [path for path in (PACKAGE / package).rglob("*.py") if path.stem not in {"schema", "forms", "devices"}]
    nodes = [node for path in paths for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))]
    return {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}


@cache
def _written():
    """The modules of outputs that some command, page or paper imports, or that such a module imports."""
    found = set()
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                parts = node.module.split(".")
                if len(parts) > 1 and parts[0] == "netlister" and parts[1] in {"outputs", "papers", "formats"}:
                    found |= {*parts[2:], *(alias.name for alias in node.names)}
            elif isinstance(node, ast.Constant) and isinstance(node.value, str) and path.parent.name == "cli":
                found.add(node.value)
    return found


def test_nothing_is_missing():
    assert missing(as_they_are()) == []


# -- additions that must be missed, or must be there by themselves

TOY_RULE = replace(pole_short.RULE, name="toy-rule", document="A toy is on the track.\n")


def toys() -> list[tuple[Lists, set[str]]]:
    real = as_they_are()
    key = Key("colour-of-box", Amount(quantity.LENGTH), "The colour of the box it came in.", field="Colour of box")
    box = EntrySchema("a box", "A box.", key)
    coil = ComponentKind("coil", "L", "Coil in a wire", "A coil.", takes=("inductance",))
    return [
        (
            real._replace(rules=(*real.rules, TOY_RULE)),
            {
                "the reference lacks the rule 'toy-rule'",
                "neither do repairs try the rule 'toy-rule' nor is it said why not",
                "'rules/__init__.py' does not list 'toy-rule'",
            },
        ),
        (
            real._replace(rules=real.rules[1:]),
            {"'pole_short.py' makes the rule 'pole-short', which is not listed"},
        ),
        (
            real._replace(kinds=(*real.kinds, "toy-kind")),
            {
                "the reference lacks the kind 'toy-kind'",
                "tests/properties/reference.py has no table of the kind 'toy-kind', typed by hand",
                f"the README does not count {len(real.kinds) + 1} kinds",
            },
        ),
        (
            real._replace(sections={**real.sections, "boxes": box}),
            {
                "the reference lacks the section 'boxes'",
                "the reference lacks the key 'colour-of-box' of 'boxes'",
                "no reader looks at the key 'colour-of-box' of 'boxes'",
            },
        ),
        (real._replace(components=(*real.components, coil)), {"the reference lacks the component 'coil'"}),
        (
            real._replace(commands=(*real.commands, "toy")),
            {"the README lacks the command 'toy'", "there is no module for the command 'toy'"},
        ),
        (
            real._replace(commands=real.commands[1:]),
            {f"'cli/main.py' does not list the command '{real.commands[0]}'"},
        ),
        (real._replace(outputs=(*real.outputs, "toy_output")), {"no command writes the output 'toy_output'"}),
        (
            real._replace(asks=(*real.asks, "toy-ask")),
            {
                "the page does not offer 'toy-ask'",
                "no text of 'toy-ask', as a person would type it, stands in tests/workbench/test_texts.py",
            },
        ),
        (
            real._replace(asks=tuple(ask for ask in real.asks if ask != "join")),
            {"'workbench/asks.py' does not list 'join', which the page offers"},
        ),
        (
            real._replace(trials=(*real.trials, "toy-trial")),
            {"no choice in 'repairs/choices/' is called 'toy-trial', which has a weight"},
        ),
    ]


@pytest.mark.parametrize("number", range(len(toys())))
def test_an_addition_that_is_not_listed_is_missed(number):
    lists, expected = toys()[number]
    assert set(missing(lists)) == expected


NO_NAME = {"", "a position", "one of its positions", "a rail", "a file", "the number of an axle"}
"""What a text may be without holding a name that can be changed."""


def test_every_text_says_whether_it_holds_a_name():
    """Else a name would be left as it was where all others of it are changed."""

    def texts(form):
        match form:
            case forms.Text():
                yield form
            case forms.Rows() | forms.Under():
                yield from texts(form.of)
            case forms.Either():
                for one in form.forms:
                    yield from texts(one)
            case EntrySchema():
                for key in form.row:
                    yield from texts(key.form)
                if form.others is not None:
                    yield from texts(form.others)

    found = {text for key in schema.TOP.values() for text in texts(key.form)}
    assert {text.of for text in found if not text.refers} == NO_NAME
    assert {text.refers for text in found} == {"", "entry", "terminal", "joint", "kind"}


def test_a_new_rule_is_in_the_schema_by_itself():
    choices = json_schema(Library(), (*RULES, TOY_RULE))["definitions"]["rule"]["oneOf"]
    assert [choice["const"] for choice in choices] == [*(rule.name for rule in RULES), "toy-rule"]


def test_a_new_rule_is_explained_by_itself(monkeypatch):
    monkeypatch.setitem(rules.BY_NAME, "toy-rule", TOY_RULE)
    assert "A toy is on the track." in CliRunner().invoke(group, ["explain", "toy-rule"]).output


def test_a_new_kind_is_in_schema_symbols_and_listing_by_itself(tmp_path):
    for path in folder().rglob("*.yaml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    own = (tmp_path / "rerailer.yaml").read_text(encoding="utf-8").replace("kind: rerailer", "kind: toy-kind")
    (tmp_path / "toy-kind.yaml").write_text(own, encoding="utf-8")
    library = Library((), tmp_path)
    assert "toy-kind" in library.names()
    assert "toy-kind" in {choice["const"] for choice in json_schema(library)["definitions"]["kind"]["oneOf"]}
    assert "toy-kind" in {symbol.name for symbol in all_symbols(library)}


def test_a_new_component_and_a_new_section_are_read_written_and_drawn_by_themselves(tmp_path):
    """In a copy of the package the tables are changed, each in one place; everything else follows.

    The component has a key that others do not have. The section is one of things that nothing is wired to: what is
    read, and what is written into a netlist, stands in one place each.
    """
    shutil.copytree(PACKAGE, tmp_path / "netlister", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "parts", tmp_path / "parts")
    for path, old, new in (
        (
            "layout/schema.py",
            "TRIPS = (",
            "_TOYS = (ComponentKind('coil', 'L', 'Coil in a wire', 'A coil.', takes=('gap',)),)\nTRIPS = (",
        ),
        ("layout/schema.py", "COMPONENT_KINDS = (\n", "COMPONENT_KINDS = (\n    *_TOYS,\n"),
        (
            "layout/schema.py",
            '    Key("resistance", _RESISTANCE, "Its resistance.", field="Resistance"),\n',
            '    Key("resistance", _RESISTANCE, "Its resistance.", field="Resistance"),\n'
            '    Key("gap", _LENGTH, "Its gap.", field="Gap"),\n',
        ),
        (
            "layout/model.py",
            "    trip_time: float | None = None  # s\n    buses: tuple[str, str]",
            "    trip_time: float | None = None  # s\n    gap: float | None = None\n    buses: tuple[str, str]",
        ),
        (
            "layout/schema.py",
            "NAMED: dict[str, Form] = {",
            "SIGN = EntrySchema('a sign', 'A sign.', Key('width', _LENGTH, 'Its width.'))\n"
            "NAMED: dict[str, Form] = {'signs': SIGN,",
        ),
        ("layout/schema.py", "_SECTIONS = {", "_SECTIONS = {'signs': 'Signs beside the track.',"),
        ("layout/schema.py", 'DATA = ("never"', 'DATA = ("signs", "never"'),
        (
            "layout/model.py",
            "    trains: dict[str, Train]",
            "    signs: dict[str, float] = field(default_factory=dict)\n    trains: dict[str, Train]",
        ),
        (
            "layout/_rest.py",
            "    read_trains(r)\n",
            "    for name, _, value in r.entries_of['signs']:\n"
            "        from netlister.layout.schema import SIGN\n"
            "        fields = r.fields(value, SIGN.keys, 'a sign')\n"
            "        r.layout.signs[name] = r.length(fields, SIGN['width'])\n"
            "    read_trains(r)\n",
        ),
        (
            "outputs/netlist_pinless.py",
            '        ("Use",',
            "        ('Signs', field_text({n: {'width': amount(v, 'm')} for n, v in layout.signs.items()} or '')),\n"
            '        ("Use",',
        ),
    ):
        place = tmp_path / "netlister" / path
        text = place.read_text(encoding="utf-8")
        assert old in text
        place.write_text(text.replace(old, new, 1), encoding="utf-8")
    (tmp_path / "toy.yaml").write_text(
        "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\ntrack: {line: {length: 1 m}}\n"
        "wires: [{from: main.B, to: line.right}]\n"
        "components: {L1: {kind: coil, from: main.A, to: line.left, gap: 3 mm}}\n"
        "signs: {stop: {width: 5 mm}}\n",
        encoding="utf-8",
    )
    (tmp_path / "wrong.yaml").write_text(
        (tmp_path / "toy.yaml")
        .read_text(encoding="utf-8")
        .replace("kind: coil", "kind: diode")
        .replace("width: 5 mm", "width: 5 V"),
        encoding="utf-8",
    )
    (tmp_path / "unknown.yaml").write_text(
        (tmp_path / "toy.yaml").read_text(encoding="utf-8").replace("signs:", "sings:"), encoding="utf-8"
    )

    def run(*arguments):
        command = [sys.executable, "-m", "netlister", *arguments]
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)

    assert run("check", "toy.yaml").returncode == 0, run("check", "toy.yaml").stdout
    wrong = run("check", "wrong.yaml").stdout
    assert "'gap' is for 'coil', not for a 'diode'" in wrong
    assert "'width': 'V' is no unit of length" in wrong
    assert "there is no section 'sings'; did you mean 'signs'?" in run("check", "unknown.yaml").stdout
    assert run("netlist", "toy.yaml", "-o", "toy.net").returncode == 0
    net = (tmp_path / "toy.net").read_text(encoding="utf-8")
    assert '(ref "L' in net
    assert re.search(r'"Gap"\) "0\.003 m"', net)
    assert "signs" in run("schema").stdout
    assert '"Signs"' in net
    assert run("check", "toy.net").returncode == 0
    assert run("netlist", "toy.net", "-o", "again.net").returncode == 0
    again = (tmp_path / "again.net").read_text(encoding="utf-8")
    assert re.search(r'"Gap"\) "0\.003 m"', again)
    assert re.search(r'"Signs"\) "\{stop: \{width: .*0\.005 m', again)
    assert '(symbol "coil"' in run("symbols").stdout
    assert '"coil"' in run("schema").stdout
    assert run("schematic", "toy.yaml", "--format", "svg", "-o", "toy.svg").returncode == 0


def test_the_glossary_is_the_table_of_the_manual():
    page = (ROOT / "netlister" / "manual" / "glossary.md").read_text(encoding="utf-8")
    for word in glossary.WORDS:
        assert f"| {word.word} | {word.america} | {word.britain} | {word.meaning} |" in page

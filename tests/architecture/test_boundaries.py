"""No circle of imports, those for types alone included; no private module crossed; names of rails read in one place."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import networkx as nx

PACKAGE = Path(__file__).parents[2] / "netlister"
MODULES = {
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__"): path
    for path in PACKAGE.rglob("*.py")
}


def imports(module):
    """The modules of the package that a module imports, anywhere in it."""
    for node in ast.walk(ast.parse(MODULES[module].read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "netlister":
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in MODULES else node.module


def circles(edges):
    graph = nx.DiGraph((one, other) for one, other in edges if one != other)
    return [sorted(circle) for circle in nx.strongly_connected_components(graph) if len(circle) > 1]


EDGES = [(module, other) for module in MODULES if module != "netlister" for other in imports(module)]
"""All but those of the public front, which reaches for everything, late."""


def test_no_modules_import_each_other():
    assert circles(EDGES) == []
    back = ("netlister.circuit.build", "netlister.rules.pole_short")
    assert len(circles([*EDGES, back])) == 1


def test_no_private_module_is_crossed():
    crossed = [
        (one, other)
        for one, other in EDGES
        if other.rpartition(".")[2].startswith("_") and one.rpartition(".")[0] != other.rpartition(".")[0]
    ]
    assert [pair for pair in crossed if pair[0] != pair[1].rpartition(".")[0]] == []


READ = {"netlister.kinds.readings_kind", "netlister.kinds.readings_model"}


def test_what_a_rail_is_called_is_looked_at_in_one_place():
    """By `kinds.model.role_of`, for a kind; all else asks the kind for the role of a rail."""
    looks = re.compile(r"startswith\(\(?[\"'](frog|closure|stock|guard|bridge|table)")
    assert {m for m, path in MODULES.items() if looks.search(path.read_text(encoding="utf-8"))} == set()
    asks = {m for m, path in MODULES.items() if re.search(r"\brole_of\(", path.read_text(encoding="utf-8"))}
    assert asks == {"netlister.kinds.model", "netlister.kinds.made", *READ}


TAKEN_APART = re.compile(r"""(split|partition)\(['"]\.['"]|startswith\(\w+ \+ ['"]\.['"]""")
PUT_TOGETHER = re.compile(r"""\bnode\[f"|f"\{[\w.]*(piece|owner|source|supply|machine)(\.name)?\}\.\{""")

READERS = ("netlister.layout", "netlister.netlists", "netlister.kinds", "netlister.cli", "netlister.outputs.routes")
"""What reads text that someone has written. Names of terminals are taken apart there, and in `layout.terminal`."""


def test_names_of_terminals_are_taken_apart_in_one_place():
    for looks in (TAKEN_APART, PUT_TOGETHER):
        found = {m for m, path in MODULES.items() if looks.search(path.read_text(encoding="utf-8"))}
        assert {m for m in found if not m.startswith(READERS)} == set(), looks.pattern
    assert TAKEN_APART.search('name.partition(".")[0]')
    assert PUT_TOGETHER.search('node[f"{name}.{rail}"]')
    assert PUT_TOGETHER.search('f"{piece.name}.{rail}"')


OWN = {"About", "Report"}
"""What breaks each rule; the outcome of a check, and the same with its ways of being written."""


def types_of(text):
    """The types of a module: classes, and names in capitals and small letters that are given to other types."""
    for node in ast.parse(text).body:
        if isinstance(node, ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign):
            yield from (name.id for name in node.targets if isinstance(name, ast.Name) and not name.id.isupper())


def shared(texts):
    """Types that two modules call the same, whether they are private or not, and where."""
    where = {}
    for module, text in texts.items():
        for name in types_of(text):
            if name.lstrip("_")[:1].isupper():
                where.setdefault(name.lstrip("_"), []).append(module)
    return {name: found for name, found in where.items() if len(found) > 1 and name not in OWN}


def test_two_things_never_share_one_name():
    texts = {module: path.read_text(encoding="utf-8") for module, path in MODULES.items()}
    assert shared(texts) == {}
    assert [*shared({**texts, "toy": "class _Piece: ...", "other": "Joint = int"})] == ["Piece", "Joint"]


CONVERTED = re.compile(r"(length|radius|reach|metres|\b(at|tap|far|way))\)? [*/] (1000|1_000_000|1e3|1e6|1e9)\b")


def test_lengths_are_converted_in_one_place():
    """By `lengths`, whose types mypy checks; a number in m is no number in mm."""
    found = {m for m, path in MODULES.items() if CONVERTED.search(path.read_text(encoding="utf-8"))}
    assert found == {"netlister.lengths"}
    assert CONVERTED.search("piece.length * 1000")


MOST_LINES = 400


def long_ones(lengths):
    return {module: lines for module, lines in lengths.items() if lines > MOST_LINES}


def test_no_module_is_longer_than_a_reader_takes_in():
    lengths = {m: len(path.read_text(encoding="utf-8").splitlines()) for m, path in MODULES.items()}
    assert long_ones(lengths) == {}
    assert long_ones({**lengths, "toy": 401}) == {"toy": 401}


def test_no_check_of_types_is_switched_off_in_a_line():
    off = re.compile(r"#\s*type:\s*ignore")
    assert off.search("x = y  # type: ignore[arg-type]")
    assert {m for m, path in MODULES.items() if off.search(path.read_text(encoding="utf-8"))} == set()

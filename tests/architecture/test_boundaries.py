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


def test_what_a_rail_is_called_is_looked_at_in_one_place():
    """By `kinds.model.role_of`; repairs look at names of their own."""
    looks = re.compile(r"startswith\(\(?[\"'](frog|closure)")
    found = {m for m, path in MODULES.items() if looks.search(path.read_text(encoding="utf-8"))}
    assert {m for m in found if not m.startswith("netlister.repairs")} == set()

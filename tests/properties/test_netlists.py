"""A layout and its netlist read back give the same findings, for every example and for random layouts."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

import pytest

import netlister
from netlister import rules
from tests.properties.layouts import dump, random_layout
from tests.properties.netlists import RULES, differences, round_trip

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "examples").glob("*/layout.yaml"))
EVERY = tuple(rule.name for rule in rules.RULES if rule.name != "unused-allow")
SEEDS = 2000 if os.environ.get("NETLISTER_LONG") else 40


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
@pytest.mark.parametrize("select", [(), EVERY], ids=["plain", "every-rule"])
def test_examples(path, select):
    assert differences(netlister.read_file(str(path)), select, path.parent) == []


@pytest.mark.parametrize("seeds", [range(first, first + 10) for first in range(0, SEEDS, 10)], ids=str)
def test_random_layouts(seeds):
    for seed in seeds:
        text = dump(random_layout(Random(seed)))
        for select in ((), RULES):
            assert differences(netlister.read_text(text), select) == [], (seed, text)


def test_a_difference_is_noticed():
    """Take a joiner's insulation away in the netlist: the comparison must say so."""
    from netlister.check import check
    from tests.properties.netlists import findings

    layout = netlister.read_file(str(ROOT / "examples" / "one-frog" / "layout.yaml"))
    back, text = round_trip(layout)
    assert findings(check(back)) == findings(check(layout))
    changed = netlister.read_text(text.replace('(part "insulated joiner")', '(part "metal joiner")', 1), "layout.net")
    assert findings(check(changed)) != findings(check(layout))


def test_what_a_comment_allows_stays_allowed():
    text = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
joints:
  - {from: line, to: spur, insulate: vee}  # netlister: allow nothing-insulated: a frog comes here next year
feeds:
  - {to: line}
"""
    layout = netlister.read_text(text)
    assert differences(layout) == []
    back, _ = round_trip(layout)
    assert [(a.rule, a.reason) for a in back.allows] == [("nothing-insulated", "a frog comes here next year")]


def test_the_netlist_of_a_netlist_is_the_same_but_for_its_places():
    from netlister.circuit.build import build
    from netlister.skidl.netlist import kicad_netlist

    layout = netlister.read_file(str(ROOT / "examples" / "ferry" / "layout.yaml"))
    back, text = round_trip(layout)
    again = kicad_netlist(build(back))

    def bare(netlist):
        return [
            line
            for line in netlist.splitlines()
            if '"Place"' not in line and ".yaml" not in line and ".net" not in line
        ]

    assert sorted(bare(again)) == sorted(bare(text))

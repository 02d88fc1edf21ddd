"""The rules on districts, reversers and detectors find what plain enumeration of every state finds, and nothing else.

Longer runs: `NETLISTER_LONG=1`, or `python -m tests.properties.test_gear NUMBER SEED`.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from random import Random

import pytest

from tests.properties.compare import cover_faults, covered, tool_findings
from tests.properties.gear import RULES, gear_reference, random_gear
from tests.properties.layouts import dump
from tests.properties.reference import Data, Layout, load

LONG = bool(os.environ.get("NETLISTER_LONG"))


def differences(data: Data) -> list[str]:
    """Everything in which the tool and the enumeration differ."""
    layout = Layout(data)
    result = tool_findings(dump(data))
    if "unusable" in result:
        return [f"unusable: {fault['message']}" for fault in result["unusable"]]
    theirs: dict = {}
    lines = [] if result["proved"] else ["proved: false"]
    for finding in result["findings"]:
        if finding["rule"] in RULES:
            key = finding["rule"], finding["subject"]
            if key in theirs:
                lines.append(f"{key}: two findings")
            theirs[key] = covered(finding["when"], layout.states)
            lines += cover_faults(layout, finding)
    mine = gear_reference(data)
    lines += [
        f"{key}: {len(mine.get(key, ()))} states by enumeration, {len(theirs.get(key, ()))} by the tool"
        for key in sorted({*mine, *theirs})
        if mine.get(key, set()) != theirs.get(key, set())
    ]
    return lines


@pytest.mark.parametrize("seed", range(2000 if LONG else 60))
def test_layout_from_a_seed(seed: int) -> None:
    data = random_gear(Random(seed))
    assert differences(data) == [], dump(data)


SOMETIMES = {"districts-joined", "reversers-abut", "reverser-fed-by-blades"}


def test_the_layouts_break_every_rule_and_some_in_some_states_only():
    broken: Counter[str] = Counter()
    sometimes: Counter[str] = Counter()
    for seed in range(120):
        if set(broken) == set(RULES) and set(+sometimes) >= SOMETIMES:
            break  # found; the rest would add to the counts alone
        data = random_gear(Random(seed))
        states = len(Layout(data).states)
        for (rule, _), where in gear_reference(data).items():
            broken[rule] += 1
            sometimes[rule] += len(where) < states
    assert set(broken) == set(RULES)
    assert set(+sometimes) >= SOMETIMES


BY_HAND = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
buses: {west: {supply: main, breaker: 3 A}, east: {supply: main, breaker: 3 A}}
track: {a: {}, b: {}, T1: {kind: live-frog, hand: left}}
joints: [{from: a, to: T1.toe}, {from: T1.through, to: b, insulate: left}, {from: T1.diverging, to: b.b}]
feeds: [{to: a, from: west}, {to: b, from: east}]
"""


def test_enumeration_of_joined_districts_by_hand():
    """T1 is left-handed: through is its right leg (frog, stock-right), where the right rails of a and b are joined."""
    data = load(BY_HAND)
    assert gear_reference(data)["districts-joined", "east/west"] == set(Layout(data).states)


def main(number: int, seed: int) -> int:
    """Compare many layouts; print what differs and counts."""
    counts: Counter[str] = Counter()
    failed = 0
    for one in range(seed, seed + number):
        data = random_gear(Random(one))
        lines = differences(data)
        counts.update({rule for rule, _ in gear_reference(data)})
        if lines:
            failed += 1
            print(f"--- seed {one}\n{dump(data)}\n" + "\n".join(lines))
    print(f"{number} layouts, {failed} differ; layouts that break each rule: {dict(sorted(counts.items()))}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))

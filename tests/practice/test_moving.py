"""What modellers find while a blade or a train moves, by the tool and, where it knows the rule, by plain enumeration.

Source of every case: common practice, no published source.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

import netlister
from tests.practice.test_cases import MARK
from tests.properties.moving import RULES, enumerated
from tests.properties.reference import Key, Layout, State, expand, load

TABLE = (Path(__file__).parent / "moving.yaml").read_text(encoding="utf-8")
CASES: list[dict[str, Any]] = yaml.load(TABLE, Loader=yaml.BaseLoader)  # noqa: S506  (no objects, only text)
SIX = (*RULES, "nose-bridge", "unit-race")

by_number = pytest.mark.parametrize("case", CASES, ids=[case["number"] for case in CASES])


def wanted(case: dict[str, Any], layout: Layout, rules: tuple[str, ...]) -> dict[Key, set[State]]:
    """The findings of a case as sets of states."""
    return {
        (one["rule"], one["subject"]): {s for when in one["when"] for s in expand(when, layout.states)}
        for one in case["findings"]
        if one["rule"] in rules
    }


@by_number
def test_tool_agrees_with_practice(case: dict[str, Any]) -> None:
    layout = Layout(load(case["layout"]))
    report = netlister.check_text(case["layout"], select=SIX)
    assert report.proved
    found: dict[Key, set[State]] = {}
    for one in report.findings:
        assert (one.rule, one.subject) not in found
        found[one.rule, one.subject] = {s for when in one.when for s in expand(dict(when), layout.states)}
    assert found == wanted(case, layout, SIX)


@by_number
def test_enumeration_agrees_with_practice(case: dict[str, Any]) -> None:
    layout = Layout(load(case["layout"]))
    assert enumerated(layout) == wanted(case, layout, RULES)


def test_cases_are_marked() -> None:
    assert {case["source"] for case in CASES} == {MARK}
    assert len({case["number"] for case in CASES}) == len(CASES)
    assert {one["rule"] for case in CASES for one in case["findings"]} == set(SIX)
    assert any(not case["findings"] for case in CASES)

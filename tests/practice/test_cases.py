"""What modellers find in practice, by the tool and by plain enumeration of every state.

Source of every case: common practice, no published source. Each case names its outcome in words and as findings.
"""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.properties.reference import Key, Layout, State, expand, load, poles_in_state, reference

TABLE = (Path(__file__).parent / "cases.yaml").read_text(encoding="utf-8")
CASES: list[dict[str, Any]] = yaml.load(TABLE, Loader=yaml.BaseLoader)  # noqa: S506  (no objects, only text)
RULES = ("pole-short", "floating-net", "dead-track", "gap-clash", "hand-reversing")
ROOT = Path(__file__).parents[2]
MARK = "common practice, no published source"


def states_of(findings: list[dict[str, Any]], states: list[State]) -> dict[Key, set[State]]:
    """For every rule and subject the states that the partial positions cover."""
    found: dict[Key, set[State]] = {}
    for one in findings:
        if one["rule"] in RULES:
            key = one["rule"], one["subject"]
            found.setdefault(key, set()).update(state for when in one["when"] for state in expand(when, states))
    return found


def run(folder: Path, case: dict[str, Any], *arguments: str) -> tuple[int, dict[str, Any]]:
    """The command on the case's layout: its exit code, and the object it writes."""
    file = folder / "layout.yaml"
    file.write_text(case["layout"], encoding="utf-8")
    command, *options = arguments
    done = subprocess.run(
        [sys.executable, "-m", "netlister", command, str(file), *options, "--format", "json"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.stdout, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return done.returncode, answer


by_number = pytest.mark.parametrize("case", CASES, ids=[case["number"] for case in CASES])


@by_number
def test_enumeration_agrees_with_practice(case: dict[str, Any]) -> None:
    """Plain enumeration gives what the trade says."""
    layout = Layout(load(case["layout"]))
    mine = {key: states for key, states in reference(layout.data).items() if key[0] in RULES}
    assert mine == states_of(case["findings"], layout.states)


@by_number
def test_tool_agrees_with_practice(case: dict[str, Any], tmp_path: Path) -> None:
    """The command gives what the trade says, and its exit code follows from what it found."""
    layout = Layout(load(case["layout"]))
    code, answer = run(tmp_path, case, "check")
    assert "unusable" not in answer, answer
    assert answer["proved"] is True
    assert answer["variables"] == {name: list(positions) for name, positions in layout.variables.items()}
    assert states_of(answer["findings"], layout.states) == states_of(case["findings"], layout.states)
    assert code == (1 if answer["summary"]["error"] else 0)


WITH_POLES = [(case, one) for case in CASES for one in case.get("poles", [])]
POLE_IDS = [f"{case['number']}-{'-'.join(one['when'].values())}" for case, one in WITH_POLES]


@pytest.mark.parametrize(("case", "one"), WITH_POLES, ids=POLE_IDS)
def test_poles_agree_with_practice(case: dict[str, Any], one: dict[str, Any], tmp_path: Path) -> None:
    """Both give the rails the poles that a meter would show."""
    layout = Layout(load(case["layout"]))
    wanted = {rail: sorted(poles) for rail, poles in one["rails"].items()}
    for state in expand(one["when"], layout.states):
        poles = poles_in_state(layout.data, state)
        assert {rail: sorted(poles[rail]) for rail in wanted} == wanted
    setting = itertools.chain.from_iterable(("--set", f"{name}={where}") for name, where in one["when"].items())
    code, answer = run(tmp_path, case, "poles", *setting)
    assert code == 0
    assert {rail: sorted(answer["poles"][rail]) for rail in wanted} == wanted


def test_cases_are_marked() -> None:
    """Every case says where it comes from, has its own number, and the cases show each rule and layouts without."""
    assert {case["source"] for case in CASES} == {MARK}
    assert len({case["number"] for case in CASES}) == len(CASES)
    assert {one["rule"] for case in CASES for one in case["findings"]} == set(RULES)
    assert any(not case["findings"] for case in CASES)

"""Causes in JSON: every edit applies to the text, the new text reads, and what the cause was for is gone."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from random import Random

import pytest

import netlister
from tests.properties.layouts import dump
from tests.repairs import right
from tests.repairs.damage import damaged, some
from tests.repairs.obey import edits_of, obeyed, told

MOST_TIES = 20
SETS = list(some(Random(8), 14, 2))


@pytest.mark.parametrize("number", range(len(SETS)))
def test_every_edit_applies(number: int) -> None:
    _, data, made = SETS[number]
    text = dump(damaged(data, made))
    _, said = told(text)
    for cause in said.get("causes", []):
        assert 1 <= len(cause["repairs"]) <= MOST_TIES
        aims = {(f["rule"], f["subject"]) for f in said["findings"] if f["cause"] == cause["cause"]}
        before = Counter((f["rule"], f["subject"]) for f in said["findings"])
        for repair in cause["repairs"]:
            edits = edits_of(repair)
            assert edits, repair
            after = netlister.check_text(obeyed(text, edits), causes=False)
            left = Counter((f.rule, f.subject) for f in after.findings)
            if repair is cause["repairs"][0]:
                assert any(left[aim] < before[aim] for aim in aims), repair


def test_changes_that_write_in_one_place_are_the_edits_of_the_first() -> None:
    """Two feeds for a list that is empty cannot be written one by one."""
    text = right.CROSSOVER.split("feeds:")[0] + "feeds: [{to: [nw, se]}]\n"
    text = text.replace("insulate: vee", "insulate: both")
    _, said = told(text.replace("[{to: [nw, se]}]", "[]"))
    repair = said["causes"][0]["repairs"][0]
    assert len(repair["changes"]) > 1
    assert not netlister.check_text(obeyed(text.replace("[{to: [nw, se]}]", "[]"), edits_of(repair))).findings


def test_equal_repairs_are_all_there() -> None:
    """A dead loop of track may be fed at any of its pieces."""
    names = [f"p{n}" for n in range(6)]
    text = right.HEAD + "track: {" + ", ".join(f"{n}: {{length: 1 m}}" for n in names) + "}\n"
    text += "joints: [" + ", ".join(f"{{from: {a}, to: {b}}}" for a, b in pairwise(names)) + "]\n"
    _, said = told(text)
    says = {change["say"] for r in said["causes"][0]["repairs"] for change in r["changes"]}
    for name in names:
        assert {
            f"add the feed {{to: {name}, A: left, B: right}}",
            f"add the feed {{to: {name}, A: right, B: left}}",
        } <= says

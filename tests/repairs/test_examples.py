"""The cures of the examples, obeyed by program: each takes away what it is to mend, all together leave no error."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.repairs.obey import edits_of, obeyed, told

EXAMPLES = Path(__file__).parents[2] / "examples"
FAULTY = ["crossover", "junction", "ferry-plug", "sawmill-lever", "peat-railway-faulty", "every-piece-mistakes"]


@pytest.mark.parametrize("name", FAULTY)
def test_the_first_cures_of_all_causes_leave_no_error(name):
    text = (EXAMPLES / name / "layout.yaml").read_text(encoding="utf-8")
    found = told(text)[1]
    mended = {cause["cause"]: cause["repairs"][0] for cause in found["causes"] if cause["repairs"]}
    known = {
        (f["rule"], f["subject"]) for f in found["findings"] if f["cause"] not in mended
    }  # what needs other trains
    assert mended
    left = told(obeyed(text, edits_of(*mended.values())))[1]["findings"]
    assert {(f["rule"], f["subject"]) for f in left if f["severity"] == "error"} <= known


@pytest.mark.parametrize("name", FAULTY[:-1])
def test_no_cure_of_a_cause_leaves_what_it_is_to_mend(name):
    text = (EXAMPLES / name / "layout.yaml").read_text(encoding="utf-8")
    found = told(text)[1]
    for cause in found["causes"]:
        number = cause["cause"]
        own = {(f["rule"], f["subject"]) for f in found["findings"] if f["cause"] == number}
        others = {(f["rule"], f["subject"]) for f in found["findings"] if f["cause"] != number}
        for repair in cause["repairs"]:
            after = told(obeyed(text, edits_of(repair)))[1]
            left = {(f["rule"], f["subject"]) for f in after["findings"]}
            assert not (left & own) - others, (cause, repair["changes"])

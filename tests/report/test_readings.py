"""What the page makes of readings, against `diagnose`, which weighs every fault in the circuit itself."""

from __future__ import annotations

from random import Random

import pytest

from netlister.check import check
from netlister.probe.explain import Explainer, Meter
from netlister.probe.sheet import make_sheet, prepare
from netlister.report.readings import readings
from tests.browser.making import example


def named(data, taken):
    """The rule of the page's script: a fault turns exactly the readings that came out wrong, of those taken."""
    return {
        name
        for name, _, ways in data["faults"]
        if any(all((beeped != data["expect"][n]) == (n in way) for n, beeped in taken.items()) for way in ways)
    }


@pytest.mark.parametrize("name", ["one-frog", "two-cabs", "quarry-line"])
def test_the_page_names_the_single_faults_that_diagnose_names(name):
    layout = example(name)
    data = readings(layout, check(layout)).data
    made, faults = prepare(layout)
    sheet = make_sheet(made, faults)
    explainer, chance = Explainer(made, faults), Random(20261127)
    patterns = sorted({tuple(way) for _, _, ways in data["faults"] for way in ways if way})
    assert len(patterns) > 10
    for number, turned in enumerate(patterns):
        rows = list(range(len(sheet.readings)))
        if number % 2:  # not all of them taken
            rows = sorted({turned[0], *chance.sample(rows, len(rows) // 2)})
        taken = {n: sheet.readings[n].expect != (n in turned) for n in rows}
        found = explainer.explain([Meter(n + 1, sheet.readings[n], beeped) for n, beeped in taken.items()])
        assert named(data, taken) == {one.faults[0].name for one in found.variants if len(one.faults) == 1}


def test_a_wrong_design_and_a_large_one_have_none():
    layout = example("peat-railway-faulty")
    found = readings(layout, check(layout))
    assert found.data == {}
    assert "once the design has no error" in found.html

"""A cure for dead track must hold once the short beside it is mended: found by obeying every cure by program."""

from typing import Any

import pytest

from tests.repairs.obey import obeyed, told

TEXT = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  approach: {length: 600 mm}
  branch:   {length: 900 mm}
  siding:   {length: 450 mm}
  T1:       {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
joints:
  - {from: approach,     to: T1.toe}
  - {from: T1.through,   to: branch, insulate: vee}
  - {from: T1.diverging, to: siding}
feeds:
  - {to: [approach, siding], A: left, B: right}
"""


def of(text: str) -> dict[str, Any]:
    return told(text)[1]


def test_every_choice_of_cures_of_all_causes_leaves_no_error() -> None:
    found = of(TEXT)
    causes = found["causes"]
    assert len(causes) == 2
    first = causes[0]["repairs"][0]["changes"]
    for repair in causes[1]["repairs"]:
        edits = [e for change in (*first, *repair["changes"]) for e in change["edits"]]
        assert edits
        assert of(obeyed(TEXT, edits))["summary"]["error"] == 0, repair


@pytest.mark.parametrize("number", [0, 1])
def test_a_cure_alone_takes_its_own_findings_away(number: int) -> None:
    found = of(TEXT)
    repair = found["causes"][number]["repairs"][0]
    after = of(obeyed(TEXT, [e for change in repair["changes"] for e in change["edits"]]))
    gone = {(f["rule"], f["subject"]) for f in found["findings"] if f["cause"] == number + 1}
    assert gone.isdisjoint((f["rule"], f["subject"]) for f in after["findings"])

"""A cure for dead track must hold once the short beside it is mended: found by obeying every cure by program."""

import json

import pytest

from netlister.check import check
from netlister.cli.common import edits_finder
from netlister.formats.json import render
from netlister.layout.read import read_layout
from netlister.source import Source

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


def obeyed(text: str, edits: list[dict]) -> str:
    lines = text.splitlines(keepends=True)
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line))
    places = sorted(
        (
            (
                starts[e["start"]["line"] - 1] + e["start"]["column"] - 1,
                starts[e["end"]["line"] - 1] + e["end"]["column"] - 1,
                e["text"],
            )
            for e in edits
        ),
        reverse=True,
    )
    for start, end, new in places:
        text = text[:start] + new + text[end:]
    return text


def of(text: str) -> dict:
    source = Source("yard.yaml", text)
    layout = read_layout(source)
    return json.loads(render(check(layout), edits_finder(source, layout, None)))


def test_every_choice_of_cures_of_all_causes_leaves_no_error():
    found = of(TEXT)
    causes = found["causes"]
    assert len(causes) == 2
    first = causes[0]["repairs"][0]["changes"]
    for repair in causes[1]["repairs"]:
        edits = [e for change in (*first, *repair["changes"]) for e in change["edits"]]
        assert edits
        assert of(obeyed(TEXT, edits))["summary"]["error"] == 0, repair


@pytest.mark.parametrize("number", [0, 1])
def test_a_cure_alone_takes_its_own_findings_away(number):
    found = of(TEXT)
    repair = found["causes"][number]["repairs"][0]
    after = of(obeyed(TEXT, [e for change in repair["changes"] for e in change["edits"]]))
    gone = {(f["rule"], f["subject"]) for f in found["findings"] if f["cause"] == number + 1}
    assert gone.isdisjoint((f["rule"], f["subject"]) for f in after["findings"])

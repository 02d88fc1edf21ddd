"""Mistakes that a plain check must find, each beside the layout put right, and right layouts that it must not refuse."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

import netlister
from netlister.volts.drop import Survey

TABLES = [Path(__file__).parent / name for name in ("unseen.yaml", "everyday.yaml")]
CASES: list[dict[str, Any]] = [
    case
    for table in TABLES
    for case in yaml.load(table.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)  # noqa: S506  (only text)
]

RIGHT: list[dict[str, str]] = yaml.load(
    (Path(__file__).parent / "right.yaml").read_text(encoding="utf-8"),
    Loader=yaml.BaseLoader,  # noqa: S506  (only text)
)

by_number = pytest.mark.parametrize("case", CASES, ids=[case["number"] for case in CASES])


def found(text: str, case: dict[str, Any]) -> list[tuple[str, str, str, list[dict[str, str]]]]:
    """Rule, severity, subject and positions of every finding."""
    report = netlister.check_text(text, name="layout.yaml", select=case.get("select", ()))
    assert report.proved
    return sorted(((f.rule, f.severity.label, f.subject, [dict(w) for w in f.when]) for f in report.findings), key=str)


def wanted(rows: list[list[Any]]) -> list[tuple[str, str, str, list[dict[str, str]]]]:
    return sorted(((row[0], row[1], row[2], row[3] if len(row) > 3 else [{}]) for row in rows), key=str)


def mended(case: dict[str, Any]) -> str:
    """The layout put right: all of `swap` at once."""
    text: str = case["layout"]
    for number, (old, new) in enumerate(case["swap"].items()):
        assert text.count(old) == 1, f"{old!r} is in the layout {text.count(old)} times"
        text = text.replace(old, f"\0{number}\0")
        case["swap"][old] = new
    for number, new in enumerate(case["swap"].values()):
        text = text.replace(f"\0{number}\0", new)
    return text


@by_number
def test_the_faulty_layout_is_found(case: dict[str, Any]) -> None:
    assert found(case["layout"], case) == wanted(case["finds"])


@by_number
def test_its_right_twin_is_clean(case: dict[str, Any]) -> None:
    assert found(mended(case), case) == wanted(case.get("left", []))


@pytest.mark.parametrize("case", RIGHT, ids=[case["title"] for case in RIGHT])
def test_right_layouts_of_the_trade_are_clean(case: dict[str, str]) -> None:
    report = netlister.check_text(case["layout"])
    assert report.proved
    assert report.findings == ()


def test_numbers_are_unique() -> None:
    assert len({case["number"] for case in CASES}) == len(CASES)


def test_an_assumed_length_is_called_assumed() -> None:
    """What nobody measured is said to be assumed, and what was measured is not."""
    case = next(c for c in CASES if c["number"] == "carries-on")
    (finding,) = netlister.check_text(case["layout"]).findings
    assert "assumed from its frog number and the gauge; measure it" in finding.message
    (finding,) = netlister.check_text(case["layout"].replace("jumpers: true", "jumpers: true, dead: 25.5 mm")).findings
    assert "(25.5 mm)" in finding.message
    assert "assumed" not in finding.message


def test_the_path_of_a_parked_vehicle_holds_in_the_positions_told() -> None:
    """The short way leads over a switch that is not told of; the path that is printed does not."""
    text = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {west: {}, east: {}}
switches: {A1: {positions: [on, off], contacts: {c: {common: west.left, on: main.A}}}}
joints: [{from: west, to: east, insulate: both, id: gap}]
wires: [{from: TB1, to: TB2}, {from: TB2, to: TB3}, {from: TB3, to: west.left}, {from: TB1, to: main.A}]
feeds: [{to: west, B: right}, {to: east, A: right, B: left}]
trains: {van: {axles: [0 mm, 50 mm], parked: gap}}
"""
    (finding,) = netlister.check_text(text, select={"parked"}).findings
    assert finding.when == ((),)
    assert finding.path[:5] == ("main.A", "TB1", "TB2", "TB3", "west.left")


def test_the_same_breaker_is_told_by_what_hangs_on_it() -> None:
    """Of two in a row only the second one is bypassed; and the order is told of both."""
    text = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track: {line: {}, shed: {}}
joints: [{from: line, to: shed}]
components:
  F1: {kind: breaker, from: main.A, to: line.left, rating: 3 A}
  F2: {kind: fuse, from: line.left, to: shed.left, rating: 2 A}
feeds: [{to: [line, shed], B: right}]
"""
    (finding,) = netlister.check_text(text).findings
    assert finding.message.startswith("what is behind the fuse 'F2' gets current past it, from behind 'F1'")
    assert netlister.check_text(text.replace("to: shed}]", "to: shed, insulate: left}]")).findings == ()


THIN = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track: {yard: {length: 1 m}}
components: {F1: {kind: fuse, from: main.A, to: TB1, rating: 1 A}}
wires: [{from: TB1, to: yard.left, wire: 0.5 mm2, length: 3 m}]
feeds: [{to: yard, B: right}]
"""


def test_a_fuse_protects_a_wire_but_makes_no_short_strong() -> None:
    """A wire of 1.4 A lives behind a fuse of 1 A; what a short has to reach is still the trip of the supply."""
    assert netlister.check_text(THIN, select=["wire-load"]).findings == ()
    (finding,) = netlister.check_text(THIN.replace("1 A", "2 A"), select=["wire-load"]).findings
    assert "but the fuse 'F1' trips only at 2 A" in finding.message
    survey = Survey.of(netlister.read_text(THIN))
    assert survey.pieces()["yard"].amps == 5
    assert Survey.of(netlister.read_text(THIN.replace("fuse", "breaker"))).pieces()["yard"].amps == 1

"""A reversing loop on the bus beside a reverser that feeds nothing: the reverser that is written is named and used.

Each cure is obeyed on the text and judged by plain enumeration, which shares no code with the tool.
"""

from __future__ import annotations

import pytest

from tests.properties.reference import load, reference
from tests.repairs.obey import edits_of, obeyed, told

LOOP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 2 m}
  loop-1: {length: 900 mm}
  loop-2: {length: 900 mm}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop-1, insulate: both}
  - {from: loop-1, to: loop-2}
  - {from: loop-2, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: [loop-1, loop-2]}
"""

ROADS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 2 m}
  in: {length: 600 mm}
  out: {length: 600 mm}
  road-1: {length: 600 mm}
  road-2: {length: 600 mm}
  T1: {kind: live-frog-bonded, hand: wye}
  T2: {kind: live-frog, hand: right}
  T3: {kind: live-frog, hand: left}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
  M2: {throws: [T2], contacts: {frog: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}}}
  M3: {throws: [T3], contacts: {frog: {common: T3.frog, through: main.B, diverging: main.A}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: in, insulate: both}
  - {from: in, to: T2.toe}
  - {from: T2.through, to: road-1, insulate: vee}
  - {from: T2.diverging, to: road-2, insulate: vee}
  - {from: T3.through, to: road-1.b, insulate: vee}
  - {from: T3.diverging, to: road-2.b, insulate: vee}
  - {from: out.b, to: T3.toe}
  - {from: out.a, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: [in, road-1, road-2]}
  - {to: out, A: right, B: left}
"""
"""The same with two roads in the loop, and a frog that is fed from the bus itself."""

TURNED = "{to: [loop-1, loop-2], A: right, B: left}"

BY_HAND = LOOP.replace("type: dcc", "type: dc").replace("mode: automatic", "follows: M1, straight: [left]")


@pytest.mark.parametrize(
    ("text", "changes"),
    [
        (LOOP, 1),
        (LOOP.replace("{to: [loop-1, loop-2]}", TURNED), 1),
        (LOOP.replace("  - {to: line}", "  - {to: line, A: right, B: left}"), 1),
        (LOOP.replace("{from: loop-2, to: T1.left, insulate: both}", "{from: loop-2, to: T1.left}"), 2),
        (LOOP.replace(", insulate: both", ""), 1),
        (BY_HAND, 1),
        (BY_HAND.replace("{to: [loop-1, loop-2]}", TURNED), 1),
        (ROADS, 1),
    ],
)
def test_the_reverser_that_is_written_is_used(text: str, changes: int) -> None:
    report, said = told(text)
    assert report.findings
    assert reference(load(text))
    (cause,) = said["causes"]
    first = cause["repairs"][0]
    assert len(first["changes"]) == changes
    assert any("the reverser 'R1' feeds nothing" in finding.mistakes[-1].headline for finding in report.findings)
    for repair in cause["repairs"]:
        after = obeyed(text, edits_of(repair))
        assert "R2" not in after
        assert not reference(load(after)), after
        again, _ = told(after)
        assert not [f for f in again.findings if f.rule not in {"reversing-length", "unmeasured"}], after


def test_one_reverser_serves_one_section() -> None:
    """Two loops on the bus and one reverser: it is named for one of them, and another is added for the other."""
    two = LOOP.replace("  T1: {", "  far: {length: 2 m}\n  T2: {kind: live-frog-bonded, hand: wye}\n  T1: {")
    two = two.replace(
        "machines:\n",
        "machines:\n"
        + _second(
            "  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}\n"
        ),
    )
    two = two.replace(
        "feeds:\n",
        "  - {from: line.a, to: T2.toe}\n  - {from: T2.right, to: far, insulate: both}\n"
        "  - {from: far, to: T2.left, insulate: both}\nfeeds:\n  - {to: far}\n",
    )
    report, said = told(two)
    repairs = [cause["repairs"][0] for cause in said["causes"]]
    after = obeyed(two, edits_of(*repairs))
    assert after.count("from: R1") == 1, after
    assert not reference(load(after)), after
    assert report.findings


def _second(line: str) -> str:
    return line.replace("M1", "M2").replace("T1", "T2")

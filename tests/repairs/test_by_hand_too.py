"""Two more layouts written by hand, with mistakes of which the first heading once named another.

Each cure is obeyed on the text and judged by plain enumeration, which shares no code with the tool.
"""

from __future__ import annotations

import pytest

from tests.properties.reference import load, reference
from tests.repairs.obey import edits_of, obeyed, told

CABS = """\
format: netlister/1
title: Two controllers, a shared yard throat, common return
supplies:
  c1: {type: dc, voltage: 12 V, trip: 1 A}
  c2: {type: dc, voltage: 12 V, trip: 1 A, common: c1.B}
track:
  left-road: {length: 1 m}
  throat: {length: 600 mm}
  y1: {length: 700 mm}
  y2: {length: 700 mm}
  store: {length: 500 mm}
  K1: {kind: live-frog, hand: right}
machines:
  MK: {throws: [K1], contacts: {frog: {common: K1.frog, through: K1.stock-right, diverging: K1.stock-left}}}
switches:
  S1: {positions: [c1, off, c2], contacts: {rail: {common: throat.left, c1: c1.A, c2: c2.A}}}
  S2: {positions: [on, off], contacts: {rail: {common: store.left, on: y2.left}}}
joints:
  - {from: left-road, to: throat, insulate: left}
  - {from: throat, to: K1.toe}
  - {from: K1.through, to: y1, insulate: vee}
  - {from: K1.diverging, to: y2, insulate: both}
  - {from: y2, to: store, insulate: left}
feeds:
  - {to: left-road, from: c1}
  - {to: y1, from: c1, B: right}
  - {to: y2, from: c2}
expect:
  - {track: [throat, K1, y1], is: dead, when: {S1: off}}
  - {track: store, is: dead, when: {S2: off}}
"""

DISTRICTS = """\
format: netlister/1
title: Two boosters with a triangle on the second
supplies:
  west: {type: dcc, voltage: 15 V, trip: 4 A}
  east: {type: dcc, voltage: 15 V, trip: 4 A}
buses:
  west: {supply: west}
  east: {supply: east}
track:
  w1: {length: 1 m}
  w2: {length: 1 m}
  e1: {length: 1 m}
  e2: {length: 1 m}
  leg-l: {length: 800 mm}
  leg-r: {length: 800 mm}
  stem: {length: 1500 mm}
  TW: {kind: live-frog-bonded, hand: left}
  TL: {kind: live-frog-bonded, hand: right}
  TR: {kind: live-frog-bonded, hand: left}
  TS: {kind: live-frog-bonded, hand: wye}
machines:
  MW: {throws: [TW], contacts: {f: {common: TW.frog, through: TW.stock-left, diverging: TW.stock-right}}}
  ML: {throws: [TL], contacts: {f: {common: TL.frog, through: TL.stock-right, diverging: TL.stock-left}}}
  MR: {throws: [TR], contacts: {f: {common: TR.frog, through: TR.stock-left, diverging: TR.stock-right}}}
  MS: {throws: [TS], contacts: {f: {common: TS.frog, left: TS.stock-right, right: TS.stock-left}}}
reversers:
  RV: {from: east, mode: automatic}
joints:
  - {from: w1, to: TW.toe}
  - {from: TW.diverging, to: w2, insulate: vee}
  - {from: TW.through, to: e1, insulate: both}
  - {from: e1, to: TL.toe}
  - {from: TL.through, to: e2, insulate: vee}
  - {from: e2.b, to: TR.through, insulate: vee}
  - {from: TL.diverging, to: leg-l, insulate: vee}
  - {from: TR.diverging, to: leg-r, insulate: vee}
  - {from: leg-l, to: TS.right, insulate: both}
  - {from: leg-r, to: TS.left, insulate: both}
  - {from: TS.toe, to: stem.a}
feeds:
  - {to: w1, from: west}
  - {to: w2, from: west}
  - {to: e1, from: east}
  - {to: e2, from: east}
  - {to: leg-l, from: east}
  - {to: leg-r, from: east, A: right, B: left}
  - {to: stem, from: RV}
"""

CASES = {
    "the throw of a section switch on the other rail": (
        CABS,
        "on: y2.left",
        "on: y2.right",
        "contact 'rail' of 'S2': on is wired to y2.right",
    ),
    "the other rail of a joint is cut": (
        CABS,
        "{from: y2, to: store, insulate: left}",
        "{from: y2, to: store, insulate: right}",
        "the joint 'y2/store' is insulated in the right rail and must be in the left",
    ),
    "a common that is not written": (CABS, ", common: c1.B", "", "share a rail, and no common return is written"),
    "the tail of a triangle on the bus beside its reverser": (
        DISTRICTS,
        "{to: stem, from: RV}",
        "{to: stem, from: east}",
        "'stem' is fed from 'east', and the reverser 'RV' feeds nothing",
    ),
    "the one feed of a section that is on the other booster": (
        DISTRICTS,
        "{to: e1, from: east}",
        "{to: e1, from: west}",
        "'e1' is fed from 'west' and must be fed from 'east'",
    ),
    "a second contact on a frog": (
        DISTRICTS,
        "diverging: TR.stock-right}}}",
        "diverging: TR.stock-right}, g: {common: TL.frog, through: TL.stock-right, diverging: TL.stock-left}}}",
        "TL.frog is the common of contact 'g' of 'MR' and of another contact",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_mistake_is_named_and_no_cure_makes_a_short(name: str) -> None:
    right, old, new, headline = CASES[name]
    assert not told(right)[0].findings
    text = right.replace(old, new)
    assert text != right
    before = reference(load(text))
    report, said = told(text)
    assert before
    assert report.findings
    (cause,) = report.causes.values()
    assert any(headline in one.headline for repair in cause.repairs for one in repair.choices), cause
    for repair in said["causes"][0]["repairs"]:
        after = reference(load(obeyed(text, edits_of(repair))))
        assert all(states <= before.get(key, set()) for key, states in after.items() if key[0] == "pole-short")
    first = obeyed(text, edits_of(said["causes"][0]["repairs"][0]))
    assert not reference(load(first)), first


def test_poles_that_a_switch_chooses_between_are_not_told_to_be_one() -> None:
    report, _ = told(CABS.replace(", common: c1.B", ""))
    said = [one.say for cause in report.causes.values() for repair in cause.repairs for one in repair.choices]
    assert any("common: c1.B" in words for words in said), said
    assert not any("common: c1.A" in words for words in said), said

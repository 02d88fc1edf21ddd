"""Three layouts written by hand with one mistake each: what is said first, and what comes of obeying it.

Each cure is obeyed on the text and judged by plain enumeration, which shares no code with the tool.
"""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest

from tests.properties.reference import load, reference
from tests.repairs.obey import edits_of, obeyed, told

TERMINUS = """\
format: netlister/1
supplies: {booster: {type: dcc, voltage: 15 V, trip: 4 A}}
track:
  main-in: {length: 1200 mm}
  main-out: {length: 1200 mm}
  neck: {length: 500 mm}
  p1: {length: 1500 mm}
  p2: {length: 1500 mm}
  p3: {length: 1500 mm}
  p4: {length: 1200 mm}
  shed: {length: 400 mm}
  XA: {kind: live-frog, hand: left}
  XB: {kind: live-frog, hand: left}
  L1: {kind: live-frog, hand: right}
  L2: {kind: live-frog-bonded, hand: left}
  L3: {kind: isolated-metal-frog, hand: right}
  L4: {kind: insulated-frog, hand: wye, jumpers: true}
machines:
  MX:
    throws: [XA, XB]
    contacts:
      fa: {common: XA.frog, through: XA.stock-left, diverging: XA.stock-right}
      fb: {common: XB.frog, through: XB.stock-left, diverging: XB.stock-right}
  M1: {throws: [L1], contacts: {f: {common: L1.frog, through: L1.stock-right, diverging: L1.stock-left}}}
  M2: {throws: [L2], contacts: {f: {common: L2.frog, through: L2.stock-left, diverging: L2.stock-right}}}
frog-units:
  U3: {feeds: L3.frog, from: booster}
joints:
  - {from: main-in, to: XA.toe}
  - {from: XB.through, to: main-out.b, insulate: vee}
  - {from: XA.diverging, to: XB.diverging, insulate: both}
  - {from: XA.through, to: neck, insulate: vee}
  - {from: XB.toe, to: L3.toe}
  - {from: neck, to: L1.toe}
  - {from: L1.through, to: p1, insulate: vee}
  - {from: L1.diverging, to: L2.toe, insulate: both}
  - {from: L2.through, to: p2, insulate: vee}
  - {from: L2.diverging, to: shed, insulate: vee}
  - {from: L3.through, to: L4.toe}
  - {from: L3.diverging, to: p4}
  - {from: L4.left, to: p3}
feeds:
  - {to: main-in}
  - {to: main-out}
  - {to: L3}
  - {to: neck}
  - {to: L2}
  - {to: p1}
  - {to: p2}
  - {to: p3}
  - {to: p4}
  - {to: shed}
"""
"""A terminus: a crossover, a ladder of four kinds of turnouts, a frog unit."""

CABS = """\
format: netlister/1
supplies:
  north: {type: dc, voltage: 12 V, trip: 1 A}
  south: {type: dc, voltage: 12 V, trip: 1 A, common: north.B}
track:
  station: {length: 1 m}
  bay: {length: 700 mm}
  up: {length: 2 m}
  down: {length: 2 m}
  yard: {length: 1 m}
  spur: {length: 600 mm}
  T1: {kind: live-frog-bonded, hand: right}
  T2: {kind: live-frog, hand: left}
  T3: {kind: insulated-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
  M2: {throws: [T2], contacts: {f: {common: T2.frog, through: T2.stock-left, diverging: T2.stock-right}}}
switches:
  SS: {positions: [north, off, south], contacts: {c: {common: station.left, north: north.A, south: south.A}}}
  SY: {positions: [north, off, south], contacts: {c: {common: yard.left, north: north.A, south: south.A}}}
  SB: {positions: [on, off], contacts: {c: {common: bay.left, on: station.left}}}
joints:
  - {from: station, to: T1.toe}
  - {from: T1.through, to: up, insulate: both}
  - {from: T1.diverging, to: bay, insulate: both}
  - {from: up, to: down, insulate: left}
  - {from: down, to: T2.toe, insulate: left}
  - {from: T2.through, to: yard, insulate: both}
  - {from: T2.diverging, to: T3.toe, insulate: both}
  - {from: T3.through, to: spur}
feeds:
  - {to: station, from: north, B: right}
  - {to: bay, from: north, B: right}
  - {to: up, from: north}
  - {to: down, from: south}
  - {to: T2, from: south}
  - {to: yard, from: north, B: right}
  - {to: T3, from: south}
  - {to: spur, from: south}
expect:
  - {track: [station, T1], is: dead, when: {SS: off}}
  - {track: yard, is: dead, when: {SY: off}}
  - {track: bay, is: dead, when: {SB: off}}
  - {track: bay, is: dead, when: {SS: off}}
"""
"""Two controllers with a common return, cab selectors, a section switch and a spur."""

LOOP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
buses:
  main: {supply: main}
reversers:
  rev: {from: main, mode: automatic}
track:
  west: {length: 1 m}
  east: {length: 1 m}
  loop-a: {length: 1 m}
  loop-b: {length: 1 m}
  loop-c: {length: 1 m}
  pass: {length: 800 mm}
  stub: {length: 500 mm}
  TS: {kind: live-frog, hand: left}
  TL: {kind: live-frog-bonded, hand: wye}
  TP: {kind: live-frog, hand: right}
  TQ: {kind: live-frog, hand: left}
machines:
  MS: {throws: [TS], contacts: {f: {common: TS.frog, through: TS.stock-left, diverging: TS.stock-right}}}
  ML: {throws: [TL], contacts: {f: {common: TL.frog, left: TL.stock-right, right: TL.stock-left}}}
  MP: {throws: [TP], contacts: {f: {common: TP.frog, through: TP.stock-right, diverging: TP.stock-left}}}
  MQ: {throws: [TQ], contacts: {f: {common: TQ.frog, through: TQ.stock-left, diverging: TQ.stock-right}}}
joints:
  - {from: west, to: TS.toe}
  - {from: TS.through, to: east, insulate: vee}
  - {from: TS.diverging, to: stub, insulate: vee}
  - {from: east, to: TL.toe}
  - {from: TL.left, to: loop-a, insulate: both}
  - {from: loop-a, to: TP.toe}
  - {from: TP.through, to: loop-b, insulate: vee}
  - {from: TP.diverging, to: pass, insulate: vee}
  - {from: loop-b, to: TQ.through, insulate: vee}
  - {from: pass, to: TQ.diverging, insulate: vee}
  - {from: TQ.toe, to: loop-c}
  - {from: loop-c, to: TL.right, insulate: both}
feeds:
  - {to: [west, east]}
  - {to: stub}
  - {to: loop-a, from: rev}
  - {to: loop-b, from: rev}
  - {to: loop-c, from: rev}
  - {to: pass, from: rev}
"""
"""A reversing loop with a passing track inside the section of its reverser."""

FA = "fa: {common: XA.frog, through: XA.stock-left, diverging: XA.stock-right}"

MISTAKES = {
    "terminus": (
        (
            FA,
            "fa: {common: XA.frog, through: XA.stock-right, diverging: XA.stock-left}",
            "throws of contact 'fa' of 'MX'",
        ),
        ("XB.diverging, insulate: both", "XB.diverging", "joint 'XA.diverging/XB.diverging' is metal"),
        ("to: p1, insulate: vee", "to: p1", "joint 'L1.through/p1' is metal"),
        ("bonded, hand: left", "bonded, hand: left, links: left-in", "hidden links of 'L2' are left in"),
        ("  - {to: p2}\n", "", "'p2' has no feed"),
        ("  - {to: main-out}", "  - {to: main-out, A: right, B: left}", "wires of the feed of 'main-out' are swapped"),
        ("  - {to: shed}", "  - {to: shed, A: right, B: left}", "wires of the feed of 'shed' are swapped"),
        ("XB.frog, through: XB.stock-left", "XB.frog, through: XA.frog", "contact 'fb' of 'MX': through"),
        ("L1: {kind: live-frog, hand: right}", "L1: {kind: live-frog, hand: left}", "'f' of 'M1' are the wrong way"),
    ),
    "cabs": (
        (", common: north.B", "", "no common return is written"),
        ("common: station.left", "common: station.right", "common of contact 'c' of 'SS'"),
        (
            "yard.left, north: north.A, south: south.A",
            "yard.left, north: north.A, south: south.B",
            "'SY': south is wired",
        ),
        ("T1.stock-right, diverging: T1.stock-left", "T1.stock-left, diverging: T1.stock-right", "'f' of 'M1' are the"),
        ("{to: up, from: north}", "{to: up, from: north, A: right, B: left}", "wires of the feed of 'up' are swapped"),
        ("  - {to: down, from: south}\n", "", "'down' has no feed"),
        ("  - {to: yard, from: north, B: right}\n", "", "'yard' has no feed"),
        ("to: down, insulate: left", "to: down", "joint 'up/down' is metal"),
        ("to: up, insulate: both", "to: up", "joint 'T1.through/up' is metal"),
        ("to: T3.toe, insulate: both", "to: T3.toe, insulate: left", "joint 'T2.diverging/T3.toe' has a metal joiner"),
        ("T2: {kind: live-frog, hand: left}", "T2: {kind: live-frog, hand: right}", "'f' of 'M2' are the wrong way"),
    ),
    "loop": (
        ("to: TL.right, insulate: both", "to: TL.right", "joint 'loop-c/TL.right' is metal"),
        ("to: loop-a, insulate: both", "to: loop-a, insulate: left", "joint 'TL.left/loop-a' has a metal joiner"),
        (
            "{to: loop-a, from: rev}",
            "{to: loop-a, from: main}",
            "'loop-a' is fed from 'main' and must be fed from 'rev'",
        ),
        (
            "  - {to: loop-b, from: rev}\n",
            "  - {to: loop-b, from: rev}\n  - {to: loop-b, from: main}\n",
            "as well as from",
        ),
        ("{to: loop-c, from: rev}", "{to: loop-c, from: rev, A: right, B: left}", "feed of 'loop-c' are swapped"),
        ("  - {to: pass, from: rev}\n", "", "'pass' has no feed"),
        ("{to: pass, from: rev}", "{to: pass, A: left}", "'pass' is fed from 'main' and must be fed from 'rev'"),
        (
            "left: TL.stock-right, right: TL.stock-left",
            "left: TL.stock-left, right: TL.stock-right",
            "'f' of 'ML' are the",
        ),
        ("hand: wye}", "hand: wye, links: left-in}", "hidden links of 'TL' are left in"),
        ("to: TQ.diverging, insulate: vee", "to: TQ.diverging", "joint 'pass/TQ.diverging' is metal"),
        ("{to: stub}", "{to: stub, A: right, B: left}", "wires of the feed of 'stub' are swapped"),
        ("to: east, insulate: vee", "to: east", "joint 'TS.through/east' is metal"),
        ("TQ: {kind: live-frog, hand: left}", "TQ: {kind: live-frog, hand: right}", "'f' of 'MQ' are the wrong way"),
    ),
}
TEXTS = {"terminus": TERMINUS, "cabs": CABS, "loop": LOOP}
SINGLE = [(name, old, new, said) for name, made in MISTAKES.items() for old, new, said in made]


def put(text: str, old: str, new: str) -> str:
    """The text with one mistake."""
    assert text.count(old) == 1, old
    return text.replace(old, new)


@pytest.mark.parametrize("name", TEXTS)
def test_they_are_right(name: str) -> None:
    assert reference(load(TEXTS[name])) == {}
    assert told(TEXTS[name])[0].findings == ()


@pytest.mark.parametrize(("name", "old", "new", "said"), SINGLE, ids=[f"{one[0]}: {one[3]}" for one in SINGLE])
def test_one_mistake_has_one_heading_and_cures_that_can_be_obeyed(name: str, old: str, new: str, said: str) -> None:
    wrong = put(TEXTS[name], old, new)
    report, found = told(wrong)
    assert {f.cause for f in report.findings} == {1}
    assert any(said in m.headline for m in report.findings[0].mistakes), report.findings[0].mistakes
    before = shorts(wrong)
    (cause,) = found["causes"]
    for number, repair in enumerate(cause["repairs"]):
        assert all(change["edits"] for change in repair["changes"]), repair
        after = reference(load(obeyed(wrong, edits_of(repair))))
        assert shorts_of(after).items() <= before.items() or not shorts_of(after), repair
        if number == 0:
            assert after == {}, repair


def shorts(text: str) -> dict:
    """The shorts of a layout with their states, by plain enumeration."""
    return shorts_of(reference(load(text)))


def shorts_of(found: dict) -> dict:
    """Those of them that are shorts."""
    return {key: states for key, states in found.items() if key[0] == "pole-short"}


@pytest.mark.parametrize("name", TEXTS)
def test_of_two_mistakes_both_are_named_first(name: str) -> None:
    """But for a turnout of the other hand: with its throws swapped it is right, and other mistakes with it."""
    pairs = list(combinations([made for made in MISTAKES[name] if "hand: " not in made[0] or "links" in made[1]], 2))
    looked = 0
    for one, other in Random(11).sample(pairs, 6):
        text = TEXTS[name]
        if text.replace(one[0], one[1]).count(other[0]) != 1:
            continue
        looked += 1
        wrong = put(put(text, *one[:2]), *other[:2])
        report, found = told(wrong)
        said = [m.headline for f in report.findings for m in f.mistakes]
        for part in (one[2], other[2]):
            assert any(part in headline for headline in said), (part, said)
        firsts = [m.headline for m in report.findings[0].mistakes]
        assert any(part in headline for headline in firsts for part in (one[2], other[2])), firsts
        repairs = [cause["repairs"][0] for cause in found["causes"]]
        assert reference(load(obeyed(wrong, edits_of(*repairs)))) == {}
    assert looked >= 4


def test_in_a_large_layout_one_choice_is_named_where_it_mends_what_is_wrong_at_several_places() -> None:
    """A common return that is not written shows as a short at one joint and as dead track at another."""
    more = range(45)
    text = put(CABS, ", common: north.B", "")
    text = text.replace("track:\n", "track:\n" + "".join(f"  x{n}: {{length: 1 m}}\n" for n in more), 1)
    text = text.replace("joints:\n", "joints:\n" + "".join(f"  - {{from: x{n}, to: x{n + 1}}}\n" for n in more[:-1]), 1)
    report, found = told(text.replace("feeds:\n", "feeds:\n  - {to: [x0, x20, x40], from: north}\n", 1))
    assert {f.rule for f in report.findings} == {"pole-short", "dead-track"}
    assert [[change["say"] for change in r["changes"]] for c in found["causes"] for r in c["repairs"]] == [
        ["if the outputs are isolated from each other, write 'common: north.B' at 'south'"]
    ]

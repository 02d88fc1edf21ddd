"""Mistakes that lie together: what mends all of them at once is found, though each alone has other cures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import netlister
from netlister.edits.text import new_text, text_edits
from netlister.mend import mend
from netlister.repairs import solving
from netlister.source import Source
from tests.properties.reference import load, reference

if TYPE_CHECKING:
    import pytest

TRIANGLE = """\
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
track:
  west: {length: 1 m}
  east: {length: 1 m}
  tail: {length: 1200 mm}
  arm-w: {length: 700 mm}
  arm-e: {length: 700 mm}
  base: {length: 900 mm}
  TW: {kind: insulated-frog, hand: left, jumpers: true}
  TE: {kind: insulated-frog, hand: right, jumpers: true}
  TS: {kind: insulated-frog, hand: wye, jumpers: true}
reversers:
  R1: {from: main, mode: automatic}
joints:
- {from: west, to: TW.toe}
- {from: TW.through, to: base}
- {from: base, to: TE.through}
- {from: TE.toe, to: east.a}
- {from: TW.diverging, to: arm-w}
- {from: arm-w, to: TS.left, insulate: right}
- {from: TE.diverging, to: arm-e, insulate: both}
- {from: arm-e, to: TS.right, insulate: both}
- {from: tail, to: TS.toe}
feeds:
- {to: west, A: right, B: left}
- {to: base, A: left, B: right}
- {to: tail, from: R1}
"""
"""Right but for one joint cut on one side only, one cut that should be metal, and the feed of `base` swapped."""

SIDING = """\
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
track:
  approach: {length: 600 mm}
  branch: {length: 900 mm}
  siding: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
machines:
  M1:
    throws: [T1]
    contacts:
      frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}
joints:
- {from: approach, to: T1.toe, insulate: both}
- {from: T1.through, to: branch}
- {from: T1.diverging, to: siding, insulate: both}
feeds:
- {to: branch}
- {to: siding}
"""
"""Right but for the joint of the frog left metal, the toe insulated, and the feed of `approach` forgotten."""


def rights(text: str) -> list[tuple[int, bool]]:
    """The weight of each repair, and whether enumeration finds nothing wrong once it is made."""
    layout = netlister.read_text(text)
    found = mend(layout)
    source = Source("yard.yaml", text)
    return [
        (r.weight, not reference(load(new_text(source, text_edits(layout, source, r.edit))))) for r in found.repairs
    ]


def test_two_cures_that_undo_each_other_are_not_offered_together() -> None:
    assert mend(netlister.read_text(TRIANGLE)).least
    made = rights(TRIANGLE)
    assert made
    assert made == [(3, True)] * len(made)


def test_every_repair_of_the_least_weight_is_listed() -> None:
    found = mend(netlister.read_text(SIDING))
    said = {choice.say for repair in found.repairs for choice in repair.choices}
    assert "use metal joiners at 'approach/T1.toe': write 'insulate: left' there" in said
    assert len({repair.weight for repair in found.repairs}) == 1
    assert all(right for _, right in rights(SIDING))


CABS = """\
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}
track:
  west: {length: 1 m}
  middle: {length: 1 m}
  east: {length: 1 m}
switches:
  S1: {positions: [cab1, off, cab2], contacts: {rail: {common: middle.left, cab1: cab1.A, cab2: cab2.A}}}
joints:
- {from: west, to: middle, insulate: left}
- {from: middle, to: east, insulate: left}
feeds:
- {to: west, from: cab1, A: right, B: left}
"""
"""Right but for the feed of `west`, swapped, and that of `east`, forgotten: so east.right has the wrong pole as yet."""


def test_a_feed_may_need_another_cure_beside_it() -> None:
    assert mend(netlister.read_text(CABS)).least
    made = rights(CABS)
    assert made
    assert made[0] == (2, False)  # `middle` is dead at off, which may be meant: a note, and no error
    assert {weight for weight, _ in made} == {2}


def test_what_a_switch_cuts_off_need_not_be_live_for_a_cure_to_count() -> None:
    fed = CABS + "- {to: east, from: cab2, A: left}\n"
    report = netlister.check_text(fed)
    assert {finding.cause for finding in report.findings} == {1}
    assert [choice.say for repair in report.causes[1].repairs[:1] for choice in repair.choices] == [
        "swap the two wires of the feed of 'west': cab1.A to west.left, cab1.B to west.right"
    ]
    right = netlister.check_text(fed.replace("A: right, B: left", "A: left, B: right"))
    assert [finding.severity.name for finding in right.findings] == ["NOTE"]


STOP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  siding: {length: 1 m}
  stop: {kind: buffer-metal}
joints:
- {from: siding, to: stop, insulate: right}
feeds:
- {to: siding}
- {to: stop, A: right, B: left}
"""
"""A buffer with a metal frame that is fed, and cut off on one side only."""


def test_a_cure_that_leaves_a_wheel_to_make_the_short_is_no_cure() -> None:
    """Without its feed alone the buffer has the pole of the rail that is not cut: a wheel over the cut is a short."""
    report = netlister.check_text(STOP)
    assert [choice.say for choice in report.causes[1].repairs[0].choices] == [
        "take out the feed of 'stop' from 'main'",
        "insulate 'siding/stop': write 'insulate: both' there",
    ]
    found = mend(netlister.read_text(STOP))
    assert found.least
    assert not found.wrong
    assert rights(STOP)[0] == (4, True)


SHELF = """\
format: netlister/1
supplies:
  hand: {type: dcc, voltage: 15 V, trip: 2 A}
track:
  main-w: {length: 600 mm}
  T1: {kind: live-frog, hand: right}
  loop: {length: 700 mm}
  back: {length: 700 mm}
  T2: {kind: live-frog, hand: left}
  main-e: {length: 500 mm}
  T3: {kind: live-frog, hand: left}
  brew: {length: 400 mm}
  end: {length: 300 mm}
machines:
  M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
  M2: {throws: [T2], contacts: {f: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}}}
  M3: {throws: [T3], contacts: {f: {common: T3.frog, through: T3.stock-right, diverging: T3.stock-left}}}
joints:
- {from: main-w, to: T1.toe}
- {from: T1.through, to: loop, insulate: vee}
- {from: T1.diverging, to: back, insulate: vee}
- {from: loop.b, to: T2.through, insulate: vee}
- {from: back.b, to: T2.diverging, insulate: vee}
- {from: T2.toe, to: main-e}
- {from: main-e.b, to: T3.toe}
- {from: T3.through, to: end, insulate: vee}
- {from: T3.diverging, to: brew, insulate: vee}
feeds:
- {to: [main-w, loop, back, brew], A: left, B: right}
- {to: end, A: right, B: left}
"""
"""Right but for all three contacts, each the wrong way round, and the feed of `end` swapped: one short, always."""


def test_four_mistakes_behind_one_short_are_all_named() -> None:
    (cause,) = netlister.check_text(SHELF).causes.values()
    said = {c.say for c in cause.repairs[0].choices}
    assert said == {
        "swap the two throws of 'f' of 'M1': through to T1.stock-right, diverging to T1.stock-left",
        "swap the two throws of 'f' of 'M2': through to T2.stock-left, diverging to T2.stock-right",
        "swap the two throws of 'f' of 'M3': through to T3.stock-left, diverging to T3.stock-right",
        "swap the two wires of the feed of 'end': hand.A to end.left, hand.B to end.right",
    }
    assert cause.least
    assert rights(SHELF)[0] == (4, True)


def test_what_is_said_where_the_search_gives_up_helps(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = SHELF.replace("T1.diverging, to: back, insulate: vee", "T1.diverging, to: back")
    (cause,) = netlister.check_text(wrong).causes.values()
    assert sorted(c.kind for c in cause.repairs[0].choices) == [
        *("feed-swapped", "joint-metal", "throws-swapped", "throws-swapped", "throws-swapped")
    ]
    with monkeypatch.context() as impatient:
        impatient.setattr(solving, "PATIENCE", 0)
        report = netlister.check_text(wrong)
    assert not report.causes
    (finding,) = report.findings
    assert "leave one feed in the file" in finding.fix
    feeds = "- {to: [main-w, loop, back, brew], A: left, B: right}\n- {to: end, A: right, B: left}\n"
    assert feeds in wrong
    report = netlister.check_text(wrong.replace(feeds, "- {to: back}\n"))
    said = {c.say for cause in report.causes.values() for c in cause.repairs[0].choices}
    assert said >= {
        "insulate 'T1.diverging/back': write 'insulate: vee' there",
        "swap the two throws of 'f' of 'M1': through to T1.stock-right, diverging to T1.stock-left",
        "swap the two throws of 'f' of 'M2': through to T2.stock-left, diverging to T2.stock-right",
        "swap the two throws of 'f' of 'M3': through to T3.stock-left, diverging to T3.stock-right",
    }
    mended = SHELF.replace("T1.stock-left, diverging: T1.stock-right", "T1.stock-right, diverging: T1.stock-left")
    mended = mended.replace("T2.stock-right, diverging: T2.stock-left", "T2.stock-left, diverging: T2.stock-right")
    mended = mended.replace("T3.stock-right, diverging: T3.stock-left", "T3.stock-left, diverging: T3.stock-right")
    (cause,) = netlister.check_text(mended).causes.values()
    assert [c.kind for c in cause.repairs[0].choices] == ["feed-swapped"]


STUB = """\
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
track:
  west: {length: 900 mm}
  east: {length: 900 mm}
  stub: {length: 500 mm}
  T1: {kind: live-frog-bonded, hand: left}
joints:
- {from: west, to: T1.toe}
- {from: T1.through, to: east, insulate: vee}
- {from: T1.diverging, to: stub}
feeds:
- {to: [west, east], A: left, B: right}
"""
"""Without a contact for the frog, a cut beside it and a feed beyond it; fed alone, the stub feeds the frog one pole."""


def test_a_cure_that_alone_lets_a_wheel_join_the_poles_is_told_with_what_it_needs() -> None:
    (cause,) = netlister.check_text(STUB).causes.values()
    assert [c.kind for c in cause.repairs[0].choices] == ["contact-missing", "joint-metal", "feed-missing"]
    fed = STUB.replace("[west, east]", "[west, east, stub]")
    assert {f.rule for f in netlister.check_text(fed).findings} >= {"gap-clash"}
    assert rights(STUB)[0][1]

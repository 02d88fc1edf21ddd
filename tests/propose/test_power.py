"""Districts, cab sections and reversing sections on direct current, as the file wants them."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from netlister.check import check
from netlister.layout.read import read_layout
from netlister.propose.search import propose
from netlister.source import Source
from tests.propose.bare import wrong_by_enumeration

EXAMPLES = Path(__file__).parents[2] / "examples"


def read(text):
    return read_layout(Source("layout.yaml", text))


def proposed(text, **options):
    found = propose(read(text), Source("layout.yaml", text), **options)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert not {key for key in wrong_by_enumeration(found.text) if key[0] != "hand-reversing"}
    return found


DISTRICTS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  town:    {supply: main, breaker: 3 A}
  harbour: {supply: main, breaker: 3 A}
track:
  market: {length: 900 mm}
  T1: {kind: live-frog, hand: left}
  lane: {length: 900 mm}
  quay: {length: 900 mm}
joints:
  - {from: market, to: T1.toe}
  - {from: T1.through, to: lane}
  - {from: T1.diverging, to: quay}
feeds:
  - {to: market, from: town}
  - {to: quay, from: harbour}
"""


def test_districts_are_parted_on_both_rails():
    """Where two districts meet both rails are cut (common practice, no published source)."""
    found = proposed(DISTRICTS)
    layout = read(found.text)
    cut = {joint.name: tuple(pair[2] for pair in joint.pairs) for joint in layout.joints}
    assert cut["T1.diverging/quay"] == (True, True)
    assert sum(cut["T1.through/lane"]) == 1
    assert not check(layout, select=["districts-joined", "districts-crossed"]).findings


def test_a_section_on_a_cab_switch_is_cut_out():
    text = (EXAMPLES / "two-cabs" / "layout.yaml").read_text(encoding="utf-8")
    data = yaml.load(text, yaml.BaseLoader)  # noqa: S506
    was = read(text)
    for joint in data["joints"]:
        joint.pop("insulate", None)
    found = proposed(yaml.safe_dump(data, sort_keys=False))
    now = sum(insulated for joint in read(found.text).joints for _, _, insulated in joint.pairs)
    assert now <= sum(insulated for joint in was.joints for _, _, insulated in joint.pairs)
    assert found.design.feeds == 0


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
  S1: {positions: [one, off, two], contacts: {rail: {common: middle.left, one: cab1.A, two: cab2.A}}}
joints:
  - {from: west, to: middle}
  - {from: middle, to: east}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}
expect:
  - {track: middle, is: dead, when: {S1: "off"}}
"""


def test_the_rail_of_a_cab_section_is_cut_and_the_common_one_is_not():
    found = proposed(CABS)
    assert [[pair[2] for pair in joint.pairs] for joint in read(found.text).joints] == [[True, False], [True, False]]


LOOP = """\
format: netlister/1
supplies: {main: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  line: {length: 2 m}
  loop: {length: 3 m}
  T1: {kind: live-frog-bonded, hand: wye}
machines: {M1: {throws: [T1]}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop}
  - {from: loop, to: T1.left}
"""


def test_a_balloon_loop_on_direct_current_follows_its_turnout():
    layout = read(proposed(LOOP).text)
    (reverser,) = layout.reversers.values()
    assert not reverser.automatic
    assert reverser.variable == "M1"


OVAL = """\
format: netlister/1
supplies: {main: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  north: {length: 2 m}
  south: {length: 2 m}
  short-cut: {length: 1 m}
  T1: {kind: live-frog-bonded, hand: left}
  T2: {kind: live-frog-bonded, hand: left}
joints:
  - {from: T1.through, to: north}
  - {from: north, to: T2.toe}
  - {from: T2.through, to: south}
  - {from: south, to: T1.toe}
  - {from: T1.diverging, to: short-cut}
  - {from: short-cut, to: T2.diverging}
"""


def test_where_no_turnout_says_how_it_stands_a_hand_switch_does():
    """A short cut across an oval: its two ends are crossed by two turnouts, each for itself."""
    layout = read(proposed(OVAL).text)
    (reverser,) = layout.reversers.values()
    assert layout.variables[reverser.variable].kind == "switch"


def test_the_section_fits_the_longest_train():
    text = LOOP.replace("dc,", "dcc,").replace("loop: {length: 3 m}", "loop: {length: 400 mm}\n  more: {length: 2 m}")
    text = text.replace("{from: loop, to: T1.left}", "{from: loop, to: more}\n  - {from: more, to: T1.left}")
    found = proposed(text + "trains: {goods: {length: 1500 mm}}\n")
    assert found.design.reversers == 1
    assert not check(read(found.text), select=["reversing-length"]).findings


@pytest.mark.parametrize("kind", ["dcc", "dc"])
def test_a_turntable_turns_its_poles(kind):
    text = f"""\
format: netlister/1
supplies: {{main: {{type: {kind}, voltage: 12 V, trip: 1 A}}}}
track:
  line: {{length: 2 m}}
  shed: {{length: 300 mm}}
  pit: {{kind: turntable, roads: 2}}
joints:
  - {{from: line, to: pit.s1}}
  - {{from: shed, to: pit.s2}}
"""
    layout = read(proposed(text).text)
    (reverser,) = layout.reversers.values()
    assert reverser.automatic == (kind == "dcc")
    if kind == "dc":
        assert reverser.variable == "pit"

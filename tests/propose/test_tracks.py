"""Every aim on tracks of every kind: right by plain enumeration, at its cost, and nothing to add to it once more."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
import yaml

from netlister.check import check
from netlister.finding import Severity
from netlister.layout.read import read_layout
from netlister.propose.bound import least_cost
from netlister.propose.model import AIMS, PRICES
from netlister.propose.search import propose
from netlister.propose.trial import Trial
from netlister.source import Source, UnusableError
from tests.amount import seeds, some
from tests.properties.layouts import dump, random_layout
from tests.propose.bare import bare, wrong_by_enumeration

TRACKS = yaml.safe_load((Path(__file__).parent / "tracks.yaml").read_text(encoding="utf-8"))
CASES = [(name, aim) for name in TRACKS for aim in AIMS]


def read(text):
    return read_layout(Source("layout.yaml", text))


def proposed(text, **options):
    return propose(read(text), Source("layout.yaml", text), **options)


@pytest.mark.parametrize(("name", "aim"), [*some(CASES, 59)])
def test_a_track_is_wired(name, aim):
    text = TRACKS[name]["text"]
    found = proposed(text, aim=aim)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.cost == TRACKS[name]["costs"][[*AIMS].index(aim)]
    layout = read(found.text)
    assert not [f for f in check(layout, causes=False).findings if f.severity >= Severity.WARNING]
    dead = {p.name for p in layout.pieces.values() if p.dead_frog}
    wrong = {(rule, about) for rule, about in wrong_by_enumeration(found.text) if about.partition(".")[0] not in dead}
    assert not {key for key in wrong if key[0] != "hand-reversing"}  # a note: throw it in time
    assert not proposed(found.text, aim=aim).design.changes


@pytest.mark.parametrize("aim", AIMS)
@pytest.mark.parametrize("seed", seeds(8, 80))
def test_no_wiring_is_cheaper_than_the_bound(aim, seed):
    """The bound itself, before it is held to be no more than what was found."""
    text = dump(bare(random_layout(Random(400 + seed))))
    try:
        layout = read(text)
    except UnusableError:
        return
    source = Source("layout.yaml", text)
    found = propose(layout, source, aim=aim)
    if found.right:
        assert least_cost(Trial(layout, source, PRICES, None), aim, "contact") <= found.cost


def test_a_line_between_two_loops_is_the_section():
    """One reverser for the line and its two turnouts is cheaper than one for each loop."""
    found = proposed(TRACKS["dogbone"]["text"])
    assert found.design.reversers == 1
    assert {f.piece for f in read(found.text).feeds if f.source == "R1"} == {"t1"}
    assert found.bound == found.cost


def test_loops_are_the_sections_where_a_train_is_longer_than_the_line():
    text = TRACKS["dogbone"]["text"] + "trains: {coal: {length: 4.5 m}}\n"
    found = proposed(text.replace("length: 3 m", "length: 6 m"))
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.design.reversers == 2
    assert not wrong_by_enumeration(found.text)


def test_a_reverser_that_is_written_and_idle_is_used():
    text = TRACKS["balloon-reverser-there"]["text"]
    found = proposed(text)
    assert found.design.reversers == 0
    assert {f.source for f in read(found.text).feeds} == {"R9", "main"}


IDLE = TRACKS["balloon"]["text"].replace("type: dcc, voltage: 15 V, trip: 3 A", "type: dc, voltage: 12 V, trip: 1 A")


@pytest.mark.parametrize("straight", ["through", "diverging"])
def test_an_idle_reverser_that_follows_is_wired_for_how_it_stands(straight):
    found = proposed(IDLE + f"reversers: {{R9: {{from: main, follows: M, straight: [{straight}]}}}}\n")
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.design.reversers == 0
    assert not wrong_by_enumeration(found.text)


def test_a_main_line_stays_live_where_sidings_are_switched():
    """What has no end beyond a turnout is no siding; what ends at a buffer is one."""
    text = TRACKS["stub-hand"]["text"].replace(
        "joints:", "  far: {kind: live-frog, hand: left}\n  one: {}\n  stop: {kind: buffer}\njoints:"
    )
    text += "  - {from: yard, to: far.toe}\n  - {from: far.through, to: one}\n  - {from: dock, to: stop}\n"
    found = proposed(text, aim="switched-sidings")
    assert found.right
    dead = {name for e in read(found.text).expectations for name in e.pieces}
    assert dead == {"dock", "one"}
    assert found.bound == found.cost


TIED = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  P1: {kind: live-frog-bonded, hand: right}
  P2: {kind: live-frog-bonded, hand: left}
machines: {M: {throws: [P1, P2]}}
joints:
  - {from: P1.through, to: P2.through}
  - {from: P1.diverging, to: P2.diverging}
"""


def test_frogs_that_move_as_one_stay_joined():
    """A loop of two turnouts frog to frog on one machine: two joiners and a contact less than with all frogs apart."""
    found = proposed(TIED)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert (found.design.joiners, found.design.contacts) == (0, 1)
    assert found.bound <= found.cost
    assert not wrong_by_enumeration(found.text)
    apart = proposed(TIED.replace("[P1, P2]", "[P1]")).design
    assert (apart.joiners, apart.contacts) == (2, 2)


def test_several_dead_frogs_on_one_route_are_named():
    text = TRACKS["three-way-dc"]["text"].replace("three-way-live", "three-way-isolated-metal, frog: dead")
    found = proposed(text)
    assert not found.right
    assert "take 'frog: dead' out" in found.missing[0]
    assert proposed(text.replace(", frog: dead", "")).right

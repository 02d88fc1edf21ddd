"""Ways from one place to another, worked out by hand."""

from __future__ import annotations

import networkx as nx
import pytest

import netlister
from netlister.circuit.build import build
from netlister.lengths import IN_A_METRE
from netlister.outputs.routes import PlaceError, find, place_of, ways_object, ways_text
from netlister.poles.reach import Poles
from netlister.routes.settings import Settings
from netlister.routes.track import gap_width
from tests.benchmarks import layouts as large

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\n"
# RP-12.7, 9 mm gauge, No. 6 (published): 83 mm lead and 16.5 mm from the point to the heel of the frog make 99.5 mm.
YARD = (
    HEAD
    + """track:
  line: {length: 900 mm}
  far: {length: 1 m}
  siding: {length: 500 mm}
  T1: {kind: insulated-frog, hand: right}
machines: {M1: {throws: [T1]}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: far, insulate: both}
  - {from: T1.diverging, to: siding, insulate: left, id: gs}
feeds: [{to: [line, far, siding]}]
"""
)


def settings(text):
    return Settings(Poles(build(netlister.read_text(text))))


def asked(text, start, goal, changes=0, most=50):
    s = settings(text)
    ways = find(s, place_of(s.layout, start), place_of(s.layout, goal), changes, most)
    return ways_object(s, ways), ways_text(s, ways)


def runs(text, start, goal, changes=0):
    answer, _ = asked(text, start, goal, changes)
    return [[[p["piece"] for p in run["pieces"]] for run in one["runs"]] for one in answer["routes"]]


def test_a_route_with_its_positions_lengths_gaps_and_dead_lengths():
    answer, text = asked(YARD, "line", "siding")
    (route,) = answer["routes"]
    assert route["length"] == 900 + 99.5 + 500
    assert route["unknown"] == []
    (run,) = route["runs"]
    assert run["set"] == [{"M1": "diverging"}]
    assert [(p["piece"], p["from"], p["to"], p["at"]) for p in run["pieces"]] == [
        ("line", "a", "b", 0),
        ("T1", "toe", "diverging", 900),
        ("siding", "a", "b", 999.5),
    ]
    # RP-12.7: the toe end of the frog is 9.5 mm before its point, the frog 26 mm long.
    dead = [(d["at"], d["length"], d["side"], d["piece"]) for d in run["dead"]]
    assert dead == [(900 + 83 - 9.5, 26, "left", "T1")]
    joint = [(g["at"], g["side"], g["joint"], g["rails"]) for g in run["gaps"] if "joint" in g]
    assert joint == [(999.5, "left", "gs", ["T1.closure-left", "siding.left"])]
    assert "set: M1 diverging" in text
    assert "dead for 26 mm under the left wheels" in text


def test_sides_change_with_the_direction():
    answer, _ = asked(YARD, "siding", "line")
    (run,) = answer["routes"][0]["runs"]
    assert [(d["at"], d["side"]) for d in run["dead"]] == [(500, "right")]
    assert [(g["at"], g["side"]) for g in run["gaps"] if "joint" in g] == [(500, "right")]


def test_an_end_is_a_point_and_a_piece_is_run_over_whole():
    answer, _ = asked(YARD, "line.b", "siding.a")
    assert answer["routes"][0]["length"] == 99.5
    assert runs(YARD, "T1.toe", "siding.b") == [[["T1", "siding"]]]
    assert runs(YARD, "line.a", "T1.through") == [[["line", "T1"]]]
    assert runs(YARD, "T1.toe", "T1.diverging") == [[["T1"]]]


def test_with_a_change_of_direction():
    assert runs(YARD, "far", "siding") == []
    assert runs(YARD, "far", "siding", 1) == [[["far", "T1", "line"], ["line", "T1", "siding"]]]
    answer, text = asked(YARD, "far", "siding", 1)
    assert [run["set"] for run in answer["routes"][0]["runs"]] == [[{"M1": "through"}], [{"M1": "diverging"}]]
    assert "stop on 'line', clear of 'T1', throw, and come back" in text


def test_it_says_that_a_change_of_direction_would_do():
    answer, text = asked(YARD, "far", "siding")
    assert "add --reverse 1" in answer["why_none"]
    assert text.startswith("far to siding: no route: ")


def test_no_track_at_all():
    text = YARD.replace("  - {from: T1.diverging, to: siding, insulate: left, id: gs}\n", "")
    assert asked(text, "line", "siding")[0]["why_none"] == "no track leads from one to the other"


TWO = (
    HEAD
    + """track:
  west: {length: 1 m}
  north: {length: 1 m}
  south: {length: 1 m}
  east: {length: 1 m}
  T: {kind: live-frog, hand: left}
  U: {kind: live-frog, hand: right}
  V: {kind: live-frog, hand: left}
joints:
  - {from: west, to: T.toe}
  - {from: T.through, to: north}
  - {from: north, to: U.toe}
  - {from: U.through, to: east}
  - {from: U.diverging, to: V.toe}
  - {from: V.through, to: south}
feeds: [{to: west}]
"""
)


def test_turnouts_on_one_machine_contradict_each_other():
    text = TWO + "machines: {M: {throws: [T, {U: diverging}]}}\n"
    assert runs(text, "west", "south") == [[["west", "T", "north", "U", "V", "south"]]]
    assert asked(text, "west", "east")[0]["why_none"] == (
        "the way there needs 'M' at 'through' first and at 'diverging' for 'U', and a train under way cannot have both"
    )


def test_what_never_rules_out():
    text = TWO + "never: [{T: through, U: diverging}]\n"
    assert runs(text, "west", "east") == [[["west", "T", "north", "U", "east"]]]
    answer, _ = asked(text, "west", "south")
    assert answer["routes"] == []
    assert "'never' rules out" in answer["why_none"]


def test_a_crossing_is_set_by_the_turnout_that_leads_to_it():
    """Only with T1 set for it is the crossing's track set; that is part of the positions."""
    text = (
        HEAD
        + """track:
  line: {length: 1 m}
  end: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  X1: {kind: diamond-insulated, length: 90 mm}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: X1.a1}
  - {from: X1.b1, to: end}
feeds: [{to: [line, end]}]
"""
    )
    answer, _ = asked(text, "X1", "end")
    assert [run["set"] for one in answer["routes"] for run in one["runs"]] == [[{"T1": "diverging"}]]


def test_pieces_without_a_length_are_named():
    answer, text = asked(YARD.replace("far: {length: 1 m}", "far: "), "line", "far")
    (route,) = answer["routes"]
    assert route["unknown"] == ["far"]
    assert route["runs"][0]["pieces"][-1]["length"] is None
    assert "at least 999.5 mm" in text


@pytest.mark.parametrize(("place", "message"), [("lin", "did you mean 'line'"), ("T1.a", "it has 'toe', 'through'")])
def test_places_that_there_are_not(place, message):
    layout = netlister.read_text(YARD)
    with pytest.raises(PlaceError, match=message):
        place_of(layout, place)


def test_the_double_ended_yard_has_a_route_over_each_road_and_the_search_can_be_cut():
    text = large.double_ended_yard(9)
    answer, _ = asked(text, "west", "east")
    assert len(answer["routes"]) == 9
    assert answer["complete"] is True
    cut, said = asked(text, "west", "east", 0, 4)
    assert cut["routes"] == answer["routes"][:4]
    assert cut["complete"] is False
    assert "There may be more routes than these 4" in said


def test_the_number_of_routes_through_a_lattice_is_that_of_networkx():
    """Crossovers between two tracks, one after the other: each doubles the choices, checked with all_simple_paths."""
    count = 5
    lines = [HEAD + "track:", "  a0: {length: 1 m}", "  b0: {length: 1 m}"]
    joints = []
    graph = nx.DiGraph()
    for n in range(1, count + 1):
        lines += [f"  T{n}: {{kind: live-frog, hand: right}}", f"  U{n}: {{kind: live-frog, hand: right}}"]
        lines += [f"  {x}{n}: {{length: 1 m}}" for x in "ab"]
        up, down = ("a", "b") if n % 2 else ("b", "a")
        joints += [f"  - {{from: {up}{n - 1}, to: T{n}.toe}}", f"  - {{from: T{n}.through, to: {up}{n}.a}}"]
        joints += [f"  - {{from: {down}{n - 1}.b, to: U{n}.through}}", f"  - {{from: U{n}.toe, to: {down}{n}.a}}"]
        joints += [f"  - {{from: T{n}.diverging, to: U{n}.diverging}}"]
        graph.add_edges_from(
            [(f"{up}{n - 1}", f"{up}{n}"), (f"{down}{n - 1}", f"{down}{n}"), (f"{up}{n - 1}", f"{down}{n}")]
        )
    text = "\n".join([*lines, "joints:", *joints, "feeds: [{to: a0}]"]) + "\n"
    for goal in ("a5", "b5"):
        expected = len(list(nx.all_simple_paths(graph, "a0", goal)))
        assert len(asked(text, "a0", goal)[0]["routes"]) == expected


def test_the_default_width_of_a_gap_has_a_source():
    layout = netlister.read_text(YARD)
    width = gap_width(layout)
    assert width.metres == 0.0008
    assert width.source == "common practice, no published source"
    assert gap_width(netlister.read_text("gap: 1 mm\n" + YARD)) * IN_A_METRE == 1_000_000


TABLES = (
    HEAD
    + """track:
  lead: {length: 500 mm}
  shed: {length: 300 mm}
  w1: {length: 500 mm}
  w2: {length: 300 mm}
  e2: {length: 400 mm}
  TT: {kind: turntable, roads: 3}
  TR: {kind: traverser, tracks: 2}
joints:
  - {from: lead, to: TT.s1}
  - {from: shed, to: TT.s3}
  - {from: w1, to: TR.a1}
  - {from: w2, to: TR.a2}
  - {from: TR.b2, to: e2}
reversers: {R1: {from: main, mode: automatic}}
feeds: [{to: [lead, shed, w1, w2, e2, TR.a1]}, {to: TT, from: R1, A: bridge-left, B: bridge-right}]
"""
)


def sets(text, start, goal, changes=0):
    answer, _ = asked(text, start, goal, changes)
    return [[run["set"] for run in one["runs"]] for one in answer["routes"]]


def test_over_a_turntable():
    """Head at s1, a train stands with its front at the tail: on it goes at s3 with the tail there, back with the head."""
    on = [[[{"TT": "s1"}], [{"TT": "s3-turned"}]], [[{"TT": "s1-turned"}], [{"TT": "s3"}]]]
    back = [[[{"TT": "s1"}], [{"TT": "s3"}]], [[{"TT": "s1-turned"}], [{"TT": "s3-turned"}]]]
    assert sets(TABLES, "lead", "shed") == on
    assert sorted(map(str, sets(TABLES, "lead", "shed", 1))) == sorted(map(str, on + back))
    assert runs(TABLES, "lead", "shed")[0] == [["lead", "TT"], ["TT", "shed"]]
    text = asked(TABLES, "lead", "shed", 1)[1]
    assert text.count("move it with the train on it, and go on") == 2
    assert text.count("move it with the train on it, and come back off it") == 2


def test_over_a_traverser():
    assert sets(TABLES, "w1", "e2") == [[[{"TR": "t1"}], [{"TR": "t2"}]]]
    answer, _ = asked(TABLES, "w1", "w2")
    assert answer["routes"] == []
    assert "changes direction once" in answer["why_none"]
    assert sets(TABLES, "w1", "w2", 1) == [[[{"TR": "t1"}], [{"TR": "t2"}]]]
    assert sets(TABLES, "w2", "e2") == [[[{"TR": "t2"}]]]  # straight over: nothing moves

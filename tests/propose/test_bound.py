"""What the bound says where the track comes back on itself: never more than a wiring that is right, and seldom less."""

from __future__ import annotations

import pytest
import yaml

from netlister.layout.read import read_layout
from netlister.propose.search import propose
from netlister.source import Source
from tests.benchmarks.layouts import branch_line, double_ended_yard
from tests.properties.layouts import dump
from tests.propose.bare import bare, wrong_by_enumeration
from tests.propose.test_propose import HEAD, LOOP, TRIANGLE


def with_balloons(text, ends):
    """A bare layout with a turnout and a loop behind each of some ends of track."""
    data = bare(yaml.load(text, yaml.BaseLoader))  # noqa: S506
    data["machines"] = dict(data.get("machines") or {})
    for n, end in enumerate(ends):
        data["track"][f"B{n}"] = {"kind": "live-frog", "hand": "wye"}
        data["track"][f"balloon-{n}"] = {"length": "3 m"}
        data["machines"][f"MB{n}"] = {"throws": [f"B{n}"]}
        data["joints"] += [
            {"from": end, "to": f"B{n}.toe"},
            {"from": f"B{n}.left", "to": f"balloon-{n}.a"},
            {"from": f"balloon-{n}.b", "to": f"B{n}.right"},
        ]
    return dump(data)


def proposed(text, **options):
    return propose(read_layout(Source("layout.yaml", text)), Source("layout.yaml", text), **options)


@pytest.mark.parametrize("text", [LOOP, TRIANGLE, with_balloons(branch_line(3), ["siding-3.b"])])
@pytest.mark.parametrize("aim", ["all-live", "no-blades"])
def test_one_section_is_proved_the_least(text, aim):
    found = proposed(text, aim=aim)
    assert found.right
    assert found.bound == found.cost
    assert not wrong_by_enumeration(found.text)


@pytest.mark.parametrize(
    "text",
    [with_balloons(branch_line(50), ["siding-50.b"]), with_balloons(double_ended_yard(26), ["east.b"])],
)
def test_fifty_turnouts_and_a_loop_are_proved(text):
    found = proposed(text)
    assert found.right
    assert found.bound == found.cost


BY_HAND = (
    HEAD
    + """\
  A: {kind: live-frog, hand: wye}
  B: {kind: live-frog, hand: wye}
  trunk: {length: 3 m}
  la: {length: 3 m}
  lb: {length: 3 m}
machines:
  MA: {throws: [A], contacts: {frog: {common: A.frog, left: A.stock-right, right: A.stock-left}}}
  MB: {throws: [B], contacts: {frog: {common: B.frog, left: B.stock-right, right: B.stock-left}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: A.toe, to: trunk.a}
  - {from: trunk.b, to: B.toe}
  - {from: A.left, to: la.a, insulate: both}
  - {from: la.b, to: A.right, insulate: both}
  - {from: B.left, to: lb.a, insulate: both}
  - {from: lb.b, to: B.right, insulate: both}
feeds:
  - {to: trunk, from: R1}
  - {to: la}
  - {to: lb}
"""
)
"""A line between two loops, wired by hand with one reverser for the line: right, and cheaper than one for each loop."""


@pytest.mark.parametrize("aim", ["all-live", "no-blades", "switched-sidings", "fewest-joiners", "fewest-wires"])
def test_the_bound_is_no_more_than_what_someone_wires_by_hand(aim):
    assert not wrong_by_enumeration(BY_HAND)
    found = proposed(dump(bare(yaml.load(BY_HAND, yaml.BaseLoader))), aim=aim)  # noqa: S506
    assert found.right
    by_hand = 8 + 6 + 2 * 2 + 10
    assert found.bound <= by_hand
    assert found.bound >= 20


def test_five_hundred_turnouts_and_three_loops_within_two_per_cent():
    found = proposed(with_balloons(branch_line(500), ["siding-500.b", "siding-250.b", "siding-120.b"]))
    assert found.right
    assert found.bound >= 0.98 * found.cost


def test_sidings_are_switched_though_one_reverser_for_the_whole_line_would_be_cheaper_without():
    """With a reverser at each loop the sidings can be switched, which saves more than the second reverser costs."""
    text = with_balloons(branch_line(12), ["siding-12.b", "siding-6.b"])
    live, switched = proposed(text), proposed(text, aim="switched-sidings")
    assert live.right
    assert switched.right
    assert (live.design.reversers, switched.design.reversers) == (1, 2)
    assert switched.bound <= switched.cost < live.cost

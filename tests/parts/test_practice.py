"""The kinds against what modellers measure and wire. All of it: common practice, no published source.

SL, SR: stock rails. BL, BR: the blades beside them. F: frog. VL: the right-hand rail of the left leg; VR: the left-hand
rail of the right leg.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from netlister.kinds import library
from netlister.outputs import kind_text

LIBRARY = library()
EXITS = {"right": ("through", "diverging"), "left": ("diverging", "through"), "wye": ("left", "right")}
JUMPERS = (("jumpers", "true"),)

# construction: kind, options, whether a contact feeds the frog, the rail that each blade is part of
BUILT = {
    "LF1": ("live-frog", (), False, {"BL": "frog", "BR": "frog"}),
    "LF2 + contact": ("live-frog-bonded", (), True, {"BL": "stock-left", "BR": "stock-right"}),
    "IR": ("insulated-frog", (), False, {"BL": "closure-left", "BR": "closure-right"}),
    "IA": ("insulated-frog", JUMPERS, False, {"BL": "closure-left", "BR": "closure-right"}),
    "IAF + contact": ("isolated-metal-frog", (), True, {"BL": "stock-left", "BR": "stock-right"}),
}

# what a meter beeps on, power off: the groups of points in position L and in position R; any two points of different
# groups must be silent
METER = {
    "LF1": (["SL", "F SR BL BR VL VR"], ["SR", "F SL BL BR VL VR"]),
    "LF2 + contact": (["SL BL", "F SR BR VL VR"], ["SR BR", "F SL BL VL VR"]),
    "IR": (["SL", "SR BR VL", "BL VR"], ["SR", "SL BL VR", "BR VL"]),
    "IA": (["SL VR BL", "SR VL BR"], ["SL VR BL", "SR VL BR"]),
    "IAF + contact": (["F SR VL BR", "SL VR BL"], ["F SL VR BL", "SR VL BR"]),
}


def groups(pairs, rails):
    """Which rail stands for the group of each rail."""
    leader = {rail: rail for rail in rails}
    for a, b in pairs:
        old, new = leader[a], leader[b]
        leader = {rail: new if of == old else of for rail, of in leader.items()}
    return leader


@pytest.mark.parametrize("hand", EXITS)
@pytest.mark.parametrize("built", BUILT)
def test_what_a_meter_says(built, hand):
    name, options, contact, blades = BUILT[built]
    kind = LIBRARY.kind(name, hand, options)
    left, right = EXITS[hand]
    points = {"SL": "stock-left", "SR": "stock-right", **blades}
    points |= {"VL": kind.ends[left].right, "VR": kind.ends[right].left}
    if "frog" in kind.rails:
        points["F"] = "frog"
    for exit_, throw, expected in ((left, "stock-right", METER[built][0]), (right, "stock-left", METER[built][1])):
        made = [m.rails for m in kind.made if m.when == (("", exit_),)]
        wired = [("frog", throw)] if contact else []
        leader = groups([*kind.bonds, *made, *wired], kind.rails)
        group = {point: number for number, text in enumerate(expected) for point in text.split()}
        assert set(group) == set(points)
        for a, b in combinations(sorted(points), 2):
            beeps = leader[points[a]] == leader[points[b]]
            assert beeps == (group[a] == group[b]), (exit_, a, b)


def test_each_slip_frog_is_driven_from_the_other_end():
    kind = LIBRARY.kind("double-slip-live")
    driven = {
        rail: [(bar.name, poles) for bar, poles in kind_text.driven_by(kind, rail)] for rail in ("frog-a", "frog-b")
    }
    assert driven == {
        "frog-a": [("b", {"a1": "side-right", "a2": "side-left"})],
        "frog-b": [("a", {"b1": "side-left", "b2": "side-right"})],
    }


def test_two_contacts_do_for_a_three_way():
    kind = LIBRARY.kind("three-way-live")
    names = {rail: [bar.name for bar, _ in kind_text.driven_by(kind, rail)] for rail in kind_text.changing(kind)}
    assert names == {"frog-left": ["left"], "frog-centre": ["left", "right"], "frog-right": ["right"]}
    # the centre frog may be tied to either outer one: where both are in use they need the same pole
    for outer in ("frog-left", "frog-right"):
        for bar, poles in kind_text.driven_by(kind, outer):
            assert (bar, poles) in kind_text.driven_by(kind, "frog-centre")


def test_the_fourth_position_of_a_three_way_is_no_route():
    kind = LIBRARY.kind("three-way-live")
    assert {"left": "left", "right": "right"} not in [dict(route.when) for route in kind.routes]
    assert "No route: tie bar left at left and tie bar right at right" in kind_text.kind_page(LIBRARY, kind.name)


def test_the_frogs_of_a_live_diamond_are_always_opposite():
    kind = LIBRARY.kind("diamond-live")
    table = [dict(kind_text.needs(kind, route)) for route in kind.routes]
    assert table == [
        {"frog-a": "outer-right", "frog-b": "outer-left"},
        {"frog-a": "outer-left", "frog-b": "outer-right"},
    ]


def test_the_tracks_of_an_insulated_diamond_share_no_rail():
    first, second = LIBRARY.kind("diamond-insulated").routes
    assert not ({*first.left, *first.right} - {None}) & {*second.left, *second.right}


@pytest.mark.parametrize(
    ("name", "insulated"),
    [
        ("live-frog", {"through.right", "diverging.left"}),
        ("live-frog-bonded", {"through.right", "diverging.left"}),
        ("isolated-metal-frog", set()),
        ("insulated-frog", set()),
        ("three-way-live", {"left.right", "centre.left", "centre.right", "right.left"}),
        ("double-slip-live", {"a1.right", "a2.left", "b1.left", "b2.right"}),
        ("diamond-live", {"a1.right", "a2.left", "b1.left", "b2.right"}),
    ],
)
def test_rails_to_insulate_for_the_frogs_sake(name, insulated):
    kind = LIBRARY.kind(name, "right" if LIBRARY.takes(name).hands else "")
    change = kind_text.changing(kind)
    ends = kind.ends.values()
    found = {
        f"{e.name}.{side}" for e in ends for side, rail in (("left", e.left), ("right", e.right)) if rail in change
    }
    assert found == insulated

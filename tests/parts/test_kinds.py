"""The kinds in `parts/`, each against a table typed from the description of the layout format, not from the files."""

from __future__ import annotations

import pytest

from netlister.kinds import KindError, library
from netlister.kinds.find import files
from netlister.kinds.load import read_definitions
from netlister.kinds.measure import total
from netlister.outputs import kind_text
from netlister.source import Source, UnusableError

LIBRARY = library()
SL, SR, CL, CR = "stock-left", "stock-right", "closure-left", "closure-right"
HANDS = {"right": ("through", "diverging"), "left": ("diverging", "through"), "wye": ("left", "right")}
TURNOUTS = ["live-frog", "live-frog-bonded", "isolated-metal-frog", "insulated-frog"]

# per construction: rails under the left and right wheels to the left exit and to the right exit, what conducts there,
# and the rails at the two exits
TWO_WAY = {
    "live-frog": {
        "L": (([SL], [SR, "frog"]), {("frog", SR)}, (SL, "frog")),
        "R": (([SL, "frog"], [SR]), {("frog", SL)}, ("frog", SR)),
    },
    "live-frog-bonded": {
        "L": (([SL], [SR, "frog"]), set(), (SL, "frog")),
        "R": (([SL, "frog"], [SR]), set(), ("frog", SR)),
    },
    "isolated-metal-frog": {
        "L": (([SL], [SR, "frog", SR]), set(), (SL, SR)),
        "R": (([SL, "frog", SL], [SR]), set(), (SL, SR)),
    },
    "insulated-frog": {
        "L": (([SL], [SR, CR, None, CR]), {(CR, SR)}, (SL, CR)),
        "R": (([SL, CL, None, CL], [SR]), {(CL, SL)}, (CL, SR)),
    },
}


def conducting(kind, route):
    return {made.rails for made in kind.made if set(made.when) <= set(route.when)}


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("name", TURNOUTS)
def test_two_way_turnouts(name, hand):
    kind = LIBRARY.kind(name, hand)
    exits = dict(zip("LR", HANDS[hand], strict=True))
    order = ("left", "right") if hand == "wye" else ("through", "diverging")
    assert [bar.positions for bar in kind.bars] == [order]
    assert kind.ends["toe"][1:] == (True, SL, SR)
    routes = {route.name: route for route in kind.routes}
    for exit_, (wheels, made, rails) in TWO_WAY[name].items():
        route = routes[exits[exit_]]
        assert (list(route.left), list(route.right)) == wheels
        assert route.ends == ("toe", exits[exit_])
        assert route.when == (("", exits[exit_]),)
        assert conducting(kind, route) == made
        assert kind.ends[exits[exit_]][1:] == (False, *rails)


def test_jumpers_bond_the_closure_rails_to_their_stock_rails():
    assert LIBRARY.kind("insulated-frog", "left").bonds == ()
    assert LIBRARY.kind("insulated-frog", "left", (("jumpers", "false"),)).bonds == ()
    assert set(LIBRARY.kind("insulated-frog", "left", (("jumpers", "true"),)).bonds) == {(CL, SL), (CR, SR)}


def test_rail_section():
    kind = LIBRARY.kind("rail-section")
    assert kind.plain
    assert [tuple(end) for end in kind.ends.values()] == [("a", True, "left", "right"), ("b", False, "left", "right")]
    assert [(r.left, r.right) for r in kind.routes] == [(("left",), ("right",))]


def test_three_way():
    kind = LIBRARY.kind("three-way-live")
    assert [tuple(bar) for bar in kind.bars] == [("left", ("left", "straight")), ("right", ("straight", "right"))]
    assert {r.name: (dict(r.when), r.left, r.right) for r in kind.routes} == {
        "left": ({"left": "left", "right": "straight"}, (SL,), (SR, "frog-centre", "frog-left")),
        "centre": ({"left": "straight", "right": "straight"}, (SL, "frog-left"), (SR, "frog-right")),
        "right": ({"left": "straight", "right": "right"}, (SL, "frog-centre", "frog-right"), (SR,)),
    }
    assert kind.ends["centre"][1:] == (False, "frog-left", "frog-right")


def test_double_slip():
    kind = LIBRARY.kind("double-slip-live")
    start = {"a1": (["side-left"], ["frog-a", "side-right"]), "a2": (["frog-a", "side-left"], ["side-right"])}
    then = {"b1": (["frog-b"], []), "b2": ([], ["frog-b"])}
    assert len(kind.routes) == 4
    for route in kind.routes:
        a, b = route.ends
        assert dict(route.when) == {"b": a, "a": b}
        assert list(route.left) == start[a][0] + then[b][0]
        assert list(route.right) == start[a][1] + then[b][1]


# the rails at the ends of the pieces without a hand, left and right; those whose name begins with "b" or that are legs leave
ENDS = {
    "diamond-insulated": "a1 left-1 right-1, a2 left-2 right-2, b1 left-1 right-1, b2 left-2 right-2",
    "diamond-live": "a1 outer-left frog-a, a2 frog-a outer-right, b1 frog-b outer-right, b2 outer-left frog-b",
    "double-slip-live": "a1 side-left frog-a, a2 frog-a side-right, b1 frog-b side-right, b2 side-left frog-b",
    "three-way-live": "toe stock-left stock-right, left stock-left frog-left, centre frog-left frog-right, "
    "right frog-right stock-right",
}


@pytest.mark.parametrize("name", ENDS)
def test_ends_of_pieces_without_a_hand(name):
    kind = LIBRARY.kind(name)
    found = {(end.name, end.left, end.right) for end in kind.ends.values()}
    assert found == {tuple(text.split()) for text in ENDS[name].split(", ")}
    assert {end.name for end in kind.ends.values() if end.entering} == {"toe", "a1", "a2"} & set(kind.ends)
    assert set(kind.rails) == {rail for _, *rails in found for rail in rails} | (
        {"frog-centre"} if name == "three-way-live" else set()
    )


# what no position changes: bonds, and the contacts that a piece makes by itself
@pytest.mark.parametrize("name", [*ENDS, "rail-section"])
def test_nothing_conducts_by_itself_in_pieces_without_a_hand(name):
    kind = LIBRARY.kind(name)
    assert (kind.bonds, kind.made) == ((), ())


def test_tie_bars_of_the_slip():
    assert [tuple(bar) for bar in LIBRARY.kind("double-slip-live").bars] == [("a", ("b1", "b2")), ("b", ("a1", "a2"))]


@pytest.mark.parametrize("name", ["diamond-insulated", "diamond-live"])
def test_tracks_of_a_diamond_are_named_1_and_2(name):
    assert [(route.name, route.ends) for route in LIBRARY.kind(name).routes] == [
        ("1", ("a1", "b1")),
        ("2", ("a2", "b2")),
    ]


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("name", TURNOUTS)
def test_rails_and_bonds_of_two_way_turnouts(name, hand):
    kind = LIBRARY.kind(name, hand)
    assert kind.rails == ((SL, SR, CL, CR) if name == "insulated-frog" else (SL, SR, "frog"))
    assert kind.bonds == ()
    assert set(kind.ends) == {"toe", *HANDS[hand]}
    assert len(kind.made) == (2 if name in {"live-frog", "insulated-frog"} else 0)


def test_diamonds():
    live = LIBRARY.kind("diamond-live")
    assert [(r.left, r.right) for r in live.routes] == [
        (("outer-left", "frog-b"), ("frog-a", "outer-right")),
        (("frog-a", "outer-left"), ("outer-right", "frog-b")),
    ]
    insulated = LIBRARY.kind("diamond-insulated")
    assert [set(r.left) - {None} for r in insulated.routes] == [{"left-1"}, {"left-2"}]
    assert all(kind.crossing and not kind.bladed for kind in (live, insulated))


# common practice, no published source: on the left leg the frog has the pole of the right-hand stock rail, on the right leg
# that of the left-hand one, whatever the hand
@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("name", ["live-frog", "live-frog-bonded", "isolated-metal-frog"])
def test_frog_rule(name, hand):
    kind = LIBRARY.kind(name, hand)
    left, right = HANDS[hand]
    needs = {route.name: dict(kind_text.needs(kind, route))["frog"] for route in kind.routes}
    assert needs == {left: SR, right: SL}


# common practice, no published source: with the turnout set for the left leg the blade beside the left-hand stock rail
# stands open, set for the right leg the other; it is the frog's, its closure rail's, or (bonded) the stock rail's own
OPEN = {
    "live-frog": {"L": ("frog", SL), "R": ("frog", SR)},
    "live-frog-bonded": {"L": (SL, SL), "R": (SR, SR)},
    "isolated-metal-frog": {"L": (SL, SL), "R": (SR, SR)},
    "insulated-frog": {"L": (CL, SL), "R": (CR, SR)},
}


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("name", TURNOUTS)
def test_open_blades_of_two_way_turnouts(name, hand):
    kind = LIBRARY.kind(name, hand)
    exits = dict(zip("LR", HANDS[hand], strict=True))
    assert {dict(b.when)[""]: (b.open, b.stock) for b in kind.blades} == {
        exits[leg]: rails for leg, rails in OPEN[name].items()
    }


@pytest.mark.parametrize("name", ["three-way-live", "double-slip-live"])
def test_blades_of_slips_and_three_ways_are_bonded(name):
    kind = LIBRARY.kind(name)
    assert all(blade.open == blade.stock for blade in kind.blades)
    settings = {blade.when for blade in kind.blades}
    assert settings == {((bar.name, position),) for bar in kind.bars for position in bar.positions}


# the V rails beside a nose are the two rails next to each other at the heel, or at the acute end of a crossing
@pytest.mark.parametrize(
    ("name", "hand", "pairs"),
    [
        ("insulated-frog", "left", {(CR, CL)}),
        ("isolated-metal-frog", "wye", {(SR, SL)}),
        ("diamond-insulated", "", {("right-1", "left-2"), ("left-1", "right-2")}),
        ("live-frog", "left", set()),
        ("live-frog-bonded", "left", set()),
        ("diamond-live", "", set()),
    ],
)
def test_noses(name, hand, pairs):
    kind = LIBRARY.kind(name, hand)
    assert {nose.rails for nose in kind.noses} == pairs
    for nose in kind.noses:
        # NMRA RP-12.7, 9 mm gauge: from the point to the heel end of a No. 6 frog 16.5 mm, taken as the end of the plastic
        assert total(nose.beyond, kind.dimensions) * 1000 == pytest.approx(16.5)
        assert nose.number == 6


# common practice, no published source: the three-way's frogs by route
def test_three_way_frog_table():
    kind = LIBRARY.kind("three-way-live")
    table = {route.name: dict(kind_text.needs(kind, route)) for route in kind.routes}
    assert table == {
        "left": {"frog-left": SR, "frog-centre": SR},
        "centre": {"frog-left": SL, "frog-right": SR},
        "right": {"frog-centre": SL, "frog-right": SL},
    }


# common practice, no published source: the frog at one end of a slip is chosen for by the tie bar at the other end
def test_slip_frogs_follow_the_far_tie_bar():
    kind = LIBRARY.kind("double-slip-live")
    needs = {tuple(r.ends): dict(kind_text.needs(kind, r)) for r in kind.routes}
    assert len(needs) == 4
    for (a, b), found in needs.items():
        assert found["frog-a"] == {"a1": "side-right", "a2": "side-left"}[a]
        assert found["frog-b"] == {"b1": "side-left", "b2": "side-right"}[b]


def mirrored(rail):
    if rail is None:
        return None
    return rail.replace("left", "#").replace("right", "left").replace("#", "right")


@pytest.mark.parametrize("name", TURNOUTS)
def test_mirrored_hand_gives_mirrored_kind(name):
    left, right = LIBRARY.kind(name, "left"), LIBRARY.kind(name, "right")
    routes = {r.name: r for r in right.routes}
    for route in left.routes:
        other = routes[route.name]
        assert tuple(map(mirrored, route.left)) == other.right
        assert tuple(map(mirrored, route.right)) == other.left
        assert {tuple(map(mirrored, pair)) for pair in conducting(left, route)} == conducting(right, other)


@pytest.mark.parametrize("name", ["diamond-live", "diamond-insulated", "double-slip-live"])
def test_a_crossing_mirrored_is_itself_with_its_tracks_exchanged(name):
    kind = LIBRARY.kind(name)
    swap = {"1": "2", "2": "1"}

    def exchanged(text):
        return None if text is None else "".join(swap.get(c, c) for c in mirrored(text))

    for end in kind.ends.values():
        other = kind.ends[exchanged(end.name)]
        assert (exchanged(end.right), exchanged(end.left)) == (other.left, other.right)
    routes = {r.ends: r for r in kind.routes}
    for route in kind.routes:
        other = routes[exchanged(route.ends[0]), exchanged(route.ends[1])]
        assert tuple(map(exchanged, route.left)) == other.right


def test_messages_for_what_there_is_not():
    with pytest.raises(KindError, match="there is no kind 'live-frgo'; did you mean 'live-frog'"):
        LIBRARY.kind("live-frgo", "left")
    with pytest.raises(KindError, match="needs a hand; write 'hand: left' or 'hand: right' or 'hand: wye'"):
        LIBRARY.kind("live-frog")
    with pytest.raises(KindError, match="does not take 'jumpers=maybe'"):
        LIBRARY.kind("insulated-frog", "left", (("jumpers", "maybe"),))


OWN = """kind: spring-switch
title: Spring switch
summary: Trains from the diverging leg push the blades over.
rails: [l, r, frog]
ends:
  toe: {entering: true, left: l, right: r}
  out: {left: l, right: frog}
bars: {"": [out, other]}
routes:
  out: {ends: [toe, out], when: {"": out}, left: [l], right: [r, frog]}
"""


def test_a_kind_of_ones_own():
    found = library(extra=[Source("mine.yaml", OWN)])
    assert "spring-switch" in found.names()
    assert found.kind("spring-switch").routes[0].right == ("r", "frog")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "left: l, right: frog}",
            "left: l, right: frg}",
            r"mine.yaml:7:25: there is no rail 'frg'; did you mean 'frog'",
        ),
        ("[toe, out]", "[toe, uot]", r"mine.yaml:10:21: there is no end 'uot'; did you mean 'out'"),
        ('{"": out}, left', '{"": ou}, left', r"mine.yaml:10:38: there is no position 'ou'"),
        ("kind: spring-switch", "kind: live-frog", r"mine.yaml:1:7: there is a kind 'live-frog' already"),
        ("title:", "titel:", r"mine.yaml:2:1: a kind has no 'titel'; did you mean 'title'"),
        ("[out, other]", "[out]", r"mine.yaml:8:8: a tie bar needs two positions"),
        ("routes:", "blades: [{open: l, stock: r}]\nroutes:", r"mine.yaml:9:10: an open blade needs 'when', 'open'"),
        (
            "routes:",
            'blades: [{when: {"": out}, open: lft, stock: r}]\nroutes:',
            r"mine.yaml:9:34: there is no rail 'lft'; write one of 'l', 'r', 'frog'",
        ),
        ("routes:", "noses: [{rails: [l, r]}]\nroutes:", r"mine.yaml:9:9: a nose needs 'rails' \(the two beside it\)"),
        (
            "routes:",
            "noses: [{rails: [l, r], beyond: 9, frog-number: 6}]\nroutes:",
            r"mine.yaml:9:33: '9' is no length; write '3 mm'",
        ),
        (
            "routes:",
            "noses: [{rails: [l, r], beyond: 9 mm, frog-number: six}]\nroutes:",
            r"mine.yaml:9:52: 'frog-number': 'six' is not a number",
        ),
        ("left: [l], right", "left: [], right", r"mine.yaml:10:50: a wheel path needs a rail"),
    ],
)
def test_faults_of_a_kind_of_ones_own(old, new, message):
    assert old in OWN
    with pytest.raises(UnusableError, match=message):
        read_definitions(Source("mine.yaml", OWN.replace(old, new)), taken=files())

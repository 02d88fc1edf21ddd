"""What holds for every kind in `parts/`, for every hand and every option."""

from __future__ import annotations

import itertools
import re

import pytest

from netlister.kinds import library
from netlister.kinds.find import files
from netlister.kinds.measure import total
from netlister.kinds.model import Made
from netlister.outputs import kind_text
from tests.properties.reference import kind_of

LIBRARY = library()
ROUTES_NONE = {"track-end", "buffer", "buffer-metal"}
FAULTY = {"jumpers", "links", "guards"}
"""Options that can be wrong together, beside the cuts of a hand-built turnout."""


def ways(name):
    """Every hand of a kind, without options and with each value of each of its options alone."""
    definition = LIBRARY.definition(name)
    for hand in definition.hands or ("",):
        yield hand, ()
        for option, (values, _) in definition.options.items():
            hands = definition.option_notes[option].hands
            some = values if definition.count is None else [v for v in values if int(v) in (1, 2, 3, 7, 24)]
            if not hands or hand in hands:
                yield from ((hand, ((option, value),)) for value in some)


ALL = [(name, hand, options) for name in files() for hand, options in ways(name)]
IDS = ["-".join([name, hand, *(f"{o}={v}" for o, v in options)]) for name, hand, options in ALL]
every_way = pytest.mark.parametrize(("name", "hand", "options"), ALL, ids=IDS)


@every_way
def test_every_kind_is_as_the_table_typed_by_hand(name, hand, options):
    """The tables stand in tests/properties/reference.py. Common practice, no published source."""
    kind = LIBRARY.kind(name, hand, options)
    table = kind_of({"kind": name, "hand": hand, **dict(options)})
    assert set(kind.rails) == set(table.rails)
    assert {end.name: (end.left, end.right) for end in kind.ends.values()} == dict(table.ends)
    assert {bar.name: bar.positions for bar in kind.bars} == dict(table.bars)
    assert {frozenset(pair) for pair in kind.bonds} == {frozenset(pair) for pair in table.bonds}
    made = {(bar, position, frozenset(rails)) for m in kind.made for (bar, position), rails in [(m.when[0], m.rails)]}
    assert made == {(bar, position, frozenset(rails)) for bar, position, *rails in table.made}
    assert kind.gaps == table.gaps
    # the table of an insulated diamond leaves its second dead length out; rails that follow each other are the same
    assert {(r.ends, frozenset(r.when), *map(shortened, (r.left, r.right))) for r in kind.routes} == {
        (r.ends, frozenset(r.bars.items()), *map(shortened, (r.left, r.right))) for r in table.routes
    }


def shortened(path):
    """The rails of a path without what is dead, each once where it goes on."""
    rails = [rail for rail in path if rail not in (None, "dead")]
    return tuple(rail for rail, _ in itertools.groupby(rails))


@every_way
def test_the_two_sides_of_a_route_never_meet_inside_a_piece_that_is_built_right(name, hand, options):
    wrong = bool(FAULTY & {o for o, _ in options}) or "missed" in {v for _, v in options}
    kind = LIBRARY.kind(name, hand, options)
    for route in kind.routes:
        made = [m.rails for m in kind.made if set(m.when) <= set(route.when)]
        leader = kind_text.joined_rails([*kind.bonds, *made], kind.rails)
        left = {leader[rail] for rail in route.left if rail is not None}
        right = {leader[rail] for rail in route.right if rail is not None}
        assert wrong or not left & right


@pytest.mark.parametrize("cut", ["foil-toe", "foil-tie-bar", "foil-closure"])
def test_foil_that_is_left_whole_between_the_stock_rails_joins_them(cut):
    kind = LIBRARY.kind("copper-clad-live-frog", "left", ((cut, "missed"),))
    assert kind.bonds == (("stock-left", "stock-right"),)


def test_links_left_in_with_jumpers_join_the_stock_rails():
    """Common practice, no published source: the conversion takes both, the cut and the jumpers."""
    for name, options in (
        ("live-frog", (("jumpers", "true"),)),
        ("live-frog", (("jumpers", "true"), ("links", "left-in"))),
        ("live-frog-bonded", (("links", "left-in"),)),
    ):
        kind = LIBRARY.kind(name, "right", options)
        leader = kind_text.joined_rails(kind.bonds, kind.rails)
        assert leader["stock-left"] == leader["stock-right"]
    for cut in (("links", "cut"), ("closure-rails", "cut")):
        kind = LIBRARY.kind("live-frog", "right", (("jumpers", "true"), cut))
        assert (kind.bonds, kind.made) == ((), ())


def mirrored(text):
    """A name with left and right exchanged."""
    return None if text is None else re.sub("left|right", lambda m: "right" if m[0] == "left" else "left", text)


@pytest.mark.parametrize("name", [n for n in files() if {"left", "right"} <= set(LIBRARY.definition(n).hands)])
def test_a_mirrored_hand_gives_a_mirrored_kind(name):
    """Options that name a side are mirrored too."""
    definition = LIBRARY.definition(name)
    for options in [(), *(((o, v),) for o, (values, _) in definition.options.items() for v in values)]:
        turned = tuple((mirrored(o), mirrored(v) if v in {"left", "right"} else v) for o, v in options)
        if name == "single-blade-live" and not options:
            options, turned = (("blade", "right"),), (("blade", "left"),)  # noqa: PLW2901
        left, right = LIBRARY.kind(name, "left", turned), LIBRARY.kind(name, "right", options)
        routes = {r.name: r for r in right.routes}
        assert {r.name for r in left.routes} == set(routes)
        for route in left.routes:
            other = routes[route.name]
            assert tuple(map(mirrored, route.left)) == other.right
            assert tuple(map(mirrored, route.right)) == other.left
            assert (route.left_at, route.right_at, route.length) == (other.right_at, other.left_at, other.length)
        for end in left.ends.values():
            other_end = right.ends[end.name]
            assert (mirrored(end.right), mirrored(end.left)) == (other_end.left, other_end.right)
        assert {Made(m.when, tuple(map(mirrored, m.rails))) for m in left.made} == set(right.made)
        assert {frozenset(map(mirrored, b)) for b in left.bonds} == {frozenset(b) for b in right.bonds}
        for anchor, (x, y) in left.draw.items():
            assert right.draw[anchor] == pytest.approx((x, -y)), anchor


TURNED = {"1": "2", "2": "1"}
SYMMETRICAL = [
    n for n in files() if {"a1", "a2", "b1", "b2"} <= set(LIBRARY.kind(n).ends if not LIBRARY.takes(n).hands else ())
]


@pytest.mark.parametrize("name", [n for n in SYMMETRICAL if not n.startswith(("single", "traverser"))])
def test_the_tracks_of_a_crossing_exchanged_change_nothing_but_names(name):
    """Seen in a mirror, track 1 is track 2 and left is right."""
    kind = LIBRARY.kind(name)

    def turned(text):
        return None if text is None else "".join(TURNED.get(c, c) for c in mirrored(text))

    for end in kind.ends.values():
        other = kind.ends[turned(end.name)]
        assert (turned(end.right), turned(end.left), end.entering) == (other.left, other.right, other.entering)
    routes = {r.ends: r for r in kind.routes}
    for route in kind.routes:
        other = routes[turned(route.ends[0]), turned(route.ends[1])]
        assert {(turned(b), turned(p)) for b, p in route.when} == set(other.when)
        assert tuple(map(turned, route.left)) == other.right
        assert tuple(map(turned, route.right)) == other.left
        assert (route.left_at, route.right_at, route.length) == (other.right_at, other.left_at, other.length)
    assert {frozenset(map(turned, b)) for b in kind.bonds} == {frozenset(b) for b in kind.bonds}
    for anchor, (x, y) in kind.draw.items():
        assert kind.draw[turned(anchor)] == pytest.approx((x, -y))


@pytest.mark.parametrize("name", [n for n in files() if n.startswith("single-slip")])
def test_a_single_slip_turned_round_has_its_slip_road_on_the_other_side(name):
    """So one kind does for both: turned round a is b, left is right, and a1 to b2 becomes b1 to a2."""
    kind = LIBRARY.kind(name)
    assert {r.ends for r in kind.routes} == {("a1", "b1"), ("a2", "b2"), ("a1", "b2")}
    slip = next(r for r in kind.routes if r.ends == ("a1", "b2"))
    assert shortened(slip.left) == ("side-left",)


# -- dimensions and anchors


@pytest.mark.parametrize("name", files())
def test_every_number_has_a_unit_a_source_and_a_status(name):
    found = LIBRARY.definition(name)
    shapes = [table for shape in found.shapes for table in (shape.dimensions, shape.dead)]
    for dimension in [one for table in (found.dimensions, found.dead, *shapes) for one in table.values()]:
        assert dimension.metres > 0
        assert dimension.text.split()[1] in {"mm", "m"}
        assert dimension.what
        assert dimension.source
        assert dimension.status in {"read", "second-hand", "derived", "common practice", "from memory", "assumed"}
        if dimension.status == "read":
            assert re.match(r"(NMRA (RP|S)-|NEM )\d", dimension.source), "what is published names its standard"
        if dimension.by_number:
            assert dimension.metres == dimension.by_number[6]


@every_way
def test_every_route_is_measured(name, hand, options):
    """How long it is and where its rails meet, for every frog number of the sheet; a rail section has no length of its own."""
    kind = LIBRARY.kind(name, hand, options)
    assert bool(kind.routes) == (name not in ROUTES_NONE)
    for route in kind.routes if name != "rail-section" else ():
        for number in (4, 5, 6, 7):
            length = total(route.length, kind.dimensions, number)
            assert length > 0
            for path, at in ((route.left, route.left_at), (route.right, route.right_at)):
                assert len(at) == len(path) - 1
                places = [0, *(total(place, kind.dimensions, number) for place in at), length]
                assert all(b >= a - 1e-9 for a, b in itertools.pairwise(places)), (route.name, number, places)
                for rail, (start, stop) in zip(path, itertools.pairwise(places), strict=True):
                    assert rail is not None or stop - start > 0.005, "a dead length has a length"


@every_way
def test_every_end_frog_and_tie_bar_has_an_anchor(name, hand, options):
    kind = LIBRARY.kind(name, hand, options)
    bars = {f"bar-{bar.name}" if bar.name else "bar" for bar in kind.bars}
    frogs = {rail for rail in kind.rails if rail.startswith("frog")}
    assert {*kind.ends, *frogs, *bars} <= set(kind.draw)
    points = [kind.draw[end] for end in kind.ends]
    assert len(set(points)) == len(points), "two ends lie on one point"
    for x, y in kind.draw.values():
        assert 0 <= x <= 1
        assert -1 <= y <= 1
    for end in kind.ends.values():
        if name != "turntable" and len(kind.ends) > 1:
            assert (kind.draw[end.name][0] < 0.5) == end.entering, "forward is to the right"


@pytest.mark.parametrize("name", files())
def test_every_kind_is_explained(name):
    found = LIBRARY.definition(name)
    assert found.title
    assert found.summary.endswith(".")
    assert {"why", "joiners", "feeders", "trouble", "test"} <= set(found.notes)
    assert "upply disconnected" in found.notes["test"]
    assert "contact" in found.notes or not any(rail.startswith("frog") for rail in found.rails)
    assert all(note.what for option, note in found.option_notes.items())


@every_way
def test_rails_that_change_pole_are_the_frogs_and_the_bridge(name, hand, options):
    kind = LIBRARY.kind(name, hand, options)
    wanted = [rail for rail in kind.rails if rail.startswith(("frog", "bridge"))]
    assert kind_text.changing(kind) == wanted


def test_as_many_as_you_like():
    for stalls in (1, 2, 5, 48):
        kind = LIBRARY.kind("turntable", "", (("roads", str(stalls)),))
        assert len(kind.rails) == 2 + 2 * stalls
        assert len(kind.routes) == len(kind.bars[0].positions) == 2 * stalls
        assert {f"s{k}" for k in range(1, stalls + 1)} == set(kind.ends) - {"head", "tail"}
    assert LIBRARY.kind("turntable").rails == LIBRARY.kind("turntable", "", (("roads", "4"),)).rails

"""Kinds from the readings of a meter: what they conduct, every fault and contradiction, every remark."""

from __future__ import annotations

from itertools import combinations

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import netlister
from netlister.kinds import library
from netlister.kinds.load import read_definitions
from netlister.kinds.readings import read_readings
from netlister.kinds.readings_kind import kind_text
from netlister.kinds.readings_model import reading_remarks
from netlister.source import Source, UnusableError

HEAD = """\
kind: mine
ends:
  toe: {left: SL, right: SR}
  left: {left: SL, right: VL}
  right: {left: VR, right: SR}
rails: [F]
positions: [left, right]
"""
RIGHT = (
    HEAD
    + """\
beeps:
  always: [[F, VL], [VR, F]]
  left: [[F, SR]]
  right: [[F, SL]]
silent:
  always: [[SL, SR]]
"""
)


def read(text):
    return read_readings(Source("readings.yaml", text), library().names())


def faults(text):
    with pytest.raises(UnusableError) as caught:
        read(text)
    return [f"{fault.span.line}:{fault.span.column} {fault.message}" for fault in caught.value.faults]


def definition(text):
    """The kind that readings give, written and read again."""
    (found,) = read_definitions(Source("kind.yaml", kind_text(read(text), "readings.yaml")))
    return found


def groups(kind, position):
    """The rails of a kind that conduct to each other in a position, by networkx."""
    graph = nx.Graph()
    graph.add_nodes_from(kind.rails)
    graph.add_edges_from(kind.bonds)
    graph.add_edges_from(made.rails for made in kind.made if dict(made.when).get("") == position)
    return {frozenset(group) for group in nx.connected_components(graph)}


# ---- what the kind conducts

NAMES = st.lists(
    st.text("abcXYZ09-_ :#'\"[]{},&*!|>%@`äß", min_size=1, max_size=6), min_size=8, max_size=8, unique=True
)


@st.composite
def told(draw):
    """Readings of a two-way turnout: names of rails, and per position and for all the pairs that beep."""
    names = draw(NAMES.filter(lambda ns: all(n == n.strip() and n not in {"dead", "always"} for n in ns)))
    pairs = list(combinations(names, 2))
    some = st.lists(st.sampled_from(pairs), max_size=6)
    return names, draw(some), draw(some), draw(some)


def quoted(name):
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


def listed(pairs):
    return "[" + ", ".join(f"[{quoted(a)}, {quoted(b)}]" for a, b in pairs) + "]"


@settings(max_examples=300, deadline=None)
@given(told())
def test_the_written_kind_conducts_exactly_as_the_readings_say(case):
    """Against connected components of networkx, for every position and every pair of rails."""
    names, always, left, right = case
    touched = {rail for pair in (*always, *left, *right) for rail in pair}
    names = [*names[:4], *(name for name in names[4:] if name in touched)]
    a, b, c, d, *inner = map(quoted, names)
    text = f"""\
kind: mine
ends:
  toe: {{left: {a}, right: {b}}}
  left: {{left: {a}, right: {c}}}
  right: {{left: {d}, right: {b}}}
rails: [{", ".join(inner)}]
positions: [left, right]
beeps: {{always: {listed(always)}, left: {listed(left)}, right: {listed(right)}}}
alone: ALONE
"""
    # the first two rails run through to a second end and need not be said to stand alone
    text = text.replace("ALONE", "[" + ", ".join(quoted(n) for n in names if n not in touched) + "]")
    kind = definition(text)
    assert set(kind.rails) == set(names)
    for position, own in (("left", left), ("right", right)):
        graph = nx.Graph()
        graph.add_nodes_from(names)
        graph.add_edges_from([*always, *own])
        assert groups(kind, position) == {frozenset(group) for group in nx.connected_components(graph)}


# Expected continuity of five constructions. Source: common practice, no published source. SL, SR: stock rails; BL, BR:
# the blades; F: frog; VL: the right-hand rail of the left leg; VR: the left-hand rail of the right leg. Contacts are not
# part of the piece. Per construction: rails apart from those at the ends, what always beeps, in position left, in
# position right, what stands alone, and the kind of the library that is built so.
TABLE = {
    "LF1": ("BL, BR, F", "[BL, BR], [BR, F], [F, VL], [VL, VR]", "[F, SR]", "[F, SL]", "", "live-frog", ()),
    "LF2": ("BL, BR, F", "[SL, BL], [SR, BR], [F, VL], [VL, VR]", "", "", "", "live-frog-bonded", ()),
    "IR": ("BL, BR", "[BL, VR], [BR, VL]", "[VL, SR]", "[VR, SL]", "", "insulated-frog", ()),
    "IA": ("BL, BR", "[SL, VR], [SR, VL], [BL, SL], [BR, SR]", "", "", "", "insulated-frog", (("jumpers", "true"),)),
    "IAF": ("BL, BR, F", "[SL, VR], [SR, VL], [BL, SL], [BR, SR]", "", "", "F", "isolated-metal-frog", ()),
}
OF_THE_LIBRARY = {
    "live-frog": {"SL": "stock-left", "SR": "stock-right", "F": "frog", "VL": "frog", "VR": "frog"},
    "live-frog-bonded": {"SL": "stock-left", "SR": "stock-right", "F": "frog", "VL": "frog", "VR": "frog"},
    "insulated-frog": {"SL": "stock-left", "SR": "stock-right", "VL": "closure-right", "VR": "closure-left"},
    "isolated-metal-frog": {
        "SL": "stock-left",
        "SR": "stock-right",
        "F": "frog",
        "VL": "stock-right",
        "VR": "stock-left",
    },
}


ROUTES_OVER_F = """\
routes:
  left: {ends: [toe, left], position: left, right: [SR, F, VL]}
  right: {ends: [toe, right], position: right, left: [SL, F, VR]}
"""


def measured(built):
    rails, always, left, right, alone, _, _ = TABLE[built]
    return (
        f"""\
kind: mine
ends:
  toe: {{left: SL, right: SR}}
  left: {{left: SL, right: VL}}
  right: {{left: VR, right: SR}}
rails: [{rails}]
positions: [left, right]
beeps: {{always: [{always}], left: [{left}], right: [{right}]}}
silent: {{always: [[SL, SR]]}}
alone: [{alone}]
"""
        + ROUTES_OVER_F * bool(alone)
    )


@pytest.mark.parametrize("built", TABLE)
def test_a_kind_from_the_table_conducts_as_that_of_the_library(built):
    name, options = TABLE[built][5:]
    kind, own = definition(measured(built)), library().kind(name, "wye", options)
    points = OF_THE_LIBRARY[name]
    for position in ("left", "right"):
        mine, theirs = groups(kind, position), groups(own, position)
        for a, b in combinations(points, 2):
            together = any({a, b} <= group for group in mine)
            same = points[a] == points[b] or any({points[a], points[b]} <= group for group in theirs)
            assert together == same, (position, a, b)


LAYOUT = """\
format: netlister/1
%s
supplies: {main: {type: dcc, voltage: 15 V}}
track: {line: , west: , east: , T1: {kind: %s%s}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.left, to: west}
  - {from: T1.right, to: east}
feeds: [{to: %s}]
"""


@pytest.mark.parametrize("feeds", ["line", "[line, west]", "[line, west, east]"])
@pytest.mark.parametrize("built", [b for b in TABLE if b != "IAF"])
def test_a_layout_with_it_gives_the_track_beyond_what_the_kind_of_the_library_gives(built, feeds, tmp_path):
    """Shorts, and dead track beyond the turnout, in the same positions. Of IAF see the next test."""
    name, options = TABLE[built][5:]
    (tmp_path / "mine.yaml").write_text(kind_text(read(measured(built))), encoding="utf-8")
    more = ", hand: wye" + ", jumpers: true" * bool(options)
    found = []
    for use, kind, extra in (("use: mine.yaml", "mine", ""), ("", name, more)):
        file = tmp_path / f"{kind}.layout.yaml"
        file.write_text(LAYOUT % (use, kind, extra, feeds), encoding="utf-8")
        report = netlister.check_file(str(file)).to_json()
        found.append(
            {
                (f["rule"], f["subject"]): f["when"]
                for f in report["findings"]
                if f["rule"] == "pole-short" or (f["rule"] == "dead-track" and f["subject"] != "T1")
            }
        )
    assert found[0] == found[1]


def test_a_frog_alone_under_the_wheels_is_found_without_a_pole(tmp_path):
    (tmp_path / "mine.yaml").write_text(kind_text(read(measured("IAF"))), encoding="utf-8")
    (tmp_path / "layout.yaml").write_text(LAYOUT % ("use: mine.yaml", "mine", "", "line"), encoding="utf-8")
    report = netlister.check_file(str(tmp_path / "layout.yaml"))
    assert {(f.rule, f.subject) for f in report.findings} == {("floating-net", "T1.F"), ("dead-track", "T1")}


def test_a_piece_without_blades_needs_no_positions():
    kind = definition(
        "kind: mine\nends:\n  a: {left: l, right: r}\n  b: {left: x, right: y}\nbeeps: [[l, x], [r, y]]\n"
    )
    assert kind.bars == ()
    assert {frozenset(pair) for pair in kind.bonds} == {frozenset("lx"), frozenset("ry")}
    assert [route.ends for route in kind.routes] == [("a", "b")]


def test_names_title_and_ends_are_kept():
    text = RIGHT + "title: 'Turnout: of yore'\nsummary: \"a # b\"\n"
    found = definition(text)
    assert (found.title, found.summary) == ("Turnout: of yore", "a # b")
    assert [end.entering for end in found.ends] == [True, False, False]


# ---- faults

CASES = [
    ("kind: mine", "kind: live-frog", ["1:7 there is a kind 'live-frog' already; give yours another name"]),
    ("kind: mine\n", "", ["1:1 the readings have no 'kind'; add the name that the kind is to have"]),
    ("kind: mine", "kind: [mine]", ["1:7 the name of the kind is due here, not a list"]),
    ("kind: mine", "kind: my.kind", ["1:7 'my.kind' is no name; write a word without dots"]),
    ("rails: [F]", "rails: [F, dead]", ["6:12 'dead' has a meaning of its own in these files; give this another name"]),
    ("[[F, SR]]", "[[F, SX]]", ["10:14 there is no rail 'SX'; write one of SL, SR, VL, VR, F"]),
    ("[[F, SR]]", "[[F]]", ["10:10 two rails are due here, as in '[frog, stock-left]'"]),
    ("[[F, SR]]", "[[F, SR, VL]]", ["10:10 two rails are due here, as in '[frog, stock-left]'"]),
    ("[[F, SR]]", "[[F, F]]", ["10:10 'F' stands on both sides of this pair; a rail always beeps to itself"]),
    ("[[F, SR]]", "F", ["10:9 each pair of 'beeps' is due here, as a list"]),
    (
        "  right: [[F, SL]]\n",
        "",
        ["9:3 there are no readings for the position 'right'; add them, or 'right: []' if nothing more beeps there"],
    ),
    # contradictions
    (
        "always: [[SL, SR]]",
        "left: [[SR, VL]]",
        [
            "13:10 in position left: 'SR' beeps to 'F' and 'F' beeps to 'VL', so 'SR' must beep to 'VL', which is told "
            "not to; measure these pairs again"
        ],
    ),
    (
        "always: [[SL, SR]]",
        "left: [[SR, F]]",
        ["13:10 'SR' and 'F' are told to beep in line 10 and not to beep here; measure them again and strike one out"],
    ),
    (
        "always: [[SL, SR]]",
        "always: [[VL, F]]",
        ["13:12 'VL' and 'F' are told to beep in line 9 and not to beep here; measure them again and strike one out"],
    ),
    (
        "rails: [F]",
        "rails: [F, G]",
        [
            "6:12 'G' beeps to no other rail in any position; measure it again, or list it under 'alone' if it has a "
            "wire of its own"
        ],
    ),
    (
        "kind: mine",
        "kind: mine\nalone: [F]",
        ["2:9 'F' is said to stand alone and beeps to another rail; leave it out here"],
    ),
    ("kind: mine", "kind: mine\nalone: [G]", ["2:9 there is no rail 'G'; write one of SL, SR, VL, VR, F"]),
]


@pytest.mark.parametrize(("old", "new", "expected"), CASES)
def test_faults(old, new, expected):
    assert RIGHT.count(old) == 1
    assert faults(RIGHT.replace(old, new)) == expected


ONE_OF = [
    ("rails: [F]", "rials: [F]", "6:1 readings have no 'rials'; did you mean 'rails'?"),
    ("positions: [left, right]", "positions: [left, always]", "7:19 'always' has a meaning of its own in these files"),
    ("positions: [left, right]", "positions: [left, left]", "7:19 the position 'left' is here a second time; name each once"),
    ("positions: [left, right]", "positions: [left]", "7:12 blades have two positions or more; a piece without leaves this out"),
    ("toe: {left: SL, right: SR}", "toe: {left: SL}", "3:3 the end 'toe' needs its rails; write 'left: …, right: …'"),
    ("toe: {left: SL, right: SR}", "toe: {left: SL, right: SL}", "3:3 the end 'toe' has 'SL' on both sides; write two rails"),
    ("toe: {left: SL, right: SR}", "toe: {left: SL, rihgt: SR}", "3:19 there is no 'rihgt' in the end 'toe'; did you mean 'right'?"),
    ("toe: {left: SL, right: SR}", "toe: {left: SL, right: SR, entering: maybe}", "3:40 there is no value 'maybe'; write one of true, false"),
    ("  toe:", "  heel:", "3:3 no end is an entering one; call it 'toe' or 'a', or add 'entering: true' to it"),
    ("rails: [F]", "rails: F", "6:8 each rail that ends nowhere is due here, as a list"),
    ("positions: [left, right]", "positions: left", "7:12 each position of the blades is due here, as a list"),
    ("kind: mine", "alone: F\nkind: mine", "1:8 each rail that stands alone is due here, as a list"),
    ("kind: mine", "title: [x]\nkind: mine", "1:8 the text of 'title' is due here, not a list"),
    ("always: [[SL, SR]]", "up: [[SL, SR]]", "13:3 there is no position 'up'; write one of left, right, always"),
    ("  right: [[F, SL]]", "  rihgt: [[F, SL]]", "11:3 there is no position 'rihgt'; did you mean 'right'?"),
    ("  left: {left: SL, right: VL}", "  out: {left: SL, right: VL}", "1:1 it is not plain which position sets which way; name the positions like the ends"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), ONE_OF)
def test_more_faults(old, new, expected):
    assert RIGHT.count(old) == 1
    assert any(fault.startswith(expected) for fault in faults(RIGHT.replace(old, new))), faults(RIGHT.replace(old, new))


ROUTES = [
    ("main: {position: left}", "15:3 the route 'main' needs its two ends, as in 'ends: [toe, left]'"),
    ("main: {ends: [toe], position: left}", "15:16 the route 'main' runs from an entering end to a leaving one, as in '[toe, left]'"),
    ("main: {ends: [left, toe], position: left}", "15:16 the route 'main' runs from an entering end to a leaving one, as in '[toe, left]'"),
    ("main: {ends: [toe, lfet], position: left}", "15:22 there is no end 'lfet'; did you mean 'left'?"),
    ("main: {ends: [toe, left]}", "15:3 the route 'main' does not say which position sets it; add it, as in 'position: left'"),
    ("main: {ends: [toe, left], position: up}", "15:39 there is no position 'up'; write one of left, right"),
    ("main: {ends: [toe, left], position: left, right: [SR, F]}", "15:52 the right wheels begin on 'SR' and end on 'VL', the rails at the two ends"),
    ("main: {ends: [toe, left], position: left, right: [SR, X, VL]}", "15:57 there is no rail 'X'; write one of SL, SR, VL, VR, F, dead"),
    ("main: {ends: toe, position: left}", "15:16 a pair of ends is due here, as a list"),
    ("main: {ends: [toe, left], position: left, left: SL}", "15:51 each rail in order is due here, as a list"),
    ("main: {end: [toe, left], position: left}", "15:10 there is no 'end' in the route 'main'; did you mean 'ends'?"),
]  # fmt: skip


@pytest.mark.parametrize(("route", "expected"), ROUTES)
def test_faults_of_routes(route, expected):
    assert expected in faults(RIGHT + f"routes:\n  {route}\n")


def test_a_rail_alone_under_no_wheel_is_a_fault():
    assert faults(RIGHT.replace("rails: [F]", "rails: [F, G]\nalone: [G]")) == [
        "6:12 'G' beeps to no other rail and lies under no wheel; name it in 'left' or 'right' of a route, or leave it out"
    ]


def test_pairs_without_a_position_where_blades_have_some():
    wanted = "8:8 each position of 'beeps' with its pairs of rails is due here, as 'name: value' pairs"
    assert wanted in faults(HEAD + "beeps: [[F, SR]]\n")


def test_faults_of_a_file_that_is_none():
    assert faults("[a]\n")[0] == "1:1 a mapping of readings is due here, as 'name: value' pairs"
    assert "1:1 the readings have no 'ends'; add them, as in 'ends: {toe: {left: SL, right: SR}}'" in faults(
        "kind: x\n"
    )
    wanted = "1:1 the readings have no 'beeps'; add the pairs of rails that beep, position by position"
    assert wanted in faults(HEAD)
    plain = "kind: mine\nends:\n  a: {left: l, right: r}\n  b: {left: l, right: r}\nbeeps: []\n"
    assert faults(plain + "routes: {w: {ends: [a, b], position: x}}\n") == [
        "6:38 this piece has no positions; leave 'position' out"
    ]


# ---- remarks


def test_pairs_not_measured_are_said():
    (unknown,) = [
        r for r in reading_remarks(read(RIGHT.replace("always: [[SL, SR]]", "left: [[SL, SR]]"))) if "measured" in r
    ]
    assert unknown == "not measured in the position 'right', so taken not to beep: SL and SR"
    assert not [r for r in reading_remarks(read(RIGHT)) if "measured" in r]


def test_a_short_under_the_wheels_is_said():
    text = RIGHT.replace("left: [[F, SR]]", "left: [[F, SR], [F, SL]]").replace("silent:\n  always: [[SL, SR]]\n", "")
    assert "on the route 'left' the rails under the two wheels beep to each other: SL and SR" in reading_remarks(
        read(text)
    )


def test_a_rail_under_no_wheel_is_said():
    text = RIGHT.replace("rails: [F]", "rails: [F, G, H]").replace("[VR, F]", "[VR, F], [G, H]")
    wanted = "'G' lies under no wheel; name it in 'left' or 'right' of a route where wheels run on it"
    assert wanted in reading_remarks(read(text))
    assert not [r for r in reading_remarks(read(RIGHT)) if "under no wheel" in r]


def test_a_changing_rail_that_vee_would_miss_is_said():
    wanted = "'VL' changes with the blades; called 'frog…' or 'closure-…' it is what 'vee' insulates"
    assert wanted in reading_remarks(read(RIGHT))
    assert reading_remarks(read(RIGHT.replace("VL", "frog-l").replace("VR", "frog-r"))) == []


def test_remarks_are_in_the_file():
    text = kind_text(read(RIGHT), "readings.yaml")
    assert text.startswith("# Written from the readings of a meter in readings.yaml.\n# 'VL' changes with the blades;")


PIECES = st.sampled_from(["", "[]", "{}", "~", "x", "[F, SL]", "{left: SL}", "toe", "F", '"\\0"', "true", "- ", "dead"])


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_whatever_is_written_is_used_or_refused_with_a_place(data):
    words = RIGHT.split(" ")
    for _ in range(data.draw(st.integers(1, 3))):
        words[data.draw(st.integers(0, len(words) - 1))] = data.draw(PIECES | st.sampled_from(words))
    text = " ".join(words)
    try:
        found = read(text)
    except UnusableError as error:
        assert error.faults
        assert all(fault.span.line >= 1 and fault.message for fault in error.faults)
        return
    assert len(read_definitions(Source("kind.yaml", kind_text(found)))) == 1

"""What each change of the page does to the text: the lines that a person would have typed, written here by hand."""

from __future__ import annotations

import pytest

from netlister.workbench.model import AskError
from tests.workbench.desks import YARD, counted, desk_on, made, tried

THROWS = "{common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}"

ASKS = [
    ({"do": "insulate", "joint": 0, "insulate": "both"}, [("to: T1.toe}", "to: T1.toe, insulate: both}")]),
    ({"do": "insulate", "joint": 2, "insulate": "right"}, [("T2.toe, insulate: vee}", "T2.toe, insulate: right}")]),
    ({"do": "insulate", "joint": 1, "insulate": "none"}, [("wharf, insulate: vee", "wharf, insulate: none")]),
    ({"do": "part", "joint": 2}, [("  - {from: T1.diverging, to: T2.toe, insulate: vee}   # under the bridge\n", "")]),
    (
        dict(do="join", **{"from": "T2.diverging", "to": "wharf.b", "insulate": "both"}),
        [("feeds:\n", "  - {from: T2.diverging, to: wharf.b, insulate: both}\nfeeds:\n")],
    ),
    (
        dict(do="join", **{"from": "wharf.b", "to": "T2.diverging"}),
        [("feeds:\n", "  - {from: wharf, to: T2.diverging}\nfeeds:\n")],
    ),
    (
        dict(do="add-feed", piece="T2", end="through", **{"from": "main", "A": "left", "B": ""}),
        [("  - {to: T2.toe}\n", "  - {to: T2.toe}\n  - {to: T2.through, A: left}\n")],
    ),
    (
        dict(do="add-feed", piece="line", **{"from": "main", "A": "left", "B": "right"}, at="450 mm", wire="0.5 mm2"),
        [
            (
                "  - {to: T2.toe}\n",
                "  - {to: T2.toe}\n  - {to: line, A: left, B: right, at: 450 mm, wire: 0.5 mm2}\n",
            )
        ],
    ),
    ({"do": "swap-feed", "feed": 2}, [("{to: spur}", "{to: spur, A: right, B: left}")]),
    (
        {"do": "swap-feed", "feed": 0},
        [
            ("{to: [line, wharf], A", "{to: [wharf], A"),
            ("B: right}\n  - {to: spur}", "B: right}\n  - {to: line, A: right, B: left}\n  - {to: spur}"),
        ],
    ),
    ({"do": "move-feed", "feed": 2, "to": "wharf"}, [("{to: spur}", "{to: wharf}")]),
    ({"do": "move-feed", "feed": 1, "to": "spur"}, [("[line, wharf]", "[line, spur]")]),
    ({"do": "take-feed", "feed": 2}, [("  - {to: spur}\n", "")]),
    ({"do": "take-feed", "feed": 1}, [("[line, wharf]", "[line]")]),
    (
        {"do": "swap-throws", "contact": 0},
        [(THROWS, "{common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}")],
    ),
    (
        {"do": "wire-throw", "contact": 0, "place": "through", "to": "main.B"},
        [(THROWS, "{common: T1.frog, through: main.B, diverging: T1.stock-left}")],
    ),
    ({"do": "wire-throw", "contact": 0, "place": "through", "to": ""}, [("through: T1.stock-right, ", "")]),
    (
        {"do": "wire-throw", "contact": 0, "place": "common", "to": "T2.frog"},
        [("common: T1.frog", "common: T2.frog")],
    ),
    (
        {"do": "take-contact", "contact": 0},
        [("    contacts:\n      frog: " + THROWS + "   # red sleeve\n", "")],
    ),
    (
        {"do": "add-contact", "frog": "T2.frog"},
        [
            (
                "T2: {kind: live-frog, hand: left}",
                "T2: {kind: live-frog, hand: left, contacts: {frog: {common: T2.frog, through: T2.stock-left, "
                "diverging: T2.stock-right}}}",
            )
        ],
    ),
    (
        dict(do="add-unit", frog="T2.frog", **{"from": "main"}),
        [("  - {to: T2.toe}\n", "  - {to: T2.toe}\nfrog-units:\n  U1: {feeds: T2.frog, from: main}\n")],
    ),
    ({"do": "set-piece", "piece": "T2", "key": "hand", "value": "right"}, [("hand: left", "hand: right")]),
    (
        {"do": "set-piece", "piece": "T2", "key": "jumpers", "value": "true"},
        [("hand: left}", "hand: left, jumpers: true}")],
    ),
    ({"do": "set-piece", "piece": "spur", "key": "length", "value": "500 mm"}, [("400 mm", "500 mm")]),
    ({"do": "set-piece", "piece": "spur", "key": "length", "value": ""}, [("{length: 400 mm}", "{}")]),
    ({"do": "set-piece", "piece": "T2", "key": "frog", "value": "dead"}, [("hand: left}", "hand: left, frog: dead}")]),
    (
        {
            "do": "add-piece",
            "at": "T2.diverging",
            "name": "shed",
            "kind": "rail-section",
            "length": "300 mm",
            "insulate": "vee",
        },
        [
            ("machines:\n", "  shed: {length: 300 mm}\nmachines:\n"),
            ("feeds:\n", "  - {from: T2.diverging, to: shed, insulate: vee}\nfeeds:\n"),
        ],
    ),
    (
        {"do": "add-piece", "at": "wharf.b", "name": "T3", "kind": "live-frog", "hand": "left", "end": "through"},
        [
            ("machines:\n", "  T3: {kind: live-frog, hand: left}\nmachines:\n"),
            ("feeds:\n", "  - {from: wharf, to: T3.through}\nfeeds:\n"),
        ],
    ),
    (
        {"do": "rename", "old": "wharf", "new": "quay"},
        [("  wharf: {length", "  quay: {length"), ("to: wharf,", "to: quay,"), ("[line, wharf]", "[line, quay]")],
    ),
    ({"do": "rename", "old": "T1", "new": "T 9"}, [("T1", "T 9")]),
    ({"do": "rename", "old": "M1.frog", "new": "nose"}, [("      frog: {", "      nose: {")]),
    ({"do": "rename", "old": "M1", "new": "point: 1"}, [("  M1:", "  'point: 1':")]),
]


def typed(changes):
    text = YARD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize(("ask", "changes"), ASKS, ids=[str(tuple(ask.values())) for ask, _ in ASKS])
def test_the_text_is_what_a_person_types(ask, changes, tmp_path):
    desk, file = desk_on(tmp_path)
    wanted = typed(changes)
    shown = tried(desk, **ask)
    assert file.read_text() == YARD  # a trial writes nothing
    assert not (tmp_path / "layout.yaml.orig").exists()
    answer = made(desk, **ask)
    assert file.read_text() == wanted
    assert (tmp_path / "layout.yaml.orig").read_text() == YARD
    for verdict in (shown["verdict"], answer["verdict"]):  # against a check of what was typed, read by itself
        assert verdict["before"] == counted(YARD)
        assert verdict["after"] == counted(wanted)


TWO_SUPPLIES = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}, other: {type: dcc, voltage: 15 V}}
track:
  line: {length: 1 m}
  T1: {kind: live-frog, hand: left}
joints: [{from: line, to: T1.toe}]
feeds:
  - {to: line, from: main}   # under the stool
frog-units:
  U1: {feeds: T1.frog, from: main}
  # the spare one
  U2: {feeds: T2.frog, from: main}
""".replace("  T1: {", "  T2: {kind: live-frog, hand: left}\n  T1: {")

OTHERS = [
    (dict(do="feed-from", feed=0, **{"from": "other"}), "{to: line, from: main}", "{to: line, from: other}"),
    ({"do": "take-unit", "unit": "U1"}, "  U1: {feeds: T1.frog, from: main}\n", ""),
]


@pytest.mark.parametrize(("ask", "old", "new"), OTHERS)
def test_and_where_there_are_two_supplies_and_two_units(ask, old, new, tmp_path):
    desk, file = desk_on(tmp_path, TWO_SUPPLIES)
    made(desk, **ask)
    assert old in TWO_SUPPLIES
    assert file.read_text() == TWO_SUPPLIES.replace(old, new)


def test_contacts_junctions_and_ids_are_offered_and_named_otherwise(tmp_path):
    """A contact with its owner, a free junction, a feed with an id; a second contact of the name stays."""
    text = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 1 m}
  T1: {kind: live-frog, hand: right, contacts: {frog: {common: knot, through: main.B, diverging: main.A}}}
  spur: {length: 1 m}
  main-2: {length: 1 m}
switches: {S1: {positions: [on, off], contacts: {frog: {common: spur.left, on: main.A}}}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: main-2, insulate: vee}
  - {from: T1.diverging, to: spur, insulate: both, id: gap}
wires: [{id: lead, from: knot, to: T1.frog}]
feeds: [{to: line, id: first}, {to: main-2}, {to: spur, B: right}]
"""
    desk, file = desk_on(tmp_path, text)
    offered = desk.offers()["names"]
    assert {"T1.frog", "S1.frog", "knot", "gap", "lead", "first"} <= set(offered)
    for old, new, changes in (
        ("T1.frog", "nose", [("contacts: {frog: {common: knot", "contacts: {nose: {common: knot")]),
        ("knot", "strip.1", [("common: knot", "common: strip.1"), ("from: knot", "from: strip.1")]),
        ("gap", "cut", [("id: gap", "id: cut")]),
        ("first", "feed-1", [("id: first", "id: feed-1")]),
    ):
        before = counted(file.read_text())
        verdict = tried(desk, do="rename", old=old, new=new)["verdict"]
        assert verdict["before"] == verdict["after"] == before
        assert not verdict["new"]["rows"] + verdict["gone"]["rows"] + verdict["moved"]["rows"]
        made(desk, do="rename", old=old, new=new)
        for was, now in changes:
            assert was in text
            text = text.replace(was, now)
        assert file.read_text() == text
        assert counted(text) == before


def test_a_name_is_changed_only_where_it_is_one(tmp_path):
    """A position, a title, a kind and the rail of another piece that look like the name stay."""
    text = """\
format: netlister/1
title: cab1
notes: [cab1 is the left one, cab1.A is brown]
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}
track: {west: {length: 1 m}, middle: {length: 1 m}, east: {length: 1 m}}
switches:
  S1: {positions: [cab1, off, cab2], contacts: {rail: {common: middle.left, cab1: cab1.A, cab2: cab2.A}}}
joints:
  - {from: west, to: middle, insulate: left}
  - {from: middle, to: east, insulate: left}
feeds: [{to: west, from: cab1}, {to: east, from: cab2, A: left}]
expect: [{track: middle, is: dead, when: {S1: off}}, {track: west, is: live, when: {S1: cab1}}]
trains: {goods: {parked: west/middle, length: 200 mm}}
boards: {one: [west, middle, S1], two: east}
"""
    desk, file = desk_on(tmp_path, text)
    made(desk, do="rename", old="cab1", new="left-cab")
    wanted = (
        text.replace("  cab1: {type", "  left-cab: {type")
        .replace("common: cab1.B", "common: left-cab.B")
        .replace("cab1: cab1.A", "cab1: left-cab.A")
        .replace("from: cab1", "from: left-cab")
    )
    assert file.read_text() == wanted
    made(desk, do="rename", old="west", new="yard")
    wanted = (
        wanted.replace("{west:", "{yard:")
        .replace("from: west,", "from: yard,")
        .replace("to: west,", "to: yard,")
        .replace("track: west", "track: yard")
        .replace("west/middle", "yard/middle")
        .replace("[west,", "[yard,")
    )
    assert file.read_text() == wanted
    made(desk, do="rename", old="S1", new="who")
    wanted = wanted.replace("  S1:", "  who:").replace("{S1:", "{who:").replace("middle, S1", "middle, who")
    assert file.read_text() == wanted


REFUSED = [
    ({"do": "insulate", "joint": 99, "insulate": "both"}, "no such joint"),
    ({"do": "insulate", "joint": True, "insulate": "both"}, "no such joint"),
    ({"do": "insulate", "joint": 0, "insulate": "glue"}, "say which rails"),
    ({"do": "insulate", "joint": 0, "insulate": "vee"}, "no frog meets"),
    ({"do": "insulate", "joint": 1, "insulate": "vee"}, "so the joint 'T1.through/wharf' is now"),
    (dict(do="join", **{"from": "line.b", "to": "wharf.b"}), "is joined already"),
    (dict(do="join", **{"from": "wharf.b", "to": "wharf.b"}), "cannot be joined to itself"),
    (dict(do="add-feed", piece="nowhere", **{"from": "main"}), "there is no piece 'nowhere'"),
    (dict(do="add-feed", piece="line", **{"from": "main"}), "at least one"),
    (dict(do="add-feed", piece="line", A="left", at="3 V", **{"from": "main"}), "'V' is no unit of length"),
    (dict(do="add-feed", piece="line", A="left", at="901 mm", **{"from": "main"}), "is 900 mm long"),
    ({"do": "wire-throw", "contact": 0, "place": "through", "to": "T1.nose"}, "there is no 'T1.nose'"),
    ({"do": "add-contact", "frog": "T1.frog"}, "has the contact 'M1.frog' already"),
    ({"do": "set-piece", "piece": "T1", "key": "kind", "value": "x"}, "is no option"),
    ({"do": "set-piece", "piece": "T1", "key": "hand", "value": "both"}, "is one of"),
    ({"do": "set-piece", "piece": "line", "key": "length", "value": "far"}, "line"),
    ({"do": "add-piece", "at": "T2.diverging", "name": "line", "kind": "rail-section"}, "is taken"),
    ({"do": "add-piece", "at": "T2.diverging", "name": "a.b", "kind": "rail-section"}, "a-b"),
    ({"do": "add-piece", "at": "T2.diverging", "name": "x", "kind": "no-such-kind"}, "there is no kind"),
    ({"do": "rename", "old": "nobody", "new": "x"}, "nothing that can be named"),
    ({"do": "rename", "old": "T1", "new": "T2"}, "is taken"),
    ({"do": "rename", "old": "M1.frog", "new": "a.b"}, "no dot"),
    ({"do": "rename", "old": "T1", "new": "two\nlines"}, "on one line"),
    ({"do": "rename", "old": "T1", "new": "x" * 500}, "short text"),
    ({"do": "no such thing"}, "not known"),
    ({"do": ["list"]}, "short text"),
]


@pytest.mark.parametrize(("ask", "words"), REFUSED, ids=[str(tuple(ask.values()))[:60] for ask, _ in REFUSED])
def test_what_cannot_be_is_refused_with_words(ask, words, tmp_path):
    desk, file = desk_on(tmp_path)
    with pytest.raises(AskError, match=words):
        tried(desk, **ask)
    with pytest.raises(AskError):
        made(desk, **ask)
    assert file.read_text() == YARD
    assert [path.name for path in tmp_path.iterdir()] == ["layout.yaml"]

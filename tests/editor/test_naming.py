"""Names: each of every example is given another and its own again; nothing but the name may have changed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from netlister.editor.document import OpenDocument
from netlister.editor.naming import CONTACT_NAME, ID, JUNCTION, PART, Names, NamingError, rename, replaced
from netlister.editor.outline import outline

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(
    path
    for path in (ROOT / "examples").glob("*/layout.yaml")
    if len(path.read_text(encoding="utf-8")) < 4000 and "faulty" not in path.parent.name  # whose causes take their time
)
MOST = 4
"""Names of one example that are changed, evenly chosen."""


def opened(text, path=None):
    document = OpenDocument("layout.yaml", path.parent if path else None, text)
    document.look()
    assert not document.faults
    return document


def some(given):
    return given[:: max(1, len(given) // MOST)]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.parent.name)
def test_a_name_changed_and_changed_back_is_the_same_text(path):
    text = path.read_text(encoding="utf-8")
    document = opened(text, path)
    names = Names(text, document.tree)
    given = [u for u in names.uses if u.given and u.what in {PART, CONTACT_NAME, ID}]
    assert given
    for use in some(given):
        new = replaced(text, rename(document, use.start, "zebra-9"))
        assert new != text
        there = opened(new, path)
        back = Names(new, there.tree)
        found = next(u for u in back.uses if u.given and new[u.start : u.end] == "zebra-9")
        old = text[use.start : use.end]
        assert replaced(new, rename(there, found.start, old)) == text
        # by another way: no use of the old name is left where a name stands, however it is written
        if use.what == PART and not use.name.isdigit():
            left = re.findall(rf"(?<![\w.-]){re.escape(use.name)}\.[\w-]+", re.sub(r"#.*", "", new))
            assert left == []


def test_a_position_or_text_of_the_same_name_is_left_alone():
    text = (
        "format: netlister/1\n"
        "title: cab1 and cab2\n"
        "supplies:\n"
        "  cab1: {type: dc, voltage: 12 V, trip: 1 A}\n"
        "  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}\n"
        "track:\n  west: {length: 1 m}\n  middle: {length: 1 m}\n  east: {length: 1 m}\n"
        "switches:\n"
        "  S1: {positions: [cab1, off, cab2], contacts: {rail: {common: middle.left, cab1: cab1.A, cab2: cab2.A}}}\n"
        "joints:\n  - {from: west, to: middle, insulate: left}\n  - {from: middle, to: east, insulate: left}\n"
        "feeds:\n  - {to: west, from: cab1}\n  - {to: east, from: cab2, A: left}\n"
        "expect:\n  - {track: middle, is: dead, when: {S1: off}}\n"
    )
    document = opened(text)
    new = replaced(text, rename(document, text.index("  cab1: {") + 2, "north"))
    assert new == (
        text.replace("  cab1: {", "  north: {")
        .replace("cab1.B", "north.B")
        .replace("cab1: cab1.A", "cab1: north.A")
        .replace("from: cab1", "from: north")
    )


KILN = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {a: {length: 1 m}, b: {length: 1 m}, "T1": {kind: live-frog-bonded, hand: left}}
machines: {M1: {throws: T1, contacts: {frog: {common: TB1.3, through: T1.stock-left, diverging: T1.stock-right}}}}
joints:
  - {from: a, to: T1.toe, id: J1}
  - {from: T1.through, to: b, insulate: vee}
feeds: [{to: [a, b]}]
wires: [{from: TB1.3, to: T1.frog}]
trains: {shunter: {length: 10 cm, current: 0.2 A, parked: J1}, other: {length: 9 cm, parked: T1.through/b}}
boards: {left-hand: [a, T1], right-hand: b}
"""


def test_junctions_ids_quotes_and_parked_trains():
    document = opened(KILN)

    def renamed(mark, new):
        return replaced(KILN, rename(document, KILN.index(mark), new))

    assert renamed("TB1.3", "X7.2") == KILN.replace("TB1.3", "X7.2")
    assert renamed("J1", "the-gap") == KILN.replace("J1", "the-gap")
    assert renamed('T1":', "W1") == KILN.replace("T1", "W1")
    assert renamed("b: {", "c") == (
        KILN.replace(" b: {", " c: {")
        .replace("to: b", "to: c")
        .replace("[a, b]", "[a, c]")
        .replace("/b}", "/c}")
        .replace("right-hand: b", "right-hand: c")
    )
    assert renamed("frog: {common", "f") == KILN.replace("frog: {common", "f: {common")


@pytest.mark.parametrize(
    ("new", "written"), [("point: 1", "'point: 1'"), ("#", "'#'"), ("it's", "'it''s'"), ("T 9", "T 9")]
)
def test_a_name_that_needs_quotes_gets_them(new, written):
    document = opened(KILN)
    changed = replaced(KILN, rename(document, KILN.index("a: {"), new))
    end = new if written == new else written
    assert changed == (
        KILN.replace("{a: {", f"{{{written}: {{")
        .replace("from: a,", f"from: {end},")
        .replace("[a, b]", f"[{end}, b]")
        .replace("[a, T1]", f"[{end}, T1]")
    )


def test_a_name_written_with_escapes_is_changed_and_one_in_a_block_is_not():
    escaped = KILN.replace("throws: T1,", 'throws: "T\\u0031",')
    document = opened(escaped)
    new = replaced(escaped, rename(document, escaped.index('"T1"') + 1, "W7"))
    assert 'throws: "W7"' in new
    block = KILN.replace("boards: {left-hand: [a, T1], right-hand: b}", "boards:\n  right-hand: |-\n    b\n")
    with pytest.raises(NamingError, match="in a block"):
        rename(opened(block), block.index("b: {"), "c")


def test_both_ends_of_one_joint_that_are_on_the_same_piece():
    text = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {ring: {length: 3 m}}
joints: [{from: ring.b, to: ring.a, insulate: both}]
feeds: [{to: ring}]
trains: {goods: {parked: ring.b/ring.a, length: 200 mm}}
"""
    document = opened(text)
    assert replaced(text, rename(document, text.index("ring:"), "o")) == text.replace("ring", "o")


def test_what_an_alias_stands_for_is_changed_once():
    text = KILN.replace("to: [a, b]", "to: [&x a, b]").replace("[a, T1]", "[*x, T1]")
    document = opened(text)
    new = replaced(text, rename(document, text.index("a: {"), "zz"))
    assert "&x zz" in new
    assert "[*x, T1]" in new


@pytest.mark.parametrize("new", ["a", "main", "J1", "TB1", "a b ", "x.y", "x/y", "", "a\nb", "M1"])
def test_names_that_are_taken_or_cannot_stand_there(new):
    document = opened(KILN)
    with pytest.raises(NamingError):
        rename(document, KILN.index("b: {"), new)


def test_a_file_that_cannot_be_used_is_not_changed():
    document = OpenDocument("layout.yaml", None, KILN.replace("[a, b]", "[a, nowhere]"))
    document.look()
    with pytest.raises(NamingError, match="cannot be used"):
        rename(document, KILN.index("b: {"), "c")
    with pytest.raises(NamingError, match="no name here"):
        rename(opened(KILN), KILN.index("length"), "c")


def test_the_outline_of_listed_entries():
    joints = next(one for one in outline(opened(KILN).tree) if one.name == "joints")
    assert [one.name for one in joints.inner] == ["J1", "T1.through to b"]
    assert JUNCTION == "junction"

"""What is printed of a kind, as text and as HTML."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from netlister.cli import kinds
from netlister.kinds import KindError, library
from netlister.kinds.find import files
from netlister.outputs import kind_text
from netlister.outputs.kind_page import kind_fragment, kind_page
from netlister.outputs.kind_sheet import SheetTable, sheet
from netlister.source import Source
from tests.parts.test_all_kinds import ALL, IDS

LIBRARY = library()
VOID = {"meta", "br", "hr", "link", "img", "input"}
every_way = pytest.mark.parametrize(("name", "hand", "options"), ALL, ids=IDS)


class Tree(HTMLParser):
    """Reads a page: elements opened and closed in order, their attributes, the text between."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.attributes, self.text = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


@every_way
def test_a_page_is_whole_and_needs_nothing_else(name, hand, options):
    page = kind_page(LIBRARY, name, hand, options)
    tree = Tree(page)
    assert tree.open == []
    assert page.startswith("<!doctype html>")
    assert not {"script", "link", "img", "iframe", "object"} & set(tree.tags)
    assert not [key for key, _ in tree.attributes if key.startswith("on") or key in {"src", "href", "style"}]
    assert ("http-equiv", "Content-Security-Policy") in tree.attributes
    assert kind_fragment(LIBRARY, name, hand, options) in page
    assert Tree(kind_fragment(LIBRARY, name, hand, options)).open == []


def test_every_kind_is_drawn_wired_right_in_each_position():
    """No rail has both poles or none, each frog the pole that its kind says, of the side it is to take it from."""
    drawn = 0
    for name in LIBRARY.names():
        hands = LIBRARY.takes(name).hands
        kind = LIBRARY.kind(name, "right" if hands else "")
        made = kinds._drawn(name, "", (), ())
        if kind.plain or not kind.bars:
            continue
        *shown, (_, legend) = made
        assert shown
        assert "pole" in legend
        for said, svg in shown:
            assert not re.search("pole-both|pole-none", svg), (name, said)
        drawn += 1
    assert drawn > 15
    letters = {said: re.search(">frog ([AB])<", svg)[1] for said, svg in kinds._drawn("live-frog", "", (), ())[:-1]}
    assert letters == {"through": "B", "diverging": "A"}  # the pole of stock-right, then that of stock-left
    assert len(kinds._drawn("rail-section", "", (), ())) == 2


@every_way
def test_text_and_page_say_the_same_and_no_line_is_too_long(name, hand, options):
    text = kind_text.kind_page(LIBRARY, name, hand, options)
    assert all(len(line) <= 100 for line in text.splitlines())
    assert all(line == line.rstrip() for line in text.splitlines())
    page = " ".join(Tree(kind_page(LIBRARY, name, hand, options)).text)
    for section in sheet(LIBRARY, name, hand, options).sections:
        said = [section.heading]
        for block in section.blocks:
            rows = [block.heads, *block.rows] if isinstance(block, SheetTable) else [block]
            said += [cell for row in rows for cell in ([row] if isinstance(row, str) else row)]
        for word in " ".join(said).split():
            assert word in text
            assert word in page


@pytest.mark.parametrize("name", files())
def test_each_kind_tells_what_people_ask_of_it(name):
    """The truth table, joiners and why, feeds, contacts, faults, the meter, dimensions, and the cautions."""
    text = kind_text.kind_page(LIBRARY, name)
    kind = LIBRARY.kind(name, "right" if LIBRARY.takes(name).hands else "")
    heads = [
        "Why",
        "Insulated joiners",
        "Feeds",
        "What goes wrong",
        "How to test it with a meter",
        "Dimensions",
        "Take care",
    ]
    if kind.routes:
        heads += ["Positions, what conducts, and the pole that each frog needs", "Under the wheels"]
    if any(rail.startswith("frog") for rail in kind.rails):
        heads += ["Contact", "Rails that change pole"]
    for head in heads:
        assert f"\n{head}" in text, head


HOSTILE = """kind: wharf
title: "<script>alert(1)</script> & 'quoted'"
summary: <img src=x onerror=alert(1)>
rails: [l, "r<b>"]
ends:
  toe: {entering: true, left: l, right: "r<b>"}
  out: {left: l, right: "r<b>"}
routes:
  out: {ends: [toe, out], left: [l], right: ["r<b>"]}
notes: {why: "a </p><script>", joiners: "&amp;"}
"""


def test_what_a_file_says_is_escaped():
    page = kind_page(library(extra=[Source("mine.yaml", HOSTILE)]), "wharf")
    tree = Tree(page)
    assert tree.open == []
    assert not {"script", "img", "b"} & set(tree.tags)
    assert "&lt;script&gt;alert(1)" in page
    assert "&amp;amp;" in page


def test_a_kind_that_there_is_not():
    with pytest.raises(KindError, match="did you mean 'live-frog'"):
        kind_page(LIBRARY, "live-frgo")


def cells(name, heading, hand="", options=()):
    """The rows of the first table under a heading."""
    section = next(s for s in sheet(LIBRARY, name, hand, options).sections if s.heading.startswith(heading))
    return next(block for block in section.blocks if isinstance(block, SheetTable)).rows


# common practice, no published source: what a meter says, power off, nothing on the rails. Position through is the left
# exit of a right-hand turnout: rails that beep without a contact, and the frog once its contact is wired
METER = {
    "live-frog": {"through": ({"stock-right", "frog"}, None), "diverging": ({"stock-left", "frog"}, None)},
    "live-frog-bonded": {"through": (None, "stock-right"), "diverging": (None, "stock-left")},
    "isolated-metal-frog": {"through": (None, "stock-right"), "diverging": (None, "stock-left")},
    "copper-clad-live-frog": {"through": (None, "stock-right"), "diverging": (None, "stock-left")},
    "single-blade-live": {"through": ({"stock-right", "frog"}, None), "diverging": (None, "stock-left")},
}


@pytest.mark.parametrize("name", METER)
def test_the_meter_table(name):
    found = {position: (beeps, wired) for position, beeps, wired in cells(name, "How to test", "right")}
    for position, (group, pole) in METER[name].items():
        beeps, wired = found[position]
        assert set(beeps.split(" to ")) == (group or {"nothing"})
        assert wired == (f"frog to {pole}" if pole else "nothing more")


def test_a_live_frog_converted_measures_like_one_with_bonded_blades():
    converted = (("jumpers", "true"), ("links", "cut"))
    assert cells("live-frog", "How to test", "right", converted) == cells("live-frog-bonded", "How to test", "right")


def test_the_insulated_frog_without_and_with_jumpers():
    rows = cells("insulated-frog", "How to test", "right")
    assert [(p, b) for p, b in rows] == [
        ("through", "stock-right to closure-right"),
        ("diverging", "stock-left to closure-left"),
    ]
    rows = cells("insulated-frog", "How to test", "right", (("jumpers", "true"),))
    assert {b for _, b in rows} == {"stock-left to closure-left; stock-right to closure-right"}


def test_the_truth_table_of_a_slip():
    """Common practice, no published source: the frog at each end follows the tie bar at the other end."""
    rows = {route: frogs for _, route, _, frogs in cells("double-slip-live", "Positions")}
    assert rows["a1 to b2"] == "frog-a needs the pole of side-right; frog-b needs the pole of side-right"
    assert rows["a2 to b1"] == "frog-a needs the pole of side-left; frog-b needs the pole of side-left"
    driven = {rail: who for rail, who, _ in cells("double-slip-live", "Rails that change")}
    assert driven == {"frog-a": "tie bar b", "frog-b": "tie bar a"}


def test_frog_numbers_in_three_measures():
    """RP-12.7 prints 14 degrees 15 minutes for No. 4 along the centre line; arctan(1/4) is 14 degrees 2 minutes."""
    section = next(s for s in sheet(LIBRARY, "live-frog", "left").sections if s.heading.startswith("Dimensions"))
    rows = {row[0]: row[1:] for b in section.blocks if isinstance(b, SheetTable) for row in b.rows}
    assert rows["angle, centre-line"] == ("14°15'", "11°25'", "9°32'", "8°10'")
    assert rows["angle, right-angle"][0] == "14°02'"
    assert rows["angle, isosceles"][0] == "14°22'"


SHORT = "rails under left-hand wheels are joined to rails under right-hand wheels"


@pytest.mark.parametrize(
    ("kind", "asked", "short"),
    [
        ("live-frog", {"jumpers": "true"}, "(through; diverging)"),
        ("live-frog", {"jumpers": "true", "links": "cut"}, ""),
        ("live-frog-bonded", {"links": "left-in"}, "(through; diverging)"),
        ("copper-clad-live-frog", {"foil-frog-left": "missed"}, "(through)"),
        ("copper-clad-live-frog", {"gap-right": "missed"}, "(diverging)"),
        ("diamond-guarded", {"guards": "other"}, "(always)"),
        ("insulated-frog", {"jumpers": "true"}, ""),
    ],
)
def test_a_piece_that_is_a_short_as_asked_for_says_so(kind, asked, short):
    """Its page must not give the short as what is right to measure."""
    text = " ".join(kind_text.kind_page(LIBRARY, kind, options=tuple(asked.items())).split())
    assert "what is said in words is of the piece as it comes" in text
    assert (f"{SHORT} {short}" in text) == bool(short)
    assert ("Never: " in text) != bool(short)


def test_no_piece_as_it_comes_is_a_short():
    for name in LIBRARY.names():
        for hand in LIBRARY.definition(name).hands or ("",):
            assert SHORT not in " ".join(kind_text.kind_page(LIBRARY, name, hand).split())

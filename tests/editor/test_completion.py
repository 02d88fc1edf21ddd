"""What may be written at a place; the mark ^ stands for the caret. Each answer is held against the reader of layouts."""

from __future__ import annotations

import re

import pytest

import netlister
from netlister.editor.completion import MOST, complete
from netlister.editor.document import OpenDocument
from netlister.kinds import library
from netlister.layout.schema import LISTED, NAMED, TOP
from netlister.rules import RULES
from tests.benchmarks.layouts import branch_line

HEAD = """\
format: netlister/1
supplies:
  main: {type: dcc, voltage: 15 V}
track:
  town: {length: 900 mm}
  kiln: {length: 500 mm}
  T1: {kind: live-frog, hand: left}
  X1: {kind: double-slip-live}
machines:
  M1: {throws: [T1]}
"""


def offered(text):
    offset = text.index("^")
    document = OpenDocument("layout.yaml", None, text.replace("^", "", 1))
    offer = complete(document, offset)
    return offer, [item.label for item in offer.items], document


def labels(text):
    return offered(text)[1]


def test_sections_at_the_left_edge():
    found = labels(HEAD + "fe^\n")
    assert "feeds" in found
    assert "track" not in found
    assert set(found) == set(TOP) - {"format", "supplies", "track", "machines"}
    assert labels("^") == ["format"]


@pytest.mark.parametrize("section", sorted(LISTED))
def test_keys_of_entries_of_lists(section):
    found = labels(HEAD + f"{section}:\n  - {{^}}\n")
    wanted = {key.name for key in LISTED[section].row} if section != "never" else {"M1", "T1", "X1.a", "X1.b"}
    assert set(found) == wanted


@pytest.mark.parametrize("section", sorted(set(NAMED) - {"boards", "track"}))
def test_keys_of_entries_with_names(section):
    text = HEAD if f"{section}:" in HEAD else f"{HEAD}{section}:\n"
    text = text.replace(f"{section}:\n", f"{section}:\n  new: {{^}}\n")
    assert {key.name for key in NAMED[section].row} >= set(labels(text)) > set()


def test_a_piece_takes_what_its_kind_takes():
    text = HEAD.replace("kind: live-frog, hand: left", "kind: live-frog, ^")
    found = labels(text)
    assert {"hand", "jumpers", "links", "contacts"} <= set(found)
    assert "turn" not in found
    assert "kind" not in found
    assert labels(HEAD.replace("hand: left", "hand: ^")) == list(library().takes("live-frog").hands)
    assert labels(HEAD.replace("hand: left", "hand: left, links: ^")) == ["left-in", "cut"]


def test_kinds_words_truths_units_and_colours():
    assert labels(HEAD.replace("kind: live-frog,", "kind: ^,")) == library().names()
    assert labels(HEAD.replace("type: dcc", "type: ^")) == ["dc", "dcc"]
    assert labels(HEAD.replace("900 mm", "900^")) == ["900 mm", "900 cm", "900 m", "900 in", "900 ft"]
    assert labels(HEAD.replace("voltage: 15 V", "voltage: 15 V, accessory: ^")) == ["true", "false"]
    assert "BN" in labels(HEAD + "buses:\n  bus: {supply: main, colours: {A: ^}}\n")


def test_terminals_after_a_dot_are_those_of_that_thing():
    text = HEAD.replace("throws: [T1]", "throws: [T1], contacts: {frog: {common: T1.^}}")
    found = labels(text)
    assert set(found) == {
        *("T1.stock-left", "T1.stock-right", "T1.frog"),
        *(f"T1.{end}.{side}" for end in ("toe", "through", "diverging") for side in ("left", "right")),
    }
    for label in found:  # the reader takes each of them
        there = text.replace("T1.^", f"{label}, through: TB1") + "wires: [{from: TB1, to: town.left}]\n"
        netlister.read_text(there)
    assert "M1.frog.common" in labels(
        HEAD.replace("throws: [T1]", "throws: [T1], contacts: {frog: {common: T1.frog}}") + "wires: [{from: M1.^}]\n"
    )


def test_throws_of_a_contact_and_positions():
    contact = HEAD.replace("throws: [T1]", "throws: [T1], contacts: {frog: {common: T1.frog, ^}}")
    assert labels(contact)[:2] == ["through", "diverging"]
    assert labels(HEAD + "never:\n  - {M1: ^}\n") == ["through", "diverging"]
    assert labels(HEAD + "expect:\n  - {track: kiln, is: dead, when: {T1: ^}}\n") == ["through", "diverging"]


def test_ends_that_are_free():
    text = HEAD + "joints:\n  - {from: town, to: T1.toe}\n  - {from: T1.^}\n"
    assert labels(text) == ["T1.diverging", "T1.through"] or set(labels(text)) == {"T1.through", "T1.diverging"}


@pytest.mark.parametrize(
    "tail",
    [
        "joints:\n  - {from: town, to: T1.^",
        "joints:\n  - {from: town, to: T1.^\nfeeds:\n  - {to: town}\n",
        "joints:\n  - from: town\n    to: T1.^\n",
        'joints:\n  - {from: town, to: "T1.^"}\n',
        "joints: [{from: town, to: T1.^",
    ],
)
def test_a_place_in_a_half_written_text(tail):
    offer, found, document = offered(HEAD + tail)
    assert "T1.toe" in found
    assert document.text[offer.start : offer.end] == "T1."


def test_rules_in_a_comment_that_allows_and_nothing_in_others():
    assert labels(HEAD + "# netlister: allow ^") == [rule.name for rule in RULES]
    offer, _, document = offered(HEAD + "# netlister: allow dead^")
    assert document.text[offer.start : offer.end] == "dead"
    assert labels(HEAD + "# a note on ^") == []
    assert labels(HEAD.replace("900 mm}", "900 mm}   # T1.^")) == []


def test_nothing_is_offered_where_a_name_of_ones_own_is_due_and_nothing_breaks_anywhere():
    text = HEAD + "joints:\n  - {from: town, to: T1.toe}\n"
    for offset in range(0, len(text) + 1, 3):
        complete(OpenDocument("layout.yaml", None, text), offset)
        complete(OpenDocument("layout.yaml", None, text[:offset]), offset)


def test_of_many_names_those_are_offered_that_fit_what_is_typed():
    text = branch_line(300).replace("feeds:\n", "feeds:\n  - {to: dng-27\n", 1)
    offset = text.index("{to: dng-27\n") + len("{to: dng-27")
    offer = complete(OpenDocument("long.yaml", None, text), offset)
    assert len(offer.items) > MOST
    typed = text[offer.start : offset]
    assert typed == "dng-27"
    nearest, whole = offer.nearest(typed)
    assert not whole
    names = {item.label for item in nearest}
    assert {"siding-27", "siding-270", "siding-279"} <= names
    assert all(re.search("d.*n.*g.*-.*2.*7", label) for label in names)
    assert len(offer.nearest("")[0]) == MOST

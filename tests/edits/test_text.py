"""Edits of the text: what is read afterwards is the layout with the changes in it, and all else stays as written."""

from __future__ import annotations

import re
import time
from collections import Counter
from random import Random

import pytest

from netlister.edits.gear import SetOption
from netlister.edits.model import AddContact, AddFeed, Insulate, Refeed, Rewire, TakeOut, apply
from netlister.edits.patch import apply_edits
from netlister.edits.same import differences
from netlister.edits.text import EditError, text_edits
from netlister.layout.drawing import DrawnLayout
from netlister.layout.model import Contact, Feed, Wire
from netlister.layout.read import read_layout
from netlister.source import Source
from tests.benchmarks.layouts import branch_line
from tests.edits.changes import random_edit
from tests.edits.restyle import Restyle
from tests.properties.gear import random_gear
from tests.properties.layouts import random_layout

SEEDS = range(100)


def read(text):
    return read_layout(Source("layout.yaml", text))


@pytest.mark.parametrize("seed", SEEDS)
def test_random_layouts_in_random_styles(seed):
    rng = Random(seed)
    data = random_gear(rng) if seed % 4 == 0 else random_layout(rng)
    text = Restyle(rng).text(data)
    layout = read(text)
    edit = random_edit(layout, rng)
    if not edit:
        return
    new = check(text, layout, edit)
    if new is not None:
        comments = Counter(re.findall(r"# (?:line|note) \d+", text))
        lost = comments - Counter(re.findall(r"# (?:line|note) \d+", new))
        if not any(isinstance(change, (TakeOut, Refeed, Rewire)) for change in edit):
            assert not lost


def check(text, layout, edit):
    """Make the edits; they must do what is meant, or the changed layout must be one that cannot be read."""
    edits = text_edits(layout, Source("layout.yaml", text), edit)
    new = apply_edits(text, edits)
    assert not differences(apply(edit, layout), read(new)) or any(f.name for f in layout.feeds)
    return new


LINE = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}   # the only one
buses:
  ring: {supply: main}
track:
  approach: {length: 600 mm}   # from the west
  line:
  siding: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1]}   # behind the shed
joints:
  - {from: approach, to: T1.toe}
  - {from: T1.through, to: line}   # metal
  - from: T1.diverging
    to: siding
feeds:
  - {to: [approach, line, siding], A: left, B: right, id: F1}   # all three
"""
NO_WIRE = Wire("", None, None, None)


def changed(text, *edit):
    layout = read(text)
    return apply_edits(text, text_edits(layout, Source("layout.yaml", text), edit))


def lines_that_differ(old, new):
    return [line for line in new.split("\n") if line not in old.split("\n")]


def test_a_joint_in_brackets_and_one_on_lines():
    new = changed(LINE, Insulate(1, 0, True), Insulate(2, 0, True))
    assert lines_that_differ(LINE, new) == [
        "  - {from: T1.through, to: line, insulate: left}   # metal",
        "    insulate: vee",
    ]
    new = changed(LINE, Insulate(1, 1, True))
    assert lines_that_differ(LINE, new) == ["  - {from: T1.through, to: line, insulate: vee}   # metal"]


def test_a_machine_without_contacts_gets_them_with_the_name_of_the_bus():
    throws = (("through", "main.B"), ("diverging", "T1.stock-left"))
    span = read(LINE).pieces["T1"].span
    contact = Contact("M1", "frog", "T1.frog", throws, ((0,), (1,)), "M1", "break-before-make", span, ())
    assert lines_that_differ(LINE, changed(LINE, AddContact(contact))) == [
        "  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: ring.B, diverging: T1.stock-left}}}   # behind the shed"
    ]


def test_a_wire_that_is_moved_to_the_other_throw_stays_at_its_end_of_the_rail():
    there = "contacts: {frog: {common: T1.frog, through: approach.b.right, diverging: T1.toe.left}}"
    text = LINE.replace("{throws: [T1]}", f"{{throws: [T1], {there}}}")
    throws = (("through", "T1.stock-left"), ("diverging", "approach.right"))
    assert lines_that_differ(text, changed(text, Rewire(0, throws, ("", "")))) == [
        "  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.toe.left, diverging: approach.b.right}}}   "
        "# behind the shed"
    ]


def test_one_piece_of_several_in_a_feed_gets_an_entry_of_its_own():
    new = changed(LINE, Refeed(1, "ring", (("main.B", "line.left"), ("main.A", "line.right"))))
    assert lines_that_differ(LINE, new) == [
        "  - {to: [approach, siding], A: left, B: right, id: F1}   # all three",
        "  - {to: line, A: right, B: left}",
    ]


def test_a_section_that_is_missing_is_begun():
    text = LINE[: LINE.index("feeds:")] + "# to be done"
    feed = Feed("", "ring", "line", (("main.A", "line.left"),), 0.25, None, NO_WIRE, read(LINE).feeds[0].span)
    assert changed(text, AddFeed(feed)) == text + "\nfeeds:\n  - {to: line, A: left, at: 250 mm}"


def test_a_feed_whose_rails_are_not_written():
    text = LINE.replace(", A: left, B: right, id: F1", "").replace("[approach, line, siding]", "line")
    new = changed(text, Refeed(0, "ring", (("main.B", "line.left"), ("main.A", "line.right"))))
    assert lines_that_differ(text, new) == ["  - {to: line, A: right, B: left}   # all three"]
    new = changed(text, Refeed(0, "ring", (("main.A", "line.left"),)))
    assert lines_that_differ(text, new) == ["  - {to: line, A: left}   # all three"]


def test_an_anchor_is_handed_on():
    text = LINE.replace("to: line}", "to: line, insulate: &v vee}").replace(
        "to: siding\n", "to: siding\n    insulate: *v\n"
    )
    new = changed(text, Insulate(1, 1, False))
    assert lines_that_differ(text, new) == [
        "  - {from: T1.through, to: line, insulate: none}   # metal",
        "    insulate: &v vee",
    ]
    new = changed(text, Insulate(2, 0, False))
    assert lines_that_differ(text, new) == ["    insulate: none"]


@pytest.mark.parametrize("eol", ["\r\n", "\r"])
@pytest.mark.parametrize("tail", [True, False])
def test_line_ends_stay(eol, tail):
    text = LINE.replace("\n", eol)
    text = text if tail else text.removesuffix(eol)
    span = read(LINE).feeds[0].span
    wires = (("main.A", "T1.stock-left"), ("main.B", "T1.stock-right"))
    new = changed(text, AddFeed(Feed("", "ring", "T1", wires, None, None, NO_WIRE, span)), Insulate(2, 1, True))
    assert "\n" not in new.replace(eol, "")
    assert "\r" not in new.replace(eol, "")
    assert new.endswith(eol) == tail
    assert new.replace(eol, "\n").rstrip().endswith("- {to: T1, A: left, B: right}")


def test_characters_that_end_a_line_for_the_parser_alone():
    """U+2028 ends a comment for the parser but no line for an editor."""
    text = LINE.replace("# metal", "# metal\u2028    # and more").replace("# all three", "# all 𝄞 three")
    new = changed(text, Insulate(1, 1, True), SetOption("T1", "jumpers", "true"))
    assert new.count("\u2028    # and more") == 1
    assert "jumpers: true}" in new


def test_a_layout_in_brackets_altogether():
    import json

    import yaml

    text = json.dumps(yaml.load(LINE, yaml.BaseLoader), indent=1).replace('"line": ""', '"line": {}')  # noqa: S506
    span = read(LINE).feeds[0].span
    new = changed(
        text, Insulate(1, 1, True), AddFeed(Feed("", "ring", "T1", (("main.A", "T1.frog"),), None, None, NO_WIRE, span))
    )
    assert read(new).joints[1].pairs[1][2]


def test_what_cannot_be_written_is_refused():
    two = (("main.A", "line.left"), ("main.A", "line.right"))
    with pytest.raises(EditError, match="write two feeds"):
        changed(LINE, Refeed(1, "ring", two))
    text = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\ntrack: {line: {}, end: {kind: buffer-metal}}\n"
    layout = read(text)
    layout.drawing = DrawnLayout()
    with pytest.raises(EditError, match="netlist"):
        text_edits(layout, Source("layout.yaml", text), (SetOption("end", "x", "y"),))


def test_a_thousand_turnouts_take_no_longer_than_reading_them_a_few_times():
    text = branch_line(1000)
    start = time.process_time()
    layout = read(text)
    reading = time.process_time() - start
    feeds = tuple(
        AddFeed(
            Feed(
                "",
                layout.feeds[0].source,
                j.start[0],
                ((layout.feeds[0].wires[0][0], j.pairs[0][0]),),
                None,
                None,
                NO_WIRE,
                j.span,
            )
        )
        for j in layout.joints[::3]
    )
    edit = (*(Insulate(n, 0, not j.pairs[0][2]) for n, j in enumerate(layout.joints)), *feeds)
    start = time.process_time()
    changed(text, *edit)
    assert time.process_time() - start < 25 * reading

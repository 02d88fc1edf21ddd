"""Ids written into the file, terminal strips on boards, test sheets by board, papers of a wiring that is wrong."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from netlister.circuit.runs import boards_of, runs
from netlister.cli.main import group
from netlister.edits.patch import apply_edits
from netlister.layout.read import read_layout
from netlister.papers.keep import keep_ids
from netlister.papers.schedule import schedule
from netlister.probe import text as sheet_text
from netlister.probe.sheet import make_sheet, prepare
from netlister.source import Source
from tests.draw.support import EXAMPLES, ROOT
from tests.papers.rebuild import NEEDS_PDF

STRIP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  a: {length: 1 m}
  b: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  c: {length: 1 m}
machines:
  M1: {throws: [T1], contacts: {f: {common: T1.frog, through: TB1.1, diverging: TB1.2}}}
joints:
  - {from: a, to: T1.toe}
  - {from: T1.through, to: b, insulate: vee}
  - {from: T1.diverging, to: c, insulate: vee}
feeds:
  - to: a      # by the window
    wire: 0.5 mm2
  - {to: b}
  - {to: b}    # a second pair
  - {to: [c]}
wires:
  - {from: main.A, to: TB1.2}
  - {from: main.B, to: TB1.1}
boards:
  west: [a, T1, M1, TB1]
  east: [b, c]
"""


def run(*arguments):
    return CliRunner().invoke(group, [str(a) for a in arguments])


def example_path(name):
    return ROOT / "examples" / name / "layout.yaml"


@pytest.mark.parametrize("name", EXAMPLES)
def test_kept_ids_are_the_ids_of_before_and_nothing_else_changes(name):
    path = example_path(name)
    source = Source("layout.yaml", path.read_text(encoding="utf-8"))
    layout = read_layout(source, path.parent)
    kept = keep_ids(layout, source, path.parent)
    text = apply_edits(source.text, kept.edits)
    after = read_layout(Source("layout.yaml", text), path.parent)
    renamed = dict(kept.renamed)
    assert [(renamed.get(w.id, w.id), *w.columns()[1:]) for w in schedule(layout)] == [
        w.columns() for w in schedule(after)
    ]
    assert re.findall("#.*", text) == re.findall("#.*", source.text)
    assert not keep_ids(after, Source("layout.yaml", text), path.parent).edits


def test_kept_ids_outlive_a_piece_with_another_name(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(STRIP, encoding="utf-8")
    shown = run("schedule", path, "--keep-ids")
    assert path.read_text(encoding="utf-8") == STRIP
    assert "+    id: F.a\n" in shown.stdout
    assert "+  - {to: b, id: F.b-2}    # a second pair" in shown.stdout
    assert "F.b.left<main.A is called F.b-2.left from now on" in shown.stderr
    written = run("schedule", path, "--keep-ids", "--write")
    assert written.exit_code == 0, written.output
    assert (tmp_path / "layout.yaml.orig").read_text(encoding="utf-8") == STRIP
    text = path.read_text(encoding="utf-8")

    def names(of):
        found = runs(read_layout(Source("layout.yaml", of)))
        return [run.id for run in found if run.kind == "wire" or (run.kind == "feed" and run.part != "c")]

    before = names(text)
    assert "W.main.A/TB1.2" in before
    renamed = text.replace("to: a ", "to: yard ").replace("  a:", "  yard:").replace("from: a,", "from: yard,")
    renamed = renamed.replace("[a, T1", "[yard, T1").replace("{to: b", "{to: east-road").replace("  b:", "  east-road:")
    renamed = renamed.replace("to: b,", "to: east-road,").replace("[b, c]", "[east-road, c]")
    assert names(renamed) == before
    assert names(STRIP.replace("to: a ", "to: yard ").replace("  a:", "  yard:").replace("from: a,", "from: yard,").replace(
        "[a, T1", "[yard, T1")) != before  # fmt: skip


def test_a_terminal_strip_stands_where_the_layout_says(tmp_path):
    def crossing(text):
        path = tmp_path / "layout.yaml"
        path.write_text(text, encoding="utf-8")
        found = json.loads(run("check", path, "--format", "json").stdout)
        return sorted(f["subject"] for f in found["findings"] if f["rule"] == "board-crossing")

    assert crossing(STRIP) == []
    elsewhere = STRIP.replace(", TB1]", "]").replace("[b, c]", "[b, c, TB1]")
    assert crossing(elsewhere) == ["C.M1.f.diverging", "C.M1.f.through"]
    layout = read_layout(Source("layout.yaml", elsewhere))
    found = runs(layout)
    assert {boards_of(layout, found)["W.main.A/TB1.2", place] for place in (0, 1)} == {"", "east"}
    path = tmp_path / "drawn.net"
    assert run("netlist", tmp_path / "layout.yaml", "-o", path).exit_code == 0
    drawn = json.loads(run("check", path, "--format", "json").stdout)
    assert [f["rule"] for f in drawn["findings"]] == ["board-crossing"] * 2
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text(STRIP.replace(", TB1]", ", TB2]"), encoding="utf-8")
    assert "no piece, gear or terminal strip 'TB2'; did you mean 'TB1'?" in run("check", wrong).output


def test_the_sheets_of_all_boards_are_the_whole_sheet():
    layout = read_layout(Source("layout.yaml", STRIP.replace("  - {to: b}    # a second pair\n", "")))
    sheet = make_sheet(*prepare(layout))
    whole = {line.number: line for line in sheet_text.lines(sheet) if line.what == "read"}
    west, east = ({n.number: n for n in sheet_text.lines(sheet, b) if n.what == "read"} for b in ("west", "east"))
    assert {**west, **east} == whole
    assert west
    assert east
    assert west != whole
    for numbers, things in ((west, "a T1 M1 TB1"), (east, "b c")):
        for line in numbers.values():
            assert {p.removeprefix("screw:").partition(".")[0] for p in line.probes} & set(things.split())


def test_what_a_person_does_between_the_readings_of_one_board_is_whole():
    """Following the lines of one board from the first, each reading is taken in the state and acts of the sheet."""
    layout = read_layout(Source("layout.yaml", STRIP.replace("  - {to: b}    # a second pair\n", "")))
    sheet = make_sheet(*prepare(layout))
    position, off, clip = "", False, ""
    for line in sheet_text.lines(sheet, "east"):
        if line.what == "do":
            moved = re.fullmatch(r"Set M1 to (\w+)\.", line.text)
            position = moved[1] if moved else position
            off = line.text.startswith("Take every feed wire off") or (
                off and "Put every feed wire back" not in line.text
            )
        elif line.what == "clip":
            clip = re.fullmatch(r"Clip one lead to (.+)\.", line.text)[1]
        elif line.what == "read":
            reading = sheet.readings[line.number - 1]
            assert position == ("through", "diverging")[reading.state[0]]
            assert off == ("feeds-off" in reading.acts)
            assert clip == line.probes[0]


@pytest.mark.parametrize("command", ["steps", "schedule", "terminals", "workbook", "card"])
def test_papers_of_a_wiring_with_errors_say_so(command, tmp_path):
    """A contact the wrong way round, soldered from its card, is a short: the paper must not look like a good one."""
    faulty = STRIP.replace("through: TB1.1, diverging: TB1.2", "through: TB1.2, diverging: TB1.1")
    for text, wrong in ((faulty, True), (STRIP, False)):
        path = tmp_path / "layout.yaml"
        path.write_text(text, encoding="utf-8")
        target = tmp_path / ("cards" if command == "card" else "paper.html")
        made = run(command, path, "-o", target)
        assert made.exit_code == 0, made.output
        files = sorted(target.iterdir()) if command == "card" else [target]
        assert ("build nothing from this" in made.stderr) == wrong
        for file in files:
            assert ("DO NOT BUILD" in file.read_text(encoding="utf-8")) == wrong, file
        if command == "workbook":
            assert ('id="test"' in files[0].read_text(encoding="utf-8")) == (not wrong)


@NEEDS_PDF
def test_a_sheet_as_pdf_and_in_the_workbook(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(STRIP, encoding="utf-8")
    for extra in ((), ("--board", "east"), ("--paper", "Letter")):
        assert run("testsheet", path, "-o", tmp_path / "sheet.pdf", *extra).exit_code == 0
        assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert run("testsheet", path, "--board", "north").exit_code == 2
    run("workbook", path, "-o", tmp_path / "book.html")
    book = (tmp_path / "book.html").read_text(encoding="utf-8")
    readings = json.loads(run("testsheet", path, "--format", "json").stdout)["readings"]
    for reading in readings:
        assert f'<td class="number">{reading["number"]}</td>' in book
    assert "Unplug every supply from the bus" in book


def test_the_difference_of_two_layouts_with_their_papers(tmp_path):
    old, new = tmp_path / "old.yaml", tmp_path / "new.yaml"
    old.write_text(STRIP, encoding="utf-8")
    new.write_text(STRIP.replace("{to: [c]}", "{to: [c], wire: 1 mm2}").replace("diverging: TB1.2", "diverging: TB1.3").replace(
        "main.A, to: TB1.2", "main.A, to: TB1.3"), encoding="utf-8")  # fmt: skip
    found = json.loads(run("diff", old, new, "--papers", "--format", "json").stdout)
    todo = {(row["do"], row["wire"]) for row in found["wires"]}
    assert todo == {
        ("change", "F.c.left"), ("change", "F.c.right"), ("move", "C.M1.f.diverging"),
        ("take out", "W.main.A/TB1.2"), ("add", "W.main.A/TB1.3"),
    }  # fmt: skip
    assert {"T1", "TB1"} <= {row["card"] for row in found["cards"]}
    assert "take out" in run("diff", old, new, "--papers").stdout
    assert "wires" not in json.loads(run("diff", old, new, "--format", "json").stdout)

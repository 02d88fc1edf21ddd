"""`spice`, `schematic` and `graph` as users see them: output, faults of options, files."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.main import group

LAYOUT = """format: netlister/1
title: Brickworks
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}}
track:
  line: {length: 900 mm}
  spur: {length: 400 mm}
  T1: {kind: live-frog, hand: right, length: 200 mm}
  stop: {kind: buffer}
machines:
  M1: {throws: T1, contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
switches:
  S1: {positions: [near, off, far]}
reversers: {R1: {mode: automatic}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: spur, insulate: both}
  - {from: spur, to: stop}
feeds: [{to: line}]
trains: {goods: {current: 500 mA}, empty: {length: 1 m}}
"""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("brick.yaml").write_text(LAYOUT)
    return tmp_path


def run(*arguments):
    done = CliRunner().invoke(group, list(arguments))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_a_deck_goes_to_standard_output_or_to_a_file():
    code, text = run("spice", "brick.yaml", "--probe", "T1.frog")
    assert code == 0
    assert text.startswith("* circuit of brick.yaml: Brickworks\n* positions: M1=through, S1=near\n")
    assert text.endswith("quit\n.endc\n.end\n")
    assert "echo p1 is volts of T1.frog\n" in text
    assert run("spice", "brick.yaml", "--probe", "T1.frog", "-o", "deck.cir") == (0, "")
    assert Path("deck.cir").read_text() == text


@pytest.mark.parametrize("probe", ["T1.frog", "main.A", "line.left", "T1.through.right", "M1.frog.common", "R1.A"])
def test_terminals_that_can_be_probed(probe):
    assert run("spice", "brick.yaml", "--probe", probe)[0] == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--set", "M1=throuh"), "'M1' has no position 'throuh'; it has 'through', 'diverging'"),
        (("--set", "R1=left"), "'R1' has no position 'left'; it has 'straight', 'crossed'"),
        (("--probe", "T1.fog"), "there is no terminal 'T1.fog'; did you mean 'T1.frog'?"),
        (("--train", "goods"), "'goods' names no train and place; write NAME@PIECE:PLACE"),
        (("--train", "goods@lime"), "there is no piece of track 'lime'; did you mean 'line'?"),
        (("--train", "goods@line:2 m"), "'line' has no place 2 m; it is 900 mm long"),
        (("--train", "goods@line:far"), "--train"),
        (("--train", "goods@T1.middle"), "'T1' has no route 'middle'; it has 'T1."),
        (("--train", "goods@spur"), "there is no voltage under the wheels of 'goods' at 'spur' in this state"),
        (("--train", "goods@stop"), "no train runs over 'stop', which has one end only"),
        (("--train", "empty@line"), "'empty' has no current in the layout; say it with --amps"),
        (("--train", "good@line"), "'good' has no current in the layout; did you mean 'goods'?"),
        (("--move", "goods@line,lime"), "there is no piece of track 'lime'; did you mean 'line'?"),
        (("--amps", "5 V"), "--amps"),
        (("--throw", "M1"), "'M1' has no '@'; write MACHINE@TIME"),
        (("--throw", "M2@1 s"), "there is no machine, turnout or switch 'M2'"),
        (("--throw", "M1@fast"), "--throw"),
        (("--throw", "M1=through@1 s"), "'M1' stands at 'through' already"),
        (("--throw", "S1@1 s"), "'S1' has more than two positions; write --throw 'S1=POSITION@TIME'"),
        (("--throw", "M1@1 s", "--throw", "M1@1.1 s"), "'M1' is thrown again before its throw has ended"),
        (("--throw", "M1@10 ms", "--shift", "M1.frog=-50 ms"), "'M1' would begin to move before 0 s"),
        (("--throw", "M1@1 s", "--shift", "M1.fog=1 ms"), "nothing that moves is called 'M1.fog'; did you mean 'M1.frog'?"),
        (("--throw", "M1@1 s", "--shift", "M1.frog"), "'M1.frog' has no '='; write NAME=TIME"),
        (("--throw", "M1@1 s", "--travel", "0 s"), "a throw takes some time"),
        (("--throw", "M1@1 s", "--until", "0 s"), "there is nothing to see before 0 s"),
        (("--throw", "M1@1 s", "--move", "goods@line"), "--throw and --move do not go together"),
        (("--shift", "M1.frog=1 ms"), "--shift and --until say how a throw goes"),
        (("-o", "brick.yaml"), "'brick.yaml' is the layout itself"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(arguments, said):
    code, text = run("spice", "brick.yaml", *arguments)
    assert code == 2
    assert said in text
    assert Path("brick.yaml").read_text() == LAYOUT


def test_a_short_that_nothing_limits_is_told():
    Path("brick.yaml").write_text(
        LAYOUT.replace(", resistance: 50 mohm", "").replace("feeds: [", "feeds: [{to: line, A: left, B: left}, ")
    )
    code, text = run("spice", "brick.yaml")
    assert code == 1
    assert "the poles of 'main' are joined and nothing limits the current; give it a 'resistance'" in text


def test_a_throw_to_a_position_of_a_switch():
    code, text = run("spice", "brick.yaml", "--throw", "S1=far@10 ms", "--throw", "M1@20 ms", "--until", "1 s")
    assert code == 0
    assert "tran 0.001 1 0 0.001\n" in text
    assert ".model sw1 sw(" in text


@pytest.mark.parametrize("command", ["spice", "schematic", "graph"])
def test_a_file_with_faults_is_told_and_nothing_written(command):
    Path("bad.yaml").write_text(LAYOUT.replace("to: T1.toe", "to: T1.too"))
    code, text = run(command, "bad.yaml", "-o", "out.svg" if command == "schematic" else "out")
    assert code == 2
    assert text.startswith("bad.yaml:15:22: ")
    assert not list(Path().glob("out*"))


def test_schematics_by_ending():
    assert run("schematic", "brick.yaml", "-o", "a.kicad_sch") == (0, "")
    assert run("schematic", "brick.yaml", "-o", "a.svg") == (0, "")
    assert Path("a.kicad_sch").read_text().startswith("(kicad_sch (version 20211123)")
    assert Path("a.svg").read_text().startswith("<svg ")
    assert run("schematic", "brick.yaml", "--format", "svg") == (0, Path("a.svg").read_text())
    assert sorted(p.name for p in Path().iterdir()) == ["a.kicad_sch", "a.svg", "brick.yaml"]


def test_many_sheets_are_files_beside_the_first():
    assert run("schematic", "brick.yaml", "-o", "a.kicad_sch", "--sheets", "many") == (0, "")
    others = sorted(p.name for p in Path().glob("a-*.kicad_sch"))
    whole = Path("a.kicad_sch").read_text()
    assert others
    assert all(f'"{name}"' in whole for name in others)
    code, text = run("schematic", "brick.yaml", "--sheets", "many")
    assert code == 2
    assert "there are several sheets, each a file: name one with -o, or write --sheets one" in text


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("-o", "a.txt"), "'a.txt' ends in neither .kicad_sch nor .svg"),
        (("-o", "a.sch", "--format", "kicad"), "write -o 'a.kicad_sch'"),
        (("-o", "brick.yaml", "--format", "svg"), "'brick.yaml' is the layout itself"),
    ],
)
def test_schematics_that_cannot_be(arguments, said):
    code, text = run("schematic", "brick.yaml", *arguments)
    assert code == 2
    assert said in text


@pytest.mark.parametrize(
    ("form", "start"), [("graphml", "<?xml"), ("dot", "graph circuit {"), ("csv", "net,terminal,")]
)
def test_graphs(form, start):
    assert run("graph", "brick.yaml", "--format", form, "-o", "out") == (0, "")
    text = Path("out").read_bytes().decode()
    assert text.startswith(start)
    assert run("graph", "brick.yaml", "--format", form)[1] == text.replace("\r\n", "\n" if form == "csv" else "\r\n")


def test_graphs_that_cannot_be():
    code, text = run("graph", "brick.yaml", "--format", "gml")
    assert code == 2
    assert "'gml' is not one of 'graphml', 'dot', 'csv'" in text
    assert run("graph", "brick.yaml", "-o", "brick.yaml")[0] == 2

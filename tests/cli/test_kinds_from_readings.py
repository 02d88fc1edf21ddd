"""`netlister kinds --from-readings` and `--use` as users see them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import netlister
from netlister.cli.main import group

READINGS = """\
kind: quarry-turnout
ends:
  toe: {left: stock-left, right: stock-right}
  left: {left: stock-left, right: frog-left}
  right: {left: frog-right, right: stock-right}
positions: [left, right]
beeps:
  always: [[frog-left, frog-right]]
  left: [[frog-left, stock-right]]
  right: [[frog-left, stock-left]]
"""
LAYOUT = """\
format: netlister/1
use: mine.yaml
supplies: {main: {type: dcc, voltage: 15 V}}
track: {line: {length: 1 m}, T1: {kind: quarry-turnout}, west: {length: 1 m}}
joints: [{from: line, to: T1.toe}, {from: T1.left, to: west, insulate: vee}]
feeds: [{to: [line, west]}]
"""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("readings.yaml").write_text(READINGS)
    Path("layout.yaml").write_text(LAYOUT)
    return tmp_path


def run(*arguments, **options):
    done = CliRunner().invoke(group, ["kinds", *arguments], **options)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_it_writes_a_kind_that_a_layout_can_use():
    code, text = run("--from-readings", "readings.yaml", "-o", "mine.yaml")
    assert code == 0
    assert text.splitlines() == [
        "readings.yaml: not measured in the position 'left', so taken not to beep: stock-left and stock-right",
        "readings.yaml: not measured in the position 'right', so taken not to beep: stock-left and stock-right",
    ]
    assert Path("mine.yaml").read_text().startswith("# Written from the readings of a meter in readings.yaml.\n")
    assert netlister.check_file("layout.yaml").findings == ()
    code, page = run("--use", "mine.yaml", "quarry-turnout")
    assert code == 0
    assert "stock-right to frog-left" in page
    assert "quarry-turnout" in run("--use", "mine.yaml")[1]


def test_the_kind_alone_is_on_standard_output_and_remarks_are_not():
    done = subprocess.run(
        [sys.executable, "-m", "netlister", "kinds", "--from-readings", "readings.yaml"],
        capture_output=True, text=True, check=False, env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    )  # fmt: skip
    assert done.returncode == 0
    Path("mine.yaml").write_text(done.stdout)
    assert netlister.check_file("layout.yaml").findings == ()
    assert done.stderr.count("not measured") == 2


def test_standard_input():
    code, text = run("--from-readings", "-", input=READINGS)
    assert code == 0
    assert "kind: quarry-turnout" in text


def test_contradictions_are_named_and_nothing_is_written():
    Path("readings.yaml").write_text(
        READINGS + "silent:\n  left: [[stock-right, frog-right], [stock-right, frog-left]]\n"
    )
    Path("mine.yaml").write_text("mine\n")
    code, text = run("--from-readings", "readings.yaml", "-o", "mine.yaml")
    assert code == 2
    assert text.splitlines() == [
        "readings.yaml:12:10: in position left: 'stock-right' beeps to 'frog-left' and 'frog-left' beeps to "
        "'frog-right', so 'stock-right' must beep to 'frog-right', which is told not to; measure these pairs again",
        "readings.yaml:12:37: 'stock-right' and 'frog-left' are told to beep in line 9 and not to beep here; measure "
        "them again and strike one out",
    ]
    assert Path("mine.yaml").read_text() == "mine\n"


def test_a_file_that_is_not_there_or_no_readings():
    assert run("--from-readings", "nowhere.yaml") == (2, "nowhere.yaml:1:1: there is no file 'nowhere.yaml'\n")
    code, text = run("--use", "readings.yaml")
    assert code == 2
    assert "readings.yaml:" in text
    code, text = run("--use", "nowhere.yaml")
    assert (code, text) == (2, "nowhere.yaml:1:1: there is no file 'nowhere.yaml'\n")


def test_a_name_that_is_taken_by_a_kind_of_ones_own():
    assert run("--from-readings", "readings.yaml", "-o", "mine.yaml")[0] == 0
    code, text = run("--use", "mine.yaml", "--from-readings", "readings.yaml")
    assert code == 2
    assert "readings.yaml:1:7: there is a kind 'quarry-turnout' already; give yours another name" in text


def test_options_that_do_not_go_together():
    code, text = run("-o", "mine.yaml")
    assert (code, "there is nothing to write without --from-readings" in text) == (2, True)
    code, text = run("live-frog", "--from-readings", "readings.yaml")
    assert (code, "leave NAME and its options out" in text) == (2, True)
    code, text = run("--from-readings", "readings.yaml", "-o", "readings.yaml")
    assert (code, "is the file of the readings itself" in text) == (2, True)
    assert Path("readings.yaml").read_text() == READINGS


def test_what_cannot_be_written_is_said():
    code, text = run("--from-readings", "readings.yaml", "-o", "no/such/folder/mine.yaml")
    assert code == 1
    assert "'no/such/folder/mine.yaml' cannot be written" in text


def test_hand_and_length_for_the_drawing():
    """The straight leg of a left-hand turnout is drawn straight on, and the length is that of its routes."""
    Path("readings.yaml").write_text(READINGS + "hand: left\nlength: 210 mm\n")
    assert run("--from-readings", "readings.yaml", "-o", "mine.yaml")[0] == 0
    layout = netlister.read_file("layout.yaml")
    kind = layout.pieces["T1"].kind
    assert kind.draw["right"][1] == 0 < kind.draw["left"][1]
    assert {"toe", "left", "right", "frog-left", "frog-right", "bar"} <= kind.draw.keys()
    done = CliRunner().invoke(group, ["routes", "layout.yaml", "T1.toe", "T1.left"])
    assert "T1  toe to left, 210 mm" in done.output


def test_without_them_the_legs_are_drawn_apart_all_the_same():
    assert run("--from-readings", "readings.yaml", "-o", "mine.yaml")[0] == 0
    draw = netlister.read_file("layout.yaml").pieces["T1"].kind.draw
    assert draw["left"][1] > 0 > draw["right"][1]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("length: 210", "11:9: '210' has no unit"),
        ("length: 0 mm", "11:9: '0 mm' is no length of a piece"),
        ("hand: straight", "11:7: there is no hand 'straight'"),
    ],
)
def test_a_hand_or_length_that_is_none(line, said):
    Path("readings.yaml").write_text(READINGS + line + "\n")
    code, text = run("--from-readings", "readings.yaml")
    assert code == 2
    assert said in text

"""The commands as users see them: command, output, exit code."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.main import group

RIGHT = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 900 mm}
  spur: {length: 400 mm}
  T1: {kind: live-frog, hand: right}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: spur, insulate: vee}
feeds:
  - {to: [line, spur]}
"""
SHORT = RIGHT.replace(", insulate: vee", "")
DEAD = RIGHT.replace("[line, spur]", "line").replace(", insulate: vee", "")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("right.yaml").write_text(RIGHT)
    Path("short.yaml").write_text(SHORT)
    Path("dead.yaml").write_text(DEAD)
    return tmp_path


def run(*arguments, **options):
    done = CliRunner().invoke(group, list(arguments), **options)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_right():
    code, text = run("check", "right.yaml")
    assert code == 0
    assert (
        text
        == "right.yaml: 3 pieces of track, 2 combinations of positions, checked over every one of them: nothing wrong\n"
    )
    assert run("check", "--quiet", "right.yaml") == (0, "")


def test_short_names_line_positions_path_and_cure():
    code, text = run("check", "short.yaml")
    assert code == 1
    assert "short.yaml:9:5: error: the joint 'T1.diverging/spur' is metal where it must be insulated" in text
    assert "when T1 is at through" in text
    assert "path: main.B - " in text
    assert "insulate 'T1.diverging/spur': write 'insulate: vee' there" in text


def test_warnings_do_not_fail_unless_asked():
    code, text = run("check", "dead.yaml")
    assert code == 0
    assert "warning" in text
    assert run("check", "--fail-on", "warning", "dead.yaml")[0] == 1
    assert run("check", "--fail-on", "never", "short.yaml")[0] == 0


def test_select_and_ignore():
    assert run("check", "--select", "gap-clash", "short.yaml")[0] == 0
    assert run("check", "--ignore", "pole-short", "short.yaml")[0] == 0
    code, text = run("check", "--select", "pole-shrot", "short.yaml")
    assert code == 2
    assert "did you mean 'pole-short'" in text


def test_json_of_findings():
    code, text = run("check", "--format", "json", "short.yaml")
    report = json.loads(text)
    assert code == 1
    assert report["summary"] == {"error": 1, "warning": 0, "note": 0}
    assert report["variables"] == {"T1": ["through", "diverging"]}
    (finding,) = report["findings"]
    assert finding["rule"] == "pole-short"
    assert finding["subject"] == "main.A/main.B"
    assert finding["when"] == [{"T1": "through"}]
    assert finding["path"][0] == "main.B"
    assert finding["path"][-1] == "main.A"
    assert finding["where"][0] == {"file": "short.yaml", "line": 9, "column": 5}
    assert "proved" in report


def test_unusable_as_text_and_json():
    Path("bad.yaml").write_text(RIGHT.replace("T1.toe", "T1.tow").replace("400 mm", "400"))
    code, text = run("check", "bad.yaml")
    assert code == 2
    lines = text.splitlines()
    assert [line.split(": ")[0] for line in lines] == ["bad.yaml:5:18", "bad.yaml:8:22"]
    assert "'T1.toe'" in lines[1] or "'toe'" in lines[1]
    code, text = run("check", "--format", "json", "bad.yaml")
    assert code == 2
    assert [fault["where"][0]["line"] for fault in json.loads(text)["unusable"]] == [5, 8]
    code, text = run("check", "nowhere.yaml")
    assert (code, text) == (2, "nowhere.yaml:1:1: there is no file 'nowhere.yaml'\n")


def test_standard_input():
    code, text = run("check", "-", input=SHORT)
    assert code == 1
    assert "<stdin>:9:5: error" in text


def test_colour_only_where_wanted():
    assert "\x1b[" not in run("check", "short.yaml")[1]
    coloured = subprocess.run(
        [sys.executable, "-m", "netlister", "check", "--color", "always", "short.yaml"],
        capture_output=True, text=True, check=False, env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    )  # fmt: skip
    assert "\x1b[1;31merror\x1b[0m" in coloured.stdout
    assert coloured.stderr == ""


def test_an_allowed_finding_is_not_shown_and_an_unused_one_is():
    Path("short.yaml").write_text(SHORT.replace("to: spur}", "to: spur}  # netlister: allow pole-short: bench test"))
    code, text = run("check", "short.yaml")
    assert (code, "nothing wrong" in text) == (0, True)
    Path("right.yaml").write_text(RIGHT.replace("T1.toe}", "T1.toe}  # netlister: allow pole-short"))
    code, text = run("check", "right.yaml")
    assert code == 0
    assert "unused-allow" in text
    assert "allow-without-reason" in text


def test_a_hopeless_limit_is_said():
    code, text = run("check", "--limit", "1", "--format", "json", "dead.yaml")
    report = json.loads(text)
    assert report["unproved"]
    assert not report["proved"]
    assert code == 1
    code, text = run("check", "--limit", "1", "--allow-unproved", "--fail-on", "never", "--format", "json", "dead.yaml")
    assert json.loads(text) == report
    assert code == 0


def test_poles():
    code, text = run("poles", "right.yaml", "--set", "T1=diverging", "--format", "json")
    assert code == 0
    assert json.loads(text)["poles"]["T1.frog"] == ["main.A"]
    code, text = run("poles", "right.yaml")
    assert "T1 through" in text
    assert "T1 diverging" in text
    code, text = run("poles", "right.yaml", "--set", "T1=divering")
    assert code == 2
    assert "it has 'through', 'diverging'" in text
    code, text = run("poles", "right.yaml", "--set", "T2=through")
    assert code == 2
    assert "there are 'T1'" in text


def test_start_writes_a_layout_that_is_right_and_never_over_another():
    assert run("start", "mine.yaml")[0] == 0
    assert run("check", "mine.yaml")[0] == 0
    before = Path("mine.yaml").read_text()
    code, text = run("start", "mine.yaml")
    assert code == 1
    assert "is there already" in text
    assert Path("mine.yaml").read_text() == before


def test_explain():
    code, text = run("explain")
    assert code == 0
    assert "pole-short" in text
    code, text = run("explain", "dead-track")
    assert text.startswith("# dead-track: ")
    assert "did you mean 'dead-track'" in run("explain", "dead-trak")[1]


def test_kinds():
    assert "live-frog-bonded" in run("kinds")[1]
    assert "frog needs the pole of stock-left" in run("kinds", "live-frog", "--hand", "left")[1]
    assert "did you mean 'live-frog'" in run("kinds", "live-frgo")[1]
    assert "closure-left to stock-left" in run("kinds", "insulated-frog", "--option", "jumpers=true")[1]
    assert "\n  s7 " in run("kinds", "turntable", "--option", "roads=7")[1]


def test_a_kind_as_a_page():
    code, text = run("kinds", "double-slip-live", "--format", "html")
    assert code == 0
    assert text.startswith("<!doctype html>")
    assert "frog-a needs the pole of side-right" in text
    code, text = run("kinds", "--format", "html")
    assert code == 2
    assert "name it" in text


def test_an_unknown_command_is_guessed():
    code, text = run("chek")
    assert code == 2
    assert "did you mean 'check'" in text


LONG = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
rail: 50 mohm/m
buses: {main: {wire: 20 mohm/m, length: 4 m}}
track:
  line: {length: 2 m}
  lost: {length: 1 m}
feeds:
  - {to: line, tap: 4 m}
"""


def test_drop_as_text_and_json():
    Path("long.yaml").write_text(LONG)
    code, text = run("drop", "long.yaml")
    assert code == 0
    rows = [" ".join(line.split()) for line in text.splitlines()]
    assert "line 360 mohm 2 m 1.08 V 7.2 % 3 A 41.7 A always" in rows
    assert "lost no voltage in any position" in rows
    assert "mains side is for licensed people" in text
    code, text = run("drop", "long.yaml", "--amps", "500 mA", "--format", "json")
    assert code == 0
    found = json.loads(text)
    assert found["format"] == "netlister-drop/1"
    assert found["pieces"]["lost"] is None
    line = found["pieces"]["line"]
    assert line["loop_ohm"] == pytest.approx(0.36)
    assert line["at_mm"] == pytest.approx(2000)
    assert line["when"] == {}
    assert line["drop_v"] == pytest.approx(0.18)
    assert line["drop_percent"] == pytest.approx(1.2)
    assert line["short_a"] == pytest.approx(15 / 0.36)
    assert [f["rule"] for f in found["findings"]] == ["feeder-spacing"]


def test_drop_in_ten_percent_is_an_error():
    Path("long.yaml").write_text(LONG)
    assert run("drop", "long.yaml", "--amps", "5 A")[0] == 1


def test_drop_of_a_supply_without_trip_current():
    Path("long.yaml").write_text(LONG.replace(", trip: 3 A", ""))
    code, text = run("drop", "long.yaml", "--format", "json")
    assert code == 0
    line = json.loads(text)["pieces"]["line"]
    assert line["drop_v"] is None
    assert line["short_a"] == pytest.approx(15 / 0.36)
    assert "-     " in run("drop", "long.yaml")[1]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--amps", "3"), "'3' has no unit"),
        (("--amps", "3 V"), "is no unit of"),
        (("--picture", "-", "--along", "lin"), "there is no piece of track 'lin'; did you mean 'line'?"),
        (("--picture", "long.yaml"), "is the layout itself"),
        (("--picture", "-", "--route", "line.a", "lst.b"), "there is no piece of track 'lst'; did you mean 'lost'?"),
        (("--picture", "-", "--route", "line.a", "lost.b"), "there is no route: no track leads from one to the other"),
        (("--picture", "-", "--route", "line.a", "line.b", "--along", "line"), "leave --along and --set out"),
        (("--temperature", "300"), "300"),
    ],
)
def test_drop_says_what_is_wrong_with_an_option(arguments, message):
    Path("long.yaml").write_text(LONG)
    code, text = run("drop", "long.yaml", *arguments)
    assert code == 2
    assert message in text
    assert Path("long.yaml").read_text() == LONG


def test_picture_of_volts_is_one_safe_file():
    from xml.etree import ElementTree as ET

    from netlister.outputs.volts_picture import STYLE

    Path("long.yaml").write_text(LONG.replace("format:", "title: <script>alert(1)</script>\nformat:", 1))
    assert run("drop", "long.yaml", "--picture", "volts.svg")[0] == 0
    text = Path("volts.svg").read_text(encoding="utf-8")
    names = {e.tag.rpartition("}")[2] for e in ET.fromstring(text).iter()}
    assert names <= {"svg", "title", "desc", "style", "rect", "text", "path", "circle"}
    assert f"<style>{STYLE}</style>" in text  # the same for every layout
    assert "href" not in text


def test_wire_size():
    # worked out: 0.25 ohm less 40 mohm of rail over 8 m is 26.25 mohm/m: 24.5 by IEC 60228, 20.9 by ASTM B258
    Path("long.yaml").write_text(LONG.replace("20 mohm/m", "0.5 mm2").replace("rail: 50", "rail: 10"))
    code, text = run("wire-size", "long.yaml")
    assert code == 0
    assert "main  bus  0.5 mm2  0.75 mm2" in text
    found = json.loads(run("wire-size", "long.yaml", "--format", "json")[1])
    assert found["format"] == "netlister-sizes/1"
    assert [s["wire"] for s in found["sizes"]] == ["0.75 mm2", "AWG 18"]

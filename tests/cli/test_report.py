"""`netlister report` and `netlister watch`: what is written, exit codes, errors."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.main import group

RIGHT = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {line: {length: 900 mm}, spur: {length: 400 mm}, T1: {kind: live-frog, hand: right}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: spur, insulate: vee}
feeds: [{to: [line, spur]}]
"""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("right.yaml").write_text(RIGHT)
    Path("short.yaml").write_text(RIGHT.replace(", insulate: vee", ""))
    Path("bad.yaml").write_text("format: netlister/1\ntrack: {}\n")
    return tmp_path


def run(*arguments, **options):
    done = CliRunner().invoke(group, list(arguments), **options)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_a_page_is_written_whatever_was_found():
    assert run("report", "short.yaml", "-o", "short.html") == (0, "")
    text = Path("short.html").read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert "pole-short" in text
    code, same = run("report", "short.yaml")
    assert code == 0
    assert same == text


def test_it_opens_in_a_position_and_with_a_route():
    code, text = run("report", "right.yaml", "--set", "T1=diverging", "--route", "line", "spur")
    assert code == 0
    assert '"state":[1]' in text
    assert "line to spur" in text


def test_rules_can_be_chosen():
    text = run("report", "short.yaml", "--ignore", "pole-short,gap-clash,dead-track")[1].split('id="data"')[0]
    assert 'class="causes"' not in text
    assert "Nothing wrong" not in text
    assert text.count("pole-short") == 1
    assert "Nothing was found, but not looked at: pole-short" in text
    assert "Nothing wrong: no rule is broken" in run("report", "right.yaml")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("report", "bad.yaml"), "bad.yaml:"),
        (("report", "none.yaml"), "there is no file 'none.yaml'"),
        (("report", "right.yaml", "-o", "right.yaml"), "is the layout itself; name another file, as in -o report.html"),
        (("report", "right.yaml", "--set", "T1=left"), "'T1' has no position 'left'"),
        (("report", "right.yaml", "--set", "T1"), "has no '='"),
        (
            ("report", "right.yaml", "--route", "line", "spurr"),
            "there is no piece of track 'spurr'; did you mean 'spur'?",
        ),
        (("report", "right.yaml", "--select", "pole-shirt"), "there is no rule 'pole-shirt'"),
        (("watch", "-"), "standard input cannot be watched"),
        (("watch", "none.yaml"), "'none.yaml' is not there"),
        (("watch", "."), "'.' is a folder; name the layout file in it"),
    ],
)
def test_errors_say_what_to_write(arguments, words):
    code, text = run(*arguments)
    assert code == 2
    assert words in " ".join(text.split())
    assert Path("right.yaml").read_text() == RIGHT


def test_nothing_is_half_written():
    assert run("report", "bad.yaml", "-o", "bad.html")[0] == 2
    assert not Path("bad.html").exists()
    assert run("report", "right.yaml", "-o", "no/such/folder.html")[0] == 1


def test_a_port_that_is_taken():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        code, text = run("watch", "right.yaml", "--port", str(taken.getsockname()[1]))
    assert code == 2
    assert "leave --port out for any free one" in " ".join(text.split())


def test_poles_of_a_supply_with_a_slash_in_its_name_are_told():
    Path("slash.yaml").write_text(RIGHT.replace("main:", "'a/b':").replace("[line, spur]", "line, A: left, B: left"))
    code, text = run("check", "slash.yaml")
    assert code == 1
    assert "a/b.A and a/b.B are joined" in " ".join(text.split())

"""`netlister mend`: shows a difference first, writes only what was checked as written."""

from __future__ import annotations

import json

from click.testing import CliRunner

import netlister
from netlister.cli.main import group
from tests.unit.repairs.test_cures import CROSSOVER

WRONG = CROSSOVER.replace("diverging, insulate: both", "diverging").replace("[nw, ne]", "[nw]")


def run(*arguments):
    return CliRunner().invoke(group, ["mend", *map(str, arguments)])


def test_a_difference_is_shown_and_nothing_written(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    done = run(path)
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("--- ")
    assert "+  - {from: T1.diverging, to: T2.diverging, insulate: both}" in done.stdout
    assert path.read_text(encoding="utf-8") == WRONG
    assert list(tmp_path.iterdir()) == [path]


def test_it_is_written_over_the_file_and_is_right(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    done = run(path, "--write")
    assert done.exit_code == 0, done.output
    assert netlister.check_file(str(path)).findings == ()
    assert (tmp_path / "wrong.yaml.orig").read_text(encoding="utf-8") == WRONG


def test_what_is_to_be_kept_is_kept(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(CROSSOVER.replace("[nw, ne]", "[nw]"), encoding="utf-8")
    found = json.loads(run(path, "--format", "json", "--keep", "ne").stdout)
    said = [change["say"] for repair in found["repairs"] for change in repair["changes"]]
    assert all("{to: ne" not in say for say in said)
    assert run(path, "--keep", "nowhere").exit_code == 2


def test_json(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    found = json.loads(run(path, "--format", "json").stdout)
    assert found["format"] == "netlister-repairs/1"
    assert found["least"] is True
    assert found["repairs"][0]["weight"] == 2
    assert found["repairs"][0]["left"] == []
    assert all(change["edits"] for change in found["repairs"][0]["changes"])


def test_a_right_layout_has_nothing_to_mend(tmp_path):
    path = tmp_path / "right.yaml"
    path.write_text(CROSSOVER, encoding="utf-8")
    done = run(path)
    assert (done.exit_code, done.output) == (0, "nothing to mend\n")

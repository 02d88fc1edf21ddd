"""`netlister routes` as users see it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.main import group

LOOP = str(Path(__file__).parents[2] / "examples" / "reversing-loop" / "layout.yaml")


def routes(*arguments):
    return CliRunner().invoke(group, ["routes", *arguments])


def test_a_table():
    done = routes(LOOP, "valley", "round")
    assert done.exit_code == 0
    lines = done.output.splitlines()
    assert lines[0] == "route 1: valley to round, 5330.23 mm"
    assert lines[1] == "  set: M1 left"
    assert lines[2].split() == ["0", "mm", "valley", "a", "to", "b,", "2400", "mm"]
    assert "gap under the left wheels, T1.stock-left to round.left, at the joint 'gap-left'" in done.output


def test_json():
    done = routes(LOOP, "valley", "round", "--format", "json")
    answer = json.loads(done.output)
    assert answer["format"] == "netlister-routes/1"
    assert answer["complete"] is True
    assert [one["runs"][0]["set"] for one in answer["routes"]] == [[{"M1": "left"}], [{"M1": "right"}]]
    assert [one["runs"][0]["pieces"][-1]["from"] for one in answer["routes"]] == ["a", "b"]


def test_no_route_says_why_and_is_no_fault():
    done = routes(LOOP, "valley", "valley")
    assert done.exit_code == 0
    assert done.output == "valley to valley: no route: no way leads back to it without running over some track twice\n"


@pytest.mark.parametrize("place", ["valey", "T1.tow"])
def test_a_place_that_is_not_there(place):
    done = routes(LOOP, place, "round")
    assert done.exit_code == 2
    assert "did you mean" in done.output or "it has 'toe'" in done.output


def test_an_unusable_file(tmp_path):
    file = tmp_path / "layout.yaml"
    file.write_text("format: netlister/1\n", encoding="utf-8")
    assert routes(str(file), "a", "b").exit_code == 2

"""What other programs read of test sheet and diagnosis: keys, kinds of fault with their parts, exit codes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.diagnose import command as diagnose
from netlister.cli.testsheet import command as sheet_command
from netlister.cli.trace import command as trace

EXAMPLES = Path(__file__).parents[2] / "examples"
RIGHT = [
    *("ferry", "ferry-districts", "one-frog", "peat-railway", "quarry-line", "reversing-loop", "sawmill"),
    *("second-hand", "two-cabs"),
]
PARTS = {
    "joint-bridged": 2,
    "joint-open": 2,
    "feed-open": 2,
    "feed-swapped": 1,
    "feed-misplaced": 1,
    "contact-open": 2,
    "contact-swapped": 2,
    "contact-stuck": 3,
    "machine-reversed": 1,
    "blade-open": 3,
    "bond-open": 3,
    "link-left": 2,
    "wire-open": 1,
    "plug-open": 2,
    "plug-swapped": 3,
    "bus-swapped": 1,
}
"""Kinds of fault with how many parts they name: pieces, rails, joints and the like."""


@pytest.mark.parametrize("walk", [False, True], ids=["short", "walk"])
@pytest.mark.parametrize("name", RIGHT)
def test_sheet_filled_as_it_should_be(name: str, walk: bool, tmp_path: Path) -> None:
    """Every key of a sheet; the same sheet as CSV, filled in with what is expected, is all right."""
    path = str(EXAMPLES / name / "layout.yaml")
    more = ["--walk"] if walk else []
    result = CliRunner().invoke(sheet_command, [path, "--format", "json", *more])
    assert result.exit_code == 0
    sheet = json.loads(result.output)
    assert sheet["format"] == "netlister-testsheet/1"
    assert [r["number"] for r in sheet["readings"]] == list(range(1, len(sheet["readings"]) + 1))
    for r in sheet["readings"]:
        assert set(r) == {"number", "supply", "acts", "set", "probes", "expect"}
        assert (r["supply"] == "off") == (r["expect"] in ("beep", "silent"))
        assert all(act == "feeds-off" or act.startswith(("paper:", "lead-off:")) for act in r["acts"])
        assert len(set(r["probes"])) == 2
    for fault in sheet["faults"]:
        assert set(fault) >= {"name", "kind", "parts", "class", "seen_by"}
        assert set(fault["seen_by"]) <= {r["number"] for r in sheet["readings"]}
    assert all(u["why"] for u in sheet["unseen"])
    assert all(len(f["parts"]) == PARTS[f["kind"]] for f in sheet["faults"] + sheet["unseen"])

    table = CliRunner().invoke(sheet_command, [path, "--format", "csv", *more]).output
    assert table.startswith("supply,acts,set,probe-1,probe-2,reading")
    rows = list(csv.DictReader(io.StringIO(table)))
    assert len(rows) == len(sheet["readings"])
    filled = tmp_path / "filled.csv"
    with filled.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows({**row, "reading": row["expect"]} for row in rows)
    result = CliRunner().invoke(diagnose, [path, "--readings", str(filled), "--format", "json"])
    told = json.loads(result.output)
    assert result.exit_code == 0
    assert told["format"] == "netlister-diagnosis/1"
    assert told["explanations"] == told["contradictory"] == told["wrong"] == []


@pytest.mark.parametrize("command", [sheet_command, diagnose, trace], ids=["testsheet", "diagnose", "trace"])
def test_exit_codes(command, tmp_path: Path) -> None:
    """1 for a design with errors, with the errors; 2 for a file that cannot be used."""
    readings = tmp_path / "m.csv"
    readings.write_text("supply,acts,set,probe-1,probe-2,reading\n")
    more = ["--readings", str(readings)] if command is diagnose else []
    wrong = str(EXAMPLES / "peat-railway-faulty" / "layout.yaml")
    result = CliRunner().invoke(command, [wrong, "--format", "json", *more])
    assert result.exit_code == 1
    assert json.loads(result.stdout)["findings"]
    unusable = tmp_path / "layout.yaml"
    unusable.write_text("format: netlister/1\nsupplies: {}\ntrack: {a: {}}\n")
    result = CliRunner().invoke(command, [str(unusable), "--format", "json", *more])
    assert result.exit_code == 2
    assert json.loads(result.stdout)["unusable"]

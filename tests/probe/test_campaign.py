"""Campaigns: the same results however they are run, and the figures of the diagnosis."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from time import sleep

import pytest
from click.testing import CliRunner

from netlister.cli.campaign import command
from netlister.probe import campaign
from netlister.probe.campaign import CampaignPlan, results, run, tasks

EXAMPLES = Path(__file__).parents[2] / "examples"
FERRY = str(EXAMPLES / "ferry" / "layout.yaml")
ONE = str(EXAMPLES / "one-frog" / "layout.yaml")


@pytest.fixture
def todo(monkeypatch: pytest.MonkeyPatch) -> list[campaign.Task]:
    """Several chunks."""
    monkeypatch.setattr(campaign, "CHUNK_ASKED", 5)
    return tasks(ONE, CampaignPlan(0, 2))


def test_ranks_after_the_sheet_are_those_of_the_diagnosis() -> None:
    """The quick way, by what sees each fault, gives the rank that explaining all readings gives."""
    quick = [case for task in tasks(FERRY, CampaignPlan(0, 0)) for case in run(task)]
    asked = [case for task in tasks(FERRY, CampaignPlan(0, 1)) for case in run(task)]
    assert [c["faults"] for c in quick] == [c["faults"] for c in asked]
    assert [c["after_sheet"] for c in quick] == [c["after_sheet"] for c in asked]


def test_same_results_in_several_processes(todo: list[campaign.Task]) -> None:
    """One process and two, in the same order."""
    assert len(todo) > 3
    assert results(todo, jobs=2) == results(todo, jobs=1)


def test_resumed(todo: list[campaign.Task], tmp_path: Path) -> None:
    """What was done is not run again, a line cut short is; the results are the same."""
    file = tmp_path / "done.jsonl"
    whole = results(todo, jobs=1, resume=str(file))
    lines = file.read_text("utf-8").splitlines()
    assert len(lines) == len(todo)
    file.write_text("\n".join(lines[:2]) + "\n" + lines[2][:40], "utf-8")
    seen: list[tuple[int, int]] = []
    assert results(todo, jobs=1, resume=str(file), progress=lambda a, b: seen.append((a, b))) == whole
    assert seen[0] == (2, len(todo))
    assert file.read_text("utf-8").splitlines() == lines


def test_killed_and_resumed(tmp_path: Path) -> None:
    """The command killed while it works, and started again with the same file, says what it says undisturbed."""
    file = tmp_path / "done.jsonl"
    words = [FERRY, "--questions", "1", "--jobs", "1", "--format", "json"]
    line = [sys.executable, "-m", "netlister", "campaign", *words, "--resume", str(file)]
    process = subprocess.Popen(line, stdout=subprocess.DEVNULL)
    while process.poll() is None and not (file.exists() and file.read_text("utf-8").count("\n")):
        sleep(0.01)
    process.kill()
    process.wait()
    kept = file.read_text("utf-8").count("\n")
    assert process.returncode < 0, "it was over before it could be killed"
    resumed = subprocess.run(line, capture_output=True, check=True, text=True)
    assert file.read_text("utf-8").count("\n") > kept > 0
    assert json.loads(resumed.stdout) == json.loads(CliRunner().invoke(command, words).output)


def test_on_a_cluster(todo: list[campaign.Task]) -> None:
    """dask.distributed gives the same."""
    distributed = pytest.importorskip("distributed", reason="dask.distributed is not installed")
    with distributed.LocalCluster(n_workers=1, processes=False, dashboard_address=None) as cluster:
        assert results(todo, scheduler=cluster.scheduler_address) == results(todo, jobs=1)


def test_command() -> None:
    """Figures per layout; a file that is none of ours is refused, as is a design with errors."""
    told = json.loads(CliRunner().invoke(command, [ONE, "--questions", "5", "--jobs", "1", "--format", "json"]).output)
    assert told["format"] == "netlister-campaign/1"
    (one,) = told["layouts"]
    assert one["cases"] == len(told["cases"])
    assert one["first_three"] >= 0.95
    wrong = str(EXAMPLES / "peat-railway-faulty" / "layout.yaml")
    assert CliRunner().invoke(command, [wrong]).exit_code == 1
    result = CliRunner().invoke(command, [ONE, "--resume", ONE])
    assert result.exit_code == 2
    assert "no line of a campaign" in result.output

"""What an installation for checks alone can do: everything else names the extra that brings what it lacks."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from netlister.cli.main import COMMANDS, EXTRAS

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

WITHOUT = """
import sys
for name in sys.argv[1].split(","):
    sys.modules[name] = None
from netlister.cli.main import group
sys.argv = ["netlister", *sys.argv[2:]]
group(prog_name="netlister")
"""
HEAVY = ",".join((*EXTRAS, "matplotlib", "scipy", "networkx"))


def run(*words, folder=ROOT):
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT, HEAVY, *words], cwd=folder, capture_output=True, text=True, check=False
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done


LAYOUT = "examples/one-frog/layout.yaml"
PLAIN = {
    "start": ["start", "{out}/new.yaml"],
    "check": ["check", LAYOUT],
    "mend": ["mend", LAYOUT],
    "diff": ["diff", LAYOUT, "examples/crossover/layout.yaml"],
    "poles": ["poles", LAYOUT],
    "explain": ["explain", "dead-track"],
    "kinds": ["kinds", "live-frog"],
    "schema": ["schema", "-o", "{out}/schema.json"],
    "propose": ["propose", LAYOUT],
    "graph": ["graph", LAYOUT, "--format", "csv"],
    "schedule": ["schedule", LAYOUT],
    "report": ["report", LAYOUT, "-o", "{out}/page.html"],  # without volts, where none are asked for
    "materials": ["materials", LAYOUT],
}
"""Commands that need nothing more."""

MORE = {
    "drop": (["drop", LAYOUT], "volts"),
    "wire-size": (["wire-size", LAYOUT], "volts"),
    "netlist": (["netlist", LAYOUT], "netlists"),
    "spice": (["spice", LAYOUT, "-o", "{out}/deck.cir"], "volts"),
    "draw": (["draw", "examples/reversing-loop/layout.yaml", "-o", "{out}/plan.svg"], "volts"),
    "serve": (["serve"], "serve"),
    "check on volts": (["check", LAYOUT, "--select", "voltage-drop"], "volts"),
    "picture": (["draw", LAYOUT, "-o", "{out}/plan.png"], "pictures"),
    "spreadsheet": (["schedule", LAYOUT, "-o", "{out}/wires.xlsx"], "papers"),
}
"""Commands that need an extra."""


@pytest.mark.parametrize("command", PLAIN)
def test_checks_and_what_belongs_to_them_need_two_packages_alone(command, tmp_path):
    done = run(*(word.format(out=tmp_path) for word in PLAIN[command]))
    assert "not installed" not in done.stderr
    assert done.returncode in {0, 1}


@pytest.mark.parametrize("command", MORE)
def test_the_others_name_the_extra_that_they_need(command, tmp_path):
    words, extra = MORE[command]
    done = run(*(word.format(out=tmp_path) for word in words))
    assert f"netlister[{extra}]" in done.stderr
    assert done.returncode == (1 if command in {"picture", "spreadsheet"} else 2)
    assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_every_extra_is_one_of_the_project_and_brings_that_package():
    extras = PROJECT["optional-dependencies"]
    for package, extra in EXTRAS.items():
        assert any(re.match(rf"{package}\b", one, re.IGNORECASE) for one in extras[extra]), package
    listed = re.search(r"netlister\[([\w,]+)\]", extras["all"][0])[1].split(",")
    assert set(listed) == set(extras) - {"all", "test", "develop"}
    assert {re.match(r"[\w-]+", one)[0] for one in PROJECT["dependencies"]} == {"pyyaml", "click", "skidl", "numpy"}
    assert set(COMMANDS) >= set(PLAIN)

"""Schematics and symbols in the real editor, whose own program exports the netlist of what we draw.

`check` finds in it what it finds in the layout.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.main import group

ROOT = Path(__file__).parents[3]
EXAMPLES = sorted(p for p in (ROOT / "examples").iterdir() if p.is_dir())
NEEDS_EDITOR = pytest.mark.skipif(
    shutil.which("kicad-cli") is None and not os.environ.get("NETLISTER_CI"),
    reason="needs kicad-cli, the command of the schematic editor (version 7 or newer)",
)


def run(*arguments):
    done = CliRunner().invoke(group, [str(a) for a in arguments])
    assert done.exit_code in {0, 1}, done.output
    return done


def told(path):
    """What `check` finds: rule, severity, words and positions; the places are those of another file."""
    found = json.loads(run("check", "--format", "json", path).stdout)
    return found["proved"], sorted((f["rule"], f["severity"], f["message"], str(f["when"])) for f in found["findings"])


def exported(folder):
    subprocess.run(
        ["kicad-cli", "sch", "export", "netlist", "-o", folder / "out.net", folder / "out.kicad_sch"],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return folder / "out.net"


@NEEDS_EDITOR
@pytest.mark.parametrize("sheets", ["one", "many"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.name)
def test_a_schematic_exported_by_the_editor_is_checked_as_the_layout_is(example, sheets, tmp_path):
    layout = next(example.glob("layout.yaml"), None) or example / "wiring.net"
    if (example / "kinds").exists():
        shutil.copytree(example / "kinds", tmp_path / "kinds")
    run("schematic", layout, "--sheets", sheets, "-o", tmp_path / "out.kicad_sch")
    assert told(exported(tmp_path)) == told(layout)


@NEEDS_EDITOR
@pytest.mark.parametrize("sheets", ["one", "many"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.name)
def test_the_electrical_check_of_the_editor_finds_nothing(example, sheets, tmp_path):
    """But for its own settings (where the library of symbols is) and names of the layout that differ by case alone.

    A short is none to it: the two poles are joined by a joiner or a contact there, which are parts.
    """
    layout = next(example.glob("layout.yaml"), None) or example / "wiring.net"
    run("schematic", layout, "--sheets", sheets, "-o", tmp_path / "out.kicad_sch")
    subprocess.run(
        ["kicad-cli", "sch", "erc", "--format", "json", "-o", tmp_path / "erc.json", tmp_path / "out.kicad_sch"],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    found = json.loads((tmp_path / "erc.json").read_text(encoding="utf-8"))
    told = [v for sheet in found["sheets"] for v in sheet["violations"] if v["type"] != "lib_symbol_issues"]
    others = [[item["description"] for item in v["items"]] for v in told if v["type"] == "similar_labels"]
    assert [v for v in told if v["type"] != "similar_labels"] == []
    assert all(one != other and one.lower() == other.lower() for one, other in others)
    assert not others or example.name.startswith("every-piece")


@NEEDS_EDITOR
def test_the_editor_reads_the_symbols(tmp_path):
    run("symbols", "-o", tmp_path / "netlister.kicad_sym")
    subprocess.run(
        ["kicad-cli", "sym", "export", "svg", "-o", tmp_path / "drawn", tmp_path / "netlister.kicad_sym"],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    drawn = {p.name.removesuffix("_unit1.svg").removesuffix(".svg") for p in (tmp_path / "drawn").iterdir()}
    assert {"live-frog", "supply", "insulated-joiner", "contact"} <= drawn


def test_every_symbol_goes_into_the_netlist():
    """A part that is not on the board is left out of an exported netlist."""
    for text in (run("symbols").stdout, run("schematic", ROOT / "examples" / "one-frog" / "layout.yaml").stdout):
        assert "(on_board yes)" in text
        assert "(on_board no)" not in text

"""Where the kinds' files are found: in an installed package, and in a checkout."""

from __future__ import annotations

from pathlib import Path

from netlister.kinds.find import files, folder

NAMES = [
    "buffer",
    "buffer-metal",
    "catch-turnout",
    "copper-clad-live-frog",
    "diamond-guarded",
    "diamond-insulated",
    "diamond-live",
    "double-slip-insulated",
    "double-slip-isolated-metal",
    "double-slip-live",
    "expansion-joint",
    "insulated-frog",
    "isolated-metal-frog",
    "live-frog",
    "live-frog-bonded",
    "rail-break",
    "rail-section",
    "rerailer",
    "scissors-insulated",
    "scissors-live",
    "single-blade-live",
    "single-slip-insulated",
    "single-slip-isolated-metal",
    "single-slip-live",
    "three-way-insulated",
    "three-way-isolated-metal",
    "three-way-live",
    "track-end",
    "traverser",
    "traverser-yard",
    "turntable",
]


def test_the_kinds_of_every_layout():
    assert list(files()) == NAMES


def test_an_installed_package_has_its_own(tmp_path):
    package = tmp_path / "netlister"
    (package / "_parts").mkdir(parents=True)
    (tmp_path / "parts").mkdir()
    assert folder(package) == package / "_parts"


def test_a_checkout_has_them_beside_the_package(tmp_path):
    (tmp_path / "netlister").mkdir()
    assert folder(tmp_path / "netlister") == tmp_path / "parts"


def test_files_are_found_at_any_depth_and_sorted(tmp_path):
    for path in ("b.yaml", "x/y/a.yaml", "x/notes.txt"):
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).touch()
    assert files(tmp_path) == {"a": tmp_path / "x/y/a.yaml", "b": tmp_path / "b.yaml"}
    assert isinstance(files(tmp_path)["a"], Path)

"""The functions for programs and notebooks: the page of the manual and the notebook are run as they are printed."""

from __future__ import annotations

import doctest
import importlib.util
import os
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import netlister
from netlister import front
from netlister.manual.pages import functions_text

ROOT = Path(__file__).parents[1]
MANUAL = ROOT / "netlister" / "manual"
TEXT = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {a: {length: 1 m}, b: {length: 1 m}, <b>: {length: 1 m}, T1: {kind: live-frog, hand: left}}
joints: [{from: a, to: T1.toe}, {from: T1.through, to: b}]
feeds: [{to: [a, b, <b>]}]
"""


def test_the_page_on_python_runs_as_printed(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    blocks = re.findall(r"```python\n(.*?)```", (MANUAL / "python.md").read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) > 5
    names = {}
    for block in blocks:
        exec(compile(block, "python.md", "exec"), names)  # noqa: S102
    assert "gap-clash mill-out" in capsys.readouterr().out


def test_the_docstring_of_the_package_runs(monkeypatch):
    monkeypatch.chdir(ROOT)
    assert doctest.testmod(netlister) == (0, 3)


def test_every_public_name_is_told_on_the_page_of_functions():
    told = functions_text().split("\n## netlister.")[1:]
    assert [part.split("\n", 1)[0] for part in told] == netlister.__all__
    for part in told:
        assert len(re.sub(r"```.*?```", "", part, flags=re.DOTALL).split()) > 10, part
    assert "\n    select: Collection[str] = (),\n" in functions_text()


@pytest.mark.skipif(importlib.util.find_spec("nbclient") is None, reason="needs nbclient and ipykernel")
def test_the_notebook_runs(tmp_path, monkeypatch):
    import nbformat  # type: ignore[import-untyped]
    from nbclient import NotebookClient

    monkeypatch.setenv("IPYTHONDIR", str(tmp_path))
    monkeypatch.setenv("JUPYTER_PLATFORM_DIRS", "1")
    notebook = nbformat.read(MANUAL / "notebook.ipynb", as_version=4)
    assert all(not cell.get("outputs") for cell in notebook.cells), "clear the outputs before you save it"
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(ROOT)}}).execute()
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert "the wrong way round" in code[0].outputs[0]["data"]["text/html"]
    assert code[1].outputs[0]["text"].startswith("swap the two throws of 'frog' of 'M1'")
    assert "<td>T1.frog</td><td>main.B</td>" in code[2].outputs[0]["data"]["text/html"]
    ET.fromstring(code[3].outputs[0]["data"]["image/svg+xml"])


def test_what_is_shown_escapes_the_file():
    layout = netlister.read_text(TEXT)
    shown = netlister.poles_of(layout)._repr_html_() + netlister.check_layout(layout)._repr_html_()
    assert "<b>" not in shown
    assert "&lt;b&gt;.left" in shown
    ET.fromstring(netlister.plan_of(layout)._repr_svg_())


def test_poles_of_a_state_and_names_that_are_wrong():
    layout = netlister.read_text(TEXT)
    # by hand: a left-hand live frog set through lies at its left stock rail, which the feed of `a` puts on A
    assert netlister.poles_of(layout, {"T1": "through"})["T1.stock-left"][0] == "main.A"
    assert netlister.poles_of(layout, {"T1": "through"}).state == {"T1": "through"}
    with pytest.raises(netlister.StateError, match="no position 'thru'"):
        netlister.poles_of(layout, {"T1": "thru"})
    with pytest.raises(netlister.StateError, match="T9"):
        netlister.poles_of(layout, {"T9": "through"})
    with pytest.raises(ValueError, match="did you mean 'dead-track'"):
        netlister.check_layout(layout, select=["dead-trak"])
    with pytest.raises(netlister.UnusableError, match="there is no 'supplies'"):
        netlister.check_text("format: netlister/1\ntrack: {a: {}}\n")
    with pytest.raises(netlister.UnusableError, match="there is no file"):
        netlister.read_file(ROOT / "nowhere.yaml")


def test_every_public_name_is_there_and_documented():
    assert set(netlister.__all__) == {*front.__all__, "UnusableError"}
    for name in netlister.__all__:
        assert getattr(netlister, name).__doc__, name
        assert name in dir(netlister)
    page = (MANUAL / "python.md").read_text(encoding="utf-8") + (netlister.__doc__ or "")
    functions = [name for name in netlister.__all__ if name[0].islower()]
    assert [name for name in functions if name not in page] == []
    with pytest.raises(AttributeError, match="nowhere"):
        _ = netlister.nowhere


def test_importing_it_imports_next_to_nothing():
    import subprocess
    import sys

    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, netlister; print(len([m for m in sys.modules if m.startswith('netlister')]))",
        ],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ},
    )
    assert int(done.stdout) <= 3

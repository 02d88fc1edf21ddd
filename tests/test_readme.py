"""Every block of the README is run."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from click.testing import CliRunner

import netlister
from netlister.cli.main import COMMANDS, group

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(mark, language):
    return re.search(rf"<!-- {mark} -->\n```{language}\n(.*?)```", README, re.DOTALL).group(1)


def test_the_layout_with_a_mistake_gives_the_output_shown(tmp_path, monkeypatch, request):
    monkeypatch.chdir(tmp_path)
    Path("kiln.yaml").write_text(block("layout", "yaml"), encoding="utf-8")
    done = CliRunner().invoke(group, ["check", "kiln.yaml"])
    assert done.exit_code == 1
    if request.config.getoption("--update-expected"):
        text = README.replace(
            f"<!-- output -->\n```text\n{block('output', 'text')}", f"<!-- output -->\n```text\n{done.output}"
        )
        (ROOT / "README.md").write_text(text, encoding="utf-8")
        return
    assert done.output == block("output", "text")


def mended():
    text = block("layout", "yaml")
    right = text.replace(
        "through: T1.stock-right, diverging: T1.stock-left", "through: T1.stock-left, diverging: T1.stock-right"
    )
    assert right != text
    return right


def test_the_cure_that_is_shown_mends_it():
    assert netlister.check_text(mended()).findings == ()


def test_the_picture_is_what_the_command_beside_it_draws(tmp_path, monkeypatch, request):
    monkeypatch.chdir(tmp_path)
    Path("kiln.yaml").write_text(mended(), encoding="utf-8")
    (command,) = re.findall(r"`netlister (draw [^`]*)`", README)
    assert CliRunner().invoke(group, shlex.split(command)).exit_code == 0
    (picture,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    if request.config.getoption("--update-expected"):
        (ROOT / picture).write_bytes(Path("kiln.svg").read_bytes())
    assert (ROOT / picture).read_bytes() == Path("kiln.svg").read_bytes()


def test_the_first_command_checks_an_example_that_is_right(monkeypatch):
    monkeypatch.chdir(ROOT)
    words = shlex.split(block("run", "sh").split("&&")[-1])
    assert words[0].endswith("netlister")
    done = CliRunner().invoke(group, words[1:])
    assert done.exit_code == 0
    assert "nothing wrong" in done.output


def test_every_command_is_listed_once():
    table = README.split("## Commands\n")[1].split("\n\n")[0]
    assert sorted(re.findall(r"`([a-z-]+)`", table.replace("`--help`", ""))) == sorted(COMMANDS)


def test_it_is_short():
    """Two screens of a wide terminal, about."""
    assert len(README.splitlines()) <= 115

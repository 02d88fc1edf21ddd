"""Tracks to begin with are readable, and are wired right."""

from __future__ import annotations

import pytest
import yaml
from click.testing import CliRunner

from netlister.cli.main import group
from netlister.layout.read import read_layout
from netlister.propose.plans import FROGS, PLANS, plan
from netlister.propose.search import propose
from netlister.source import Source
from tests.properties.reference import reference


@pytest.mark.parametrize("frog", FROGS)
@pytest.mark.parametrize("shape", PLANS)
def test_every_plan_is_wired_right(shape, frog):
    text = plan(shape, 3, "dcc", frog)
    found = propose(read_layout(Source("layout.yaml", text)), Source("layout.yaml", text))
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.design.reversers == (shape == "balloon")
    assert not {k for k, states in reference(yaml.load(found.text, yaml.BaseLoader)).items() if states}  # noqa: S506


@pytest.mark.parametrize("shape", sorted(set(PLANS) - {"balloon"}))
def test_on_direct_current(shape):
    text = plan(shape, 4, "dc", "live")
    assert propose(read_layout(Source("layout.yaml", text)), Source("layout.yaml", text)).right


def test_the_command_writes_it_and_propose_takes_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(group, ["start", "mine.yaml", "--plan", "yard", "--roads", "5"])
    assert done.exit_code == 0, done.output
    assert "netlister propose mine.yaml" in done.output
    done = CliRunner().invoke(group, ["propose", "mine.yaml", "--write"])
    assert done.exit_code == 0, done.output
    assert (tmp_path / "mine.yaml.orig").exists()
    assert CliRunner().invoke(group, ["check", "mine.yaml"]).exit_code == 0
    done = CliRunner().invoke(group, ["diff", "mine.yaml.orig", "mine.yaml"])
    assert done.exit_code == 1
    assert "+ fed" in done.output


def test_questions(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(group, ["start", "--ask"], input="terminus\n4\ndc\ninsulated\n")
    assert done.exit_code == 0, done.output
    assert (tmp_path / "layout.yaml").read_text().count("kind: insulated-frog") == 3


def test_a_price_that_is_none(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "l.yaml").write_text(plan("branch", 2, "dcc", "live"))
    for wrong in ("joiner", "joiner=-1", "nail=2", "feed=nan"):
        assert CliRunner().invoke(group, ["propose", "l.yaml", "--price", wrong]).exit_code == 2
    assert CliRunner().invoke(group, ["propose", "l.yaml", "--price", "joiner=2.5"]).exit_code == 0

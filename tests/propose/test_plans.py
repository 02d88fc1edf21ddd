"""Tracks to begin with are readable, and are wired right."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.check import check
from netlister.cli.main import group
from netlister.cli.propose import proposal_object
from netlister.edits.patch import TextEdit, apply_edits
from netlister.finding import Severity
from netlister.layout.read import read_layout
from netlister.propose.model import AIMS
from netlister.propose.plans import FROGS, PLANS, plan
from netlister.propose.search import propose
from netlister.source import Source
from tests.amount import some
from tests.propose.bare import wrong_by_enumeration


@pytest.mark.parametrize("frog", FROGS)
@pytest.mark.parametrize("shape", PLANS)
def test_every_plan_is_wired_right(shape, frog):
    text = plan(shape, 3, "dcc", frog)
    found = propose(read_layout(Source("layout.yaml", text)), Source("layout.yaml", text))
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.design.reversers == (shape == "balloon")
    assert not wrong_by_enumeration(found.text)


@pytest.mark.parametrize("shape", PLANS)
def test_on_direct_current(shape):
    """A reversing section follows its turnout there: an automatic reverser would turn the train round."""
    text = plan(shape, 1 if shape == "balloon" else 4, "dc", "live")
    found = propose(read_layout(Source("layout.yaml", text)), Source("layout.yaml", text))
    assert found.right, (found.missing, [f.message for f in found.left])
    assert ("follows: M1" in found.text) == (shape == "balloon")
    assert not wrong_by_enumeration(found.text)


@pytest.mark.parametrize("supply", ["dcc", "dc"])
@pytest.mark.parametrize("shape", PLANS)
def test_every_number_of_roads_kind_of_frog_and_aim(shape, supply):
    """A diagonal through all of them; what is called right is clean by check and by plain enumeration."""
    roads = some(range(2, 9), 3)
    for number, (frog, aim) in enumerate(some(list(product(FROGS, AIMS)), 5)):
        text = plan(shape, roads[number % len(roads)], supply, frog)
        layout = read_layout(Source("layout.yaml", text))
        found = propose(layout, Source("layout.yaml", text), aim=aim)
        assert found.right, (frog, aim, found.missing, [f.message for f in found.left])
        report = check(read_layout(Source("layout.yaml", found.text)), causes=False)
        assert not [f for f in report.findings if f.severity >= Severity.WARNING]
        if len(layout.variables) <= 6:
            assert not {key for key in wrong_by_enumeration(found.text) if key[0] != "hand-reversing"}


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


def test_a_balloon_has_the_roads_that_are_asked_for(tmp_path, monkeypatch):
    """One road unless told otherwise; with more, two ladders lie on the loop and one section still does."""
    monkeypatch.chdir(tmp_path)
    for roads, turnouts in ((None, 1), (1, 1), (4, 7)):
        name = f"with-{roads}.yaml"
        options = ["--plan", "balloon", *([] if roads is None else ["--roads", str(roads)])]
        assert CliRunner().invoke(group, ["start", name, *options]).exit_code == 0
        assert (tmp_path / name).read_text().count("kind: live-frog") == turnouts
        done = CliRunner().invoke(group, ["propose", name, "-o", "wired.yaml"])
        assert "reversers: 1; " in done.output
        assert "no wiring with this aim costs less" in done.output
        assert not wrong_by_enumeration((tmp_path / "wired.yaml").read_text())


@pytest.mark.parametrize("options", [["--roads", "4"], ["--supply", "dc"], ["--plan", "yard", "--roads", "1"]])
def test_nothing_that_is_asked_for_is_passed_over(options, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(group, ["start", *options]).exit_code == 2
    assert not [*tmp_path.iterdir()]


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


CROSSOVER = Path(__file__).parents[2] / "examples" / "crossover" / "layout.yaml"


def test_why_a_joint_is_insulated(tmp_path):
    """The V rail of a live frog is cut where track beyond it is fed (common practice, no published source)."""
    wrong = CliRunner().invoke(group, ["propose", str(CROSSOVER), "--why", "T1.diverging/T2.diverging"])
    assert wrong.exit_code == 1  # the example has a mistake at this joint: nothing is said of it
    assert "mend it first" in wrong.output
    path = tmp_path / "wired.yaml"
    bare = tmp_path / "bare.yaml"
    bare.write_text(plan("branch", 2, "dcc", "live"))
    assert CliRunner().invoke(group, ["propose", str(bare), "-o", str(path)]).exit_code == 0
    done = CliRunner().invoke(group, ["propose", str(path), "--why", "T1.diverging/siding-1"])
    assert done.exit_code == 0
    assert "T1.frog and siding-1.left: insulated; joined by metal" in done.output
    assert "error pole-short" in done.output
    assert "T1.stock-right and siding-1.right: joined by metal" in done.output
    done = CliRunner().invoke(group, ["propose", str(path), "--why", "T1.diverging/siding"])
    assert done.exit_code == 2
    assert "did you mean" in done.output


def test_what_comes_from_a_netlist_is_told_and_not_written(tmp_path):
    path = CROSSOVER.parents[1] / "brickworks" / "wiring.net"
    done = CliRunner().invoke(group, ["propose", str(path), "-o", str(tmp_path / "x.yaml")])
    assert done.exit_code == 2
    assert "drawing" in done.output
    assert not list(tmp_path.iterdir())
    done = CliRunner().invoke(group, ["propose", str(path)])
    assert done.exit_code in {0, 1}
    assert "+++" not in done.output


CROSSED = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {quay: {}, shed: {}}
joints:
  - {from: quay, to: shed}
feeds:
  - {to: quay, A: left, B: right}
  - {to: shed, A: right, B: left}
"""
"""Its two feeds contradict each other, and what is written is kept."""


def test_what_is_not_right_is_not_written_over_the_file(tmp_path):
    path = tmp_path / "slip.yaml"
    text = CROSSED
    path.write_text(text)
    done = CliRunner().invoke(group, ["propose", str(path), "--write"])
    assert done.exit_code == 1
    assert "NOT right yet" in done.output
    assert path.read_text() == text


def test_json_edits_give_the_new_text():
    text = plan("shelf", 4, "dcc", "metal")
    source = Source("layout.yaml", text)
    found = propose(read_layout(source), source)
    plain = proposal_object(found, "layout.yaml")
    edits = [
        TextEdit(e["file"], *e["start"].values(), *e["end"].values(), e["text"])
        for change in plain["changes"]
        for e in change["edits"]
    ]
    assert apply_edits(text, edits) == found.text
    assert plain["format"] == "netlister-proposal/1"
    assert plain["least"]
    assert plain["cost"] == plain["bound"] == found.cost
    assert sum(plain["adds"].values()) + plain["adds"]["contacts"] == plain["cost"]

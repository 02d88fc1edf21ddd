"""Regions of many turnouts, and what happens where there are too many questions in one."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import networkx as nx
import pytest
import yaml
from click.testing import CliRunner

import netlister
from netlister.cli.main import group
from tests.properties.compare import differences
from tests.properties.reference import Layout, load

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
import layouts


def test_a_ladder_of_120_turnouts_without_gaps_is_proved():
    report = netlister.check_text(layouts.ladder(120))
    assert report.proved
    roads = {f.subject: f for f in report.findings if f.subject.startswith("road-")}
    # road n has power only while the turnouts before it stand straight and its own for it
    assert set(roads["road-3"].when) == {
        (("T1", "diverging"),),
        (("T2", "diverging"),),
        (("T3", "through"),),
    }
    assert len(roads["road-121"].when) == 120


@pytest.mark.parametrize("hands", [("right", "left"), ("right", "right")])
def test_a_double_ended_yard_of_120_turnouts_without_gaps_is_proved(hands):
    report = netlister.check_text(layouts.double_ended_yard(61, hands), causes=False)
    assert report.proved
    (short,) = [f for f in report.findings if f.rule == "pole-short"]
    assert short.when != ((),)
    assert report.steps < 1_000_000


@pytest.mark.parametrize("hands", [("right", "left"), ("right", "right"), ("left", "left")])
def test_a_small_yard_against_plain_enumeration(hands):
    assert differences(yaml.load(layouts.double_ended_yard(4, hands), Loader=yaml.BaseLoader)) == []  # noqa: S506


def tangle(pieces: int, switches: int, seed: int = 3) -> str:
    """Rails joined by so many hand switches, each between three of them, that nobody can say what touches what."""
    rng = random.Random(seed)
    lines = ["format: netlister/1", "supplies: {main: {type: dcc, voltage: 15 V}}", "track:"]
    lines += [f"  p{n}: {{length: 1 m}}" for n in range(pieces)]
    lines.append("switches:")
    for n in range(switches):
        a, b, c = rng.sample(range(pieces), 3)
        contact = f"{{common: p{a}.left, x: p{b}.left, y: p{c}.left}}"
        lines.append(f"  S{n}: {{positions: [x, y], contacts: {{c: {contact}}}}}")
    lines += ["feeds:", "  - {to: p0}", f"  - {{to: p{pieces - 1}, A: right, B: left}}"]
    lines += [f"  - {{to: p{n}, B: right}}" for n in range(1, pieces - 1)]
    # beside the tangle a plain mistake, which must be found all the same
    lines[3:3] = ["  apart: {length: 1 m}"]
    lines.append("  - {to: apart, A: left, B: left}")
    return "\n".join(lines) + "\n"


def test_a_hopeless_question_ends_at_the_limit_and_the_rest_is_proved(tmp_path):
    path = tmp_path / "tangle.yaml"
    path.write_text(tangle(40, 110))
    report = netlister.check_file(str(path), limit=50_000)
    assert not report.proved
    assert ("dead-track", "p5") in report.unproved
    assert report.unproved[0].rule == "pole-short"
    assert [(f.rule, f.subject) for f in report.findings if "apart" in f.parts] != []
    done = CliRunner().invoke(group, ["check", "--limit", "50000", str(path)])
    assert "not everything was proved within the limit" in done.output
    assert "--limit" in done.output
    assert "insulate" not in done.output.split("not everything was proved")[1]  # a railway is not built for a proof


def test_what_is_not_proved_is_not_passed(tmp_path):
    path = tmp_path / "tangle.yaml"
    path.write_text(tangle(40, 110).replace("A: left, B: left", "A: left, B: right"))
    only = ["check", "--limit", "50000", "--select", "dead-track", str(path)]
    done = CliRunner().invoke(group, only)
    assert (done.exit_code, "error:" in done.output) == (1, False)
    assert CliRunner().invoke(group, [*only, "--allow-unproved"]).exit_code == 0
    assert CliRunner().invoke(group, ["check", "--limit", "50000", "--allow-unproved", str(path)]).exit_code == 1


def test_a_short_is_looked_for_where_none_can_be_excluded():
    """The state told of is looked at for itself, by a library that walks graphs."""
    text = tangle(40, 110).replace("A: left, B: left", "A: left, B: right")
    report = netlister.check_text(text, limit=50_000, causes=False)
    (found,) = [f for f in report.to_json()["findings"] if f["rule"] == "pole-short"]
    assert found["when_complete"] is False
    assert "states" not in found
    (held,) = found["when"]
    assert 0 < len(held) < 10
    layout = Layout(load(text))
    others = {name: positions[-1] for name, positions in layout.variables.items()}
    for rest in ({}, others):  # whatever way the others stand
        state = {name: positions[0] for name, positions in layout.variables.items()} | rest | held
        graph = layout.graph_in(frozenset(state.items()))
        assert nx.has_path(graph, "main.A", "main.B")


def test_a_higher_limit_proves_what_a_lower_one_leaves_open():
    text = tangle(9, 12)
    low, high = (netlister.check_text(text, limit=limit, causes=False) for limit in (60, 1_000_000))
    assert not low.proved
    assert high.proved


def test_more_positions_than_a_number_with_a_point_can_hold(tmp_path):
    """2,000 turnouts have 2**2000 combinations; the last line of the text has to say so."""
    path = tmp_path / "layout.yaml"
    path.write_text(layouts.branch_line(2000), encoding="utf-8")
    done = CliRunner().invoke(group, ["check", str(path)])
    assert done.exit_code == 0, done.output
    assert "about 1.1e+602 combinations of positions, checked over every one of them: nothing wrong" in done.output

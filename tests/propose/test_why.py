"""What each thing is for, held against leaving it out in the text and enumerating all states."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from netlister.cli.main import group
from netlister.layout.read import read_layout
from netlister.propose.why import reasons
from netlister.source import Source
from tests.properties.reference import reference

RIGHT = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  approach: {length: 600 mm}
  branch: {length: 900 mm}
  siding: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
joints:
  - {from: approach, to: T1.toe}
  - {from: T1.through, to: branch, insulate: both}
  - {from: T1.diverging, to: siding, insulate: vee}
feeds:
  - {to: approach}
  - {to: branch}
  - {to: siding}
"""
"""Right, with more than it needs: the stock rail at the branch is cut as well."""


def read(text):
    return read_layout(Source("layout.yaml", text))


def wrong(data):
    return {key for key, states in reference(data).items() if states}


def left_out(data, thing):
    """The same layout, from its data, without one thing that `Thing.say` names; by hand, not by the tool's edits."""
    data = copy.deepcopy(data)
    words = thing.say.split()
    if thing.kind == "joiner":
        joint = next(j for j in data["joints"] if thing.names[0] == f"{j['from']}/{j['to']}")
        side = "left" if "left" in words[2] else "right"
        now = {"both": {"left", "right"}, "vee": {side}}[joint["insulate"]]
        rest = now - {side}
        joint["insulate"] = rest.pop() if rest else "none"
    else:
        feed = next(f for f in data["feeds"] if f["to"] == thing.names[0])
        letters = {"A": feed.get("A", "left"), "B": feed.get("B", "right")}
        if "A" not in feed and "B" not in feed:
            feed.update(letters)
        del feed[words[0][-1]]
    return data


def test_what_is_said_of_each_thing_is_so_by_enumeration():
    data = yaml.load(RIGHT, yaml.BaseLoader)  # noqa: S506
    assert not wrong(data)
    found = list(reasons(read(RIGHT)))
    assert {why.thing.kind for why in found} == {"joiner", "feed"}
    for why in found:
        new = wrong(left_out(data, why.thing))
        assert bool(new) == bool(why.came), why.thing.say
        assert {(f.rule, f.subject) for f in why.came if f.rule in {"pole-short", "floating-net"}} == {
            key for key in new if key[0] in {"pole-short", "floating-net"}
        }
    needless = {why.thing.say for why in found if not why.needed}
    assert needless == {
        "T1.stock-left and branch.left: insulated",
        "main.B to approach.right: a feed wire of 'approach'",  # each feeds the rail of the other: one of them will do
        "main.B to siding.right: a feed wire of 'siding'",
    }


def test_the_command_names_what_is_not_needed(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(RIGHT)
    done = CliRunner().invoke(group, ["propose", str(path), "--needless"])
    assert done.exit_code == 0
    assert "note: main.B to siding.right" in done.output
    assert "T1.stock-left and branch.left" in done.output
    assert done.output.count("note:") == 3
    assert path.read_text() == RIGHT


def test_what_relies_on_blades_is_said_of_a_contact():
    path = Path(__file__).parents[2] / "examples" / "one-frog" / "layout.yaml"
    done = CliRunner().invoke(group, ["propose", str(path), "--why", "M1.frog"])
    assert done.exit_code == 0
    assert "blade-fed: T1.frog is fed by the touch of the blades of 'T1' alone" in done.output


@pytest.mark.parametrize("name", ["T1.toe/approach", "brnch"])
def test_an_unknown_name_is_refused(tmp_path, name):
    path = tmp_path / "layout.yaml"
    path.write_text(RIGHT)
    done = CliRunner().invoke(group, ["propose", str(path), "--why", name])
    assert done.exit_code == 2
    assert "there is no joint, feed or contact" in done.output

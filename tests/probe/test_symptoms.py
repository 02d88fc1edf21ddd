"""Symptoms in words and volts lead to the faults that plain enumeration finds, and to no others."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister import read_file
from netlister.cli.diagnose import command
from netlister.probe.diagnose import read_meter
from netlister.probe.explain import Explainer
from netlister.probe.sheet import prepare
from netlister.probe.symptoms import SymptomError, read_symptom
from tests.probe.reference import Bench
from tests.properties.reference import load

EXAMPLES = Path(__file__).parents[2] / "examples"
HEAD = "supply,acts,set,probe-1,probe-2,reading\n"


def given(made, faults, text: str) -> set[tuple[str, tuple[str, ...]]]:
    """The single faults that a symptom leads to."""
    found = Explainer(made, faults).explain([read_symptom(made, text, -1)])
    return {e.faults[0].key() for e in found.explanations if len(e.faults) == 1}


@pytest.mark.parametrize("name", ["one-frog", "quarry-line", "peat-railway"])
def test_trips_and_dead_against_enumeration(name: str) -> None:
    """In every state, by joined poles and by what each rail of plain track has; at most eight states of each."""
    path = EXAMPLES / name / "layout.yaml"
    made, faults = prepare(read_file(str(path)))
    bench = Bench(load(path.read_text("utf-8")))
    good = bench.metals()
    reference = bench.faults()
    outputs = [name for name, one in bench.reversers.items() if "follows" not in one]
    poles = [f"{name}.{letter}" for name in (*bench.supplies, *outputs) for letter in "AB"]
    sections = [p for p, entry in bench.pieces.items() if entry.get("kind", "rail-section") == "rail-section"]
    checked = 0
    for state in sorted(bench.states, key=sorted)[:8]:
        where = " ".join(f"{k}={v}" for k, v in sorted(state))

        def live(metals, state=state):
            groups = bench.groups(metals, (), state)
            at = {}
            for pole in poles:
                at.setdefault(groups[pole], set()).add(pole)
            return groups, at

        def drives(metals, piece) -> bool | None:
            groups, at = live(metals)
            p, q = (at.get(groups[f"{piece}.{side}"], set()) for side in ("left", "right"))
            if len(p) > 1 or len(q) > 1:
                return None
            return len(p) == len(q) == 1 and p != q

        trips = {
            key
            for key, some in reference.items()
            if any(any(len(x) > 1 for x in live(bad)[1].values()) for bad in some)
        }
        assert given(made, faults, f"trips with {where}") == trips
        checked += bool(trips)
        for piece in sections[:4]:
            if drives(good, piece):
                dead = {key for key, some in reference.items() if any(drives(bad, piece) is False for bad in some)}
                assert given(made, faults, f"{piece} is dead with {where}") == dead
                checked += bool(dead)
    assert checked


def test_sentences() -> None:
    """As people say it."""
    made, faults = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    assert ("contact-stuck", ("M1", "frog", "through")) in given(made, faults, "It trips when T1 is thrown.")
    assert ("contact-swapped", ("M1", "frog")) not in given(
        made, faults, "trips when T1 is thrown"
    )  # in both positions
    assert ("contact-swapped", ("M1", "frog")) in given(made, faults, "trips with T1 through")
    assert ("feed-open", ("kiln", "right")) in given(made, faults, "kiln is dead with T1 diverging")
    assert ("feed-open", ("kiln", "right")) in given(made, faults, "this locomotive stops at kiln")


def test_a_moving_train_trips_at_a_frog_of_the_wrong_pole() -> None:
    """A bonded frog on a swapped contact joins nothing until a wheel comes over its gap: a train trips there."""
    made, faults = prepare(read_file(str(EXAMPLES / "reversing-loop" / "layout.yaml")))
    name = next(p.name for p in made.layout.pieces.values() if p.kind.blades)
    found = given(made, faults, f"the train trips at {name}")
    assert any(kind == "contact-swapped" for kind, _ in found)
    assert not any(kind == "contact-open" for kind, _ in found)
    stops = given(made, faults, f"stops at {name}")
    assert any(kind == "contact-open" for kind, _ in stops)


def test_wrong_way() -> None:
    """On direct current the feed wires the wrong way round turn the train; on a digital supply nothing does."""
    made, faults = prepare(read_file(str(EXAMPLES / "two-cabs" / "layout.yaml")))
    joint = made.layout.joints[0]
    found = [given(made, faults, f"runs the wrong way beyond {j.name}") for j in made.layout.joints]
    assert any(found), joint.name
    assert all(kind not in {"feed-open", "joint-open"} for some in found for kind, _ in some)
    digital, _ = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    with pytest.raises(SymptomError, match="on a digital supply"):
        read_symptom(digital, "runs the wrong way on kiln", -1)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("kilm is dead", "'kilm' in 'kilm is dead' is not understood; did you mean 'kiln'"),
        ("T1 diverging", "does not say what happens"),
        ("trips with T1=thruogh", "'T1' has no position 'thruogh'"),
        ("trips when kiln is thrown", "'kiln' has no positions to be thrown to"),
    ],
)
def test_words_not_understood(text: str, message: str) -> None:
    """Each is named, with what to write."""
    made, _ = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    with pytest.raises(SymptomError) as error:
        read_symptom(made, text, -1)
    assert message in str(error.value)


def test_volts() -> None:
    """With the supply on: full volts, none, and something between, which is not used."""
    made, faults = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    rows = "on,,M1=diverging,kiln.left,kiln.right,0.3 V\non,,M1=diverging,to-summit.left,to-summit.right,14.8 V\n"
    taken, ignored = read_meter(made, HEAD + rows + "on,,M1=diverging,kiln.left,kiln.right,6 V\n", "m.csv")
    assert ignored == [3]
    found = Explainer(made, faults).explain(taken)
    assert found.wrong == [1]
    keys = {e.faults[0].key() for e in found.explanations if len(e.faults) == 1}
    assert ("feed-open", ("kiln", "right")) in keys
    assert ("feed-open", ("to-summit", "left")) not in keys


def test_command_with_a_symptom() -> None:
    """From one symptom to explanations and what to measure next; unknown words are a usage error."""
    path = str(EXAMPLES / "one-frog" / "layout.yaml")
    result = CliRunner().invoke(command, [path, "--symptom", "trips when T1 is thrown", "--format", "json"])
    told = json.loads(result.output)
    assert result.exit_code == 1
    assert told["explanations"]
    assert told["next"]["probes"]
    assert CliRunner().invoke(command, [path, "--symptom", "kilm is dead"]).exit_code == 2


def test_asked_on_a_terminal() -> None:
    """On a pseudo-terminal: a symptom, then beep tests, until one fault is left, with what to do."""
    path = EXAMPLES / "one-frog" / "layout.yaml"
    bench = Bench(load(path.read_text("utf-8")))
    (bad,) = bench.faults()["contact-stuck", ("M1", "frog", "through")]
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "netlister", "diagnose", str(path), "--ask"],
        stdin=slave,
        stdout=subprocess.PIPE,
        stderr=slave,
    )
    os.close(slave)
    screen = ""

    def until(ending: str) -> str:
        nonlocal screen
        before = len(screen)
        while ending not in screen[before:]:
            try:
                more = os.read(master, 4096).decode()
            except OSError:
                break
            if not more:
                break
            screen += more
        return screen[before:]

    assert "in words" in until("It")
    os.write(master, b"trips when T1 is thrown\n")
    until("It: ")
    os.write(master, b"\n")
    asked = 0
    while asked < 12:
        said_now = until("(beep, silent, stop): ")
        line = next((x for x in said_now.splitlines() if " to " in x and "(beep" in x), None)
        if line is None:
            break
        question = line.partition(" (beep")[0]
        assert "Paper" not in question
        acts = ("feeds-off",) if "every feed wire off" in question else ()
        state = frozenset([("M1", "diverging" if "M1=diverging" in question else "through")])
        one, _, other = question.rpartition(": ")[2].partition(" to ")
        groups = bench.groups(bad, acts, state)
        os.write(master, b"beep\n" if groups[one] == groups[other.strip()] else b"silent\n")
        asked += 1
    out, _ = process.communicate(timeout=60)
    os.close(master)
    text = out.decode()
    assert process.returncode == 1
    assert text.index("contact 'frog' of 'M1' is stuck at 'through'") < text.index("2.") if "2." in text else True
    assert "stuck at 'through'" in text
    assert 1 <= asked <= 7

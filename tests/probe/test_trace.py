"""The steps of a trace lead to the short, by plain enumeration; the order of tests is the least."""

from __future__ import annotations

import json
from itertools import permutations
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner

from netlister import read_text
from netlister.check import check
from netlister.cli.trace import command
from netlister.probe.local import allowed
from netlister.probe.sheet import prepare
from netlister.probe.trace import Tracer, trace_object
from netlister.probe.tree import huffman, mean_steps, most_steps, tree
from tests.benchmarks.layouts import branch_line
from tests.probe.reference import Bench, Metal
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import load

EXAMPLES = Path(__file__).parents[2] / "examples"


def wrong_ends(text: str) -> tuple[int, list[str]]:
    """How many shorts were traced from the first and from the last state, and those that the steps do not lead to."""
    made, faults = prepare(read_text(text, "layout.yaml"))
    bench = Bench(load(text))
    wrong: list[str] = []
    count = 0
    good = bench.metals()
    first = allowed(made, ())
    last = allowed(made, (), tuple(len(v.positions) - 1 for v in made.circuit.variables))
    supply = next(iter(made.layout.supplies))
    for state in {first, last}:
        told = trace_object(Tracer(made, faults, (made.node[f"{supply}.A"], made.node[f"{supply}.B"]), state).trace())
        a, b = told["between"]
        cases = [(key, bad) for key, some in bench.faults().items() for bad in some]
        listed = [f for end in told["found"] for f in end["faults"]]
        for fault in listed:
            if fault["kind"] == "rails-bridged":
                piece, *rails = fault["parts"]
                key = fault["kind"], tuple(fault["parts"])
                cases.append((key, [*good, Metal(*(f"{piece}.{r}" for r in rails), ("across",))]))
        for key, bad in cases:
            known: dict[object, bool] = {}

            def beeps(acts: list[str], where: dict[str, str], *, bad=bad, known=known, a=a, b=b) -> bool:
                place = tuple(acts), frozenset(where.items())
                if place not in known:
                    groups = bench.groups(bad, *place)
                    known[place] = groups[a] == groups[b]
                return known[place]

            if not beeps([], told["set"]):
                continue
            count += 1
            to = {"step": 1} if told["steps"] else {"found": 1}
            while "step" in to:
                step = told["steps"][to["step"] - 1]
                to = step["beep" if beeps(step["acts"], step["set"]) else "silent"]
            found = [(f["kind"], tuple(f["parts"])) for f in told["found"][to["found"] - 1]["faults"]]
            if key not in found:
                wrong.append(f"{key} ends at {found}")
    return count, wrong


@pytest.mark.parametrize(
    "name", ["one-frog", "sawmill", "ferry", "two-cabs", "reversing-loop", "quarry-line", "peat-railway"]
)
def test_examples(name: str) -> None:
    """Every single fault that shorts an example, and metal across each piece, is found by the steps."""
    count, wrong = wrong_ends((EXAMPLES / name / "layout.yaml").read_text("utf-8"))
    assert wrong == []
    assert count >= 3


def test_random_layouts() -> None:
    """The same in random layouts that are right."""
    total = 0
    for seed in range(120):
        text = dump(random_layout(Random(seed)))
        report = check(read_text(text, "layout.yaml"), causes=False)
        if report.proved and not any(f.severity.label == "error" for f in report.findings):
            count, wrong = wrong_ends(text)
            assert wrong == [], text
            total += count
    assert total >= 200


def test_huffman_code_of_a_textbook() -> None:
    """The worked example of Cormen, Leiserson, Rivest, Stein, Introduction to Algorithms, section on Huffman codes.

    Letters a to f, 45, 13, 12, 16, 9 and 5 times in a hundred: 224 bits (from memory). With every question allowed the
    least order of tests takes as many steps.
    """
    weights = [45, 13, 12, 16, 9, 5]
    assert huffman(weights) == pytest.approx(2.24)
    order = tree(weights, list(range(1, 63)))
    assert mean_steps(weights, order) == pytest.approx(2.24)


def test_halving() -> None:
    """Eight alike, any of them asked about: three steps, which is log2 of eight."""
    order = tree([1] * 8, list(range(1, 255)))
    assert (mean_steps([1] * 8, order), most_steps(order)) == (3, 3)


@pytest.mark.parametrize("seed", range(40))
def test_least_of_all_orders(seed: int) -> None:
    """Against every order of a few tests, each asked wherever it still splits what is left."""
    rng = Random(seed)
    weights = [rng.choice([1, 2, 4, 8]) for _ in range(5)]
    tests = [rng.randrange(1, 31) for _ in range(4)]

    def least(some: frozenset[int], left: tuple[int, ...]) -> float:
        best = None
        for t in left:
            yes = frozenset(k for k in some if tests[t] >> k & 1)
            if yes and yes != some:
                rest = tuple(x for x in left if x != t)
                cost = sum(weights[k] for k in some) + least(yes, rest) + least(some - yes, rest)
                best = cost if best is None else min(best, cost)
        return best or 0.0

    found = mean_steps(weights, tree(weights, tests)) * sum(weights)
    # what no test splits stays together, in any order
    whole = min(least(frozenset(range(5)), order) for order in permutations(range(4)))
    assert found == pytest.approx(whole)


def test_hundred_turnouts() -> None:
    """Near the least number of steps that there can be, and no more than the depth of halving and a few."""
    made, faults = prepare(read_text(branch_line(30), "line.yaml"))
    found = Tracer(made, faults, (0, 1), made.first).trace()
    assert found.bound <= found.expected <= found.bound + 0.5
    assert len(found.groups) > 100


def test_command_asks() -> None:
    """Asked on the terminal, each answer leads on, and the end says what to do."""
    path = str(EXAMPLES / "one-frog" / "layout.yaml")
    result = CliRunner().invoke(command, [path, "--ask"], input="beep\nbeep\nbeep\n")
    assert result.exit_code == 0
    assert "swap the two outer leads of the contact" in result.stdout
    told = json.loads(CliRunner().invoke(command, [path, "--format", "json"]).output)
    assert told["format"] == "netlister-trace/1"
    assert told["bound"] <= told["expected"] <= told["most"]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--between", "main.A"], "two poles with a comma between"),
        (["--between", "main.A,mian.B"], "did you mean 'main.B'"),
        (["--between", "main.A,main.A"], "are one pole"),
        (["--set", "M1=thruogh"], "M1"),
    ],
)
def test_bad_options(options: list[str], message: str) -> None:
    """What is wrong and what to write instead."""
    result = CliRunner().invoke(command, [str(EXAMPLES / "one-frog" / "layout.yaml"), *options])
    assert result.exit_code == 2
    assert message in result.output

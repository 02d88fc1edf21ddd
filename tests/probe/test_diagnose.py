"""The true fault is found from the readings; bad files of readings are told with their line."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from netlister import read_file, read_text
from netlister.cli.diagnose import command as diagnose_command
from netlister.cli.testsheet import command as sheet_command
from netlister.edits.text import new_text, text_edits
from netlister.probe.built import as_built
from netlister.probe.diagnose import ReadingsError, read_meter
from netlister.probe.explain import Explainer, Meter
from netlister.probe.question import Questions
from netlister.probe.scene import Acts, Scene
from netlister.probe.sheet import make_sheet, prepare
from netlister.probe.text import sheet_object
from netlister.source import read_source
from tests.probe.reference import Bench, Key, Metal
from tests.properties.reference import load

if TYPE_CHECKING:
    from netlister.probe.sheet import Reading

EXAMPLES = Path(__file__).parents[2] / "examples"
HEAD = "supply,acts,set,probe-1,probe-2,reading\n"


class Case:
    """An example with everything that is needed to put faults into it; readings come from plain enumeration."""

    def __init__(self, name: str) -> None:
        path = EXAMPLES / name / "layout.yaml"
        self.made, self.listed = prepare(read_file(str(path)))
        self.sheet = make_sheet(self.made, self.listed)
        self.explainer = Explainer(self.made, self.listed)
        self.questions = Questions(self.explainer)
        self.bench = Bench(load(path.read_text("utf-8")))
        self.good = self.bench.metals()
        self.faults = self.bench.faults()

    def changes(self, key: Key, variant: int) -> tuple[list[Metal], list[Metal]]:
        """What a fault takes away and puts in."""
        bad = self.faults[key][variant]
        return [m for m in self.good if m not in bad], [m for m in bad if m not in self.good]

    def rank(self, bad: list[Metal], keys: set[Key]) -> tuple[bool, bool]:
        """Whether some faults are among the first three explanations: after the sheet, after five further questions."""
        groups: dict[object, dict[str, int]] = {}

        def meter(row: int, reading: Reading) -> Meter:
            state = frozenset(
                (v.name, v.positions[x]) for v, x in zip(self.made.circuit.variables, reading.state, strict=True)
            )
            place = reading.acts, state
            if place not in groups:
                groups[place] = self.bench.groups(bad, *place)
            x, y = (groups[place][self.made.names[p]] for p in reading.probes)
            return Meter(row, reading, x == y)

        def first() -> bool:
            return any({f.key() for f in e.faults} == keys for e in found.explanations[:3])

        taken = [meter(n, r) for n, r in enumerate(self.sheet.readings, 1)]
        found = self.explainer.explain(taken)
        after_sheet = first()
        for _ in range(5):
            following = self.questions.next(found, taken)
            if following is None:
                break
            taken.append(meter(len(taken) + 1, following))
            found = self.explainer.explain(taken)
        return after_sheet, first()


FIGURES = ["one-frog", "ferry", "two-cabs", "reversing-loop", "sawmill", "quarry-line", "peat-railway"]


@pytest.mark.parametrize("name", FIGURES)
def test_true_fault_is_among_the_first_three(name: str) -> None:
    """For 95 % of the single faults that the sheet sees, after the sheet and at most five further readings."""
    case = Case(name)
    ranks = [case.rank(bad, {fault.key()}) for fault in case.sheet.faults for bad in case.faults[fault.key()]]
    print(name, f"{len(ranks)} faults,", *(f"{sum(r) / len(ranks):.0%}" for r in zip(*ranks, strict=True)))
    assert sum(after for _, after in ranks) >= 0.95 * len(ranks)


def test_true_pair_is_among_the_first_three() -> None:
    """For 95 % of pairs drawn at random, over all examples, after the sheet and at most five further readings."""
    ranks = []
    for name in FIGURES:
        case, rng = Case(name), Random(name)
        keys = [f.key() for f in case.sheet.faults]
        for _ in range(20):
            while True:
                pair = rng.sample(keys, 2)
                (out, into), (away, more) = (case.changes(key, rng.randrange(len(case.faults[key]))) for key in pair)
                if not any(m in away for m in out):
                    break
            bad = [m for m in case.good if m not in out and m not in away] + into + more
            ranks.append(case.rank(bad, set(pair)))
    print(f"{len(ranks)} pairs,", *(f"{sum(r) / len(ranks):.0%}" for r in zip(*ranks, strict=True)))
    assert sum(after for _, after in ranks) >= 0.95 * len(ranks)


def test_filled_sheet(tmp_path: Path) -> None:
    """A sheet as CSV, filled in as the layout with a fault reads, leads to that fault."""
    path = str(EXAMPLES / "one-frog" / "layout.yaml")
    run = CliRunner()
    told = json.loads(run.invoke(sheet_command, [path, "--format", "json"]).output)
    rows = list(csv.DictReader(io.StringIO(run.invoke(sheet_command, [path, "--format", "csv"]).output)))
    fault = next(f for f in told["faults"] if f["kind"] == "contact-open")
    for row in rows:
        row["reading"] = row["expect"]
        if int(row["number"]) in fault["seen_by"]:
            row["reading"] = "silent" if row["expect"] == "beep" else "beep"
    filled = tmp_path / "filled.csv"
    with filled.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    result = run.invoke(diagnose_command, [path, "--readings", str(filled), "--format", "json"])
    found = json.loads(result.output)
    assert result.exit_code == 1
    assert [f["parts"] for f in found["explanations"][0]["faults"]] == [["M1", "frog"]]
    assert found["contradictory"] == []


def test_contradiction_is_named() -> None:
    """What beeps step by step and is silent from end to end."""
    made, faults = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    rows = "off,,M1=through,main.A,kiln.left,beep\noff,,M1=through,kiln.left,T1.stock-left,beep\n"
    taken, _ = read_meter(made, HEAD + rows + "off,,M1=through,T1.stock-left,main.A,silent\n", "m.csv")
    assert Explainer(made, faults).explain(taken).contradictory == [[1, 2, 3]]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("supply,set\n", "m.csv:1:1: the first line must name the columns"),
        (HEAD + "off,,M1=thruogh,main.A,kiln.left,beep\n", "m.csv:2:1: 'M1' has no position 'thruogh'"),
        (HEAD + "off,,,main.A,kiln.lefft,beep\n", "m.csv:2:1: there is no terminal 'kiln.lefft'"),
        (HEAD + "off,feed-off,,main.A,kiln.left,beep\n", "m.csv:2:1: there is nothing to do called 'feed-off'"),
        (HEAD + "off,,,main.A,kiln.left,12 V\n", "m.csv:2:1: with the supply off a reading is"),
        (HEAD + "off;;;main.A;kiln.left;beep\n", "m.csv:2:1: this row has not as many columns as the first line"),
        (HEAD + "off,,,main.A,kiln.left,beep,,no\n", "m.csv:2:1: this row has not as many columns"),
        (HEAD + "off,,,main.A,main.A,beep\n", "m.csv:2:1: both leads are at main.A"),
        (HEAD + "off,,M1=through T1=diverging,main.A,kiln.left,beep\n", "m.csv:2:1: 'T1=diverging' contradicts"),
        (HEAD + "off,,M1=through M1=diverging,main.A,kiln.left,beep\n", "m.csv:2:1: 'M1=diverging' is a second"),
        (HEAD + "off,,M1,main.A,kiln.left,beep\n", "m.csv:2:1: 'M1' is no position; write NAME=POSITION"),
        (HEAD + "on,,,main.A,kiln.left,beep\n", "m.csv:2:1: with the supply on a reading is in volts"),
        (HEAD + "of,,,main.A,kiln.left,beep\n", "m.csv:2:1: 'supply' is 'on' or 'off', not 'of'"),
    ],
)
def test_bad_readings(text: str, message: str) -> None:
    """Each fault of the file with its line and what is wrong."""
    made, _ = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    with pytest.raises(ReadingsError) as error:
        read_meter(made, text, "m.csv")
    assert str(error.value).startswith(message)


@pytest.mark.parametrize("apart", [",", ";", "\t"])
def test_as_spreadsheets_write_it(apart: str) -> None:
    """Semicolons or tabs, capitals, a turnout by its own name, a reading left empty."""
    made, _ = prepare(read_file(str(EXAMPLES / "one-frog" / "layout.yaml")))
    rows = "OFF,,T1=diverging,main.A,kiln.left,Beep\noff,,M1=through,main.A,kiln.left,\n"
    taken, ignored = read_meter(made, (HEAD + rows).replace(",", apart), "m.csv")
    assert [(m.row, m.was) for m in taken] == [(1, True)]
    assert taken[0].reading.state == (1,)
    assert not ignored


def test_no_reading_is_not_all_right(tmp_path: Path) -> None:
    """A sheet that nobody filled in says so, and what to measure first."""
    file = tmp_path / "m.csv"
    file.write_text(HEAD)
    path = str(EXAMPLES / "one-frog" / "layout.yaml")
    result = CliRunner().invoke(diagnose_command, [path, "--readings", str(file)])
    assert "No reading was given yet." in result.output
    assert "as it should be" not in result.output
    assert CliRunner().invoke(diagnose_command, [path, "--readings", str(tmp_path)]).exit_code == 2


def test_design_with_errors_is_refused() -> None:
    """No sheet for a design that is wrong: exit code 1 and the errors."""
    result = CliRunner().invoke(
        sheet_command, [str(EXAMPLES / "peat-railway-faulty" / "layout.yaml"), "--format", "json"]
    )
    assert result.exit_code == 1
    assert '"severity": "error"' in result.stdout
    assert '"severity": "warning"' not in result.stdout


FROG = {"left": ("frog", "stock-right"), "right": ("frog", "stock-left")}
STOCKS = ("stock-left", "stock-right")
CONTINUITY = {
    "live-frog": ("kind: live-frog", False, FROG, [], [STOCKS]),
    "live-frog-bonded": ("kind: live-frog-bonded", True, FROG, [], [STOCKS]),
    "insulated-frog": (
        "kind: insulated-frog",
        False,
        {"left": ("closure-right", "stock-right"), "right": ("closure-left", "stock-left")},
        [],
        [STOCKS, ("closure-left", "closure-right")],
    ),
    "insulated-frog with jumpers": (
        "kind: insulated-frog, jumpers: true",
        False,
        {},
        [("stock-left", "closure-left"), ("stock-right", "closure-right")],
        [STOCKS, ("closure-left", "closure-right")],
    ),
    "isolated-metal-frog": ("kind: isolated-metal-frog", True, FROG, [], [STOCKS]),
}
"""Expected continuity on the bench, supply off: whether with a contact; made in the position for the left and for the
right leg, and not in the other; always; never.

Common practice, no published source: a table that modellers pass on, blades and V rails under the names of their rails
(the V rails of a live frog are its frog, those of an isolated metal frog its stock rails).
"""


@pytest.mark.parametrize("kind", sorted(CONTINUITY))
def test_table_of_expected_continuity(kind: str, tmp_path: Path) -> None:
    """A wye turnout alone on the bench, fed at its toe with the feed wires off, beeps as the table says."""
    what, contact, by_position, always, never = CONTINUITY[kind]
    path = tmp_path / "bench.yaml"
    wired = "{common: T1.frog, left: T1.stock-right, right: T1.stock-left}"
    path.write_text(
        "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}\n"
        f"track: {{T1: {{{what}, hand: wye}}}}\nfeeds: [{{to: T1}}]\n"
        + (f"machines: {{M1: {{throws: [T1], contacts: {{f: {wired}}}}}}}\n" if contact else "")
    )
    made, _ = prepare(read_file(str(path)))
    for value, position in enumerate(("left", "right")):
        scene = Scene(made, Acts(made, ("feeds-off",)), (value,))

        def beeps(a: str, b: str, scene=scene) -> bool:
            return scene.beeps(made.node[f"T1.{a}"], made.node[f"T1.{b}"])

        for other, pair in by_position.items():
            assert beeps(*pair) == (other == position)
        assert all(beeps(*pair) for pair in always)
        assert not any(beeps(*pair) for pair in never)


def test_diagnoses_of_a_textbook() -> None:
    """The worked example of J. de Kleer and B. C. Williams, Diagnosing multiple faults (Artificial Intelligence 32, 1987).

    Three multipliers and two adders; the conflicts are {A1, M1, M2} and {A1, A2, M1, M3}, the minimal diagnoses [A1],
    [M1], [A2, M2] and [M2, M3]. Here five wires such that one silent reading runs through the first three and another
    through the second four.
    """
    wires = {"M2": ("x", "l"), "A2": ("u", "l"), "A1": ("l", "c"), "M1": ("c", "r"), "M3": ("r", "v")}
    text = (
        "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}\n"
        "track: {line: {length: 1 m}}\nfeeds: [{to: line}]\nwires:\n"
        + "".join(f"  - {{id: {name}, from: TB.{a}, to: TB.{b}}}\n" for name, (a, b) in wires.items())
    )
    made, faults = prepare(read_text(text, "wires.yaml"))
    rows = "off,feeds-off,,TB.x,TB.r,silent\noff,feeds-off,,TB.u,TB.v,silent\n"
    taken, _ = read_meter(made, HEAD + rows, "m.csv")
    found = {frozenset(f.parts[0] for f in e.faults) for e in Explainer(made, faults).explain(taken).explanations}
    minimal = {one for one in found if not any(other < one for other in found)}
    assert minimal == {frozenset(x) for x in (["A1"], ["M1"], ["A2", "M2"], ["M2", "M3"])}


@pytest.mark.parametrize("name", ["one-frog", "ferry", "two-cabs", "sawmill"])
def test_file_as_built(name: str) -> None:
    """The file that a diagnosis offers has the circuit of the fault, in every state, by plain enumeration."""
    path = EXAMPLES / name / "layout.yaml"
    source = read_source(str(path))
    made, faults = prepare(read_file(str(path)))
    bench = Bench(load(source.text))
    reference = bench.faults()
    kinds = set()
    for fault in faults:
        edit = as_built(made, fault)
        if edit is None:
            continue
        kinds.add(fault.kind)
        new = Bench(load(new_text(source, text_edits(made.layout, source, edit, path.parent))))
        ends = [*bench.rails, *bench.pole_names]
        for state in sorted(bench.states, key=sorted)[:6]:
            after = _parts(new.groups(new.metals(), (), state), ends)
            assert any(after == _parts(bench.groups(bad, (), state), ends) for bad in reference[fault.key()]), (
                fault.name
            )
    assert {"joint-bridged", "feed-swapped"} <= kinds


def _parts(groups: dict[str, int], ends: list[str]) -> list[str]:
    """Per end the first that it beeps with."""
    first: dict[int, str] = {}
    return [first.setdefault(groups[end], end) for end in ends]


def test_power_readings_come_last() -> None:
    """What an automatic reverser feeds is read with the supply on, after all beep tests."""
    made, faults = prepare(read_file(str(EXAMPLES / "reversing-loop" / "layout.yaml")))
    supplies = [r["supply"] for r in sheet_object(make_sheet(made, faults))["readings"]]
    assert supplies[-1] == "on"
    assert set(supplies[:-1]) == {"off"}

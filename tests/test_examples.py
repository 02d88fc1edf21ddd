"""Every example: its findings, its netlist and its circuit as expected, byte for byte.

`pytest --update-expected tests/test_examples.py` writes the expected files again; read the difference before you keep it.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import netlister
from netlister.check import check
from netlister.circuit.build import build
from netlister.circuit.paths import Paths
from netlister.circuit.states import rail_poles
from netlister.cli.main import group
from netlister.layout.read import read_layout
from netlister.source import Source

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted(path.parent for path in (ROOT / "examples").glob("*/layout.yaml"))
MENDED = re.compile(r"```yaml\n(.*?)\n```\n\nbecomes\n\n```yaml\n(.*?)\n```", re.DOTALL)
WITH_ERRORS = {"crossover", "every-piece-mistakes", "junction", "ferry-plug", "sawmill-lever", "peat-railway-faulty"}
WITH_MISTAKES = WITH_ERRORS | {"ferry-districts"}


@pytest.fixture(params=EXAMPLES, ids=lambda path: path.name)
def example(request):
    return request.param


def output(*arguments):
    done = CliRunner().invoke(group, list(arguments))
    return done.exit_code, done.output


def expected(path, text, request):
    """Compare with an expected file, or write it again."""
    if request.config.getoption("--update-expected"):
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode())
    assert path.read_bytes().decode() == text


def test_expected_findings(example, monkeypatch, request):
    """As text and as JSON, of one check; a right example has none, the others have some."""
    reports = []

    def once(*given):
        if not reports:
            reports.append((given[1:], check(*given)))
        assert reports[0][0] == given[1:]
        return reports[0][1]

    monkeypatch.chdir(example)
    monkeypatch.setattr("netlister.check.check", once)
    for file, options in (("check.txt", ()), ("check.json", ("--format", "json"))):
        code, text = output("check", "layout.yaml", *options)
        assert code == (1 if example.name in WITH_ERRORS else 0)
        expected(example / "expected" / file, text, request)
    ((_, report),) = reports
    assert bool(report.findings) == (example.name in WITH_MISTAKES)
    assert report.proved


def test_expected_netlist(example, monkeypatch, request):
    monkeypatch.chdir(example)
    code, text = output("netlist", "layout.yaml")
    assert code == 0
    expected(example / "expected" / "layout.net", text, request)


VOLTS = (
    ("drop.txt", ("drop", "layout.yaml"), 0),
    ("drop.json", ("drop", "layout.yaml", "--format", "json"), 0),
    ("sizes.txt", ("wire-size", "layout.yaml"), 0),
    ("volts.svg", ("drop", "layout.yaml", "--picture", "-", "--route", "depot.a", "crusher.b"), 0),
)


@pytest.mark.parametrize(("file", "arguments", "expected"), VOLTS)
def test_volts_of_the_quarry_line(file, arguments, expected, monkeypatch, request):
    example = ROOT / "examples" / "quarry-line"
    monkeypatch.chdir(example)
    code, text = output(*arguments)
    assert code == expected
    if file.endswith(".svg"):
        text = text[: text.index("</svg>\n") + len("</svg>\n")]
    path = example / "expected" / file
    if request.config.getoption("--update-expected"):
        path.write_bytes(text.encode())
    assert same_numbers(path.read_bytes().decode(), text)


FOR_OTHERS = (
    ("schematic.svg", ("schematic", "layout.yaml", "--format", "svg")),
    ("graph.dot", ("graph", "layout.yaml", "--format", "dot")),
    ("nets.csv", ("graph", "layout.yaml", "--format", "csv")),
    ("deck.cir", ("spice", "layout.yaml", "--train", "goods@kiln:250 mm", "--amps", "1 A")),
    ("throw.cir", ("spice", "layout.yaml", "--throw", "M1@150ms", "--shift", "M1.frog=-100ms", "--probe", "T1.frog")),
)


@pytest.mark.parametrize(("file", "arguments"), FOR_OTHERS)
def test_one_frog_for_other_programs(file, arguments, monkeypatch, request):
    example = ROOT / "examples" / "one-frog"
    monkeypatch.chdir(example)
    code, text = output(*arguments)
    assert code == 0
    path = example / "expected" / file
    if request.config.getoption("--update-expected"):
        path.write_bytes(text.encode())
    expected = path.read_bytes().decode()
    assert text.replace("\r\n", "\n") == expected.replace("\r\n", "\n")


def same_numbers(one, other):
    """Whether two texts are the same but for the last digits of numbers, which differ with the library for matrices."""
    number = re.compile(r"\d+\.\d{6,}(?:e-\d+)?")
    if number.sub("#", one) != number.sub("#", other):
        return False
    pairs = zip(number.findall(one), number.findall(other), strict=True)
    return all(abs(float(a) - float(b)) <= 1e-9 * max(1.0, abs(float(a))) for a, b in pairs)


def test_a_thin_bus_on_the_quarry_line_is_told():
    example = ROOT / "examples" / "quarry-line"
    readme = (example / "README.md").read_text(encoding="utf-8")
    text = (example / "layout.yaml").read_text(encoding="utf-8")
    ((old, new),) = re.findall(r"```yaml\n(.*?)\n```\n\nbecomes\n\n```yaml\n(.*?)\n```", readme, re.DOTALL)
    assert netlister.check_text(text, select=["voltage-drop", "weak-short", "wire-load"]).findings == ()
    assert old in text
    found = netlister.check_text(text.replace(old, new), select=["voltage-drop"]).findings
    assert {f.subject: f.severity.label for f in found}["loader"] == "error"


def test_the_circuit_as_text(example, request):
    text = build(netlister.read_file(str(example / "layout.yaml"))).dump()
    path = example / "expected" / "circuit.txt"
    if request.config.getoption("--update-expected"):
        path.write_bytes(text.encode())
    assert path.read_bytes().decode() == text


def test_there_are_six_and_one_is_a_terminus():
    assert len(EXAMPLES) >= 6
    layout = netlister.read_file(str(ROOT / "examples" / "terminus" / "layout.yaml"))
    turnouts = [p for p in layout.pieces.values() if p.kind.bladed]
    assert 18 <= len(turnouts) <= 24
    assert any(p.kind.name.startswith("double-slip") for p in turnouts)
    assert any(r.automatic for r in layout.reversers.values())
    assert len(layout.supplies) == 2


@pytest.mark.parametrize(
    ("name", "right"), [("ferry-plug", "ferry"), ("ferry-districts", "ferry"), ("sawmill-lever", "sawmill")]
)
def test_a_copy_with_mistakes_is_the_right_layout_once_mended(name, right):
    """Mended as its README says, it is the right one but for comments and for how its feeds are grouped."""
    texts = [(ROOT / "examples" / one / "layout.yaml").read_text(encoding="utf-8") for one in (name, right)]
    readme = (ROOT / "examples" / name / "README.md").read_text(encoding="utf-8")
    for old, new in MENDED.findall(readme):
        texts[0] = texts[0].replace(old, new)
    circuits = [build(read_layout(Source("layout.yaml", text))).dump() for text in texts]
    assert circuits[0] == circuits[1]


def test_the_kind_of_the_second_hand_turnout_is_the_one_that_its_readings_give():
    folder = ROOT / "examples" / "second-hand"
    done = CliRunner().invoke(group, ["kinds", "--from-readings", str(folder / "readings.yaml")])
    assert done.exit_code == 0
    assert done.output == (folder / "kinds" / "half-linked.yaml").read_text(encoding="utf-8")


def test_what_the_mistakes_of_the_new_examples_are_called():
    said = {
        name: (ROOT / "examples" / name / "expected" / "check.txt").read_text(encoding="utf-8")
        for name in ("ferry-plug", "ferry-districts", "sawmill-lever")
    }
    assert "pins 1 and 2 of the plug 'J1' are swapped" in said["ferry-plug"]
    assert "the districts 'ferry' and 'town' are joined by metal on pole B" in said["ferry-districts"]
    assert "insulate 'boards': write 'insulate: both' there" in said["ferry-districts"]
    assert "the detector 'D2' is in a wire of pole B" in said["ferry-districts"]
    assert "the throws of contact 'frog' of 'T1' are the wrong way round" in said["sawmill-lever"]


@pytest.mark.parametrize("name", sorted(WITH_MISTAKES))
def test_the_readme_of_a_faulty_example_says_what_mends_it(name):
    example = ROOT / "examples" / name
    readme = (example / "README.md").read_text(encoding="utf-8")
    text = (example / "layout.yaml").read_text(encoding="utf-8")
    assert re.search(r"^becomes$", readme, re.MULTILINE)
    for old, new in MENDED.findall(readme):
        assert old in text
        text = text.replace(old, new)
    assert netlister.check_text(text).findings == ()


def test_poles_of_the_command_agree_with_the_proof(example):
    """The poles of every rail in a state, walked from each pole, against the functions of the proof."""
    from netlister.rules.analysis import Analysis

    analysis = Analysis.of(netlister.read_file(str(example / "layout.yaml")))
    circuit, diagrams = analysis.circuit, analysis.poles.diagrams
    paths = Paths(circuit)
    some = [tuple(0 for _ in circuit.variables), tuple(len(v.positions) - 1 for v in circuit.variables)]
    some += [tuple(int(i == k) for i in range(len(circuit.variables))) for k in range(len(circuit.variables))]
    names = [p.name for p in circuit.poles] + [u.name for u in analysis.poles.units]
    for state in some:
        shown = rail_poles(circuit, state, paths)
        for node in circuit.rails:
            proved = sorted(
                names[p] for p, f in analysis.poles.has(analysis.poles.nets.of[node]) if diagrams.value(f, state)
            )
            assert shown[circuit.names[node]] == proved


def test_json_is_one_object_of_the_stated_version(example):
    report = json.loads((example / "expected" / "check.json").read_text(encoding="utf-8"))
    assert report["format"] == "netlister-findings/1"
    assert report["layout"] == "layout.yaml"
    assert report["proved"] is True


BRICKWORKS = ROOT / "examples" / "brickworks"


def test_a_drawing_of_the_brickworks(monkeypatch, request):
    monkeypatch.chdir(BRICKWORKS)
    for file, arguments in (("check.txt", ()), ("check.json", ("--format", "json"))):
        code, text = output("check", "wiring.net", *arguments)
        assert code == 1
        path = BRICKWORKS / "expected" / file
        if request.config.getoption("--update-expected"):
            path.write_bytes(text.encode())
        assert path.read_bytes().decode() == text


def test_a_drawing_of_the_brickworks_mended_as_its_readme_says():
    text = (BRICKWORKS / "wiring.net").read_text(encoding="utf-8")
    readme = (BRICKWORKS / "README.md").read_text(encoding="utf-8")
    ((old, new),) = re.findall(r"```text\n(.*?)\n```\n\nof `X3` becomes\n\n```text\n(.*?)\n```", readme, re.DOTALL)
    before, mark, after = text.partition('(comp (ref "X3")')
    assert old in after
    assert netlister.check_text(before + mark + after.replace(old, new, 1), "wiring.net").findings == ()


def test_the_script_of_the_brickworks_says_the_same_as_the_drawing(tmp_path):
    said = (BRICKWORKS / "expected" / "check.txt").read_text(encoding="utf-8")
    expected = [line for line in said.splitlines() if line.startswith(("  pole-short", "    path:", "  help:"))]
    assert len(expected) == 3
    for arguments, wrong in (([], 1), (["mended"], 0)):
        done = subprocess.run(
            [sys.executable, str(BRICKWORKS / "wiring.py"), *arguments],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=True,
        )
        lines = [line for line in done.stdout.splitlines() if line in expected]
        assert lines == expected * wrong
        assert (f"{wrong} errors found" in done.stderr) or (not wrong and "No errors or warnings" in done.stderr)
    assert list(tmp_path.iterdir()) == []

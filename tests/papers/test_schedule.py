"""The wire schedule: nets rebuilt from its CSV alone, ids that stay, spreadsheets without formulas."""

from __future__ import annotations

import csv
import io
import itertools
import json
from random import Random

import openpyxl
import pytest
from click.testing import CliRunner

from netlister.circuit.build import build
from netlister.circuit.runs import runs
from netlister.cli.main import group
from netlister.layout.read import read_layout
from netlister.papers import schedule
from netlister.papers.table import Table, guarded, unguarded, xlsx
from netlister.source import Source
from tests.draw.support import EXAMPLES, ROOT, example
from tests.papers.rebuild import NEEDS_PDF, Joined, halves, metal, of_circuit
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout

MOST = 40


def rows(text):
    return [
        {key: unguarded(cell) for key, cell in row.items()} for row in csv.DictReader(io.StringIO(text, newline=""))
    ]


def states(circuit):
    every = itertools.product(*[range(len(v.positions)) for v in circuit.variables])
    found = list(itertools.islice(every, 4000))
    return found if len(found) <= MOST else Random(1).sample(found, MOST)


def differs(circuit):
    """The states in which nets rebuilt from the CSV differ from those of the circuit."""
    layout = circuit.layout
    wires = rows(schedule.as_csv(schedule.schedule(layout)))
    for state in states(circuit):
        nets = Joined()
        for wire in wires:
            ends = [wire["from"], wire["to"]]
            if wire["id"].startswith("P."):
                place = 1 if wire["id"].endswith(".1") else 0
                ends[place] = halves(layout, circuit, state, ends[place], 1 - place)
            nets.join(*ends)
        for a, b in metal(circuit, state):
            nets.join(a, b)
        if nets.groups(circuit.names) != of_circuit(circuit, state).groups(circuit.names):
            yield state


@pytest.mark.parametrize("name", EXAMPLES)
def test_nets_from_the_schedule_alone_are_those_of_the_circuit(name):
    assert list(differs(example(name))) == []


@pytest.mark.parametrize("make", [random_layout, random_gear])
@pytest.mark.parametrize("seed", range(60))
def test_and_of_random_layouts(make, seed):
    assert list(differs(build(read_layout(Source("layout.yaml", dump(make(Random(seed)))))))) == []


def test_a_missing_wire_is_noticed():
    """The comparison itself can fail: without any one wire that matters the nets differ."""
    made = example("terminus")
    every = schedule.schedule(made.layout)
    noticed = 0
    for left_out in every:
        kept = [line for line in every if line.id != left_out.id]
        nets = Joined()
        for line in kept:
            nets.join(line.start, line.end)
        state = (0,) * len(made.variables)
        for a, b in metal(made, state):
            nets.join(a, b)
        noticed += nets.groups(made.names) != of_circuit(made, state).groups(made.names)
    assert noticed > len(every) / 3  # the others lie beside a path that joins the same nets


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_id_is_there_once(name):
    ids = [line.id for line in schedule.schedule(example(name).layout)]
    assert len(ids) == len(set(ids))


GROWING = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  a: {length: 1 m}
  b: {length: 1 m}
joints: [{from: a, to: b}]
feeds:
  - {to: [a, b]}
  - {to: a, at: 400 mm, A: left}
wires:
  - {from: main.A, to: TB1.1}
  - {from: TB1.1, to: b.left}
"""


def ids(text):
    return {r.id: r.ends for r in runs(read_layout(Source("layout.yaml", text)))}


def test_ids_stay_when_the_layout_grows():
    before = ids(GROWING)
    grown = GROWING.replace("track:\n", "track:\n  new: {length: 1 m}\n").replace(
        "feeds:\n", "feeds:\n  - {to: new}\n  - {to: a, at: 800 mm}\n"
    )
    after = ids(grown)
    assert {name: after.get(name) for name in before} == before
    assert len(after) == len(before) + 4
    upside_down = GROWING.replace(
        "  - {from: main.A, to: TB1.1}\n  - {from: TB1.1, to: b.left}\n",
        "  - {from: TB1.1, to: b.left}\n  - {from: main.A, to: TB1.1}\n",
    )
    assert ids(upside_down) == before


def test_two_wires_alike_have_ids_of_their_own():
    twice = GROWING + "  - {from: TB1.1, to: b.left}\n"
    found = [r.id for r in runs(read_layout(Source("layout.yaml", twice)))]
    assert len(set(found)) == len(found)
    assert set(ids(GROWING)) < set(found)


def test_counts_and_lengths_against_a_count_by_hand():
    """Counted by hand in examples/quarry-line/layout.yaml: 2 buses, 6 feeds of two wires, 1 contact with 3 leads."""
    lines = schedule.schedule(example("quarry-line").layout)
    assert len(lines) == 2 * 2 + 6 * 2 + 3
    total = {}
    for line in lines:
        if line.length_mm:
            total[line.size] = total.get(line.size, 0) + float(line.length_mm)
    assert total == {"4 mm2": 20000, "1.5 mm2": 4000, "0.5 mm2": 2 * (250 + 300 + 600 + 300 + 250 + 250)}
    taps = {line.id: line.tap_mm for line in lines}
    assert taps["F.viaduct@900.left"] == "6000"
    assert taps["B.quarry.A"] == "10000"


def test_the_contract_of_the_csv():
    text = schedule.as_csv(schedule.schedule(example("terminus").layout))
    assert text.splitlines()[0] == "id,from,to,colour,size,length_mm,tap_mm,board,part"


@pytest.mark.parametrize("cell", ["=1+1", "+a", "-b", "@c", "'quoted", "''", "plain", "", "\tx"])
def test_cells_are_harmless_and_can_be_read_back(cell):
    assert guarded(cell)[:1] not in {"=", "+", "-", "@", "\t"}
    assert unguarded(guarded(cell)) == cell


HOSTILE = """format: netlister/1
title: "=HYPERLINK(0)"
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  "=1+1": {length: 1 m}
  "@SUM": {length: 1 m}
  "-2": {length: 1 m}
feeds: [{to: ["=1+1", "@SUM", "-2"]}]
wires: [{from: "+3.x", to: "=1+1.left", id: "=cmd|' /C calc'!A0"}]
"""


def test_no_cell_is_a_formula(tmp_path):
    """Read back by openpyxl, which takes every text that starts with = for a formula if it is stored as one."""
    path = tmp_path / "layout.yaml"
    path.write_text(HOSTILE)
    out = tmp_path / "wires.xlsx"
    done = CliRunner().invoke(group, ["schedule", str(path), "-o", str(out)])
    assert done.exit_code == 0, done.output
    book = openpyxl.load_workbook(out)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert "=1+1.left" in [cell.value for cell in cells]
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    assert not [cell for cell in cells if cell.hyperlink]
    again = tmp_path / "again.xlsx"
    CliRunner().invoke(group, ["schedule", str(path), "-o", str(again)])
    assert out.read_bytes() == again.read_bytes()
    text = CliRunner().invoke(group, ["schedule", str(path), "--format", "csv"]).output
    for row in csv.reader(io.StringIO(text)):
        assert not [cell for cell in row if cell.startswith(("=", "+", "-", "@"))]
    assert {row["from"] for row in rows(text)} >= {"+3.x", "main.A"}


def test_sheets_have_names_that_spreadsheets_take():
    tables = [Table(title, ("a",), (("1",),)) for title in ("a/b:c", "A-B-C", "x" * 40, "x" * 41, "History", "")]
    book = openpyxl.load_workbook(io.BytesIO(xlsx(tables)))
    assert len({n.casefold() for n in book.sheetnames}) == 6


def test_json_says_the_same():
    path = str(ROOT / "examples" / "quarry-line" / "layout.yaml")
    data = json.loads(CliRunner().invoke(group, ["schedule", path, "--format", "json"]).output)
    assert data["format"] == "netlister-schedule/1"
    text = CliRunner().invoke(group, ["schedule", path, "--format", "csv"]).output
    assert [w["id"] for w in data["wires"]] == [r["id"] for r in rows(text)]
    assert data["wires"][0]["length_mm"] == 10000


def test_the_ends_of_wires_on_boards():
    made = example("ferry")
    every = schedule.schedule(made.layout)
    west = {line.id for line in schedule.schedule(made.layout, "west")}
    east = {line.id for line in schedule.schedule(made.layout, "east")}
    assert "C.M1.frog.common" in west
    assert "P.J1.1.2" in east
    assert not west & east  # everything between the boards goes through the plug
    assert {line.id for line in every} - west - east <= {line.id for line in every if line.run.kind in {"bus", "plug"}}


@NEEDS_PDF
def test_forms_without_a_fault(tmp_path):
    path = str(ROOT / "examples" / "ferry" / "layout.yaml")
    for end, start in (("html", b"<!DOCTYPE"), ("pdf", b"%PDF"), ("xlsx", b"PK"), ("csv", b"id,"), ("json", b"{")):
        out = tmp_path / f"wires.{end}"
        done = CliRunner().invoke(group, ["schedule", path, "-o", str(out)])
        assert done.exit_code == 0, done.output
        assert out.read_bytes().startswith(start)
    done = CliRunner().invoke(group, ["schedule", path, "--board", "wst"])
    assert done.exit_code == 2
    assert "did you mean 'west'" in done.output

"""The sheet sees what it says, and what it calls unseen no reading tells: by plain enumeration of every state."""

from __future__ import annotations

from itertools import chain, combinations
from pathlib import Path
from random import Random

import pytest
import yaml

from netlister import read_file, read_text
from netlister.check import check
from netlister.layout.read import read_layout
from netlister.probe import forms
from netlister.probe.detail import contracted, detail, numbered
from netlister.probe.sheet import make_sheet, prepare
from netlister.probe.text import sheet_object
from netlister.source import Source
from tests.probe.reference import Bench
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import DEAD, FIXED_KINDS, Kind, Route, load

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/layout.yaml"))
SMALL = [p for p in EXAMPLES if p.parent.name not in ("terminus", "every-piece", "every-piece-mistakes", "second-hand")]
LEFT_OPEN = {"feed-misplaced"}
"""Where the wires went is left open: each place must be seen by one of the readings, not each by all."""


def faults_of_sheet(text: str, *, walk: bool = False, folder: Path | None = None) -> list[str]:
    """Everything that the sheet of a layout, or the full walk, says and enumeration denies."""
    layout = read_layout(Source("layout.yaml", text), folder)
    report = check(layout, causes=False)
    if any(f.severity.label == "error" for f in report.findings) or not report.proved:
        return ["refused"]
    made, faults = prepare(layout)
    sheet = make_sheet(made, faults, walk=walk)
    told = sheet_object(sheet)
    bench = Bench(load(text))
    wrong: list[str] = []
    reference = bench.faults()
    listed = {(f["kind"], tuple(f["parts"])) for f in told["faults"] + told["unseen"]}
    wrong += [f"not listed: {k}" for k in reference if k not in listed]
    wrong += [f"no such fault: {k}" for k in listed if k not in reference]
    good = bench.metals()
    readings = [r for r in told["readings"] if r["supply"] == "off"]
    scenes = [(tuple(r["acts"]), frozenset(r["set"].items())) for r in readings]
    groups = {scene: bench.groups(good, *scene) for scene in set(scenes)}
    for r, scene in zip(readings, scenes, strict=True):
        if scene[1] not in bench.states:
            wrong.append(f"reading {r['number']}: this state is ruled out")
        x, y = (groups[scene][p] for p in r["probes"])
        if (x == y) != (r["expect"] == "beep"):
            wrong.append(f"reading {r['number']}: {r['probes']} expects {r['expect']}")
    for fault in told["faults"]:
        key = (fault["kind"], tuple(fault["parts"]))
        if not fault["seen_by"]:
            wrong.append(f"seen by nothing: {key}")
        for bad in reference.get(key, ()):
            after = {scene: bench.groups(bad, *scene) for scene in set(scenes)}
            blind = []
            for n in fault["seen_by"]:
                x, y = (after[scenes[n - 1]][p] for p in readings[n - 1]["probes"])
                if (x == y) == (readings[n - 1]["expect"] == "beep"):
                    blind.append(n)
            if blind and (key[0] not in LEFT_OPEN or len(blind) == len(fault["seen_by"])):
                wrong.append(f"{key} is not seen by {blind}")
    papers = [f"paper:{p}" for p in bench.pieces if bench.kinds[p].made and made.layout.pieces[p].kind.blades]
    for fault in told["unseen"]:
        key = (fault["kind"], tuple(fault["parts"]))
        if fault["why"].startswith("not settled"):
            continue
        more = [*chain.from_iterable(combinations(papers, n) for n in range(min(len(papers), 2) + 1))]
        choices = [*more, *(("feeds-off", *some) for some in more)]
        variants = reference.get(key, ())
        if variants and all(
            any(bench.told(bad, acts, s) for acts in choices for s in bench.states) for bad in variants
        ):
            wrong.append(f"called unseen and told: {key}")
    return wrong


@pytest.mark.parametrize("path", SMALL, ids=lambda p: p.parent.name)
def test_examples(path: Path) -> None:
    """Every single fault put into every small example."""
    assert faults_of_sheet(path.read_text("utf-8")) in ([], ["refused"])


@pytest.mark.parametrize("seed", range(250))
def test_random_layouts(seed: int) -> None:
    """Every single fault put into random layouts that are right."""
    text = dump(random_layout(Random(seed)))
    assert faults_of_sheet(text) in ([], ["refused"]), text


def test_random_layouts_are_not_all_refused() -> None:
    """Some of them have sheets, so that the test above can fail."""
    right = 0
    for seed in range(250):
        report = check(read_text(dump(random_layout(Random(seed))), "layout.yaml"), causes=False)
        right += report.proved and not any(f.severity.label == "error" for f in report.findings)
    assert right >= 40


@pytest.mark.parametrize("seed", range(250))
def test_contracting_gives_the_checked_circuit(seed: int) -> None:
    """The circuit in detail, contracted, is the circuit that is checked, conductor by conductor."""
    made = detail(read_text(dump(random_layout(Random(seed))), "layout.yaml"))
    assert sorted(contracted(made)) == sorted(numbered(made.layout, made.circuit.conductors))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.parent.name)
def test_contracting_examples(path: Path) -> None:
    """The same for every example."""
    from netlister.netlists.any import read_any
    from netlister.source import read_source

    made = detail(read_any(read_source(str(path), path.name), path.parent))
    assert sorted(contracted(made)) == sorted(numbered(made.layout, made.circuit.conductors))


HALF_LINKED = Kind(
    rails=("stock-left", "stock-right", "closure-right", "closure-left"),
    ends={
        "toe": ("stock-left", "stock-right"),
        "left": ("stock-left", "closure-right"),
        "right": ("closure-left", "stock-right"),
    },
    bars={"": ("left", "right")},
    made=(("", "left", "stock-right", "closure-right"),),
    bonds=(("stock-left", "closure-left"),),
    routes=(
        Route({"": "left"}, ("toe", "left"), ("stock-left",), ("stock-right", "closure-right", DEAD, "closure-right")),
        Route({"": "right"}, ("toe", "right"), ("stock-left", "closure-left", DEAD, "closure-left"), ("stock-right",)),
    ),
)
"""The kind of the example 'second-hand', typed from the readings beside it."""


@pytest.mark.parametrize(("name", "nth"), [("terminus", 4), ("every-piece", 6)])
def test_too_many_states_for_all(name: str, nth: int) -> None:
    """What the sheet says in its own states, every nth fault; and for the unseen some states."""
    path = next(p for p in EXAMPLES if p.parent.name == name)
    made, faults = prepare(read_file(str(path)))
    told = sheet_object(make_sheet(made, faults))
    data = yaml.load(path.read_text("utf-8"), yaml.BaseLoader)  # noqa: S506
    for machine in data["machines"].values():
        machine["throws"] = [machine["throws"]] if isinstance(machine["throws"], str) else machine["throws"]
    bench = Bench(data)
    reference = bench.faults()
    assert {(f["kind"], tuple(f["parts"])) for f in told["faults"] + told["unseen"]} == set(reference)
    readings = [r for r in told["readings"] if r["supply"] == "off"]
    places = [(tuple(r["acts"]), frozenset(r["set"].items())) for r in readings]
    good = bench.metals()
    groups = {place: bench.groups(good, *place) for place in set(places)}
    assert all(
        (groups[place][r["probes"][0]] == groups[place][r["probes"][1]]) == (r["expect"] == "beep")
        for r, place in zip(readings, places, strict=True)
    )
    for fault in told["faults"][::nth]:
        for bad in reference[fault["kind"], tuple(fault["parts"])]:
            seen = []
            after = {place: bench.groups(bad, *place) for place in {places[n - 1] for n in fault["seen_by"]}}
            for n in fault["seen_by"]:
                x, y = (after[places[n - 1]][p] for p in readings[n - 1]["probes"])
                seen.append((x == y) != (readings[n - 1]["expect"] == "beep"))
            assert any(seen) if fault["kind"] in LEFT_OPEN else all(seen), fault["name"]
    rng = Random(0)
    variables = made.circuit.variables
    states = [frozenset((v.name, rng.choice(v.positions)) for v in variables) for _ in range(4)]
    papers = [f"paper:{p}" for p in bench.pieces if bench.kinds[p].made and made.layout.pieces[p].kind.blades]
    choices = [(), ("feeds-off",), ("feeds-off", *papers), ("feeds-off", *rng.sample(papers, 2))]
    for fault in told["unseen"][::nth]:
        some = reference[fault["kind"], tuple(fault["parts"])]
        seen_each = [any(bench.told(bad, acts, s) for acts in choices for s in states) for bad in some]
        assert not all(seen_each), fault["name"]


def test_a_kind_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every single fault put into the example with a kind that was made from readings."""
    path = next(p for p in EXAMPLES if p.parent.name == "second-hand")
    monkeypatch.setitem(FIXED_KINDS, "half-linked", HALF_LINKED)
    assert faults_of_sheet(path.read_text("utf-8"), folder=path.parent) == []


@pytest.mark.parametrize("path", SMALL, ids=lambda p: p.parent.name)
def test_walk(path: Path) -> None:
    """The full walk says no more than is so, sees whatever the sheet sees, and clips in fewer places for its length."""
    text = path.read_text("utf-8")
    if faults_of_sheet(text) == ["refused"]:
        return
    assert faults_of_sheet(text, walk=True) == []
    made, faults = prepare(read_text(text, "layout.yaml"))
    short, walk = make_sheet(made, faults), make_sheet(made, faults, walk=True)
    assert {u.fault.key() for u in walk.unseen} == {u.fault.key() for u in short.unseen}
    touched = {n for r in walk.readings for n in r.probes}
    assert touched.issuperset(made.points)


def test_what_is_not_looked_for_is_said() -> None:
    """A feed wire on the same pole of another supply beeps as it should with the supplies unplugged, in many places."""
    said = {}
    for name in ("one-frog", "two-cabs"):
        path = next(p for p in EXAMPLES if p.parent.name == name)
        sheet = make_sheet(*prepare(read_file(str(path))))
        said[name] = forms.text(sheet)
        assert "Not looked for: two faults that hide one another" in said[name]
        assert "Not looked for" in forms.page(sheet)
    assert "another bus or supply than the layout says (north, south)" in said["two-cabs"]
    assert "a beep between north.A, south.A means" in said["two-cabs"]
    assert "another bus" not in said["one-frog"]

"""Decks run by ngspice: every state, moving trains and throws."""

from __future__ import annotations

import math
import re
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner

import netlister
from netlister.check import check
from netlister.circuit.build import build
from netlister.circuit.paths import Paths
from netlister.cli.main import group
from netlister.outputs.deck.ask import Ask, DeckError, TrainPlace
from netlister.outputs.deck.text import word
from netlister.outputs.deck.timing import Signal, Throw, TimedSwitch, Timing, both_signals, signal
from netlister.outputs.deck.write import deck
from netlister.volts.network import Element
from netlister.volts.network_build import build_network
from netlister.volts.operating import Load, Operating
from netlister.volts.values import Band
from tests.properties.layouts import dump
from tests.volts.decks import needs_ngspice, run, steps, waveforms
from tests.volts.layouts import electric_layout

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(p.parent.name for p in (ROOT / "examples").glob("*/layout.yaml"))


def a_state(circuit, rng):
    """A random state that may be, in which no two poles meet: there the volts of the package know no voltage."""
    paths = Paths(circuit)
    for _ in range(200):
        state = tuple(rng.randrange(len(v.positions)) for v in circuit.variables)
        never = any(all(state[v] == x for v, x in cube) for cube in circuit.never)
        if not never and all(len(poles) <= 1 for poles in paths.poles_of(state)):
            return state
    return None


def written(network, terminal, bus, end):
    """The node of a terminal as it is written: of a bus where it begins, of a rail at the end that is named."""
    if bus in network.layout.buses:
        return network.taps[bus, "AB"[network.layout.buses[bus].poles.index(terminal)], 0.0]
    piece, _, rail = terminal.partition(".")
    return network.rails[piece, rail].ends[end] if end else network.nodes[network.circuit.node[terminal]]


def faults(layout, folder, rng):  # noqa: PLR0915
    """Voltages that ngspice gives otherwise than the volts of this package, in one random state with trains."""
    circuit = build(layout)
    network = build_network(circuit)
    state = a_state(circuit, rng)
    if state is None:
        return [], 1
    devices = tuple(rng.randrange(2) for _ in circuit.devices)
    high = rng.random() < 0.5
    loads = [c for c in layout.components.values() if c.kind == "load"]
    empty = Operating(network, (*state, *devices), high=high).voltages()
    for c in loads:
        a, b = (written(network, *place) for place in zip(c.ends, c.buses, c.ends_at, strict=True))
        volts = abs(float(empty[a] - empty[b]))
        ohm = c.resistance or (volts / c.rating if c.rating and volts else 0)
        if ohm and not math.isnan(ohm):
            network.elements.append(Element(a, b, Band(ohm, ohm), "load", c.name))
    operating = Operating(network, (*state, *devices), source=True, high=high)
    before = operating.voltages()
    poles = Paths(circuit).poles_of(state)
    trains, found_loads, held = [], [], []
    for piece in layout.pieces.values():
        if not piece.kind.plain or rng.random() < 0.4:
            continue
        sides = [poles[circuit.node[f"{piece.name}.{rail}"]] for rail in piece.kind.rails]
        if not all(len(side) == 1 for side in sides):
            continue
        left, right = (circuit.poles[min(side)] for side in sides)
        if left.letter == right.letter or not left.supplies & right.supplies:
            continue
        at = (piece.length or 0.0) * rng.choice([0, 1, rng.random()])
        left, right = network.spots(piece.name, piece.kind.routes[0].name, at)
        volts = operating.at(before, left) - operating.at(before, right)
        if math.isnan(volts) or abs(volts) < 1e-6:
            continue
        amps = rng.uniform(0.1, 1)
        trains.append(TrainPlace(f"t{len(trains)}", piece.name, piece.kind.routes[0].name, at, amps))
        found_loads.append(Load(left, right, math.copysign(amps, volts)))
        held.append((left, right))
    rails = tuple(circuit.names[n] for n in circuit.rails)
    ask = Ask(state, devices, tuple(trains), probes=rails, high=high)
    (printed,) = steps(run(deck(circuit, ask), folder))
    known = operating.voltages(found_loads)
    found = []
    for name in rails:
        volts = float(known[network.nodes[circuit.node[name]]])
        theirs = printed.get(f"volts of {word(name)}")
        if theirs is None:
            assert math.isnan(volts) or printed[f"volts of {word(name)} which leads nowhere"] == 0, name
            theirs = printed[f"volts of {word(name)} which leads nowhere"]
        elif not math.isclose(volts, theirs, rel_tol=1e-6, abs_tol=2e-7):
            found.append(f"{name}: {volts}, by ngspice {theirs}")
    for train, load, (left, right) in zip(trains, found_loads, held, strict=True):
        volts = abs(operating.at(known, left, found_loads) - operating.at(known, right, found_loads))
        theirs = printed[f"volts of the train {train.train}"]
        if not math.isclose(volts, theirs, rel_tol=1e-6, abs_tol=2e-7):
            found.append(f"{train}: {volts}, by ngspice {theirs} ({load})")
    return found, len(trains)


@needs_ngspice
@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_node_by_node(name, tmp_path):
    layout = netlister.read_file(str(ROOT / "examples" / name / "layout.yaml"))
    rng = Random(3)
    loaded = 0
    for _ in range(3):
        wrong, trains = faults(layout, tmp_path, rng)
        assert wrong == []
        loaded += trains
    assert loaded


@needs_ngspice
@pytest.mark.parametrize("seed", range(40))
def test_random_layouts_node_by_node(seed, tmp_path):
    rng = Random(seed + 2_000_000)
    while True:
        data = electric_layout(rng)
        data.pop("frog-units", None)  # the volts let a unit act beside what else feeds its frog
        layout = netlister.read_text(dump(data))
        if not check(layout, ["pole-short"], causes=False).findings:
            break
    assert faults(layout, tmp_path, rng)[0] == []


# ---- worked by hand

LINE = """format: netlister/1
supplies: {main: {type: dcc, voltage: 12 V, resistance: 1 ohm}}
rail: 100 mohm/m
track: {line: {length: 10 m}}
feeds: [{to: line, wire: 500 mohm/m, length: 1 m}]
trains: {goods: {current: 1 A}}
"""


def spice(text, folder, *arguments):
    (folder / "layout.yaml").write_text(text, encoding="utf-8")
    done = CliRunner().invoke(group, ["spice", str(folder / "layout.yaml"), *arguments])
    assert done.exit_code == 0, done.output
    return done.output


@needs_ngspice
def test_a_train_on_a_line_by_hand(tmp_path):
    """12 V, 1 ohm in the supply, two feeds of 0.5 ohm, two rails of 0.1 ohm/m: 1 A at 6 m loses 1 + 1 + 1.2 V."""
    (found,) = steps(run(spice(LINE, tmp_path, "--train", "goods@line:6 m"), tmp_path))
    assert found["volts of the train goods"] == pytest.approx(12 - 1 - 1 - 1.2, rel=1e-9)
    assert found["amps of the supply main"] == pytest.approx(1, rel=1e-9)
    (found,) = steps(run(spice(LINE, tmp_path, "--train", "goods@line:6 m", "--ideal"), tmp_path))
    assert found["volts of the train goods"] == pytest.approx(12 - 1 - 1.2, rel=1e-9)


@needs_ngspice
def test_a_moving_train_by_hand(tmp_path):
    """At x metres 1 A loses 1 + 1 + 0.2 x volts."""
    found = steps(run(spice(LINE, tmp_path, "--move", "goods@line", "--steps", "5"), tmp_path))
    volts = [one["volts of the train goods"] for one in found]
    assert volts == pytest.approx([12 - 2 - 0.2 * x for x in (0, 2.5, 5, 7.5, 10)], rel=1e-9)


@needs_ngspice
def test_a_moving_train_is_the_same_as_standing_ones_beside_another(tmp_path):
    layout = (ROOT / "examples" / "quarry-line" / "layout.yaml").read_text(encoding="utf-8")
    beside = ("--train", "railcar@depot:100 mm")
    moved = steps(run(spice(layout, tmp_path, "--move", "stone@cutting,T1,crusher", "--steps", "3", *beside), tmp_path))
    places = [("cutting", 0), ("cutting", 600), ("cutting", 1200), ("T1", 0), ("T1", 110), ("T1", 220)]
    places += [("crusher", 0), ("crusher", 400), ("crusher", 800)]
    assert len(moved) == len(places)
    for one, (piece, at) in zip(moved, places, strict=True):
        (alone,) = steps(run(spice(layout, tmp_path, "--train", f"stone@{piece}:{at} mm", *beside), tmp_path))
        assert one == pytest.approx(alone, rel=1e-6)


@needs_ngspice
def test_diodes_conduct_one_way_where_asked(tmp_path):
    """A wire with a diode: its voltage is lost one way (a silicon rectifier, about 0.9 V at 1 A, from memory)."""
    text = LINE.replace("feeds: [{to: line, wire: 500 mohm/m, length: 1 m}]", "feeds: [{to: line, B: right}]")
    for ends, most, least in (("main.A, to: line.left", 1.2, 0.5), ("line.left, to: main.A", 1e12, 5)):
        wired = text + f"components: {{D1: {{kind: diode, from: {ends}}}}}\n"
        train = ("--train", "goods@line:0 m", "--ideal")
        (found,) = steps(run(spice(wired, tmp_path, *train), tmp_path))
        assert found["volts of the train goods"] == pytest.approx(12)
        (found,) = steps(run(spice(wired, tmp_path, *train, "--diodes"), tmp_path))
        assert least < 12 - found["volts of the train goods"] < most


@needs_ngspice
def test_loads_draw_their_rating_or_by_their_resistance(tmp_path):
    text = LINE + "components: {H1: {kind: load, from: main.A, to: main.B, rating: 2 A}}\n"
    (found,) = steps(run(spice(text, tmp_path, "--ideal"), tmp_path))
    assert found["amps of the supply main"] == pytest.approx(2)
    (found,) = steps(run(spice(text.replace("rating: 2 A", "resistance: 4 ohm"), tmp_path, "--ideal"), tmp_path))
    assert found["amps of the supply main"] == pytest.approx(3)


@needs_ngspice
def test_a_load_and_a_probe_on_a_branch_are_where_it_begins(tmp_path):
    """By hand: 1 A over the 2 x 1 m of a main bus of 1 ohm/m; the branch begins 2 V lower, and carries nothing else."""
    text = LINE.replace("rail:", "buses:\n  main: {supply: main, wire: 1 ohm/m, length: 1 m}\n"
        "  lamps: {from: main, at: 1 m, wire: 1 ohm/m, length: 5 m}\nrail:")  # fmt: skip
    text = text.replace("feeds: [{to: line,", "feeds: [{to: line, from: main,")
    text += "components: {H1: {kind: load, from: lamps.A, to: lamps.B, resistance: 10 ohm}}\n"
    probes = ("--probe", "main.A", "--probe", "lamps.A", "--probe", "lamps.B", "--ideal")
    (found,) = steps(run(spice(text, tmp_path, *probes), tmp_path))
    assert found["amps of the supply main"] == pytest.approx(1)
    assert [found[f"volts of {t}"] for t in ("main.A", "lamps.A", "lamps.B")] == pytest.approx([12, 11, 1])


# ---- throws

CASE_12 = """format: netlister/1
supplies: {{main: {{type: dcc, voltage: 14 V, resistance: 100 mohm}}}}
contact: 20 mohm
blade: 50 mohm
track:
  toe: {{length: 1 m}}
  T1: {{kind: {kind}, hand: right}}
machines:
  M1: {{throws: T1, contacts: {{frog: {{common: T1.frog, through: T1.stock-right, diverging: T1.stock-left{action}}}}}}}
joints: [{{from: toe, to: T1.toe}}]
feeds: [{{to: toe, A: left, B: right}}]
"""
NOTHING = 1e-6
"""A; a leak that keeps what floats within the simulator's reach takes 0.14 microamperes."""


def most_amps(text, folder, *arguments):
    rows = waveforms(run(spice(text, folder, "--probe", "T1.frog", *arguments), folder))
    return max(row[2] for row in rows), rows


EARLY = ("--throw", "M1@150 ms", "--shift", "M1.frog=-100 ms")


@needs_ngspice
def test_practice_case_12_a_contact_ahead_of_its_blades_is_a_short_while_they_move(tmp_path):
    """Practice case 12 (common practice, no published source).

    The contact reaches the new stock rail while the blade still touches the old. Worked out: from 160 ms, where the contact makes, to 170 ms, where the blade leaves, the
    poles meet over contact and blade; at rest they do not.
    """
    text = CASE_12.format(kind="live-frog", action="")
    most, rows = most_amps(text, tmp_path, *EARLY)
    shorted = [row[0] for row in rows if row[2] > 1]
    assert min(shorted) == pytest.approx(0.160, abs=1e-3)
    assert max(shorted) == pytest.approx(0.170, abs=1e-3)
    assert rows[0][2] == pytest.approx(0, abs=NOTHING)
    assert rows[-1][2] == pytest.approx(0, abs=NOTHING)
    rails = 2 * (0.206 + 0.3)  # no more than any rail and joiner in the file of values
    assert 14 / (0.1 + 0.07 + rails) < most < 14 / (0.1 + 0.07)


@needs_ngspice
def test_practice_case_12_the_bonded_construction_has_none(tmp_path):
    text = CASE_12.format(kind="live-frog-bonded", action="")
    assert most_amps(text, tmp_path, *EARLY)[0] == pytest.approx(0, abs=NOTHING)


@needs_ngspice
def test_in_step_a_contact_that_breaks_first_is_no_short_and_one_that_makes_first_is(tmp_path):
    in_step = ("--throw", "M1@50 ms")
    for kind in ("live-frog", "live-frog-bonded"):
        assert most_amps(CASE_12.format(kind=kind, action=""), tmp_path, *in_step)[0] == pytest.approx(0, abs=NOTHING)
        text = CASE_12.format(kind=kind, action=", action: make-before-break")
        most, rows = most_amps(text, tmp_path, *in_step)
        shorted = [row[0] for row in rows if row[2] > 1]
        assert most > 14 / 1.2
        assert (min(shorted), max(shorted)) == pytest.approx((0.140, 0.160), abs=1e-3)


@needs_ngspice
def test_before_and_after_a_throw_the_waveform_is_that_of_the_states(tmp_path):
    layout = (ROOT / "examples" / "quarry-line" / "layout.yaml").read_text(encoding="utf-8")
    rows = waveforms(run(spice(layout, tmp_path, "--throw", "M1@50 ms", "--probe", "T1.frog"), tmp_path))
    for position, row in (("through", rows[0]), ("diverging", rows[-1])):
        still = spice(layout, tmp_path, "--set", f"M1={position}", "--probe", "T1.frog")
        (found,) = steps(run(still, tmp_path))
        assert row[1] == pytest.approx(found["volts of T1.frog"], rel=1e-6, abs=1e-6)


@needs_ngspice
@pytest.mark.parametrize("seed", range(25))
def test_a_throw_leads_from_one_state_to_the_other_on_random_layouts(seed, tmp_path):
    """Before and after it every rail that is fed has the volts that this package says of the two states."""
    rng = Random(seed + 3_000_000)
    while True:
        data = electric_layout(rng)
        data.pop("frog-units", None)
        circuit = build(netlister.read_text(dump(data)))
        state = a_state(circuit, rng)
        movable = [v for v, var in enumerate(circuit.variables) if var.kind != "plug"]
        if state is None or not movable:
            continue
        variable = rng.choice(movable)
        new = rng.choice([x for x in range(len(circuit.variables[variable].positions)) if x != state[variable]])
        after = tuple(new if v == variable else x for v, x in enumerate(state))
        if all(len(poles) <= 1 for poles in Paths(circuit).poles_of(after)):
            break
    rails = [circuit.names[n] for n in circuit.rails]
    probes = tuple(rng.sample(rails, min(len(rails), 10)))
    timing = Timing(0.2, {})
    ask = Ask(state, probes=probes, throws=(Throw(variable, state[variable], new, 0.05),), timing=timing, stop=0.4)
    rows = waveforms(run(deck(circuit, ask), tmp_path))
    network = build_network(circuit)
    for row, stands in ((rows[0], state), (rows[-1], after)):
        known = Operating(network, (*stands, *(0 for _ in circuit.devices))).voltages()
        for name, theirs in zip(probes, row[1:], strict=False):
            volts = float(known[network.nodes[circuit.node[name]]])
            if not math.isnan(volts):
                assert theirs == pytest.approx(volts, rel=1e-4, abs=1e-3), name


def test_signals():
    """By hand: a throw of 1 s beginning at 2 s; the old position is left at 2.1, the new reached at 2.9."""
    throw = Throw(0, 0, 1, 2.0)
    blades = TimedSwitch("T1", (0.1, 0.9))
    timing = Timing(1.0, {"late": 0.05})
    assert signal(blades, [0], 0, [throw], timing) == Signal(True, (2.1,))
    assert signal(blades, [1], 0, [throw], timing) == Signal(False, (2.9,))
    assert signal(blades, [0, 1], 0, [throw], timing) == Signal(True)
    assert signal(TimedSwitch("late", (0.1, 0.9)), [0], 0, [throw], timing) == Signal(True, (2.15,))
    back = Throw(0, 1, 0, 5.0)
    assert signal(blades, [0], 0, [throw, back], timing) == Signal(True, (2.1, 5.9))
    assert both_signals([Signal(True, (2.0,)), Signal(False, (1.0,))]) == Signal(False, (1.0, 2.0))
    assert both_signals([Signal(True, (2.0,)), Signal(False, (3.0,))]) == Signal(False)
    assert Signal(True, (2.0,)).last is False


@needs_ngspice
def test_a_piece_with_two_tie_bars_thrown_one_after_the_other(tmp_path):
    text = (ROOT / "examples" / "terminus" / "layout.yaml").read_text(encoding="utf-8")
    machines = [n for n, bars in netlister.read_text(text).machines.items() if any("." in bar for bar in bars)]
    assert machines
    throws = [a for n, name in enumerate(machines) for a in ("--throw", f"{name}@{100 + 300 * n} ms")]
    rows = waveforms(run(spice(text, tmp_path, *throws, "--probe", "main.A" if "main:" in text else ""), tmp_path))
    assert len(rows) > 100


# ---- hostile names

HOSTILE = [
    ".control", "*#shell touch PWNED", "x shell touch pwned", '" quit "', "+ 1", ".end", "$(touch pwned)",
    "`touch pwned`", "; .include /etc/passwd", "} {", "a=b", "\\\\", "é ü 漢", "'", "%n%s", "{PATH}",
]  # fmt: skip


def hostile(names):
    quoted = ["'" + name.replace("'", "''") + "'" for name in names]
    track = "\n".join(f"  {name}: {{length: 1 m}}" for name in quoted)
    return (
        'format: netlister/1\ntitle: "a\\n.control\\nshell touch pwned\\n.endc\\n*ng_script"\n'
        "supplies: {'*#shell touch pwned.': {type: dcc, voltage: 12 V}}\n".replace("pwned.'", "pwned'")
        + f"track:\n{track}\nfeeds: [{{to: [{', '.join(quoted)}]}}]\ntrains: {{'.end': {{current: 1 A}}}}\n".replace(
            "'.end'", "'end of file'"
        )
    )


def allowed_lines(text):
    return [re.sub(r"( ; .*|is volts of .*|is amps of .*)$", "", line) for line in text.splitlines()]


@needs_ngspice
def test_names_smuggle_nothing_into_a_deck(tmp_path):
    names = [n.replace(".", "·") for n in HOSTILE]  # a name has no dot
    text = spice(hostile(names), tmp_path)
    plain = spice(hostile([f"name{n}" for n in range(len(names))]).replace("touch pwned", "x"), tmp_path)
    commands = [line for line in allowed_lines(text) if not line.startswith("*")]
    assert commands == [line for line in allowed_lines(plain) if not line.startswith("*")]
    assert not any(line.startswith(("*#", "*ng")) for line in text.splitlines())
    assert all(re.fullmatch(r"[\x20-\x7e]*", line) for line in text.splitlines())
    run(text, tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["deck.cir", "layout.yaml"]


def test_a_state_without_any_resistance_is_refused():
    text = CASE_12.format(kind="live-frog", action="").replace(", resistance: 100 mohm", "")
    text = text.replace("toe: {length: 1 m}", "toe: {length: 0 m}") + "joiner: 0 ohm\n"
    text = text.replace("feeds: [", "feeds: [{to: toe, A: right, B: left}, ")
    with pytest.raises(DeckError, match="nothing limits the current; give it a 'resistance'"):
        deck(build(netlister.read_text(text)), Ask((0,)))

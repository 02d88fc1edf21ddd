"""The worst places of every piece."""

import pytest

import netlister
from netlister.volts.drop import Survey
from tests.amount import seeds
from tests.volts.compare import differences, sound_layout

HEAD = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
rail: 57 mohm/m
joiner: 0 mohm
"""


def pieces(text, **options):
    survey = Survey.of(netlister.read_text(HEAD + text), **options)
    return survey, survey.pieces()


@pytest.mark.parametrize("seed", seeds(60, 150))
def test_random_layouts_against_a_plain_solution_of_every_state(seed):
    assert differences(sound_layout(seed)) == []


def test_rail_fed_at_one_end():
    # worked out: 2 r L, at its far end
    _, found = pieces("track: {line: {length: 2 m}}\nfeeds: [{to: line}]")
    line = found["line"]
    assert line.loop == pytest.approx(2 * 0.057 * 2, rel=1e-12)
    assert line.at == pytest.approx(2)
    assert line.volts_lost == pytest.approx(line.loop * 3)
    assert line.share == pytest.approx(line.loop * 3 / 15)
    assert line.short == pytest.approx(15 / line.loop)
    assert not line.bound


def test_rail_fed_at_both_ends():
    # exact: a load at distance a from one of two feeders L apart sees 2 r a (L - a) / L, at most r L / 2, in the middle
    for length, ohm in ((2, 57), (2, 76), (3, 108), (1, 206)):
        text = f"track: {{line: {{length: {length} m}}}}\nfeeds: [{{to: line.a}}, {{to: line.b}}]"
        survey = Survey.of(netlister.read_text(HEAD.replace("57 mohm/m", f"{ohm} mohm/m") + text))
        line = survey.pieces()["line"]
        assert line.loop == pytest.approx(ohm / 1000 * length / 2, rel=1e-12)
        assert line.at == pytest.approx(length / 2)


def test_a_siding_fed_one_metre_from_its_end():
    # worked out: 1 m of both rails at 57 mohm/m beyond the feed
    _, found = pieces("track: {siding: {length: 2 m}}\nfeeds: [{to: siding, at: 1 m}]")
    assert found["siding"].loop == pytest.approx(0.114)
    assert found["siding"].at == 0


def test_line_and_ring_bus():
    # worked out: a ring halves what a line of half its length has at its far point
    track = "track: {line: {length: 0 m}}\nfeeds: [{to: line, tap: 4 m}]\n"
    for form, expected in (("line", 2 * 0.01 * 4), ("ring", 2 * 0.01 * 4 * 4 / 8)):
        bus = f"buses: {{main: {{wire: 10 mohm/m, length: 8 m, form: {form}}}}}\n"
        _, found = pieces(bus + track)
        assert found["line"].loop == pytest.approx(expected, rel=1e-12)


def test_branch_of_a_bus():
    text = """
buses: {main: {wire: 10 mohm/m, length: 8 m}, up: {from: main, at: 5 m, wire: 20 mohm/m, length: 3 m}}
track: {line: {length: 0 m}}
feeds: [{to: line, from: up, tap: 2 m, wire: 30 mohm/m, length: 1 m}]
"""
    _, found = pieces(text)
    assert found["line"].loop == pytest.approx(2 * (0.05 + 0.04 + 0.03), rel=1e-12)


def test_piece_without_voltage_has_none():
    _, found = pieces("track: {line: {length: 1 m}, lost: {length: 1 m}}\nfeeds: [{to: line}]")
    assert found["lost"] is None


TURNOUT = """
contact: 20 mohm
blade: 50 mohm
track: {line: {length: 1 m}, T1: {kind: insulated-frog, hand: right}, left: {length: 1 m}, right: {length: 2 m}}
joints: [{from: line, to: T1.toe}, {from: T1.through, to: left}, {from: T1.diverging, to: right}]
feeds: [{to: line}]
"""


def test_blades_carry_what_no_feed_reaches():
    # worked out: both rails of line and of the leg, and one blade
    survey, found = pieces(TURNOUT)
    assert found["left"].loop == pytest.approx(2 * 0.057 * 2 + 0.05, rel=1e-7)
    assert survey.positions(found["left"].when) == {"T1": "through"}
    assert found["right"].loop == pytest.approx(2 * 0.057 * 3 + 0.05, rel=1e-7)
    assert survey.positions(found["right"].when) == {"T1": "diverging"}


def test_turnout_with_a_length_counts_as_rail():
    # worked out: half the length to its middle, where everything else meets, and half beyond
    survey, found = pieces(TURNOUT.replace("hand: right}", "hand: right, length: 200 mm}"))
    assert found["left"].loop == pytest.approx(2 * 0.057 * 2.2 + 0.05, rel=1e-7)
    assert found["T1"].loop == pytest.approx(2 * 0.057 * 1.2 + 0.05, rel=1e-7)
    assert found["T1"].at == pytest.approx(0.2)
    assert survey.network.lengthless == []


def test_temperature_by_the_coefficient_of_copper():
    # IEC 60028: 0.00393 per K, so 50 K make it 1.1965 times
    text = "track: {line: {length: 0 m}}\nfeeds: [{to: line, wire: AWG 14, length: 10 m}]"
    cold, warm = (pieces(text, temperature=t)[1]["line"].loop for t in (20, 70))
    assert warm / cold == pytest.approx(1.1965, rel=1e-12)


def yard(roads, kind="insulated-frog"):
    """A ladder fed at its throat alone: every road hangs on the blades before it."""
    track = [f"  T{n}: {{kind: {kind}, hand: right}}" for n in range(1, roads)]
    track += [f"  road-{n}: {{length: 1 m}}" for n in range(1, roads + 1)]
    joints = ["  - {from: throat, to: T1.toe}"]
    for n in range(1, roads):
        joints.append(f"  - {{from: T{n}.diverging, to: road-{n}}}")
        joints.append(f"  - {{from: T{n}.through, to: {f'T{n + 1}.toe' if n < roads - 1 else f'road-{roads}'}}}")
    return "\n".join(
        ["track:", "  throat: {length: 1 m}", *track, "joints:", *joints, "feeds: [{to: throat}]", "blade: 50 mohm"]
    )


@pytest.mark.parametrize("kind", ["insulated-frog", "live-frog"])
def test_a_yard_with_more_states_than_can_be_gone_through(kind):
    # worked out: throat and road, 2 m of both rails, and a blade at each turnout on the way that is set through
    roads = 26
    survey, found = pieces(yard(roads, kind))
    first = found["road-1"]
    last = found[f"road-{roads}"]
    assert not first.bound
    assert not last.bound
    if kind == "insulated-frog":
        assert last.loop == pytest.approx(0.228 + 0.05 * (roads - 1), rel=1e-6)
        assert survey.positions(last.when) == {f"T{n}": "through" for n in range(1, roads)}
        assert first.loop == pytest.approx(0.228 + 0.05, rel=1e-6)
    few = pieces(yard(6, kind))[1]
    for n in range(1, 6):
        assert found[f"road-{n}"].loop == pytest.approx(few[f"road-{n}"].loop, rel=1e-6)


def contacts_on_the_bus(turnouts):
    """Frog contacts wired to the bus are second feeds of the stock rails through the blades: many states matter."""
    lines = ["track:", "  line-0: {length: 1 m}"]
    joints, feeds, machines = [], ["  - {to: line-0, wire: 50 mohm/m, length: 1 m}"], []
    for n in range(1, turnouts + 1):
        lines += [f"  T{n}: {{kind: live-frog, hand: right}}", f"  line-{n}: {{length: 1 m}}"]
        joints.append(f"  - {{from: line-{n - 1}, to: T{n}.toe}}")
        joints.append(f"  - {{from: T{n}.through, to: line-{n}, insulate: vee}}")
        feeds.append(f"  - {{to: line-{n}, wire: 50 mohm/m, length: 1 m}}")
        contact = f"{{common: T{n}.frog, through: main.B, diverging: main.A}}"
        machines.append(f"  M{n}: {{throws: [T{n}], contacts: {{f: {contact}}}}}")
    return "\n".join([*lines, "joints:", *joints, "feeds:", *feeds, "machines:", *machines])


def test_a_bound_is_marked_and_never_below_the_truth(monkeypatch):
    text = contacts_on_the_bus(7)
    _, exact = pieces(text)
    assert not any(drop.bound for drop in exact.values())
    monkeypatch.setattr("netlister.volts.worst.STATES", 8)
    _, bounds = pieces(text)
    assert all(drop.bound for name, drop in bounds.items() if name != "line-7")
    for name, drop in exact.items():
        assert drop.loop * (1 - 1e-9) <= bounds[name].loop <= drop.loop * 1.25

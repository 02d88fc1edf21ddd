"""Where the volts go, and where one more feeder does most."""

import json
import re
from time import process_time

import pytest
from click.testing import CliRunner

import netlister
from netlister.cli.main import group
from netlister.outputs.drop import causes
from netlister.volts.drop import Survey
from netlister.volts.feeders import feeder_plan, feeders
from netlister.volts.losses import losses
from tests.benchmarks.layouts import branch_line
from tests.properties.layouts import dump
from tests.volts.compare import differences, sound_layout

HEAD = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
rail: 100 mohm/m
joiner: 0 mohm
"""

TWO_BUSES = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A, resistance: 50 mohm}}
rail: 76 mohm/m
joiner: 5 mohm
contact: 20 mohm
blade: 50 mohm
buses:
  up: {supply: main, wire: 20 mohm/m, length: 12 m, breaker: 3 A}
  down: {supply: main, wire: 12 mohm/m, length: 6 m, breaker: 2 A}
  attic: {from: up, at: 4 m, wire: 30 mohm/m, length: 3 m}
track: {a: {length: 4 m}, b: {length: 3 m}, c: {length: 3 m}, d: {length: 2 m}}
joints: [{from: a, to: b}, {from: b, to: c, insulate: both}]
feeds:
  - {to: a, from: up, tap: 3 m, wire: 36 mohm/m, length: 300 mm}
  - {to: b, from: up, tap: 8 m, wire: 36 mohm/m, length: 300 mm}
  - {to: c, from: down, tap: 5 m, wire: 36 mohm/m, length: 300 mm}
  - {to: d, from: attic, tap: 3 m, wire: 36 mohm/m, length: 300 mm}
"""


TWICE_FED = "  - {to: d, from: attic, tap: 3 m, wire: 36 mohm/m, length: 300 mm}\n"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("", ""),
        ("length: 12 m, breaker: 3 A}", "length: 12 m, form: ring, breaker: 3 A}"),
        ("{from: a, to: b}", "{from: a, to: b}, {from: c, to: d, insulate: both}, {from: d, to: a, insulate: both}"),
        (TWICE_FED, TWICE_FED + TWICE_FED.replace("to: d", "to: d.b").replace("tap: 3 m", "tap: 1 m")),
        ("to: c, from: down, tap: 5 m", "to: c, from: R1"),
        ("from: attic, tap: 3 m, wire: 36 mohm/m, length: 300 mm", "from: down, tap: 2 m, A: right, B: left"),
    ],
)
def test_two_buses_and_districts_against_a_plain_dense_solution(old, new):
    from tests.properties.reference import load

    text = TWO_BUSES.replace(old, new) if old else TWO_BUSES
    assert (text != TWO_BUSES) == bool(old)
    if "R1" in new:
        text += "reversers: {R1: {from: down, mode: automatic}}\n"
    assert differences(load(text)) == []


def test_a_district_is_calculated_with_the_least_trip_current_on_the_way():
    found = Survey.of(netlister.read_text(TWO_BUSES)).pieces()
    assert {name: drop.amps for name, drop in found.items()} == {"a": 3, "b": 3, "c": 2, "d": 3}
    # derived: c hangs on 5 m of down, 0.3 m of feeder and 3 m of rail, each twice
    assert found["c"].loop == pytest.approx(2 * (5 * 0.012 + 0.3 * 0.036 + 3 * 0.076))
    assert found["c"].volts_lost == pytest.approx(2 * found["c"].loop)
    weak = TWO_BUSES.replace("trip: 5 A", "trip: 1 A")
    assert {d.amps for d in Survey.of(netlister.read_text(weak)).pieces().values()} == {1}
    assert {d.amps for d in Survey.of(netlister.read_text(TWO_BUSES), 4.0).pieces().values()} == {4}


def test_what_the_loss_consists_of():
    survey = Survey.of(netlister.read_text(TWO_BUSES))
    found = losses(survey, survey.pieces()["c"])
    # derived: as above, by what it is of
    assert found.shares["bus"] == pytest.approx(2 * 5 * 0.012)
    assert found.shares["feeders"] == pytest.approx(2 * 0.3 * 0.036)
    assert found.shares["rail"] == pytest.approx(2 * 3 * 0.076)
    assert next(iter(found.buses)) == "down"


@pytest.mark.parametrize("seed", range(12))
def test_the_shares_of_a_loss_are_all_of_it(seed):
    """Power: i² R over all conductors is the loop for 1 A."""
    data = sound_layout(seed)
    data.pop("frog-units", None)  # a unit acts only where nothing else feeds its frog
    survey = Survey.of(netlister.read_text(dump(data)))
    for drop in survey.pieces().values():
        if drop is not None and not drop.bound and drop.loop > 1e-6:
            assert losses(survey, drop).loop == pytest.approx(
                drop.loop, rel=1e-6, abs=1e-7
            )  # contacts of 0 ohm count 1e-8


def test_the_next_feeder_is_not_at_the_far_end():
    # derived: rail fed at 0, one more at x: between them the worst loop is r x / 2, beyond 2 r (L - x), the same at 0.8 L
    text = HEAD + "track: {line: {length: 3 m}}\nfeeds: [{to: line}]"
    (first, *_) = feeders(netlister.read_text(text), most=1)
    assert first.at == pytest.approx(0.8 * 3, abs=0.05)
    assert first.before == pytest.approx(2 * 0.1 * 3 * 5 / 15)
    assert first.after == pytest.approx(2 * 0.1 * 0.2 * 3 * 5 / 15, rel=0.1)


def test_feeders_until_the_limit_holds():
    text = HEAD + "track: {line: {length: 6 m}}\nfeeds: [{to: line}]"
    layout = netlister.read_text(text)
    added = feeders(layout)
    more = ", ".join(f"{{to: line, at: {a.at * 1000:g} mm}}" for a in added)
    again = Survey.of(netlister.read_text(text.replace("feeds: [{to: line}]", f"feeds: [{{to: line}}, {more}]")))
    assert again.pieces()["line"].share <= 0.05
    assert again.pieces()["line"].share == pytest.approx(added[-1].after)
    assert feeders(netlister.read_text(text.replace("6 m", "500 mm"))) == []


def test_a_feeder_is_tapped_where_the_bus_passes():
    # 1 m of track between two feeds, 1 m of bus between their taps: half way is half way
    text = HEAD + (
        "buses: {main: {wire: 20 mohm/m, length: 8 m}}\ntrack: {one: {length: 4 m}, two: {length: 4 m}}\n"
        "joints: [{from: one, to: two}]\nfeeds: [{to: one, tap: 0 m}, {to: two.b, tap: 8 m}]"
    )
    (first, *_) = feeders(netlister.read_text(text), most=1)
    place = first.at + (4 if first.piece == "two" else 0)
    assert first.tap == pytest.approx(place, abs=0.02)
    assert 2 < place < 6


REVERSED = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track: {line: {length: 6 m}}
feeds: [{to: line, A: right, B: left}]
"""
LOOP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track: {line: {length: 400 mm}, loop: {length: 6 m}, T1: {kind: live-frog-bonded, hand: wye}}
machines: {M1: {throws: T1, contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}}
reversers: {R1: {from: main, mode: automatic}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds: [{to: line}, {to: loop, from: R1}]
"""


ROUND = LOOP.replace("T1: {kind", "back: {length: 3 m}, T1: {kind").replace(
    "{from: loop, to: T1.left,", "{from: loop, to: back}\n  - {from: back, to: T1.left,"
)
FOLLOWING = ROUND.replace("mode: automatic", "follows: M1, straight: [right]")
TWO_DISTRICTS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 9 A}}
buses: {town: {supply: main, breaker: 5 A}, port: {supply: main, breaker: 5 A}}
track: {street: {length: 400 mm}, quay: {length: 6 m}, mole: {length: 3 m}}
joints: [{from: street, to: quay, insulate: both}, {from: quay, to: mole}]
feeds: [{to: street, from: town}, {to: quay, from: port}]
"""


@pytest.mark.parametrize(
    ("text", "piece"),
    [(REVERSED, "line"), (LOOP, "loop"), (ROUND, "back"), (FOLLOWING, "back"), (TWO_DISTRICTS, "mole")],
)
def test_a_feeder_that_is_advised_keeps_the_poles_of_the_rails(text, piece):
    """Obeyed to the letter, neither the feeders of 'drop' nor the help of `feeder-spacing` make a short."""
    report = netlister.check_text(text, select={"feeder-spacing"})
    (fix,) = [f.fix for f in report.findings if f.subject == piece]
    entries = [fix.split("'")[-2]]
    entries += [a.entry for a in feeders(netlister.read_text(text))]
    for entry in entries:
        obeyed = text.replace("feeds: [", f"feeds: [{entry}, ")
        assert netlister.check_text(text).findings == netlister.check_text(obeyed).findings == (), entry


def test_a_reversed_section_gets_more_feeders_from_its_reverser():
    for text in (LOOP, ROUND, FOLLOWING):
        found = feeder_plan(netlister.read_text(text))
        assert found.added[-1].left == 0
        assert {a.feed.source for a in found.added} == {"R1"}
        assert found.without == ()


def told(*words):
    return CliRunner().invoke(group, [str(word) for word in words]).output


SELECTED = """\
format: netlister/1
supplies: {c1: {type: dc, voltage: 12 V, trip: 2 A}, c2: {type: dc, voltage: 12 V, trip: 2 A, common: c1.B}}
track: {line: {length: 400 mm}, mid: {length: 9 m}}
switches: {S1: {positions: [a, off, b], contacts: {r: {common: mid.left, a: c1.A, b: c2.A}}}}
joints: [{from: line, to: mid, insulate: left}]
feeds: [{to: line, from: c1}]
expect: [{track: mid, is: dead, when: {S1: off}}]
"""
DETECTED = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track: {line: {length: 400 mm}, mid: {length: 9 m}}
joints: [{from: line, to: mid, insulate: left}]
feeds: [{to: line}, {to: mid, B: right}]
components: {D1: {kind: detector, from: main.A, to: mid.left}}
"""


@pytest.mark.parametrize("text", [SELECTED, DETECTED])
def test_no_feeder_is_proposed_past_a_switch_or_a_detector(tmp_path, text):
    found = feeder_plan(netlister.read_text(text))
    assert found.added == []
    assert found.without == ("mid",)
    path = tmp_path / "layout.yaml"
    path.write_text(text)
    said = told("drop", path)
    assert "No feeder is proposed for mid, whose poles come over a switch, a detector or wires" in said
    assert "from where its poles come now, not from the bus" in said
    assert json.loads(told("drop", path, "--format", "json"))["feeders_not_proposed"] == ["mid"]


def test_a_controller_that_a_switch_alone_brings_feeds_track(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(SELECTED)
    assert "feeds no track" not in told("drop", path)
    path.write_text(SELECTED.replace("b: c2.A", "b: c1.A"))
    assert "feeds no track" in told("drop", path)


def test_the_next_feeder_is_the_one_after_which_least_is_lost():
    """Against every place on the track, a quarter of a metre apart."""
    layout = netlister.read_text(ROUND)
    first = feeder_plan(layout).next
    best = min(
        max(d.share or 0.0 for d in Survey.of(netlister.read_text(text)).pieces().values())
        for piece, metres in (("loop", 6), ("back", 3))
        for n in range(4 * metres + 1)
        for text in [ROUND.replace("feeds: [", f"feeds: [{{to: {piece}, at: {n * 250} mm, from: R1}}, ")]
    )
    assert first.after <= best * 1.02


def test_no_feeder_for_what_holds():
    assert feeders(netlister.read_text(HEAD + "track: {line: {length: 0 m}}\nfeeds: [{to: line}]")) == []


def test_seeds_are_drawn_anew_until_nothing_is_shorted():
    layouts = [sound_layout(seed) for seed in range(12)]
    live = [d for data in layouts for d in Survey.of(netlister.read_text(dump(data))).pieces().values() if d]
    assert len({dump(data) for data in layouts}) == 12
    assert len(live) > 12


@pytest.mark.parametrize(("metres", "fewest"), [(3.5, 1), (6, 2), (9, 3)])
def test_the_fewest_feeders(metres, fewest):
    """Derived: 5 A over 2 x 0.1 ohm/m lose 5 % of 15 V in 0.75 m beyond the last feed, or on 3 m between two feeds."""
    text = HEAD + f"track: {{line: {{length: {metres} m}}}}\nfeeds: [{{to: line}}]"
    found = feeder_plan(netlister.read_text(text))
    assert len(found.added) == fewest
    assert found.places > 0 or fewest == 1
    more = "".join(f", {{to: line, at: {a.at * 1000:g} mm}}" for a in found.added)
    again = Survey.of(netlister.read_text(text.replace("{to: line}]", f"{{to: line}}{more}]")))
    assert again.pieces()["line"].share <= 0.05
    assert found.added[-1].left == 0


SHORT = (
    HEAD
    + """
buses: {main: {wire: 4 mm2, length: 6 m}}
track: {a: {length: 500 mm}, b: {length: 500 mm}}
joints: [{from: a, to: b}]
feeds: [{to: a, tap: 1 m}, {to: b, A: right, B: left, tap: 3 m}]
"""
)


@pytest.mark.parametrize("command", ["drop", "wire-size"])
def test_a_short_is_told_first(command, tmp_path):
    """And the exit is 1; with its twin put right it is 0 and nothing is said of a short."""
    for text, code in ((SHORT, 1), (SHORT.replace("A: right, B: left, ", ""), 0)):
        (tmp_path / "layout.yaml").write_text(text)
        done = CliRunner().invoke(group, [command, str(tmp_path / "layout.yaml")])
        assert done.exit_code == code
        assert ("main.A and main.B are joined" in done.output.splitlines()[0]) == bool(code)
        assert ("The layout has a short, told above: mend it first." in done.output) == bool(code)
        told = CliRunner().invoke(group, [command, str(tmp_path / "layout.yaml"), "--format", "json"])
        assert told.exit_code == code
        assert ("pole-short" in {f["rule"] for f in json.loads(told.output)["findings"]}) == bool(code)


def test_a_district_by_wire_plug_component_or_switch_alone():
    """Each is calculated with the breaker on its way, and not with the trip of the supply."""
    text = (
        HEAD
        + """
buses: {d1: {supply: main, breaker: 2 A}, d2: {supply: main, breaker: 3 A}}
track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}, d: {length: 1 m}, e: {length: 1 m}}
switches: {S: {positions: [on, off], contacts: {k: {common: c.left, on: d1.A}, l: {common: c.right, on: d1.B}}}}
components: {L: {kind: detector, from: d1.A, to: a.left}}
plugs: {J: {optional: true, pins: {1: [x, d.left], 2: [y, d.right]}}}
wires: [{from: d1.B, to: a.right}, {from: d1.A, to: x}, {from: d1.B, to: y}, {from: main.A, to: e.left}, {from: main.B, to: e.right}]
feeds: [{to: b, from: d2}]
expect: [{track: c, is: dead, when: {S: off}}]
"""
    )
    found = Survey.of(netlister.read_text(text)).pieces()
    assert {name: drop.amps for name, drop in found.items()} == {"a": 2, "b": 3, "c": 2, "d": 2, "e": 5}


def test_breakers_in_wires_count_on_the_way():
    """The least of the supply, the bus and every breaker in a wire to either rail."""
    text = (
        HEAD
        + """
buses: {d1: {supply: main, breaker: 4 A}}
track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}}
components:
  Q1: {kind: breaker, from: main.A, to: a.left, rating: 2 A}
  Q2: {kind: breaker, from: x, to: b.left, rating: 3 A}
  Q3: {kind: breaker, from: d1.A, to: c.left, rating: 6 A}
wires: [{from: main.A, to: x}]
feeds: [{to: [a, b], from: main, B: right}, {to: c, from: d1, B: right}]
"""
    )
    found = Survey.of(netlister.read_text(text)).pieces()
    assert {name: drop.amps for name, drop in found.items()} == {"a": 2, "b": 3, "c": 4}


def test_a_breaker_that_a_switch_bypasses_does_not_count():
    text = (
        HEAD
        + """
track: {a: {length: 1 m}, b: {length: 1 m}}
components: {Q1: {kind: breaker, from: main.A, to: a.left, rating: 2 A}, Q2: {kind: breaker, from: main.A, to: b.left, rating: 2 A}}
switches: {S1: {positions: [on, off], contacts: {c: {common: a.left, on: main.A}, d: {common: b.left, on: main.B}}}}
feeds: [{to: [a, b], from: main, B: right}]
"""
    )
    found = Survey.of(netlister.read_text(text)).pieces()
    assert {name: drop.amps for name, drop in found.items()} == {"a": 5, "b": 2}  # b: another pole, a short by itself


def on_a_thin_bus(turnouts: int) -> str:
    """A branch line of so many turnouts, each with two feeds, on one bus that is far too thin."""
    text = branch_line(turnouts)
    text = text.replace("track:", f"buses: {{main: {{wire: 0.5 mm2, length: {turnouts + 1} m}}}}\ntrack:", 1)
    taps = (f"tap: {n / 2:g} m, wire" for n in range(1, 2 * turnouts + 1))
    return re.sub(r"wire(?=: 0\.5 mm2, length: 250)", lambda _: next(taps), text)


def test_one_cause_for_hundreds_of_findings_of_one_thin_bus(tmp_path):
    path = tmp_path / "long.yaml"
    path.write_text(on_a_thin_bus(170))
    found = json.loads(told("drop", path, "--format", "json"))
    too_much = [f for f in found["findings"] if f["rule"] == "voltage-drop"]
    (cause,) = found["causes"]
    assert cause["pieces"] == len(too_much) >= 499
    assert next(iter(cause["buses_ohm"])) == "main"
    said = told("drop", path)
    assert said.startswith(
        f"{len(too_much)} pieces lose more than 5 % of main behind the bus 'main'; worst 'siding-170'"
    )
    assert f"and {len(too_much) - 3} more of voltage-drop" in said
    assert "the bus 'main' alone loses" in said
    assert found["feeders"] == []
    # its right twin: a short line on a bus without resistance
    thick = on_a_thin_bus(12).replace("wire: 0.5 mm2, length: 13 m", "wire: 0 mohm/m, length: 13 m")
    path.write_text(thick)
    assert json.loads(told("drop", path, "--format", "json"))["causes"] == []


def test_a_thousand_turnouts_on_a_thin_bus_take_no_more_than_their_share():
    """Four times the turnouts take about four times as long; ten times would be as their square."""
    took = []
    for turnouts in (250, 1000):
        layout = netlister.read_text(on_a_thin_bus(turnouts))
        start = process_time()
        survey = Survey.of(layout)
        assert len(causes(survey)) == 1
        assert feeder_plan(layout, survey=survey).thin.bus == "main"
        took.append(process_time() - start)
    assert took[1] < 10 * took[0], took


def test_the_work_for_feeders_is_bounded():
    """A layout of many pieces that lose in their rails: no more trials than the bound, whatever its size."""
    text = HEAD + "track:\n" + "".join(f"  p{n}: {{length: 2 m}}\n" for n in range(700)) + "joints:\n"
    text += "".join(f"  - {{from: p{n}, to: p{n + 1}}}\n" for n in range(699) if n % 7 != 6)
    text += "feeds:\n" + "".join(f"  - {{to: p{n}}}\n" for n in range(0, 700, 7))
    found = feeder_plan(netlister.read_text(text))
    assert found.next is not None
    assert found.next.after <= found.next.before
    assert found.added[-1].left > 0


BEYOND = (
    HEAD
    + """
buses: {main: {}, town: {supply: main, breaker: 1 A}}
track: {yard: {length: 3 m}, spur: {length: 1 m}, hall: {length: 1 m}}
components: {Q1: {kind: breaker, from: main.A, to: TB1, rating: 1 A}}
wires:
  - {from: TB1, to: spur.left, wire: 0.5 mm2, length: 4 m}
  - {from: town.A, to: TB2}
  - {from: TB2, to: hall.left, wire: 0.5 mm2, length: 4 m}
feeds: [{to: yard, from: main}, {to: spur, from: main, B: right}, {to: hall, from: town, B: right}]
"""
)


@pytest.mark.parametrize(
    ("old", "new", "thin"),
    [
        ("", "", {}),  # 0.5 mm2 carries 1.4 A beyond 2 m (second-hand, see values.yaml)
        ("rating: 1 A", "rating: 2 A", {"TB1": "'Q1'"}),
        ("breaker: 1 A", "breaker: 2 A", {"TB2": "'town'"}),
        ("wires:", "wires:\n  - {from: TB1, to: yard.left}", {"TB1": "'main'"}),
        (
            "wires:",
            "switches: {S1: {positions: [on, off], contacts: {c: {common: TB1, on: main.A}}}}\nwires:",
            {"TB1": "'main'"},
        ),
    ],
    ids=["right", "breaker-in-a-wire", "breaker-of-a-bus", "bypassed", "bypassed-by-a-switch"],
)
def test_a_wire_beyond_a_junction_is_held_to_what_acts_first_before_it(old, new, thin):
    report = netlister.check_text(BEYOND.replace(old, new), select=["wire-load"])
    found = {f.message.split("wire from ")[1].split()[0]: f.message for f in report.findings}
    assert found.keys() == thin.keys()
    assert all(f"{guard} trips only at" in found[name] for name, guard in thin.items())

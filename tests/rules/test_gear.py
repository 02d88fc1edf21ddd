"""Districts, reversers and detectors: cases worked out by hand, and what is said of them.

Facts of the trade: common practice, no published source.
"""

from __future__ import annotations

import pytest

import netlister

GEAR = {
    *("districts-joined", "reversers-abut", "frog-outside-section", "reverser-one-rail", "reverser-fed-by-blades"),
    "detectors-apart",
}


def found(text):
    """Rule, subject and states of what is found."""
    return {(f.rule, f.subject, f.when) for f in netlister.check_text(text).findings}


def gear(text):
    """The findings of the rules on gear: rule and subject to states as plain values."""
    report = netlister.check_text(text).to_json()
    return {(f["rule"], f["subject"]): f["when"] for f in report["findings"] if f["rule"] in GEAR}


def only(text):
    """The one finding of the rules on gear."""
    (finding,) = [f for f in netlister.check_text(text).findings if f.rule in GEAR]
    return finding


DISTRICTS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  town: {supply: main, breaker: 3 A}
  harbour: {supply: main, breaker: 3 A}
  lane: {from: town}
  pier: {from: harbour, breaker: 1 A}
  trunk: {supply: main}
track: {a: {length: 1 m}, b: {length: 1 m}}
joints: [{from: a, to: b, insulate: %s}]
feeds: [{to: a, from: %s}, {to: b, from: %s}]
"""


@pytest.mark.parametrize(
    ("insulate", "first", "second", "expected"),
    [
        ("both", "town", "harbour", None),
        ("left", "town", "harbour", "harbour/town"),
        ("right", "town", "harbour", "harbour/town"),
        ("none", "town", "harbour", "harbour/town"),
        ("none", "town", "town", None),
        ("none", "lane", "town", None),  # a branch without a breaker belongs to the district that it branches from
        ("none", "lane", "harbour", "harbour/town"),
        ("none", "pier", "harbour", "harbour/pier"),  # a branch with one does not
        ("none", "trunk", "town", "main/town"),  # behind no breaker: the district of the supply
        ("none", "trunk", "main", None),
        ("none", "main", "pier", "main/pier"),
    ],
)
def test_which_districts_are_joined(insulate, first, second, expected):
    wanted = {} if expected is None else {("districts-joined", expected): [{}]}
    assert gear(DISTRICTS % (insulate, first, second)) == wanted


def test_a_breaker_changes_no_pole():
    """Every other finding, and the circuit as text, are the same with and without breakers."""
    from netlister.circuit.build import build
    from netlister.layout.read import read_layout
    from netlister.source import Source

    for insulate in ("none", "both"):
        with_breaker = DISTRICTS % (insulate, "town", "harbour")
        with_breaker = with_breaker.replace("{to: b, from: harbour}", "{to: b, from: harbour, A: right, B: left}")
        without = with_breaker.replace(", breaker: 3 A", "").replace(", breaker: 1 A", "")
        texts = [build(read_layout(Source("x", text))).dump() for text in (with_breaker, without)]
        assert texts[0] == texts[1]
        rest = [{f for f in found(text) if f[0] not in GEAR} for text in (with_breaker, without)]
        assert rest[0] == rest[1] != set()


def test_a_bus_with_a_breaker_may_have_the_name_of_its_supply():
    text = DISTRICTS.replace("town:", "main:").replace("lane: {from: town}", "lane: {from: main}")
    assert gear(text % ("none", "main", "lane")) == {}
    assert gear(text % ("none", "main", "trunk")) == {("districts-joined", "main/main before its breaker"): [{}]}


SWITCHED = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses: {town: {supply: main, breaker: 3 A}, harbour: {supply: main, breaker: 3 A}}
track: {a: {length: 1 m}, b: {length: 1 m}}
switches: {S1: {positions: [apart, off, joined], contacts: {c: {common: a.left, apart: town.A, joined: %s}}}}
joints: [{from: a, to: b, insulate: both}]
feeds: [{to: a, from: town, B: right}, {to: b, from: harbour}]
expect: [{track: a, is: dead, when: {S1: off}}]
"""


def test_districts_joined_in_one_position_of_a_switch():
    assert gear(SWITCHED % "harbour.A") == {}  # fed from the other district alone: nothing is joined
    assert gear(SWITCHED % "b.left") == {}  # b's rail is fed from harbour, and a's from nowhere else
    text = SWITCHED.replace("{to: a, from: town, B: right}", "{to: a, from: town}").replace("expect", "notes: ''\n#")
    assert gear(text % "harbour.A") == {("districts-joined", "harbour/town"): [{"S1": "joined"}]}
    assert gear(text % "b.left") == {("districts-joined", "harbour/town"): [{"S1": "joined"}]}


def test_two_supplies_joined_are_no_districts_joined():
    """Joined they are a short; districts of two supplies are another matter."""
    text = """\
format: netlister/1
supplies: {one: {type: dcc, voltage: 15 V, trip: 5 A}, two: {type: dcc, voltage: 15 V, trip: 5 A}}
buses: {west: {supply: one, breaker: 3 A}, east: {supply: two, breaker: 3 A}}
track: {a: {length: 1 m}, b: {length: 1 m}}
joints: [{from: a, to: b}]
feeds: [{to: a, from: west}, {to: b, from: east}]
"""
    assert {f[:2] for f in found(text)} == {("pole-short", "one.A/two.A"), ("pole-short", "one.B/two.B")}


def test_a_breaker_drawn_as_a_component_is_the_one_of_its_district():
    text = (DISTRICTS % ("both", "town", "harbour")) + "components: {Q1: {kind: breaker, from: main.A, to: town.A}}\n"
    assert gear(text) == {}
    assert gear(text.replace("kind: breaker", "kind: detector")) == {("districts-joined", "main/town"): [{}]}


def test_pins_of_a_plug_join_districts_while_it_is_in():
    text = (DISTRICTS % ("both", "town", "harbour")) + "plugs: {J1: {pins: {1: [a.left, b.left]}, optional: true}}\n"
    assert gear(text) == {("districts-joined", "harbour/town"): [{"J1": "in"}]}


def test_what_is_said_of_joined_districts():
    finding = only(DISTRICTS % ("left", "town", "harbour"))
    assert finding.severity.label == "warning"
    assert finding.message == "the districts 'harbour' and 'town' are joined by metal on pole B"
    assert finding.path == ("harbour.B", "b.right", "a.right", "town.B")
    assert finding.parts == ("a", "b")
    assert finding.where[0].line == 10


# ---- automatic reversers

ABUT = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  shore: {length: 1 m}
  tunnel: {length: 1 m}
  T1: {kind: insulated-frog, hand: left, jumpers: true}
  spur: {length: 1 m}
reversers: {R1: {from: main, mode: automatic}, R2: {from: main, mode: automatic}}
joints:
  - {from: shore, to: T1.toe}
  - {from: T1.through, to: tunnel, insulate: both}
  - {from: T1.diverging, to: spur, insulate: both}
feeds: [{to: shore, from: R1}, {to: tunnel, from: R2}, {to: spur, from: %s}]
"""


def test_two_reversers_abut_where_a_train_can_cross():
    assert gear(ABUT % "main") == {("reversers-abut", "T1.through/tunnel"): [{"T1": "through"}]}
    assert gear(ABUT % "R2") == {
        ("reversers-abut", "T1.through/tunnel"): [{"T1": "through"}],
        ("reversers-abut", "T1.diverging/spur"): [{"T1": "diverging"}],
    }
    assert gear((ABUT % "R1").replace("{to: tunnel, from: R2}", "{to: tunnel, from: R1}")) == {}


def test_what_is_said_of_reversers_that_abut():
    finding = only(ABUT % "main")
    assert finding.severity.label == "warning"
    assert (
        "the sections of the automatic reversers 'R1' and 'R2' meet at the joint 'T1.through/tunnel'" in finding.message
    )
    assert finding.fix == "write its feed as {to: tunnel, A: left, B: right}"
    assert netlister.check_text(mended(ABUT % "main")).findings == ()


def mended(text):
    """As the help says."""
    assert "{to: tunnel, from: R2}" in text
    return text.replace("{to: tunnel, from: R2}", "{to: tunnel, A: left, B: right}")


def test_reversers_joined_by_metal_are_a_short():
    text = (ABUT % "main").replace("to: tunnel, insulate: both", "to: tunnel")
    assert gear(text) == {}
    assert "pole-short" in {f[0] for f in found(text)}


def test_following_reversers_may_meet():
    text = ABUT.replace("R2: {from: main, mode: automatic}", "R2: {from: main, follows: T1, straight: [through]}")
    assert ("reversers-abut", "T1.through/tunnel") not in gear(text % "main")


INSIDE = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 1 m}
  inside: {length: 2 m}
  T1: {kind: live-frog-bonded, hand: left}
machines: {M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: %s, diverging: %s}}}}
reversers: {R1: {from: main, mode: automatic}}
joints: [{from: line, to: inside, insulate: both}, {from: inside, to: T1.toe}]
feeds: [{to: line}, {to: inside, from: R1}]
"""


@pytest.mark.parametrize(
    ("through", "diverging", "expected"),
    [
        ("T1.stock-left", "T1.stock-right", {}),
        ("R1.A", "R1.B", {}),
        ("main.A", "main.B", {("frog-outside-section", "T1"): [{}]}),
        ("T1.stock-left", "main.B", {("frog-outside-section", "T1"): [{"M1": "diverging"}]}),
        # the other way round it is as wrong: which way the reverser stands decides
        ("main.B", "main.A", {("frog-outside-section", "T1"): [{}]}),
    ],
)
def test_a_frog_inside_a_section(through, diverging, expected):
    assert gear(INSIDE % (through, diverging)) == expected


def test_what_is_said_of_a_frog_fed_from_outside():
    finding = only(INSIDE % ("main.A", "main.B"))
    assert (
        "T1.frog has main.A from outside, and T1.stock-left beside it belongs to the section of the reverser 'R1'"
        in (finding.message)
    )
    assert finding.where[0].line == 7


def test_a_live_frog_fed_from_outside_is_a_short_already():
    text = (INSIDE % ("main.A", "main.B")).replace("live-frog-bonded", "live-frog")
    assert gear(text) == {}
    assert {f[0] for f in found(text)} == {"pole-short"}


def test_a_reverser_may_feed_a_frog_or_the_frogs_of_a_diamond():
    """Either is in use as a frog's polarity unit. Source: common practice, no published source."""
    turnout = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {T1: {kind: live-frog-bonded, hand: left}}
reversers: {R1: {from: main, mode: automatic}}
feeds: [{to: T1, from: main}, {to: T1, from: R1, A: frog}]
"""
    assert found(turnout) == set()
    diamond = turnout.replace("{T1: {kind: live-frog-bonded, hand: left}}", "{T1: {kind: diamond-live}}")
    diamond = diamond.replace("{to: T1, from: main}", "{to: T1, from: main, A: outer-left, B: outer-right}")
    assert found(diamond.replace("A: frog}", "A: frog-b, B: frog-a}")) == set()


HALF = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 1 m}
  near: {length: 1 m}
  far: {length: 1 m}
  T1: {kind: live-frog-bonded, hand: left}
  siding: {length: 1 m}
reversers: {R1: {from: main, mode: automatic}, R2: {from: main, mode: automatic}}
joints:
  - {from: line, to: near, insulate: both}
  - {from: near, to: far, insulate: right}
  - {from: far, to: T1.toe, insulate: both}
  - {from: T1.through, to: siding, insulate: %s}
feeds: [{to: line}, {to: near, from: R1}, {to: T1}, {to: T1, from: R2, A: frog}, {to: siding%s}, %s]
"""


def half(far: str, siding: str = "both") -> set[tuple[str, str]]:
    """What is found, the far track and the frog fed so."""
    return {key[:2] for key in found(HALF % (siding, "" if siding == "both" else ", B: right", far))}


def test_a_reverser_on_one_rail_alone():
    """`far` has its left rail from `near`, which R1 feeds: its right rail must have the other output of R1."""
    assert half("{to: far, from: R1, B: right}") == set()
    assert half("{to: far, from: main, B: right}") == {("reverser-one-rail", "far")}
    assert half("{to: far, from: R2, B: right}") == {("reverser-one-rail", "far"), ("reversers-abut", "near/far")}
    # a pole that cannot be right either way is dead track
    assert ("reverser-one-rail", "far") not in half("{to: far, from: R1, A: right}")


def test_a_rail_beyond_a_frog_that_a_reverser_feeds_is_no_section():
    """R2 stands in for a frog unit: the left rail of the siding hangs on the frog, its right rail on the bus."""
    assert half("{to: far, from: R1, B: right}", "none") == set()


BLADES = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 1 m}
  inside: {length: 2 m}
  T1: {kind: %s, hand: left}
reversers: {R1: {from: main, mode: automatic}}
joints: [{from: line, to: T1.toe}, {from: T1.through, to: inside, insulate: both}]
feeds: [{to: line}, {to: inside, from: R1}]
"""
WEAK = {("reverser-fed-by-blades", "T1.through/inside"): [{"T1": "through"}]}


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("live-frog", WEAK),
        ("insulated-frog", WEAK),
        ("insulated-frog, jumpers: true", {}),
        ("isolated-metal-frog", {}),
    ],
)
def test_a_near_side_fed_through_blades_alone(kind, expected):
    assert gear(BLADES % kind) == expected


def test_a_contact_beside_the_blades_is_enough():
    text = BLADES % "live-frog"
    contact = "machines: {T: {throws: T1, contacts: {f: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}}\n"
    assert gear(text + contact) == {}


def test_the_far_side_too_needs_more_than_blades():
    """A turnout inside the section, right behind the gap."""
    text = BLADES.replace("{to: line}, {to: inside, from: R1}", "{to: line, from: R1}, {to: inside}") % "live-frog"
    assert gear(text) == WEAK
    assert "T1.frog at the joint 'T1.through/inside' has its pole over blades alone" in only(text).message


# ---- detectors

DETECTORS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}, other: {type: dcc, voltage: 15 V}}
track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}}
reversers: {R1: {from: main, mode: automatic}}
components:
  D1: {kind: detector, from: main.A, to: a.left}
  D2: {kind: detector, from: %s, to: %s}
  D3: {kind: detector, from: main.A, to: c.left}
wires: [{from: main.B, to: a.right}, {from: main.B, to: c.right}%s]
"""


@pytest.mark.parametrize(
    ("pole", "rail", "wire", "expected"),
    [
        ("main.A", "b.left", "{from: main.B, to: b.right}", {}),
        ("main.B", "b.right", "{from: main.A, to: b.left}", {("detectors-apart", "D2"): [{}]}),
        ("other.B", "b.right", "{from: other.A, to: b.left}", {}),  # another supply may have its own custom
        ("R1.B", "b.right", "{from: R1.A, to: b.left}", {}),  # a reversing section changes its poles
    ],
)
def test_detectors_in_one_rail(pole, rail, wire, expected):
    assert gear(DETECTORS % (pole, rail, f", {wire}")) == expected


def test_the_fewer_detectors_are_named():
    text = DETECTORS % ("main.B", "b.right", ", {from: main.A, to: b.left}")
    assert only(text).message == "the detector 'D2' is in a wire of pole B, but 'D1', 'D3' are in one of pole A"
    text = text.replace("{kind: detector, from: main.A, to: a.left}", "{kind: fuse, from: main.A, to: a.left}")
    assert only(text).subject == "D2"  # one of each: that of pole B
    assert "but 'D3' is in one of pole A" in only(text).message

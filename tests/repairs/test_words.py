"""What a person reads of mistakes that were once named wrongly, each beside its right twin."""

from __future__ import annotations

import re
from typing import NamedTuple

import pytest

import netlister
from netlister.formats.text import render
from netlister.source import UnusableError
from tests.properties.reference import load, reference
from tests.repairs import right
from tests.repairs.obey import edits_of, obeyed, told


class Case(NamedTuple):
    """A right layout, what is written wrongly in it, what must be said and what must not."""

    right: str
    old: str
    new: str
    said: tuple[str, ...]
    never: tuple[str, ...] = ()


STOCK_SWAP = "f2: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}"
UNIT = """\
format: netlister/1
supplies: {north: {type: dcc, voltage: 15 V, trip: 3 A}, south: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  a: {length: 1 m}
  b: {length: 1 m}
  c: {length: 1 m}
  d: {length: 1 m}
  T1: {kind: live-frog-bonded, hand: right}
frog-units: {U1: {feeds: T1.frog, from: north}}
joints:
  - {from: a, to: T1.toe}
  - {from: T1.through, to: b, insulate: both}
  - {from: T1.diverging, to: c, insulate: both}
  - {from: b, to: d, insulate: both}
feeds:
  - {to: [a, b, c], from: north}
  - {to: d, from: south}
"""
JUMPERS = right.STUB.replace(
    "kind: live-frog, hand: right}", "kind: live-frog, hand: right, jumpers: true, links: cut}"
)
STRIP = (
    right.DISTRICTS.replace("  - {to: ramp, from: hill}\n", "")
    + """\
plugs: {J1: {pins: {1: [hill.A, TB.1], 2: [hill.B, TB.2]}}}
wires: [{from: TB.1, to: ramp.left}, {from: TB.2, to: ramp.right}]
"""
)
DISTRICT_UNIT = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses: {town: {supply: main, breaker: 3 A}, port: {supply: main, breaker: 3 A}}
track: {T1: {kind: live-frog-bonded, hand: right}}
frog-units: {U1: {feeds: T1.frog, from: town}}
feeds: [{to: T1, from: town}]
"""
DISTRICT_PLUG = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses: {town: {supply: main, breaker: 3 A}, port: {supply: main, breaker: 3 A}}
track: {street: {length: 1 m}, quay: {length: 1 m}}
joints: [{from: street, to: quay, insulate: both}]
feeds: [{to: street, from: port}]
plugs: {J1: {pins: {1: [town.A, TB.1], 2: [town.B, TB.2]}}}
wires: [{from: TB.1, to: quay.left}, {from: TB.2, to: quay.right}]
"""
METAL_BUFFER = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
track: {siding: {length: 1 m}, stop: {kind: buffer-metal}}
joints: [{from: siding, to: stop, insulate: both}]
feeds: [{to: siding}]
"""
CASES = {
    "a frog's contact wired to another frog": Case(
        right.BONDED,
        STOCK_SWAP,
        "f2: {common: T2.frog, through: T1.frog, diverging: T2.stock-left}",
        ("contact 'f2' of 'M1': through is wired to T1.frog", "help: wire through to T2.stock-right"),
        ("swap the two wires of the feed", "on the wrong pole"),
    ),
    "fed track is not said to have no feed": Case(
        right.PASSING,
        "{from: T1.through, to: pass, insulate: vee}",
        "{from: T1.through, to: pass}",
        ("'T1.through/pass' is metal where it must be insulated",),
        ("nothing feeds", "no feed"),
    ),
    "jumpers fitted and links not cut": Case(
        JUMPERS,
        ", links: cut",
        "",
        ("the hidden links of 'T1' are left in", "cut the hidden links of 'T1'", "take off the jumpers of 'T1'"),
    ),
    "a joint missing beside a plug": Case(
        right.BOARDS,
        "{from: T1.through, to: far, insulate: both}",
        "{from: T1.through, to: far}",
        ("the joint 'T1.through/far' is metal where it must be insulated",),
        ("pin", "exchange"),
    ),
    "a pin of its own district": Case(
        STRIP,
        ", 2: [hill.B, TB.2]",
        "",
        ("the plug 'J1' has no pin for TB.2", "add a pin that joins hill.B to TB.2"),
        ("town", "main.B"),
    ),
    "a loop fed from the bus and from its reverser": Case(
        right.LOOP,
        "  - {to: loop, from: R1}\n",
        "  - {to: loop, from: R1}\n  - {to: loop}\n",
        ("'loop' is fed from 'main' as well as from 'R1'", "take out the feed of 'loop' from 'main'"),
        ("insulate",),
    ),
    "a frog unit on another booster": Case(
        UNIT,
        "{feeds: T1.frog, from: north}",
        "{feeds: T1.frog, from: south}",
        ("the frog unit 'U1' is fed from 'south', and its turnout from 'north'", "feed 'U1' from 'north'"),
    ),
    "a frog unit on another district": Case(
        DISTRICT_UNIT,
        "{feeds: T1.frog, from: town}",
        "{feeds: T1.frog, from: port}",
        ("the frog unit 'U1' is fed from 'port', and its turnout from 'town'", "help: feed 'U1' from 'town'"),
        ("has no contact", "give T1.frog a changeover contact"),
    ),
    "a metal buffer in front of which nothing is cut": Case(
        METAL_BUFFER,
        ", insulate: both",
        "",
        ("help: insulate 'siding/stop': write 'insulate: both' there",),
        ("insulate: left", "insulate: right"),
    ),
    "a pin of the neighbouring district": Case(
        DISTRICT_PLUG,
        "2: [town.B, TB.2]",
        "2: [port.B, TB.2]",
        ("pin 2 of the plug 'J1' is wired to port.B: wire it to town.B",),
        ("no feed of its own", "take this wire out"),
    ),
    "two frogs on one contact": Case(
        right.BONDED + "wires: []\n",
        "      " + STOCK_SWAP + "\n",
        "",
        (
            "feeds two frogs through one contact, and they need unlike poles",
            "take this wire out and give T2.frog a contact of its own that moves with 'M1'",
        ),
    ),
    "a dc switch on the wrong rail": Case(
        right.CABS, "common: middle.left", "common: middle.right", ("wire the common to middle.left",), ("insulate",)
    ),
    "a forgotten common": Case(
        right.CABS,
        ", common: cab1.B}",
        "}",
        ("no common return is written", "write 'common: cab1.B' at 'cab2'"),
        ("common: cab1.A",),
    ),
    "a loop left metal inside its reverser": Case(
        right.LOOP,
        "{from: T1.right, to: loop, insulate: both}",
        "{from: T1.right, to: loop}",
        ("help: insulate 'T1.right/loop': write 'insulate: both' there",),
    ),
    "a loop without cuts and reverser": Case(
        right.LOOP,
        "reversers:\n  R1: {from: main, mode: automatic}\n",
        "",
        ("feed 'loop' from a reverser", "must fit between 'T1.right/loop' and 'loop/T1.left'"),
    ),
    "a triangle without reverser": Case(
        right.TRIANGLE,
        "reversers:\n  R1: {from: main, mode: automatic}\n",
        "",
        ("feed 'tail' from a reverser", "must fit between 'arm-w/TS.left' and 'arm-e/TS.right'"),
    ),
    "a jumper forgotten": Case(
        right.JUMPERS,
        ", jumpers: true",
        "",
        ("'T1' has no jumpers", "fit the jumpers of 'T1', then write 'jumpers: true' there"),
        ("frog", "insulate"),
    ),
    "a jumper forgotten where nothing is expected": Case(
        right.JUMPERS.split("expect")[0],
        ", jumpers: true",
        "",
        ("fit the jumpers of 'T1'",),
        ("frog", "insulate"),
    ),
    "track dead by a section switch": Case(
        right.SWITCHED,
        "  - {track: shed, is: dead, when: {S1: off}}\n",
        "",
        ("'shed' is dead in some positions of 'S1'", "feed it past the switch"),
        ("frog",),
    ),
    "a wrong hand": Case(
        right.STUB,
        "hand: right",
        "hand: left",
        ("is it the other hand? look at the turnout; if it is so, write 'hand: right' at 'T1'",),
    ),
    "a wrong straight": Case(
        right.TURNTABLE,
        "straight: [s1, s2]",
        "straight: [s1-turned, s2-turned]",
        ("'ring' stands straight where it must be crossed", "let it stand straight at s1 and s2 of 'TT'"),
    ),
    "one track of a wrong straight": Case(
        right.TURNTABLE,
        "straight: [s1, s2]",
        "straight: [s1, s2-turned]",
        ("let it stand straight at s1 and s2 of 'TT'",),
    ),
}
MORE = {
    "two frogs on one contact": ("wires: []", "wires: [{from: T1.frog, to: T2.frog}]"),
    "a loop without cuts and reverser": ("  - {to: loop, from: R1}\n", ""),
    "a triangle without reverser": ("  - {to: tail, from: R1}\n", "  - {to: tail}\n"),
}


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("name", CASES)
def test_what_is_said(name: str) -> None:
    case = CASES[name]
    assert case.right.count(case.old) == 1
    wrong = case.right.replace(case.old, case.new)
    if name in MORE:
        wrong = wrong.replace(*MORE[name])
    said = flat(render(netlister.check_text(wrong)))
    assert all(words in said for words in case.said), said
    helps = " ".join(re.findall(r"(?:help|or): .*", render(netlister.check_text(wrong))))
    assert not any(words in helps for words in case.never), said


@pytest.mark.parametrize("name", CASES)
def test_of_the_right_twin_nothing_of_the_kind_is_said(name: str) -> None:
    case = CASES[name]
    said = flat(netlister.check_text(case.right).to_text())
    assert not any(words in said for words in case.said), said
    assert "error" not in said, said


@pytest.mark.parametrize("piece", ["yes", "1", "a b", "on", "x,y", "null", "north: east"])
def test_names_paste_back(piece: str) -> None:
    quoted = f'"{piece}"'
    text = right.STUB.replace("siding", quoted)
    assert not netlister.check_text(text).findings
    wrong = text.replace(f"  - {{to: {quoted}}}\n", "")
    report, said = told(wrong)
    cure = report.causes[1].repairs[0].say
    entry = cure.split("add the feed ")[1]
    assert not netlister.check_text(wrong + f"  - {entry}\n").findings, cure
    assert not reference(load(obeyed(wrong, edits_of(said["causes"][0]["repairs"][0]))))


def test_a_pole_is_called_by_its_bus() -> None:
    text = right.CROSSOVER.replace("track:\n", "buses: {ring: {supply: main}}\ntrack:\n", 1)
    wrong = text.replace(
        "{to: [nw, ne], A: left, B: right}", "{to: [nw], A: right, B: left}\n  - {to: ne, A: left, B: right}"
    )
    says = [c.say for cause in netlister.check_text(wrong).causes.values() for r in cause.repairs for c in r.choices]
    assert any("ring.A to nw.left" in say for say in says), says
    assert not any("main." in say for say in says), says


def test_an_example_of_expect_pastes_back() -> None:
    text = right.SWITCHED.split("expect")[0]
    said = flat(render(netlister.check_text(text)))
    entries = re.findall(r"add (\{track.*?\}\}) under", said)
    assert len(entries) == 2
    try:
        report = netlister.check_text(text + "expect:\n" + "".join(f"  - {entry}\n" for entry in entries))
    except UnusableError as error:
        pytest.fail(str(error.faults))
    assert not report.findings

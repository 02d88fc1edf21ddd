"""Every kind of choice that `mend` has, in a layout of its own: each repair obeyed and enumerated, written, and kept from.

The layouts are invented; the mistake is one text for another.
"""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

import netlister
from netlister.cli.main import group
from netlister.edits.patch import TextEdit, apply_edits
from tests.propose.bare import wrong_by_enumeration

LINKS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  mill: {length: 600 mm}
  quay: {length: 600 mm}
  T1: {kind: insulated-frog, hand: left, jumpers: true}   # links fitted
  shed: {length: 400 mm}
joints:
  - {from: mill, to: T1.toe}
  - {from: T1.through, to: quay}
  - {from: T1.diverging, to: shed}
feeds:
  - {to: mill}
expect:
  - {track: [quay, shed], is: live}
"""

HAND = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  mill: {length: 600 mm}
  quay: {length: 600 mm}
  T1: {kind: live-frog, hand: left}   # Y by the gate
  shed: {length: 400 mm}
machines:
  M1:
    throws: [T1]
    contacts:
      frog:
        common: T1.frog
        through: T1.stock-left
        diverging: T1.stock-right
joints:
  - {from: mill, to: T1.toe}
  - {from: T1.through, to: quay, insulate: left}
  - {from: T1.diverging, to: shed, insulate: right}
feeds:
  - {to: [mill, quay, shed]}
"""

PLUG = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  left-board: {length: 1 m}
  right-board: {length: 1 m}
joints:
  - {from: left-board, to: right-board, insulate: both}
feeds:
  - {to: left-board}
wires:
  - {from: main.A, to: P.in1}
  - {from: main.B, to: P.in2}
  - {from: P.out1, to: right-board.left}
  - {from: P.out2, to: right-board.right}
plugs:
  D9:
    pins:
      1: [P.in1, P.out1]
      2: [P.in2, P.out2]
"""

DISTRICTS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  main: {supply: main, wire: 2.5 mm2, length: 4 m}
  west: {from: main, at: 1 m, wire: 2.5 mm2, length: 2 m}
  east: {from: main, at: 3 m, wire: 2.5 mm2, length: 2 m}
track:
  a: {length: 1 m}
  b: {length: 1 m}
  c: {length: 1 m}
  d: {length: 1 m}
joints:
  - {from: a, to: b}
  - {from: b, to: c, insulate: both}
  - {from: c, to: d}
feeds:
  - {to: a, from: west, tap: 1 m}
  - {to: c, from: east, tap: 1 m}
"""

LOOP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: loop, from: R1}
"""

LOOP_DC = """\
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: cab, follows: M1, straight: [right]}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: loop, from: R1}
"""

MEANT = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  mill: {length: 600 mm}
  quay: {length: 600 mm}
  T1: {kind: insulated-frog, hand: left}
  shed: {length: 400 mm}
joints:
  - {from: mill, to: T1.toe}
  - {from: T1.through, to: quay}
  - {from: T1.diverging, to: shed}
feeds:
  - {to: mill}
expect:
  - {track: shed, is: dead, when: {T1: through}}
  - {track: quay, is: dead, when: {T1: diverging}}
"""

VEE = HAND.replace("insulate: left", "insulate: vee").replace("insulate: right", "insulate: vee")

CASES = {
    "option": (LINKS, "jumpers: true", "jumpers: false", "T1"),
    "hand": (HAND, "hand: left", "hand: right", "T1"),
    "throws": (
        HAND,
        "through: T1.stock-left\n        diverging: T1.stock-right",
        "through: T1.stock-right\n        diverging: T1.stock-left",
        "M1.frog",
    ),
    "common": (HAND, "common: T1.frog", "common: quay.right", "M1.frog"),
    "plug": (
        PLUG,
        "1: [P.in1, P.out1]\n      2: [P.in2, P.out2]",
        "1: [P.in1, P.out2]\n      2: [P.in2, P.out1]",
        "D9",
    ),
    "wire": (PLUG, "to: right-board.right", "to: left-board.right", "right-board"),
    "district-feed": (
        DISTRICTS,
        "{to: c, from: east, tap: 1 m}",
        "{to: c, from: east, A: right, B: left, tap: 1 m}",
        "c",
    ),
    "rev-feed": (LOOP, "{to: loop, from: R1}", "{to: loop, from: main}", "loop"),
    "rev-joint": (LOOP, "to: T1.left, insulate: both", "to: T1.left, insulate: right", "loop/T1.left"),
    "rev-straight": (LOOP_DC, "straight: [right]", "straight: [left]", "R1"),
    "expect": (
        MEANT,
        "track: shed, is: dead, when: {T1: through}",
        "track: shed, is: dead, when: {T1: diverging}",
        "shed",
    ),
    "expect-wiring": (
        MEANT,
        "{kind: insulated-frog, hand: left}",
        "{kind: insulated-frog, hand: left, jumpers: true}",
        "T1",
    ),
    "hand-vee": (VEE, "hand: left", "hand: right", "T1"),
    "feed-missing": (HAND, "to: [mill, quay, shed]", "to: [mill, quay]", "quay"),
    "feed-swapped": (
        DISTRICTS,
        "{to: a, from: west, tap: 1 m}",
        "{to: a, from: west, A: right, B: left, tap: 1 m}",
        "a",
    ),
}
"""By name the right layout, a text in it, the mistake in its place, and what shall be kept as it is."""

UNDONE = {
    "option", "hand", "hand-vee", "throws", "common", "plug", "rev-feed", "rev-joint", "rev-straight", "expect",
}  # fmt: skip
"""Where the mistake is the least there is, one of the repairs gives back the file as it was, byte by byte."""


def run(*arguments):
    return CliRunner().invoke(group, ["mend", *map(str, arguments)])


def edited(text, repair):
    edits = [edit for change in repair["changes"] for edit in change["edits"]]
    return apply_edits(text, [TextEdit(e["file"], *e["start"].values(), *e["end"].values(), e["text"]) for e in edits])


@pytest.mark.parametrize("name", CASES)
def test_each_repair_of_each_choice(name, tmp_path):
    right, there, mistake, keep = CASES[name]
    assert right.count(there) == 1
    assert not wrong_by_enumeration(right)
    assert not [f for f in netlister.check_text(right).findings if f.severity.label == "error"]
    wrong = right.replace(there, mistake)
    path, out = tmp_path / "wrong.yaml", tmp_path / "mended.yaml"
    path.write_text(wrong, encoding="utf-8")
    found = json.loads(run(path, "--format", "json").stdout)
    assert found["least"]
    assert found["repairs"][0]["weight"] == min(repair["weight"] for repair in found["repairs"])
    texts = [edited(wrong, repair) for repair in found["repairs"]]
    assert texts
    for number, text in enumerate(texts, 1):
        assert not wrong_by_enumeration(text), text
        done = run(path, "--choose", number, "-o", out)
        assert done.exit_code == 0, done.output
        assert out.read_text(encoding="utf-8") == text
    assert (right in texts) == (name in UNDONE)
    kept = run(path, "--keep", keep, "--format", "json")
    repairs = json.loads(kept.stdout)["repairs"]
    assert kept.exit_code == (0 if repairs else 1)
    for repair in repairs:
        text = edited(wrong, repair)
        assert mistake in text
        assert not wrong_by_enumeration(text)
    assert path.read_text(encoding="utf-8") == wrong
    assert run(path, "--write").exit_code == 0
    assert path.read_text(encoding="utf-8") == texts[0]
    assert (tmp_path / "wrong.yaml.orig").read_text(encoding="utf-8") == wrong

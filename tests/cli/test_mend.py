"""`netlister mend`: shows a difference first, writes only what was checked as written."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

import netlister
import netlister.mend
from netlister.cli.main import group
from netlister.edits.patch import TextEdit, apply_edits
from tests.propose.bare import wrong_by_enumeration
from tests.unit.repairs.test_cures import CROSSOVER

WRONG = CROSSOVER.replace("diverging, insulate: both", "diverging").replace("[nw, ne]", "[nw]")


def run(*arguments):
    return CliRunner().invoke(group, ["mend", *map(str, arguments)])


def test_a_difference_is_shown_and_nothing_written(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    done = run(path)
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("--- ")
    assert "+  - {from: T1.diverging, to: T2.diverging, insulate: both}" in done.stdout
    assert path.read_text(encoding="utf-8") == WRONG
    assert list(tmp_path.iterdir()) == [path]


def test_it_is_written_over_the_file_and_is_right(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    done = run(path, "--write")
    assert done.exit_code == 0, done.output
    assert netlister.check_file(str(path)).findings == ()
    assert (tmp_path / "wrong.yaml.orig").read_text(encoding="utf-8") == WRONG


def test_what_is_to_be_kept_is_kept(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(CROSSOVER.replace("[nw, ne]", "[nw]"), encoding="utf-8")
    found = json.loads(run(path, "--format", "json", "--keep", "ne").stdout)
    said = [change["say"] for repair in found["repairs"] for change in repair["changes"]]
    assert all("{to: ne" not in say for say in said)
    assert run(path, "--keep", "nowhere").exit_code == 2


def test_json(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    found = json.loads(run(path, "--format", "json").stdout)
    assert found["format"] == "netlister-repairs/1"
    assert found["least"] is True
    assert found["repairs"][0]["weight"] == 2
    assert found["repairs"][0]["left"] == []
    assert all(change["edits"] for change in found["repairs"][0]["changes"])


def test_a_right_layout_has_nothing_to_mend(tmp_path):
    path = tmp_path / "right.yaml"
    path.write_text(CROSSOVER, encoding="utf-8")
    done = run(path)
    assert (done.exit_code, done.output) == (0, "nothing to mend\n")


SWAPPED = CROSSOVER.replace(
    "{to: [nw, ne], A: left, B: right}", "{to: nw, A: left, B: right}\n  - {to: ne, A: right, B: left}"
)
"""One feed is the other way round than the other: two joints could be cut in its place, or either feed swapped."""


def offered(path):
    """The repairs that JSON offers, as texts that its edits give, with what is left of each by plain enumeration."""
    text = path.read_text(encoding="utf-8")
    found = json.loads(run(path, "--format", "json").stdout)
    assert set(found) == {"format", "layout", "least", "repairs"}
    for repair in found["repairs"]:
        assert set(repair) == {"weight", "changes", "left"}
        edits = []
        for change in repair["changes"]:
            assert {"say", "where", "edits"} <= set(change)
            assert {"file", "line", "column"} <= set(change["where"])
            edits += [TextEdit(e["file"], *e["start"].values(), *e["end"].values(), e["text"]) for e in change["edits"]]
        yield apply_edits(text, edits)


def test_each_repair_to_choose_from_is_right_and_written_as_json_has_it(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(SWAPPED, encoding="utf-8")
    texts = list(offered(path))
    assert len(texts) >= 1
    for number, text in enumerate(texts, 1):
        assert not wrong_by_enumeration(text), text
        out = tmp_path / f"mended-{number}.yaml"
        done = run(path, "--choose", number, "-o", out)
        assert done.exit_code == 0, done.output
        assert out.read_text(encoding="utf-8") == text
    assert path.read_text(encoding="utf-8") == SWAPPED
    done = run(path, "--choose", len(texts) + 1)
    assert done.exit_code == 2
    assert "to choose from" in done.output


def test_to_standard_output(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text(SWAPPED, encoding="utf-8")
    done = run(path, "-o", "-")
    assert done.exit_code == 0
    assert done.stdout == next(iter(offered(path)))


def test_no_more_changes_than_allowed(tmp_path):
    """Two mistakes take two changes; with one allowed it says so, and ends with 1."""
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    done = run(path, "--at-most", 1)
    assert done.exit_code == 1
    assert "NOT mended" in done.output
    assert run(path, "--at-most", 2).exit_code == 0


def test_what_changed_meanwhile_is_not_written_over(tmp_path, monkeypatch):
    """Somebody saves the file in an editor while repairs are looked for: nothing of that is lost."""
    path = tmp_path / "wrong.yaml"
    path.write_text(WRONG, encoding="utf-8")
    found = netlister.mend.mend

    def slowly(*arguments):
        done = found(*arguments)
        path.write_text(WRONG + "# a note\n", encoding="utf-8")
        return done

    monkeypatch.setattr("netlister.mend.mend", slowly)
    done = run(path, "--write")
    assert done.exit_code == 1
    assert path.read_text(encoding="utf-8") == WRONG + "# a note\n"
    assert list(tmp_path.iterdir()) == [path]


def test_the_kinds_that_it_uses_changed_meanwhile(tmp_path, monkeypatch):
    """Somebody changes a file of kinds while repairs are looked for: what is written was proved with the new one."""
    example = Path(__file__).parents[2] / "examples" / "second-hand"
    (tmp_path / "kinds").mkdir()
    kinds = (example / "kinds" / "half-linked.yaml").read_text(encoding="utf-8")
    used = tmp_path / "kinds" / "half-linked.yaml"
    used.write_text(kinds, encoding="utf-8")
    text = (example / "layout.yaml").read_text(encoding="utf-8").replace("{to: coal, B: right}", "{to: coal, A: right}")
    path = tmp_path / "layout.yaml"
    path.write_text(text, encoding="utf-8")
    found = netlister.mend.mend

    def slowly(*arguments):
        done = found(*arguments)
        used.write_text(kinds.replace("bonds: [[", "bonds: [[stock-right, stock-left], ["), encoding="utf-8")
        return done

    monkeypatch.setattr("netlister.mend.mend", slowly)
    done = run(path, "--write")
    assert done.exit_code == 1
    assert "is not what the repair was proved to be" in done.output
    assert path.read_text(encoding="utf-8") == text
    assert not list(tmp_path.glob("*.orig"))


HAND = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  mill: {length: 600 mm}
  quay: {length: 600 mm}
  T1: {kind: live-frog, hand: HAND}   # by the gate
  shed: {length: 400 mm}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
joints:
  - {from: mill, to: T1.toe}
  - {from: T1.through, to: quay, insulate: left}
  - {from: T1.diverging, to: shed, insulate: right}
feeds:
  - {to: [mill, quay, shed]}
"""


def test_the_hand_alone_is_the_least_where_joints_and_contact_are_written_for_it(tmp_path):
    """The short goes over joints that are metal only since the hand is wrong; three changes in their place are more."""
    path = tmp_path / "hand.yaml"
    path.write_text(HAND.replace("HAND", "right"), encoding="utf-8")
    assert list(offered(path)) == [HAND.replace("HAND", "left")]
    kept = json.loads(run(path, "--format", "json", "--keep", "T1").stdout)
    assert [len(repair["changes"]) for repair in kept["repairs"]] == [3]


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


def test_nothing_that_is_for_nothing_stands_in_a_repair(tmp_path):
    path = tmp_path / "meant.yaml"
    path.write_text(MEANT.replace("shed, is: dead, when: {T1: through}", "shed, is: dead, when: {T1: diverging}"))
    assert list(offered(path)) == [MEANT]


def test_what_may_be_meant_is_told_with_what_to_do(tmp_path):
    path = tmp_path / "dead.yaml"
    path.write_text(MEANT[: MEANT.index("expect:")], encoding="utf-8")
    done = run(path)
    assert done.exit_code == 0
    assert "only you know whether it is meant" in done.output
    assert "no train can run on 'shed'" in done.output
    assert "under 'expect'" in done.output


BUS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
buses: {main: {supply: main, wire: 2.5 mm2, length: 6 m}}
track:
  quay: {length: 2 m}
  shed: {length: 2 m}
joints:
  - {from: quay, to: shed, insulate: both}
feeds:
  - {to: quay, tap: 2 m}
"""


def test_a_feed_that_was_forgotten_is_written_with_a_tap(tmp_path):
    """On a bus with a length a feed without a tap is a warning; here it is tapped where the one beside it is."""
    path = tmp_path / "bus.yaml"
    path.write_text(BUS, encoding="utf-8")
    done = run(path, "--write")
    assert done.exit_code == 0, done.output
    assert path.read_text(encoding="utf-8") == BUS + "  - {to: shed, A: left, B: right, tap: 2 m}\n"
    assert netlister.check_file(path).findings == ()


TURNED = BUS.replace("  - {to: quay, tap: 2 m}", "  - {to: quay}\n  - {to: shed, A: right}\n  - {to: shed, A: left}")


def test_what_is_said_of_the_text_alone_does_not_keep_a_repair_from_being_written(tmp_path):
    """Feeds without a tap are told when the text is read; a feed that is written anew may have one."""
    path = tmp_path / "turned.yaml"
    path.write_text(TURNED, encoding="utf-8")
    done = run(path, "--write")
    assert done.exit_code == 0, done.output
    assert not [f for f in netlister.check_file(path).findings if f.severity.label == "error"]


CROSSING = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  west: {length: 1 m}
  T1: {kind: live-frog, hand: left}
  quay: {length: 1 m}
  D1: {kind: diamond-live, set: {1: {T1: diverging}, 2: {T1: through}}}
  mill: {length: 1 m}
  north: {length: 1 m}
  south: {length: 1 m}
machines:
  M1:
    throws: [T1]
    contacts:
      frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}
      one:  {common: D1.frog-a, through: D1.outer-left, diverging: D1.outer-right}
      two:  {common: D1.frog-b, through: D1.outer-right, diverging: D1.outer-left}
joints:
  - {from: west, to: T1.toe}
  - {from: T1.through, to: quay, insulate: vee}
  - {from: T1.diverging, to: D1.a1, insulate: both}
  - {from: D1.b1, to: mill, insulate: both}
  - {from: north.a, to: D1.a2, insulate: both}
  - {from: D1.b2, to: south, insulate: both}
feeds:
  - {to: [west, quay, mill, south]}
  - {to: north, A: right, B: left}
  - {to: D1, A: outer-left, B: outer-right}
"""


def test_an_open_throw_of_a_crossings_frog_is_wired(tmp_path):
    """Which pole it needs says the turnout that leads to the crossing, as `set` has it."""
    assert not wrong_by_enumeration(CROSSING)
    path = tmp_path / "crossing.yaml"
    for there in ("through: D1.outer-left, ", "through: D1.outer-right, "):
        path.write_text(CROSSING.replace(there, ""), encoding="utf-8")
        done = run(path, "--write")
        assert done.exit_code == 0, done.output
        assert netlister.check_file(path).findings == ()
        (tmp_path / "crossing.yaml.orig").unlink()

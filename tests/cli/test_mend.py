"""`netlister mend`: shows a difference first, writes only what was checked as written."""

from __future__ import annotations

import json

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


def test_a_feed_that_is_added_on_a_bus_with_a_length_is_written(tmp_path):
    """The new feed has no `tap`, of which the next check says so; that is no reason not to write it."""
    path = tmp_path / "wrong.yaml"
    text = CROSSOVER.replace("track:\n", "buses:\n  main: {supply: main, wire: 2.5 mm2, length: 6 m}\ntrack:\n", 1)
    path.write_text(text.replace("[nw, ne]", "[nw]"), encoding="utf-8")
    done = run(path, "--write")
    assert done.exit_code == 0, done.output
    assert {f.rule for f in netlister.check_file(str(path)).findings} == {"feed-without-tap"}

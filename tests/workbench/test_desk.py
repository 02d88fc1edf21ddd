"""The desk: what it judges, what it writes and what it leaves alone."""

from __future__ import annotations

import os
import stat
import threading
import time
from random import Random

import pytest

from netlister.workbench.model import AskError, StaleError
from tests.benchmarks.layouts import branch_line
from tests.properties.layouts import random_layout
from tests.workbench.desks import YARD, counted, desk_on, look, made, stepped, tried

METAL = {"do": "insulate", "joint": 1, "insulate": "none"}
SWAP = {"do": "swap-throws", "contact": 0}


def test_what_comes_and_goes_is_told(tmp_path):
    desk, file = desk_on(tmp_path)
    shown = tried(desk, **METAL)
    new = shown["verdict"]["new"]["rows"]
    assert {row["rule"] for row in new} >= {"pole-short"}
    assert all(row["severity"] in {"error", "warning", "note"} for row in new)
    made(desk, **METAL)
    back = tried(desk, do="insulate", joint=1, insulate="vee")
    assert {row["rule"] for row in back["verdict"]["gone"]["rows"]} == {row["rule"] for row in new}
    assert "+  - {from: T1.through, to: wharf, insulate: vee}" in back["difference"]
    assert "insulate: none" in file.read_text()


def test_take_back_and_make_again(tmp_path):
    desk, file = desk_on(tmp_path)
    with pytest.raises(AskError, match="nothing to take back"):
        stepped(desk, "undo")
    made(desk, **METAL)
    one = file.read_text()
    made(desk, **SWAP)
    two = file.read_text()
    assert stepped(desk, "undo")["written"]
    assert file.read_text() == one
    stepped(desk, "undo")
    assert file.read_text() == YARD
    stepped(desk, "redo")
    assert file.read_text() == one
    answer = stepped(desk, "redo")
    assert file.read_text() == two
    assert answer["verdict"]["after"] == counted(two)
    assert answer["desk"]["undo"] == 2
    assert answer["desk"]["redo"] == 0
    stepped(desk, "undo")
    made(desk, do="take-feed", feed=2)  # what was taken back is gone now
    with pytest.raises(AskError, match="nothing was taken back"):
        stepped(desk, "redo")


def test_a_file_that_others_changed_is_never_written_over(tmp_path):
    desk, file = desk_on(tmp_path)
    made(desk, **METAL)
    seen = desk.version
    theirs = file.read_text().replace("900 mm", "901 mm")
    file.write_text(theirs)
    for what in ("make", "undo"):  # before `watch` has seen it
        with pytest.raises(StaleError, match="changed meanwhile"):
            desk.answer({"version": seen, "what": what, "ask": SWAP})
        assert file.read_text() == theirs
    look(desk)
    for what in ("try", "make", "undo", "redo"):  # and after
        with pytest.raises(StaleError, match="changed meanwhile"):
            desk.answer({"version": seen, "what": what, "ask": SWAP})
    assert file.read_text() == theirs
    with pytest.raises(AskError, match="nothing to take back"):  # ours cannot be told from theirs any more
        stepped(desk, "undo")
    made(desk, **SWAP)
    assert "901 mm" in file.read_text()


def test_two_windows(tmp_path):
    """The second to write is told, and its change is not made of a text that it did not see."""
    desk, file = desk_on(tmp_path)
    seen = desk.version
    desk.answer({"version": seen, "what": "make", "ask": SWAP})
    one = file.read_text()
    with pytest.raises(StaleError):
        desk.answer({"version": seen, "what": "make", "ask": SWAP})
    assert file.read_text() == one


def test_writers_at_one_time(tmp_path):
    """Of many that write from one version, one does."""
    desk, file = desk_on(tmp_path)
    seen, done = desk.version, []

    def write(joint):
        try:
            desk.answer(
                {"version": seen, "what": "make", "ask": {"do": "insulate", "joint": joint % 4, "insulate": "both"}}
            )
            done.append(joint)
        except AskError:
            pass

    threads = [threading.Thread(target=write, args=(n,)) for n in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 1
    assert file.read_text().count("both") == 1


def test_a_look_that_is_late_puts_nothing_old_back(tmp_path):
    """`watch` reads, then a change is made, then what was read is put on the desk: the newer text stays there."""
    from netlister.check import check
    from netlister.layout.read import read_layout
    from netlister.source import read_source

    desk, file = desk_on(tmp_path)
    source = read_source(str(file), "layout.yaml")
    layout = read_layout(source, tmp_path)
    made(desk, **SWAP)
    desk.take(source, layout, check(layout))
    made(desk, **METAL)
    stepped(desk, "undo")
    stepped(desk, "undo")
    assert file.read_text() == YARD


def test_a_layout_from_a_netlist_is_changed_in_the_drawing(tmp_path):
    from netlister.circuit.build import build
    from netlister.layout.read import read_layout
    from netlister.skidl.netlist import kicad_netlist
    from netlister.source import Source

    text = kicad_netlist(build(read_layout(Source("layout.yaml", YARD))))
    desk, file = desk_on(tmp_path, text, "yard.net")
    assert "exported from a drawing" in desk.offers()["refused"]
    for what in ("try", "make", "undo"):
        with pytest.raises(AskError, match="exported from a drawing"):
            desk.answer({"version": desk.version, "what": what, "ask": METAL})
    assert file.read_text() == text


def test_a_file_with_faults_cannot_be_changed(tmp_path):
    desk, file = desk_on(tmp_path)
    desk.lose("mend it first")
    assert desk.offers()["refused"] == "mend it first"
    with pytest.raises(StaleError, match="mend it first"):
        tried(desk, **METAL)
    look(desk)
    made(desk, **METAL)
    assert "insulate: none" in file.read_text()


@pytest.mark.parametrize("what", ["folder", "pipe", "gone"])
def test_something_else_in_the_place_of_the_file(what, tmp_path):
    desk, file = desk_on(tmp_path)
    file.unlink()
    if what == "folder":
        file.mkdir()
    elif what == "pipe":
        os.mkfifo(file)
    for ask in (METAL, SWAP):
        with pytest.raises(AskError):
            made(desk, **ask)
    assert not file.is_file()


def test_line_ends_marks_and_permissions_stay(tmp_path):
    text = "\ufeff" + YARD.replace("\n", "\r\n")
    desk, file = desk_on(tmp_path, text)
    file.chmod(0o640)
    made(desk, **METAL)
    assert file.read_bytes().decode("utf-8") == text.replace("to: wharf, insulate: vee", "to: wharf, insulate: none")
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    stepped(desk, "undo")
    assert file.read_bytes().decode("utf-8") == text


def test_a_repair_as_the_check_has_it(tmp_path):
    text = YARD.replace(
        "through: T1.stock-right, diverging: T1.stock-left", "through: T1.stock-left, diverging: T1.stock-right"
    )
    desk, file = desk_on(tmp_path, text)
    look(desk, causes=True)
    causes = desk.offers()["causes"]
    assert any("swap the two throws" in say for say in causes["1"])
    number = next(n for n, say in enumerate(causes["1"]) if "swap the two throws" in say)
    shown = tried(desk, do="mend", cause=1, repair=number)
    assert shown["verdict"]["gone"]["rows"]
    made(desk, do="mend", cause=1, repair=number)
    assert file.read_text() == YARD


def test_all_mended_at_once(tmp_path):
    text = YARD.replace("wharf, insulate: vee", "wharf").replace("spur, insulate: vee", "spur")
    desk, file = desk_on(tmp_path, text)
    shown = tried(desk, do="mend-all")
    made(desk, do="mend-all")
    assert shown["verdict"]["after"] == counted(file.read_text())
    assert counted(file.read_text())[0] < counted(text)[0]


def test_a_wiring_is_proposed_and_written_only_if_right(tmp_path):
    bare = "".join(line for line in YARD.splitlines(keepends=True) if not line.startswith("  - {to:"))
    bare = bare.replace("feeds:\n", "").replace(", insulate: vee", "")
    desk, file = desk_on(tmp_path, bare)
    shown = tried(desk, do="propose", aim="all-live")
    assert shown["trouble"] == ""
    assert shown["verdict"]["after"][:2] == [0, 0]
    made(desk, do="propose", aim="all-live")
    assert counted(file.read_text())[:2] == [0, 0]
    stepped(desk, "undo")
    assert file.read_text() == bare
    with pytest.raises(AskError, match="no such aim"):
        tried(desk, do="propose", aim="cheapest")


def test_what_the_session_says_is_what_a_check_of_the_text_says(tmp_path):
    """On random layouts: the counts that are shown before anything is written, against a check of the new text."""
    from tests.edits.restyle import Restyle

    compared = 0
    for seed in range(4, 16):
        rng = Random(seed)
        desk, file = desk_on(tmp_path, Restyle(rng).text(random_layout(rng)), f"layout-{seed}.yaml")
        offers = desk.offers()
        asks = [
            *(
                {"do": "insulate", "joint": n, "insulate": rng.choice(["none", "left", "right", "both"])}
                for n in range(len(offers["joints"]))
            ),
            *({"do": do, "feed": n} for n in range(len(offers["feeds"])) for do in ("swap-feed", "take-feed")),
            *(
                {"do": do, "contact": n}
                for n in range(len(offers["contacts"]))
                for do in ("swap-throws", "take-contact")
            ),
            *({"do": "part", "joint": n} for n in range(len(offers["joints"]))),
        ]
        for ask in rng.sample(asks, min(4, len(asks))):
            old = file.read_text()
            try:
                shown = tried(desk, **ask)
            except AskError:
                continue
            try:
                made(desk, **ask)
            except AskError as error:
                assert "afresh" not in str(error), (seed, ask)
                continue
            assert shown["verdict"]["before"] == counted(old), (seed, ask)
            assert shown["verdict"]["after"] == counted(file.read_text()), (seed, ask)
            compared += 1
    assert compared > 15


def test_no_slower_than_a_check(tmp_path):
    """A change of 200 turnouts is judged in less time than a check of the file takes, another name in twice that."""
    desk, file = desk_on(tmp_path, branch_line(200))
    desk.warm()
    tried(desk, do="insulate", joint=0, insulate="both")

    def used(work, *given):
        start = time.process_time()
        work(*given)
        return time.process_time() - start

    def one(joint):
        tried(desk, do="insulate", joint=joint, insulate="both")

    whole = min(used(counted, file.read_text()) for _ in range(3))
    assert min(used(one, joint) for joint in (3, 6, 9)) < whole
    assert (
        min(used(lambda new: tried(desk, do="rename", old="T5", new=new), new) for new in ("x", "y", "z")) < 2 * whole
    )

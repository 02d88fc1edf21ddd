"""Terminal tables, list of materials, order of work, labels and workbook."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from base64 import b64decode
from collections import Counter
from pathlib import Path
from random import Random

import openpyxl
import pytest
from click.testing import CliRunner
from fontTools.ttLib import TTFont

from netlister.circuit.build import build
from netlister.circuit.colours import EARTH, colour_plan
from netlister.cli.main import group
from netlister.draw.plan import plan_svg
from netlister.layout.read import read_layout
from netlister.papers import labels, materials, schedule, steps, terminals
from netlister.papers.card import Cards
from netlister.papers.flat import flat
from netlister.papers.table import Table, html_table
from netlister.papers.workbook import bare, divided, workbook
from netlister.source import Source
from tests.draw.support import EXAMPLES, NASTY, ROOT, circuit, example
from tests.papers.rebuild import NEEDS_PDF
from tests.papers.test_card import SVG
from tests.properties.gear import random_gear
from tests.properties.layouts import dump


def run(*arguments):
    return CliRunner().invoke(group, [str(a) for a in arguments])


def layout_of(name):
    return str(ROOT / "examples" / name / "layout.yaml")


# -- terminals


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_wire_end_stands_once_in_the_terminal_tables(name):
    made = example(name).layout
    lines = schedule.schedule(made)
    rows = [row for table in terminals.tables(made, lines) for row in table.rows]
    found = Counter((row[2], row[1]) for row in rows)
    wanted = Counter((line.id, end) for line in lines for end in (line.start, line.end))
    assert found == wanted
    for row in rows:  # and the other end is the other end
        line = next(line for line in lines if line.id == row[2])
        assert {row[1], row[5].split(" ")[0]} == {line.start, line.end}


def test_where_a_wire_goes_is_told_as_in_the_schedule():
    """A bus from its supply to its far end, which has one name; where along a rail a feed is soldered."""
    made = example("one-frog").layout
    rows = [row for table in terminals.tables(made, schedule.schedule(made)) for row in table.rows]
    # typed from the file: bus main without a source of another name; to-summit fed 600 mm from its end a
    assert [row[5] for row in rows if row[2] == "B.main.A"] == ["main.A (far end)", "main.A (source)"]
    assert {row[5] for row in rows if row[2] == "F.to-summit@600.left"} == {
        "main.A",
        "to-summit.left 600 mm from its end a",
    }


@pytest.mark.parametrize("seed", range(30))
def test_and_by_board_of_random_layouts(seed):
    made = read_layout(Source("layout.yaml", dump(random_gear(Random(seed)))))
    lines = schedule.schedule(made)
    rows = [row for table in terminals.tables(made, lines) for row in table.rows]
    assert Counter((row[2], row[1]) for row in rows) == Counter(
        (line.id, end) for line in lines for end in (line.start, line.end)
    )


def test_both_halves_of_a_plug():
    made = example("ferry").layout
    tables = {t.title: t.rows for t in terminals.tables(made, schedule.schedule(made))}
    second = [row for row in tables["Board east"] if row[0] == "J1, half 2"]
    assert [(row[1], row[5]) for row in second] == [(f"J1.{k}", f"TE.{k}") for k in (1, 2, 3, 4)]
    assert [row[5] for row in tables["Board east"] if row[1] == "TE.3"] == [
        "PB1.coil.common",
        "PB2.coil.common",
        "J1.3 (half 2)",
    ]


def test_terminals_come_as_one_counts():
    wires = "".join(f"  - {{from: TB1.{k}, to: a.left}}\n" for k in (10, 2, 1))
    made = circuit(f"track: {{a: {{length: 1 m}}}}\nwires:\n{wires}").layout
    rows = [row for t in terminals.tables(made, schedule.schedule(made)) for row in t.rows if row[0] == "TB1"]
    assert [row[1] for row in rows] == ["TB1.1", "TB1.2", "TB1.10"]
    fed = circuit("track: {east1: {length: 1 m}, east: {length: 1 m}}\nfeeds: [{to: [east1, east]}]\n").layout
    blocks = [end.block for end in terminals.ends(fed, schedule.schedule(fed))]
    assert list(dict.fromkeys(blocks)) == ["east", "east1", "main"]


# -- sheets of cards on pages


def test_no_white_paper_hides_the_line_to_cut_along():
    """A sheet of a card begins where the one above it ends, with the line between them."""
    for sheet in Cards(example("one-frog")).sheets("T1"):
        drawn = re.search(r"base64,([^\"]+)", flat(bare(sheet), 136.1))
        filled = [rect for rect in ET.fromstring(b64decode(drawn[1])).iter(f"{SVG}rect") if rect.get("fill")]
        assert not filled


# -- materials


def counts(name):
    made = example(name).layout
    lines = schedule.schedule(made)
    return {t.title: t.rows for t in materials.materials(made, lines)}


def test_materials_against_a_count_by_hand_of_the_quarry_line():
    """examples/quarry-line: one turnout with vee joints at both legs; metal at its toe and between plain pieces."""
    found = counts("quarry-line")
    made = example("quarry-line").layout
    track = {row[1]: row[0] for row in found["Track"]}
    # typed from the file: 2 joints with `insulate: vee`, every other rail of every joint is metal
    assert track["insulated rail joiner"] == "2"
    assert track["metal rail joiner"] == str(2 * len(made.joints) - 2)
    wire = {(row[2], row[3]): (row[0], row[1]) for row in found["Wire"]}
    assert wire["4 mm2", "BN brown"] == ("11", "1")  # 10 m and 10 %
    assert wire["1.5 mm2", "BU blue"] == ("2.2", "1")  # 2 m and 10 %
    assert wire["0.5 mm2", "BN brown"] == ("2.2", "6")  # 250+300+600+300+250+250 = 1,950 mm and 10 % = 2.145 m
    assert found["Machines and switches, by the contacts they need"][0][1] == "switch machine, 1 changeover contact"


def test_materials_against_a_count_by_hand_of_the_ferry():
    """Counted by hand in examples/ferry/layout.yaml."""
    found = counts("ferry")
    track = {row[1]: row[0] for row in found["Track"]}
    # approach/T1 metal 2; T1.through vee 1+1; T1.diverging both 2; boards both 2; quay/T2 metal 2; two loop ends both 4
    assert (track["insulated rail joiner"], track["metal rail joiner"]) == ("9", "5")
    gear = {row[1]: row[0] for row in found["Protection, automatic gear and components"]}
    assert gear == {
        "breaker, 3 A, for a district": "1",
        "breaker, 2 A, for a district": "1",
        "automatic reverser": "1",
        "detector": "3",
        "load": "4",
    }
    assert ("1", "plug and socket, 4 pins, keyed", "J1") in found["Terminals and plugs"]
    machines = {row[1]: row[0] for row in found["Machines and switches, by the contacts they need"]}
    assert machines["switch machine (stall), 2 changeover contacts"] == "1"
    assert machines["push-button, 2 positions, 1 make contact"] == "2"


def test_materials_of_all_boards_are_those_of_the_whole():
    """The ferry stands on two boards, all of it but its buses and the half of the plug that is wired to them."""
    made = example("ferry").layout

    def counted(board):
        tables = materials.materials(made, schedule.schedule(made, board), board=board)
        return Counter(row[1] for t in tables if t.title != "Wire" for row in t.rows for _ in range(int(row[0])))

    of = {board: counted(board) for board in made.boards}
    assert of["west"]["Turnout with a live frog, all one piece, left"] == 1
    assert "automatic reverser" not in of["west"]
    assert "plug and socket, 4 pins, keyed" not in of["west"] | of["east"]
    assert of["east"]["half of a plug, 4 pins, keyed"] == 1
    whole = counted("")
    for what in ("breaker, 3 A, for a district", "breaker, 2 A, for a district", "plug and socket, 4 pins, keyed"):
        del whole[what]
    both = of["west"] + of["east"]
    del both["half of a plug, 4 pins, keyed"]
    assert both == whole


def test_the_card_of_a_plug_is_among_those_of_the_boards_of_both_its_halves():
    made = circuit("""
track: {a: {length: 1 m}, b: {length: 1 m}}
plugs: {P1: {pins: {1: [a.left, b.left]}}}
boards: {one: [a], two: [b]}
feeds: [{to: a}]
""")
    assert [Cards(made).on(board) for board in ("one", "two", "")] == [["P1"], ["P1"], ["P1", "main"]]


def test_a_share_for_waste_can_be_given():
    path = layout_of("quarry-line")
    assert "10 " in run("materials", path, "--allowance", "0 %").output
    assert run("materials", path, "--allowance", "much").exit_code == 2


# -- colours


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_plan_of_colours_has_one_for_each_pole(name):
    made = colour_plan(example(name).layout)
    chosen = [colour for key, colour in made.colours.items() if key not in made.stated]
    assert all(chosen)
    assert not set(chosen) & EARTH
    assert len(set(chosen)) == len(chosen)
    assert not set(chosen) & {colour for key in made.stated for colour, _ in made.stated[key]}


def test_each_district_has_colours_of_its_own():
    made = colour_plan(example("ferry").layout)
    by_id = {wire.run.id: wire.colour for wire in made.wires}
    assert by_id["F.approach.left"] == by_id["B.town.A"] != by_id["B.ferry.A"]
    assert by_id["B.town.B"] != by_id["B.ferry.B"] == by_id["F.T2.stock-right"]


# -- order of work


def test_every_wire_is_in_the_order_of_work_once():
    of = Cards(example("ferry"))
    said = [row[2] for table in steps.steps(of) for row in table.rows]
    for line in of.lines:
        assert len([t for t in said if t.startswith((f"{line.id}: ", f"solder {line.id} to "))]) == 1, line.id
    remarks = " ".join(steps.remarks(of))
    for word in ("licensed", "local code", "unplugged", "burns"):
        assert word in remarks


def test_a_cut_that_is_bridged_around_is_not_called_silent():
    """An oval with one insulated joint: its two sides beep to each other the long way round."""
    oval = """
track: {a: {length: 1 m}, b: {length: 1 m}, c: {length: 1 m}}
joints: [{from: a, to: b}, {from: b, to: c}, {from: c, to: a, insulate: left}]
feeds: [{to: a}]
"""
    said = [row[2] for table in steps.steps(Cards(circuit(oval))) for row in table.rows]
    assert any("c.left | a.left: look, since it beeps" in text for text in said)
    assert not any("no beep from c.left to a.left" in text for text in said)


def test_what_is_altered_comes_before_what_is_laid():
    of = Cards(example("every-piece"))
    tables = steps.steps(of)
    assert tables[0].title == "1. Before a piece is laid"
    said = [row[2] for row in tables[0].rows]
    assert any(text.startswith("Q1: links: cut") for text in said)
    assert "Q1, test on the bench: nothing beeps" in said


# -- labels


def test_letters_are_two_millimetres_high():
    """Small letters of the font that is embedded, from its own tables."""
    found = next((p for p in ("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf",) if Path(p).exists()), None)
    if found is None:
        pytest.skip("the font DejaVu Sans is not installed; apt-get install fonts-dejavu-core")
    font = TTFont(found)
    small = font["glyf"]["x"].yMax / font["head"].unitsPerEm
    assert small == pytest.approx(labels.SMALL_LETTER, abs=0.001)
    assert small * labels.LEAST >= 1.999


@pytest.mark.parametrize("stock", labels.STOCKS)
def test_labels_lie_on_their_sheet(stock):
    made = labels.STOCKS[stock]
    wide, high = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[made.paper]  # ISO 216; ANSI/ASME Y14.1 A
    assert made.left + (made.columns - 1) * made.step_x + made.wide <= wide + 0.1
    assert made.top + (made.rows - 1) * made.step_y + made.high <= high + 0.1
    assert made.step_x >= made.wide
    assert made.step_y >= made.high
    lines = schedule.schedule(example("ferry").layout)
    found = labels.texts(example("ferry").layout, lines, labels.OF)
    html = labels.sheets(found, stock, first=4)
    assert html.count('class="label') == len(found)
    assert html.count('class="page"') == -(-(len(found) + 3) // (made.columns * made.rows))
    pytest.importorskip("segno", reason="the extra 'papers' is not installed")
    coded = labels.sheets(found, stock, code=True)
    number = r"([\d.]+)mm"
    fields = re.findall(rf'<div class="label[^>]*left:{number};[^>]*>(.*?)</div>', coded, re.DOTALL)
    assert len(fields) == len(found)
    for field, body in fields:  # nothing within 4.5 mm of the edges of the sheet, where printers leave white
        left = float(field)
        texts = [float(x) for x in re.findall(rf'<p class="\w+" style="left:{number}', body)]
        codes = [
            (float(x), float(w)) for x, w in re.findall(rf'<svg [^>]*style="left:{number}[^>]*width="{number}"', body)
        ]
        assert codes
        assert left + min(texts) >= 4.5
        assert all(left + x + w <= wide - 4.5 for x, w in codes)


def test_names_on_labels_break_after_their_marks():
    """No word of the names of 'ferry' is wider than a label, with a code than a large one: none is broken in two."""
    made = example("ferry").layout
    for text in labels.texts(made, schedule.schedule(made), labels.OF):
        for room in (38.1 - 3.0, 70.0 - 10.0 - 15.0):  # of the sheet A4-65, and of A4-24 with a code
            lines = labels.fitted(text, room, 60.0)
            assert lines is not None
            words = re.split(r"(?<=[./-])|(?=[./-])", text.name)
            for line, bold in lines:
                if bold:
                    assert all(word in words for word in re.split(r"(?<=[./-])|(?=[./-])", line) if word), line


def test_two_labels_for_each_wire_and_nothing_is_cut():
    made = example("ferry").layout
    lines = schedule.schedule(made)
    found = labels.texts(made, lines, ("wires",))
    assert Counter(t.name for t in found) == Counter({line.id: 2 for line in lines})
    for text in found:
        fitted = labels.fitted(text, 35.0, 19.0)
        assert fitted is not None
        assert "".join(line for line, bold in fitted if bold).replace(" ", "") == text.name.replace(" ", "")
    with pytest.raises(labels.LabelError, match="give shorter names"):
        labels.sheets([labels.LabelText("a" * 300, "", "a")], "Letter-80")


def test_long_names_beside_codes():
    """The code gives way before a word is cut; what does not fit is told with the sheets on which it does."""
    text = labels.LabelText("C.M1.signal.diverging", "RD", "C.M1.signal.diverging", "RD")
    html = labels.sheets([text], "A4-65", code=True)
    said = re.findall(r'<p class="name"[^>]*>([^<]*)</p>', html)
    assert said == ["C.M1.", "signal.", "diverging"]
    side = float(re.search(r'<svg[^>]* width="([\d.]+)mm"', html)[1])
    cells = int(re.search(r'viewBox="0 0 (\d+) ', html)[1])
    assert side / cells >= 0.33
    many = [labels.LabelText("F.northern-approach-viaduct.left", "BN", "x"), text]
    with pytest.raises(labels.LabelError, match="take --sheet A4-24 or A4-plain or Letter-30, or leave out --code, or"):
        labels.sheets(many, "A4-65", code=True)
    with pytest.raises(labels.LabelError, match="mm with letters of 2 mm; take --sheet A4-24 or Letter-30, or give"):
        labels.sheets([labels.LabelText("C.Motor-Locomotive-Depot.frogpolarity.common", "", "x")], "A4-65")


def test_codes_say_the_name(tmp_path):
    """Read back from a picture by a decoder, where one is installed; else by the library that made them."""
    import segno

    text = labels.LabelText("C.M1.frog.common", "", "C.M1.frog.common")
    html = labels.sheets([text], "A4-24", code=True)
    path = re.search(r'<path d="([^"]+)"/></svg>', html)[1]
    cells = {(int(x), int(y)) for x, y in re.findall(r"M(\d+) (\d+)h1", path)}
    made = segno.make("C.M1.frog.common", error="m", micro=False)
    assert cells == {(x, y) for y, row in enumerate(made.matrix_iter(border=2)) for x, bit in enumerate(row) if bit}
    decoder = shutil.which("zbarimg")
    if decoder:
        made.save(str(tmp_path / "code.png"), scale=8)
        done = subprocess.run([decoder, "-q", "--raw", str(tmp_path / "code.png")], capture_output=True, check=True)
        assert done.stdout.decode().strip() == "C.M1.frog.common"


# -- workbook


def test_a_workbook_has_what_is_asked_for():
    of = Cards(example("ferry"), "file 0123abcd")
    whole = workbook(of)
    for title in ("Plan", "Colours", "Order of work", "Wire schedule", "Terminals and plugs", "Materials"):
        assert f"<h1>{title}</h1>" in whole
    assert "<h2>Cards</h2>" in whole
    assert 'content:"file 0123abcd"' in whole
    assert "counter(pages)" in whole
    few = workbook(of, ("schedule",), board="west")
    assert "Cards</h" not in few
    assert 'cardsheet"' not in few
    assert "C.M2.frog.common" not in few
    assert "<script" not in whole


def test_names_do_not_run_in_pages():
    made = circuit(
        f"title: {json.dumps(NASTY)}\n"
        'track: {"<img src=x onerror=alert(1)>": {length: 1 m}}\nfeeds: [{to: "<img src=x onerror=alert(1)>"}]\n'
    )
    whole = workbook(Cards(made))
    assert "<img" not in whole
    assert "<script" not in whole


@NEEDS_PDF
def test_every_paper_as_a_file(tmp_path):
    path = layout_of("ferry")
    for name in ("terminals", "materials", "steps", "schedule"):
        for end in ("html", "pdf", "xlsx", "txt"):
            out = tmp_path / f"{name}.{end}"
            done = run(name, path, "-o", out)
            assert done.exit_code == 0, done.output
            assert out.stat().st_size > 300
            if end == "xlsx":
                book = openpyxl.load_workbook(io.BytesIO(out.read_bytes()))
                cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
                assert {cell.data_type for cell in cells} <= {"s", "n"}
    out = tmp_path / "labels.pdf"
    assert run("labels", path, "-o", out, "--code").exit_code == 0
    first = out.read_bytes()
    assert run("labels", path, "-o", out, "--code").exit_code == 0
    assert out.read_bytes() == first
    assert run("labels", path, "-o", out, "--sheet", "A4-66").exit_code == 2
    out = tmp_path / "workbook.pdf"
    path = layout_of("one-frog")
    assert run("workbook", path, "-o", out).exit_code == 0
    first = out.read_bytes()
    assert first.startswith(b"%PDF")
    assert run("workbook", path, "-o", out).exit_code == 0
    assert out.read_bytes() == first
    assert run("workbook", path, "-o", path).exit_code == 2
    assert run("workbook", path, "-o", out, "--with", "poems").exit_code == 2


def test_random_layouts_have_all_papers():
    for seed in range(4):
        of = Cards(build(read_layout(Source("layout.yaml", dump(random_gear(Random(seed)))))))
        assert workbook(of)


# -- what stands before and after the tables


def test_cautions_stand_before_the_order_of_work_in_every_form(tmp_path):
    for name, wrong in (("ferry", False), ("ferry-plug", True)):
        read = {}
        for form in ("txt", "html", "xlsx"):
            path = tmp_path / f"{name}.{form}"
            assert run("steps", layout_of(name), "-o", path).exit_code == 0
            if form == "xlsx":
                book = openpyxl.load_workbook(path)
                assert book.sheetnames[0] == "Read first"
                read[form] = "\n".join(str(cell.value or "") for sheet in book for row in sheet for cell in row)
            else:
                read[form] = path.read_text()
        for text in read.values():
            assert ("DO NOT BUILD FROM THIS" in text) is wrong
            said = [
                text.index(word) for word in ("licensed person", "solder stay hot", "test on the bench", "coin across")
            ]
            assert said == sorted(said)


@pytest.mark.parametrize("paper", ["schedule", "terminals", "materials"])
def test_papers_of_a_wrong_wiring_begin_with_it(paper, tmp_path):
    for name, wrong in (("ferry", False), ("ferry-plug", True)):
        text = run(paper, layout_of(name)).stdout
        assert text.startswith("DO NOT BUILD FROM THIS") is wrong
        book = tmp_path / f"{paper}.xlsx"
        assert run(paper, layout_of(name), "-o", book).exit_code == 0
        assert (openpyxl.load_workbook(book).sheetnames[0] == "Read first") is wrong
        page = run(paper, layout_of(name), "--format", "html").stdout
        assert ('<p class="caution">DO NOT BUILD' in page) is wrong
        assert '<meta name="viewport"' in page


def test_the_terminal_tables_say_what_their_marks_mean():
    assert "colour chosen here" in run("terminals", layout_of("ferry")).stdout
    assert "two poles or districts meet on this wire" in run("terminals", layout_of("ferry-plug")).stdout


# -- the workbook's first page and its plan


def test_the_first_page_says_what_the_check_warns_of_and_that_there_is_no_test_sheet():
    made = example("one-frog")
    plain = workbook(Cards(made, "file 1"), ("colours",), warnings=["no-tap: <a> has no tap"])
    assert "The check warns of 1 thing; read before you solder" in plain
    assert "no-tap: &lt;a&gt; has no tap" in plain
    assert "warns of" not in workbook(Cards(made, "file 1"), ("colours",))
    wrong = workbook(Cards(made, "file 1, HAS 1 ERROR: DO NOT BUILD"), ("colours", "test"))
    assert "No test sheet: of a wiring that is wrong or not proved" in wrong
    assert 'id="test"' not in wrong
    many = workbook(Cards(made, "file 1"), ("colours",), warnings=[f"w{k}" for k in range(15)])
    assert "and 3 more: run" in many


def test_a_large_plan_comes_in_parts_that_cover_it():
    path = '<path d="M-100 -50L2300 1450"/>'
    svg = f'<svg class="plan" viewBox="-100 -50 2400 1500" width="2400" height="1500">\n{path}\n</svg>'
    pages = list(divided(svg))
    assert pages[0][1] == svg
    boxes = [tuple(float(n) for n in re.search(r'viewBox="([^"]+)"', page)[1].split()) for _, page in pages[1:]]
    assert len(boxes) == 6
    for x, y in ((-100, -50), (2300, 1450), (700, 700), (1100, 100), (-100, 1450)):
        assert any(a <= x <= a + w and b <= y <= b + h for a, b, w, h in boxes)
    for _, _, wide, high in boxes:  # 185 mm of paper to the width: names of 12 units are 1.8 mm high at least
        assert 12 * min(185 / wide, 235 / high) >= 1.7
    assert len(list(divided('<svg viewBox="0 0 900 500" width="900" height="500"></svg>'))) == 1


def test_each_part_of_a_plan_is_a_drawing_of_its_own_and_all_track_is_on_one(monkeypatch):
    """An image that is no XML is a blank page of PDF, without any word."""
    monkeypatch.setattr("netlister.papers.workbook.READABLE", (900.0, 300.0))
    made = example("terminus")
    plan = plan_svg(made, tuple(v.rest for v in made.variables))
    parts = [ET.fromstring(svg) for _, svg in divided(bare(plan))][1:]
    assert len(parts) > 2
    shown = [{one.get("data-piece") for one in part.iter() if one.get("data-piece")} for part in parts]
    assert all(shown)
    assert set().union(*shown) == {one.get("data-piece") for one in ET.fromstring(plan).iter()} - {None}


def test_many_poles_are_named_once_in_the_order_of_work():
    of = Cards(example("every-piece"))
    rows = [row[2] for table in steps.steps(of) for row in table.rows]
    assert any("no two poles of supplies beep" in row for row in rows)
    assert sum("crane.B" in said and "programmer.A" in said for said in (*rows, *steps.remarks(of))) == 1


def test_names_with_hyphens_stay_whole_in_tables():
    row = ("T1.stock-left-and-more", "solder F.a to T1.stock-left, then on")
    html = html_table(Table("", ("to", "what"), (row,)))
    assert html.count('<td class="short">') == 2  # there is room for both on one line
    long = (row[0] * 4, row[1] * 4)
    html = html_table(Table("", ("to", "what"), (long,)))
    assert '<span class="whole">stock-left-and-moreT1.</span>' in html
    assert "short" not in html.partition("<tbody>")[2]
    assert re.sub(r"<[^>]*>", "", html).count("T1.stock-left") == 8


def test_papers_say_what_their_letters_and_words_mean():
    made = example("ferry").layout
    said = " ".join(schedule.remarks(schedule.schedule(made)))
    for part in ("F feed", "C contact", "P plug (.1 and .2 are its halves)", "keep these wires and mains wires apart"):
        assert part in said

"""A plan on sheets of paper: nothing is lost between them, and their crosses fall on one spot of the plan."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner

from netlister.cli.main import group
from netlister.draw.pages import HEAD, MARGIN, PAPERS, PLACE, cut, room, sheets_html
from netlister.draw.plan import plan_svg
from tests.draw.support import ROOT, circuit, example, first

ISO_216 = {"A4": (297, 210), "A3": (420, 297)}  # ISO 216, in mm, laid across


@pytest.fixture(scope="module")
def svg():
    made = example("terminus")
    return plan_svg(made, first(made))


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_place_of_the_plan_is_on_a_sheet(svg, paper):
    grid = cut(svg, paper)
    drawn = svg[svg.index('<g class="piece"') : svg.index('<g class="legend"')]
    for x, y in PLACE.findall(drawn):
        inside = [
            s for s in grid.sheets
            if s.box[0] <= float(x) <= s.box[0] + s.box[2] and s.box[1] <= float(y) <= s.box[1] + s.box[3]
        ]  # fmt: skip
        assert inside, (x, y)
    if paper in ISO_216:
        assert PAPERS[paper] == ISO_216[paper]


def test_crosses_of_neighbours_fall_on_one_spot(svg):
    grid = cut(svg, "A4")
    pages = re.findall(r'<svg xmlns[^>]*class="sheet".*?</svg>\n.*?</svg>', sheets_html(svg, "A4", "x"), re.DOTALL)
    assert len(pages) == len(grid.sheets) > 2
    spots = {}
    for sheet, text in zip(grid.sheets, pages, strict=True):
        crosses = re.findall(r'class="cross" d="M(\S+) (\S+)h6', text)
        spots[sheet.row, sheet.column] = {
            (
                round(sheet.box[0] + (float(x) + 3 - MARGIN) / grid.scale, 1),
                round(sheet.box[1] + (float(y) - MARGIN - HEAD) / grid.scale, 1),
            )
            for x, y in crosses
        }
    met = 0
    for (row, column), own in spots.items():
        for other in ((row, column + 1), (row + 1, column)):
            if other in spots:
                shared = [(x, y) for x, y in own for a, b in spots[other] if abs(x - a) < 0.3 and abs(y - b) < 0.3]
                assert len(shared) >= 3
                met += 1
    assert met


def test_what_is_small_fills_one_sheet_and_is_never_too_small_to_read(svg):
    small = circuit("track: {a: {length: 1 m}}\n")
    grid = cut(plan_svg(small, first(small)), "A4")
    assert [s.name for s in grid.sheets] == ["A1"]
    assert cut(svg, "A4").scale >= 0.3
    wide, high = room("A4")
    assert grid.scale * grid.sheets[0].box[2] == pytest.approx(wide)
    assert grid.scale * grid.sheets[0].box[3] == pytest.approx(high)


def test_names_stay_text():
    made = circuit('title: "</title><script>alert(1)</script>"\ntrack: {a: {length: 1 m}}\n')
    html = sheets_html(plan_svg(made, first(made)), "A4", "</title><script>alert(1)</script>")
    assert "<script>" not in html


def test_a_drawing_that_is_no_paper_is_refused(tmp_path):
    layout = ROOT / "examples" / "one-frog" / "layout.yaml"
    done = CliRunner().invoke(group, ["draw", str(layout), "--pages", "A4", "-o", str(tmp_path / "plan.svg")])
    assert done.exit_code == 2
    assert "plan.html or plan.pdf" in done.output
    assert not (tmp_path / "plan.svg").exists()

"""Papers as HTML in a real browser: printed, two sheets of cards on a page; on a telephone, nothing beside the screen."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner

from netlister.cli.main import group
from tests.draw.support import ROOT


def made(path, *arguments):
    done = CliRunner().invoke(group, [str(a) for a in arguments])
    assert done.exit_code == 0, done.output
    return path


@pytest.mark.parametrize(
    ("size", "wide", "high"), [("A4", 595, 842), ("Letter", 612, 792)]
)  # ISO 216, ANSI A, in points
def test_a_browser_prints_two_sheets_of_cards_on_a_page(chromium, tmp_path, size, wide, high):
    path = tmp_path / "book.html"
    layout = ROOT / "examples" / "crossover" / "layout.yaml"
    made(path, "workbook", layout, "--with", "cards", "--paper", size, "-o", path)
    page = chromium.new_page()
    page.goto(path.as_uri())
    data = page.pdf(prefer_css_page_size=True)
    page.close()
    sheets = path.read_text().count('class="cardsheet"')
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert len(boxes) == 1 + -(-sheets // 2)  # title and contents, in which the cards are listed; cards
    for box in boxes:
        assert abs(float(box[0]) - wide) < 1.5
        assert abs(float(box[1]) - high) < 1.5


@pytest.mark.parametrize("paper", ["schedule", "terminals", "materials", "steps"])
def test_papers_fit_a_telephone(chromium, tmp_path, paper):
    path = tmp_path / "paper.html"
    made(path, paper, ROOT / "examples" / "terminus" / "layout.yaml", "-o", path)
    page = chromium.new_page(viewport={"width": 390, "height": 844}, is_mobile=True)
    page.goto(path.as_uri())
    assert page.evaluate("[innerWidth, document.documentElement.scrollWidth]") == [390, 390]
    assert page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)") >= 12
    page.close()

"""The test sheet as PDF, read by a library that did not write it: every caution, line, box and page number is there."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner

from netlister.cli.testsheet import command
from netlister.probe.text import CAUTIONS, TRAPS
from tests.papers.rebuild import NEEDS_PDF

EXAMPLES = Path(__file__).parents[2] / "examples"
POINTS = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0), "A5": (419.5, 595.3)}
"""ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in."""


def bare(text: str) -> str:
    """A text without white space and hyphenation, so that where lines break does not count."""
    return re.sub(r"\s+", "", text)


def boxes(page: pypdf.PageObject) -> int:
    """The empty boxes to tick: squares of 4.5 mm with a border of 1 pt, each filled twice or outlined by paths."""
    content = page.get_contents()
    assert content is not None
    corners = set()
    for x, y, wide, high in re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) -?([\d.]+) re", content.get_data()):
        if abs(float(wide) - float(high)) < 0.01 and 12 <= float(wide) <= 19:
            corners.add((round(float(x) + float(wide) / 2), round(float(y) + float(high) / 2)))
    return len(corners)


@NEEDS_PDF
@pytest.mark.parametrize(
    ("name", "paper"),
    [("one-frog", "A4"), ("peat-railway", "Letter"), ("two-cabs", "A4"), ("reversing-loop", "A5")],
)
def test_everything_is_on_paper(name: str, paper: str, tmp_path: Path) -> None:
    """In the order of the numbers, on pages of the size asked for, each with its number and how many there are."""
    path = str(EXAMPLES / name / "layout.yaml")
    out = tmp_path / "sheet.pdf"
    run = CliRunner()
    assert run.invoke(command, [path, "-o", str(out), "--paper", paper]).exit_code == 0
    told = json.loads(run.invoke(command, [path, "--format", "json"]).output)
    pdf = pypdf.PdfReader(io.BytesIO(out.read_bytes()))
    texts = [page.extract_text() for page in pdf.pages]
    for number, (page, text) in enumerate(zip(pdf.pages, texts, strict=True), 1):
        assert f"page {number} of {len(pdf.pages)}" in text
        assert [float(page.mediabox.width), float(page.mediabox.height)] == pytest.approx(POINTS[paper], abs=0.5)
    whole = bare(" ".join(texts))
    for said in (*CAUTIONS, *TRAPS, "Take every feed wire off at its screw.", "Put every feed wire back"):
        assert bare(said) in whole, said
    at = 0
    for r in told["readings"]:
        expect = r["expect"] if r["supply"] == "off" else f"about {r['expect']}"
        row = bare(f"{r['number']} {r['probes'][0]} {r['probes'][1]} {expect}")
        assert row in whole[at:], row
        at = whole.index(row, at) + len(row)
    for fault in told["unseen"]:
        assert bare(fault["name"]) in whole
    assert sum(boxes(page) for page in pdf.pages) == len(told["readings"])

"""The test sheet on the page: marks are kept, and single faults are named as the sheet's own proof has them."""

from __future__ import annotations

import csv
import json
import re

import pytest

from netlister.cli.report import make
from netlister.probe.diagnose import read_meter
from netlister.probe.explain import Explainer
from netlister.probe.sheet import make_sheet, prepare
from tests.browser.making import example, html_of


def data_of(html):
    return json.loads(re.search(r'id="data">(.*?)</script>', html)[1])["sheet"]


def mark(page, values):
    page.evaluate(
        """(values) => { for (const [n, v] of values)
          document.querySelector(`input[name="reading-${n + 1}"][value="${v}"]`).click(); }""",
        list(values),
    )


def shown(page):
    return set(page.locator("#verdict .go").all_text_contents())


@pytest.mark.parametrize("name", ["two-cabs"])
def test_what_a_fault_turns_names_that_fault(name, opened):
    """Every single fault that the sheet sees, by the readings that it turns; all others named turn the same."""
    html = html_of(example(name))
    sheet = data_of(html)
    page = opened(html)
    for fault, _, ways in sheet["faults"][::7]:
        for turned in ways[:1]:
            if not turned:
                continue
            mark(page, [(n, e if n not in turned else 1 - e) for n, e in enumerate(sheet["expect"])])
            same = {other for other, _, some in sheet["faults"] if turned in some}
            assert fault in same
            assert page.evaluate("document.querySelectorAll('.reading-row.wrong').length") == len(turned)
            if len(same) <= 20:
                assert shown(page) == same


def test_the_page_names_what_diagnose_names(opened, tmp_path):
    """The saved readings, read by `diagnose`: its single faults are those of the page."""
    layout = example("quarry-line")
    html = html_of(layout)
    sheet = data_of(html)
    turned = next(ways[0] for _, _, ways in sheet["faults"] if len(ways[0]) >= 2)
    page = opened(html)
    mark(page, [(n, e if n not in turned else 1 - e) for n, e in enumerate(sheet["expect"])])
    with page.expect_download() as waited:
        page.get_by_role("button", name="Save the readings as CSV").click()
    file = tmp_path / "readings.csv"
    waited.value.save_as(file)
    rows = list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
    read = [row["reading"] for row in rows if row["supply"] == "off"]
    assert read == [("beep" if e != (n in turned) else "silent") for n, e in enumerate(sheet["expect"])]
    made, faults = prepare(layout)
    taken, ignored = read_meter(made, file.read_text(encoding="utf-8"), "readings.csv")
    assert not ignored
    assert len(taken) == len(sheet["expect"])
    found = Explainer(made, faults).explain(taken)
    assert shown(page) == {one.faults[0].name for one in found.variants if len(one.faults) == 1}


def test_marks_are_kept_and_can_be_cleared(opened):
    html = html_of(example("quarry-line"))
    page = opened(html)
    mark(page, [(0, 1), (1, 0)])
    page.reload()
    page.wait_for_selector("html.ready")
    assert page.locator('input[name="reading-1"][value="1"]').is_checked()
    assert page.locator('input[name="reading-2"][value="0"]').is_checked()
    clear = page.locator("#clear-readings")
    clear.press("Enter")
    assert page.locator('input[name="reading-1"][value="1"]').is_checked()  # asks once more
    clear.press("Enter")
    assert page.locator(".reading-row input:checked").count() == 0


def test_all_right_says_so_and_part_does_not(opened):
    html = html_of(example("quarry-line"))
    expect = data_of(html)["expect"]
    page = opened(html)
    mark(page, list(enumerate(expect))[:-1])
    assert "Every reading" not in page.locator("#verdict").text_content()
    mark(page, [(len(expect) - 1, expect[-1])])
    assert "Every reading of this sheet is right" in page.locator("#verdict").text_content()


def test_a_wrong_design_has_no_sheet():
    html = make(example("peat-railway-faulty"), [], [])
    assert data_of(html) == {}
    assert "once the design has no error" in html


def test_the_sheet_is_that_of_the_command():
    made, faults = prepare(example("quarry-line"))
    sheet = make_sheet(made, faults)
    assert data_of(html_of(example("quarry-line")))["expect"] == [int(r.expect) for r in sheet.readings]

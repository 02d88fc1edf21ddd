"""Moving about the plan: wheel, drag, keys, search, undo, faults by number; all as a user does it."""

from __future__ import annotations

import netlister
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles, state_of
from tests.benchmarks.layouts import branch_line
from tests.browser.making import compare, example, html_of

BOX = "document.querySelector('#sheet svg.plan').getAttribute('viewBox')"
MOVED = "(before) => document.querySelector('#sheet svg.plan').getAttribute('viewBox') !== before"


def numbers(text):
    return [float(x) for x in text.split()]


def test_the_wheel_zooms_about_the_pointer_and_a_drag_is_no_tap(opened):
    page = opened(html_of(example("peat-railway-faulty")))
    edge = page.locator("#sheet").bounding_box()
    spot = (edge["x"] + edge["width"] * 0.3, edge["y"] + edge["height"] * 0.5)
    before = page.evaluate(BOX)
    page.mouse.move(*spot)
    page.mouse.wheel(0, -400)
    page.wait_for_function(MOVED, arg=before)
    (x, y, wide, high), (x2, y2, wide2, high2) = numbers(before), numbers(page.evaluate(BOX))
    assert wide2 < wide
    held = page.locator("#sheet svg.overview:not(.hid)").count()
    assert held == 1
    assert abs(x + wide * 0.3 - (x2 + wide2 * 0.3)) < wide2 / 100
    said = page.locator("#said").text_content()
    before = page.evaluate(BOX)
    page.mouse.down()
    page.mouse.move(spot[0] + 60, spot[1] + 20, steps=5)
    page.mouse.up()
    assert page.evaluate(MOVED, before)
    assert page.locator("#said").text_content() == said
    assert high2 < high
    assert y2 > y


def test_keys_move_the_plan_and_0_shows_all(opened):
    page = opened(html_of(example("terminus")))
    whole = page.evaluate(BOX)
    sheet = page.locator("#sheet")
    sheet.press("+")
    sheet.press("+")
    near = page.evaluate(BOX)
    assert numbers(near)[2] < numbers(whole)[2]
    sheet.press("ArrowRight")
    assert numbers(page.evaluate(BOX))[0] > numbers(near)[0]
    sheet.press("0")
    assert page.evaluate(BOX) == whole


def test_any_name_leads_to_its_place(opened):
    layout = example("peat-railway-faulty")
    page = opened(html_of(layout))
    joint = next(j.name for j in layout.joints if j.name not in layout.pieces)
    for name in ("T2", "M2", joint):
        page.locator("#find-name").fill(name)
        page.locator("#find-name").press("Enter")
        assert page.locator("#said").text_content().startswith(name)
        ring, sheet = page.locator("#sheet .here").bounding_box(), page.locator("#sheet").bounding_box()
        assert sheet["x"] <= ring["x"] <= ring["x"] + ring["width"] <= sheet["x"] + sheet["width"] + 1
    page.locator("#find-name").fill("no such thing")
    page.locator("#find-name").press("Enter")
    assert "Nothing on the plan is named" in page.locator("#said").text_content()


def test_undo_and_redo_give_the_poles_of_the_command(opened):
    layout = example("terminus")
    circuit = build(layout)
    page = opened(html_of(layout))
    rest = {v.name: v.positions[v.rest] for v in circuit.variables}
    lever = page.locator("button.lever").first
    variable = next(v for v in circuit.variables if v.name == lever.get_attribute("data-variable"))
    thrown = rest | {variable.name: variable.positions[(variable.rest + 1) % len(variable.positions)]}
    lever.press("Enter")
    compare(page, circuit, rail_poles(circuit, state_of(circuit, thrown)))
    page.locator("#undo").press("Enter")
    compare(page, circuit, rail_poles(circuit, state_of(circuit, rest)))
    page.locator("#redo").press("Enter")
    compare(page, circuit, rail_poles(circuit, state_of(circuit, thrown)))
    page.wait_for_function("() => location.hash.includes('set=')")


FAULTS = """() => [...document.querySelectorAll("#sheet .fault")].map((one) => [
  one.querySelector("title").textContent.match(/\\d+/g).map(Number), ((box) => [box.x, box.y, box.right, box.bottom])(one.getBoundingClientRect())])"""


def test_a_fault_on_the_plan_leads_to_its_finding(opened):
    """Each has its number; those that would lie on one another are one mark, which leads to one after the other."""
    page = opened(html_of(example("every-piece-mistakes")))
    marks = page.evaluate(FAULTS)
    count = page.locator("button[data-finding]").count()
    assert sorted(n for numbers, _ in marks for n in numbers) == list(range(1, count + 1))
    sheet = page.locator("#sheet").bounding_box()
    for number, (_, (left, top, right, low)) in enumerate(marks):
        assert top >= sheet["y"] - 1
        for _, (left2, top2, right2, low2) in marks[:number]:
            assert left >= right2 or left2 >= right or top >= low2 or top2 >= low
    several = next(n for n, (numbers, _) in enumerate(marks) if len(numbers) > 1)
    for number in marks[several][0][:2]:
        page.locator("#sheet .fault").nth(several).dispatch_event("click")
        assert page.locator(f'button[data-finding="{number - 1}"]').get_attribute("aria-pressed") == "true"
        assert page.locator("#sheet .glow.lit").count() > 0
        page.locator("#fit").press("Enter")


def test_plan_and_findings_share_the_first_screen(opened):
    html = html_of(example("peat-railway-faulty"))
    page = opened(html)
    plan, findings = (page.locator(s).bounding_box() for s in ("#sheet", "section.findings"))
    assert plan["y"] < 450
    assert findings["y"] < 450
    assert findings["x"] >= plan["x"] + plan["width"]
    page.evaluate("window.scrollTo(0, 1200)")
    assert 0 <= page.locator("#sheet").bounding_box()["y"] < 450  # it stays in view
    phone = opened(html, viewport={"width": 390, "height": 800})
    plan, findings = (phone.locator(s).bounding_box() for s in ("#sheet", "section.findings"))
    assert plan["y"] < findings["y"]
    phone.evaluate("window.scrollTo(0, 2000)")
    assert 0 <= phone.locator("#sheet").bounding_box()["y"] < 400


def test_a_table_is_saved_without_formulas(opened, tmp_path):
    page = opened(html_of(example("peat-railway-faulty")))
    page.evaluate("""() => { document.querySelector('#table-joints').closest('details').open = true;
      document.querySelector('#table-joints tbody td').textContent = '=1+1'; }""")
    with page.expect_download() as waited:
        page.get_by_role("button", name="Save joints as CSV").click()
    file = tmp_path / "joints.csv"
    waited.value.save_as(file)
    lines = file.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith('"joint","from"')
    assert '"\'=1+1"' in lines[1]


def test_finding_plan_card_and_row_lead_to_one_another(opened):
    page = opened(html_of(example("peat-railway-faulty")))
    walk = page.locator("#walk")
    page.locator('button[data-finding="2"]').click()  # finding -> plan, and the piece among the words
    assert page.locator("#sheet .glow.lit").count() > 0
    piece = page.locator("#walk-name").input_value()
    walk.get_by_role("button", name="Finding 3", exact=True).click()
    assert page.locator('button[data-finding="2"]').get_attribute("aria-pressed") == "true"
    walk.get_by_role("button", name="Poles of every rail").click()  # piece -> its rows
    rows = page.locator("#table-rails tr.here th")
    assert set(rows.all_text_contents()) == {piece}
    assert page.locator("#table-rails tr.here .go").first.evaluate("(e) => e === document.activeElement")
    other = page.locator("#table-rails tbody tr:not(.here) .go").first
    name = other.text_content()
    other.click()  # row -> plan, piece and its rows
    assert page.locator("#said").text_content().startswith(name)
    assert page.locator("#walk-name").input_value() == name
    assert set(rows.all_text_contents()) == {name}
    page.locator("#find-name").fill("T2")
    page.locator("#find-name").press("Enter")
    walk.get_by_role("button", name="T2", exact=True).click()  # piece -> its card
    card = page.locator("details.wiring[open]")
    assert card.locator("summary").text_content() == "T2"
    page.locator("#find-name").fill("T1")
    page.locator("#find-name").press("Enter")
    card.get_by_role("button", name="T2", exact=True).click()  # card -> plan
    assert page.locator("#walk-name").input_value() == "T2"


def test_back_and_forward_give_positions_and_what_is_shown(opened):
    layout = example("peat-railway-faulty")
    circuit = build(layout)
    page = opened(html_of(layout))
    rest = {v.name: v.positions[v.rest] for v in circuit.variables}
    lever = page.locator("button.lever").first
    variable = next(v for v in circuit.variables if v.name == lever.get_attribute("data-variable"))
    lever.press("Enter")
    page.wait_for_function("() => location.hash.includes('set=')")
    hash_of_thrown = page.evaluate("location.hash")
    page.evaluate("history.back()")
    page.wait_for_function("() => !document.querySelector('button.lever.moved')")
    compare(page, circuit, rail_poles(circuit, state_of(circuit, rest)))
    page.evaluate("history.forward()")
    page.wait_for_function("() => document.querySelector('button.lever.moved')")
    thrown = rest | {variable.name: variable.positions[(variable.rest + 1) % len(variable.positions)]}
    compare(page, circuit, rail_poles(circuit, state_of(circuit, thrown)))
    assert page.evaluate("location.hash") == hash_of_thrown


def test_long_tables_are_filled_when_they_are_opened(opened):
    """Each row as a browser without scripts has it, with the poles of the positions as they are then."""
    layout = netlister.read_text(branch_line(60))
    circuit, html = build(layout), html_of(layout)
    still = opened(html, java_script_enabled=False)
    listed = (
        "() => [...document.querySelectorAll('#table-rails tr')].map((r) => [...r.cells].map((c) => c.textContent))"
    )
    plain = still.evaluate(listed)
    page = opened(html)
    assert page.locator("#table-rails").count() == 0
    page.locator("button.lever").first.press("Enter")
    page.get_by_text("Poles of every rail (420)").click()
    page.wait_for_selector("#table-rails")
    filled = page.evaluate(listed)
    assert [row[:2] for row in filled] == [row[:2] for row in plain]
    assert filled != plain
    thrown = {v.name: v.positions[v.rest] for v in circuit.variables}
    first = circuit.variables[0]
    thrown[first.name] = first.positions[(first.rest + 1) % len(first.positions)]
    expected = rail_poles(circuit, state_of(circuit, thrown))
    assert {f"{piece}.{rail}": poles for piece, rail, poles in filled[1:]} == {
        rail: "+".join(poles) or "none" for rail, poles in expected.items()
    }
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.locator("details.table noscript").count() == 0

"""A plan too large to be all elements: merged from afar, drawn near by, right in both; and what is light about it."""

from __future__ import annotations

import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles, state_of
from tests.benchmarks.layouts import branch_line
from tests.browser.making import expected_class, html_of

COUNT = 90
MERGED = """() => { const found = {};
  for (const path of document.querySelectorAll("#sheet g.merged path.rail")) {
    const kind = [...path.classList].find((c) => c.startsWith("pole-"));
    for (const [, x, y] of path.getAttribute("d").matchAll(/M(-?[\\d.]+) ?(-?[\\d.]+)/g)) {
      (found[`${Math.round(x * 10)} ${Math.round(y * 10)}`] ??= []).push(kind);
    }
  }
  return found; }"""
NEAR = """() => Object.fromEntries([...document.querySelectorAll("#sheet g.near path.rail[data-rail]")]
  .map((p) => [p.dataset.rail, [...p.classList].find((c) => c.startsWith("pole-"))]))"""


@pytest.fixture(scope="module")
def large():
    layout = netlister.read_text(branch_line(COUNT))
    return build(layout), html_of(layout)


def starts(page):
    """Where the stretches of each rail begin, in tenths, as the data has them for the positions of the page."""
    return page.evaluate(
        """(state) => { const data = JSON.parse(document.getElementById("data").textContent), found = {};
      const at = Object.fromEntries(data.variables.map(([name, , positions], v) => [name, positions]));
      data.plan.pieces.forEach(([x, y, arrangement], number) => {
        const moving = data.pieces[number][4], ways = data.plan.rails[arrangement];
        const row = ways[moving.map((v) => state[data.variables[v][0]] ?? 0).join(" ")] ?? ways[""];
        for (let i = 0; i < row.length; i += 4) if (row[i] >= 0) {
          (found[data.names[data.pieces[number][2] + row[i]]] ??= []).push(`${x + row[i + 1]} ${y + row[i + 2]}`);
        }
      });
      return found; }""",
        page.evaluate("""() => Object.fromEntries([...document.querySelectorAll("button.lever.moved")]
        .map((b) => [b.dataset.variable, 1]))"""),
    )


def test_merged_and_near_have_the_poles_of_the_command(large, opened):
    circuit, html = large
    page = opened(html)
    assert page.locator("#sheet g.near").count() == 0
    elements = page.evaluate("document.querySelectorAll('#sheet svg.plan *').length")
    assert elements < 10 * len(circuit.layout.pieces)
    rest = {v.name: v.positions[v.rest] for v in circuit.variables}
    thrown = dict(rest)
    for name in ("M1", "M45", f"M{COUNT}"):
        variable = next(v for v in circuit.variables if v.name == name)
        thrown[name] = variable.positions[1]
        page.evaluate("(n) => document.querySelector(`button.lever[data-variable='${n}']`).click()", name)
    expected = rail_poles(circuit, state_of(circuit, thrown))
    merged = page.evaluate(MERGED)
    for rail, places in starts(page).items():
        for place in places:
            assert expected_class(circuit, expected[rail]) in merged[place], (rail, place)
    page.locator("#find-name").fill("T45")
    page.locator("#find-name").press("Enter")
    page.wait_for_function("() => document.querySelector(`#sheet [data-rail='T45.frog']`)")
    near = page.evaluate(NEAR)
    assert 4 < len(near) < len(circuit.rails) / 2
    assert near == {rail: expected_class(circuit, expected[rail]) for rail in near}
    page.evaluate("document.querySelector('button.lever[data-variable=M45]').click()")
    thrown["M45"] = rest["M45"]
    expected = rail_poles(circuit, state_of(circuit, thrown))
    near = page.evaluate(NEAR)
    assert near == {rail: expected_class(circuit, expected[rail]) for rail in near}


def test_a_tap_from_near_finds_the_rail(large, opened):
    _, html = large
    page = opened(html)
    page.locator("#find-name").fill("T50")
    page.locator("#find-name").press("Enter")
    page.wait_for_function("() => document.querySelector(`#sheet [data-rail='T50.stock-left']`)")
    page.get_by_role("radio", name="puts the red probe there").check()
    spot = page.evaluate("""() => { const paths = [...document.querySelectorAll("#sheet [data-rail='T50.stock-left']")];
      const path = paths.sort((a, b) => b.getTotalLength() - a.getTotalLength())[0];
      const p = path.getPointAtLength(path.getTotalLength() / 2), m = path.getScreenCTM();
      return [p.x * m.a + m.e, p.y * m.d + m.f]; }""")
    page.mouse.click(*spot)
    assert page.locator("#probe-0").input_value() == "T50.stock-left"


def test_bytes_of_a_thousand_turnouts():
    """Per turnout with its two pieces of track, its machine, feeds and joints: 4 kB, so that a thousand are 4 MB."""
    small, large = (len(html_of(netlister.read_text(branch_line(n))).encode()) for n in (300, 600))
    assert (large - small) / 300 < 4000

"""The page as a whole: nothing leaves it, everything is text, it can be read and used by everybody."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles, state_of
from netlister.cli.report import make
from netlister.report.page import fault_page
from netlister.source import UnusableError
from tests.amount import some
from tests.benchmarks.layouts import branch_line
from tests.browser.making import EXAMPLES, ROOT, compare, example, html_of, poles_shown

WIDTHS = ((320, 640), (360, 740), (768, 1024), (1440, 900), (3840, 2160))


def axe(page):
    """What axe-core finds against WCAG 2.2 A and AA and its own best practices, one line each."""
    import axe_playwright_python

    script = Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
    page.evaluate(script)  # by the debugger, which no policy of the page hinders
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate("(tags) => axe.run(document, {runOnly: tags})", tags)
    assert found["passes"]
    return [f"{v['id']}: {n['html'][:160]} {n['failureSummary']}" for v in found["violations"] for n in v["nodes"][:4]]


WAYS = [
    (name, width, scheme)
    for name in ("peat-railway-faulty", "two-cabs")
    for width in (320, 1440)
    for scheme in ("light", "dark")
]
MANY = ("every-piece", "every-piece-mistakes")  # of whose hundred cards and long tables some are looked at
UNFOLD = """([cards, tables]) => [...document.querySelectorAll("details.wiring")].slice(0, cards)
  .concat([...document.querySelectorAll("details:not(.wiring)")].slice(-tables)).forEach((one) => { one.open = true; })"""
OTHERS = [
    (name, width, scheme)
    for name in EXAMPLES
    for width, scheme in ((1440, "light"), (320, "dark"))
    if name not in {"peat-railway-faulty", "two-cabs"}
]


@pytest.mark.parametrize(("name", "width", "scheme"), [*WAYS, *some(OTHERS, 2)])
def test_axe_finds_nothing(name, width, scheme, opened):
    page = opened(html_of(example(name)), viewport={"width": width, "height": 800}, color_scheme=scheme)
    page.evaluate(UNFOLD, [3, 99] if name not in MANY else [2, 2])
    if page.locator("button[data-finding]").count():
        page.locator("button[data-finding]").first.click()
    if page.locator("#shade:not([hidden])").count():
        page.get_by_role("radio", name="volts lost at the worst place").check()
    page.wait_for_function("() => document.getAnimations().every((one) => one.playState === 'finished')")
    assert axe(page) == []


def test_axe_finds_nothing_on_a_page_of_faults(opened):
    page = opened(faults("format: netlister/1\nsupplies: {m: {type: steam}}\ntrack: {}\n"))
    assert axe(page) == []


def faults(text):
    with pytest.raises(UnusableError) as caught:
        netlister.read_text(text)
    return fault_page("layout.yaml", caught.value)


def test_faults_are_told_with_their_places(opened):
    page = opened(faults("format: netlister/1\nsupplies: {m: {type: steam}}\ntrack: {a: {length: 3}}\n"))
    text = page.inner_text("main")
    assert "layout.yaml:2:22" in text
    assert "'steam'" in text
    assert "layout.yaml:3:21" in text


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["peat-railway-faulty", "terminus"])
def test_no_width_needs_scrolling_sideways(name, width, opened):
    page = opened(html_of(example(name)), viewport=dict(zip(("width", "height"), width, strict=True)))
    assert page.evaluate("document.documentElement.scrollWidth") <= width[0]


def test_targets_are_large_enough(opened):
    """At least 24 by 24 CSS pixels (WCAG 2.2, 2.5.8), labels of radio buttons counted with them."""
    page = opened(html_of(example("peat-railway-faulty")), viewport={"width": 360, "height": 740})
    small = page.evaluate("""() => [...document.querySelectorAll("button, select, input, summary")]
      .filter((one) => one.offsetParent && one.getClientRects().length)
      .map((one) => [one, (one.type === "radio" ? one.closest("label") : one).getBoundingClientRect()])
      .filter(([, box]) => box.width < 24 || box.height < 24).map(([one]) => one.outerHTML)""")
    assert small == []


def test_focus_can_be_seen_on_everything_that_takes_it(opened):
    page = opened(html_of(example("peat-railway-faulty")))
    seen, bare = set(), []
    for _ in range(60):
        page.keyboard.press("Tab")
        one = page.evaluate("""() => {
          const one = document.activeElement, style = getComputedStyle(one);
          return [one.outerHTML.slice(0, 80), style.outlineStyle, parseFloat(style.outlineWidth)];
        }""")
        if one[0].startswith("<body"):
            break  # once round
        seen.add(one[0])
        if one[1] == "none" or one[2] < 2:
            bare.append(one)
    assert bare == []
    assert len(seen) > 25


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_page_holds_all_findings(name, opened):
    layout = example(name)
    page = opened(html_of(layout))
    report = netlister.check_file(layout.name)
    assert page.locator("button[data-finding]").count() == len(report.findings)
    text = page.locator("section.findings").text_content()
    for finding in report.findings:
        assert finding.rule in text
        assert finding.fix in text or any(m.fix in text for m in finding.mistakes)


@pytest.mark.parametrize("name", ["crossover", "junction", "every-piece-mistakes"])
def test_a_finding_sets_its_positions_and_lights_its_path(name, opened):
    """For each short: the positions are those of its first entry, and exactly the rails of its path are lit."""
    layout = example(name)
    circuit = build(layout)
    report = netlister.check_file(layout.name)
    page = opened(html_of(layout))
    tried = 0
    for number, finding in enumerate(report.findings):
        if finding.rule != "pole-short":
            continue
        page.evaluate("(n) => document.querySelector(`button[data-finding='${n}']`).click()", number)
        wanted = dict(finding.when[0])
        shown = page.evaluate("""() => Object.fromEntries([...document.querySelectorAll("button.lever")]
          .map((b) => [b.dataset.variable, b.querySelector(".where").textContent]))""")
        levers = {v.name for v in circuit.variables if len(v.positions) <= 3}
        assert {k: x for k, x in wanted.items() if k in levers}.items() <= shown.items()
        lit = page.evaluate("""() => [...document.querySelectorAll("#sheet .glow.lit")]
          .map((glow) => glow.dataset.glow)""")
        rails = {circuit.names[node] for node in circuit.rails}
        drawn = set(
            page.evaluate("[...document.querySelectorAll('#sheet path.rail[data-rail]')].map((p) => p.dataset.rail)")
        )
        assert set(lit) == set(finding.path) & rails & drawn
        assert lit
        poles = poles_shown(page)
        assert any(len(poles[rail][0]) > 1 for rail in set(finding.path) & rails)
        tried += 1
    assert tried


EVIL = """format: netlister/1
title: "</title></script><script>alert(1)</script><img src=x onerror=alert(2)>"
notes: "</pre><script>alert(3)</script> & <b>bold</b>"
supplies: {"<script>alert(4)</script>": {type: dcc, voltage: 15 V}}
track:
  "<script>alert(5)</script>": {length: 900 mm}
  "</script><img src=x onerror=alert(6)>": {length: 900 mm}
  "T'\\"&lt;1": {kind: live-frog, hand: right}
machines:
  "M<svg onload=alert(7)>": {throws: ["T'\\"&lt;1"]}
joints:
  - {from: "<script>alert(5)</script>", to: "T'\\"&lt;1.toe"}
feeds:
  - {to: "<script>alert(5)</script>"}
  - {to: "</script><img src=x onerror=alert(6)>", A: left, B: left}
trains:
  "<!--<script>": {axles: [0 mm, 30 mm]}
"""


def test_names_stay_text(opened):
    page = opened(html_of(netlister.read_text(EVIL, "<script>alert(8)</script>.yaml")))
    assert page.locator("h1").text_content() == "</title></script><script>alert(1)</script><img src=x onerror=alert(2)>"
    assert page.locator("b", has_text="bold").count() == 0
    assert page.locator("img").count() == 0
    assert page.locator("script").count() == 2
    lever = page.locator("button.lever")
    assert "M<svg onload=alert(7)>" in lever.text_content()
    lever.press("Enter")
    assert "<script>alert(5)</script>" in page.locator("#table-rails").text_content()
    page.get_by_label("Red probe", exact=True).fill("<script>alert(5)</script>.left")
    page.keyboard.press("Tab")
    page.get_by_label("Black probe", exact=True).fill("</script><img src=x onerror=alert(6)>.left")
    page.keyboard.press("Tab")
    assert "poles are joined" in page.locator("#volts-read").text_content()
    page.locator("button[data-finding]").first.click()
    page.wait_for_function("() => location.hash.includes('finding=')")
    assert page.locator("img").count() == 0


def test_cards_have_the_sizes_of_letters_that_they_are_drawn_with(opened):
    """Room for each name is sought with its size; a style of the page that changed it would lay names on one another."""
    page = opened(html_of(example("reversing-loop")))
    for details in page.locator("details.wiring").all():
        details.evaluate("(one) => { one.open = true; }")
    sizes = page.evaluate("""() => [...document.querySelectorAll("svg.wired text[font-size]")].map((text) =>
      [parseFloat(text.getAttribute("font-size")), parseFloat(getComputedStyle(text).fontSize), text.textContent])""")
    assert len(sizes) > 50
    assert [row for row in sizes if abs(row[0] - row[1]) > 0.01] == []


def test_the_policy_stops_what_is_not_of_the_page(opened):
    html = html_of(example("one-frog"))
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)[1]
    assert policy.startswith("default-src &#x27;none&#x27;")
    assert "unsafe" not in policy
    assert not re.search(
        r"\son\w+=|javascript:|https?://(?!www\.w3\.org/2000/svg)",
        re.sub(r"<script.*?</script>", "", html, flags=re.DOTALL),
    )
    page = opened(html, allowed="requires 'TrustedScript'")
    page.evaluate("""() => { const s = document.createElement("script"); window.ran = 0;
      try { s.textContent = "window.ran = 1"; document.head.append(s); } catch { window.refused = 1; } }""")
    assert page.evaluate("window.ran") == 0
    complaints = page.evaluate("window.refused")
    assert complaints == 1


def test_without_its_script_it_can_be_read(opened):
    page = opened(html_of(example("peat-railway-faulty")), java_script_enabled=False)
    assert "feed 'mill-loop' from a reverser" in page.inner_text("main")
    assert page.locator("#table-rails tbody tr").count() > 20
    assert not page.locator("button:visible").count()
    assert not page.locator("input:visible").count()
    assert "in one position: T" in page.inner_text("noscript") or "in one position: M" in page.inner_text("noscript")


def test_the_link_keeps_the_state(opened):
    layout = example("terminus")
    html = html_of(layout)
    page = opened(html)
    levers = page.locator("button.lever")
    for number in (0, 3, 5):
        levers.nth(number).press("Enter")
    page.get_by_label("Red probe", exact=True).fill(
        "T1.frog" if "T1" in layout.pieces else poles_shown(page).popitem()[0]
    )
    page.keyboard.press("Tab")
    page.locator("#push").press("ArrowRight")
    page.wait_for_function(
        "() => new URLSearchParams(location.hash.slice(1)).get('at') === document.getElementById('push').value"
    )
    fragment = page.evaluate("location.hash")
    other = opened(html, fragment)
    assert poles_shown(other) == poles_shown(page)
    for one in ("#probe-0", "#push", "#trip", "#train", "#train-piece", "#train-end"):
        assert other.locator(one).input_value() == page.locator(one).input_value()
    assert "set=" in fragment
    assert "red=" in fragment


def test_a_broken_link_does_no_harm(opened):
    page = opened(
        html_of(example("one-frog")), "#set=T9%3Dnowhere&finding=99&red=none&train=ghost&from=x.y&at=1e9&set=%"
    )
    layout = example("one-frog")
    circuit = build(layout)
    compare(page, circuit, rail_poles(circuit, state_of(circuit, {})))


def test_tables_can_be_sorted_and_searched(opened):
    page = opened(html_of(example("quarry-line")))
    button = page.locator("#table-volts").get_by_role("button", name="lost, %")
    column = """() => [...document.querySelectorAll("#table-volts tbody tr")].map((r) => parseFloat(r.cells[4].textContent))"""
    button.press("Enter")
    rising = page.evaluate(column)
    assert rising == sorted(rising)
    assert page.locator("#table-volts th[aria-sort=ascending]").count() == 1
    button.press("Enter")
    assert page.evaluate(column) == sorted(rising, reverse=True)
    assert len(set(rising)) > 3
    name = page.locator("#table-volts tbody th").first.text_content()
    page.get_by_label("Find in volts").fill(name)
    left = page.locator("#table-volts tbody tr:visible")
    assert 0 < left.count() < len(rising)
    assert all(name in text for text in left.all_text_contents())


def test_on_paper_everything_is_unfolded(opened):
    page = opened(html_of(example("terminus")))
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    assert page.locator("details:not([open])").count() == 0
    assert not page.locator("button.lever:visible, input:visible, select:visible").count()
    assert page.locator("#table-rails tbody tr:visible").count() == len(build(example("terminus")).rails)
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.locator("details:not([open])").count() > 0


def test_on_paper_tables_have_their_names_and_cards_their_sheets(opened):
    """Names that are buttons on the screen are printed; each sheet of a card fits on a page."""
    page = opened(html_of(example("reversing-loop")))
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    seen = "(cell) => (cell.querySelector('button') ?? cell).getClientRects().length > 0"
    for cell in page.locator("details.table th").all():
        assert cell.evaluate(seen), cell.text_content()
    high = page.evaluate(
        "[...document.querySelectorAll('svg.wired')].map((one) => one.viewBox.baseVal.height / one.viewBox.baseVal.width)"
    )
    assert len(high) > 5
    assert max(high) < 267 / 180  # of A4, without its margins


def test_cards_and_tables_of_a_wrong_wiring_say_that_nothing_is_to_be_built():
    """As the papers of the commands do, on each sheet; a right one has nothing of it."""
    wrong, right = html_of(example("peat-railway-faulty")), html_of(example("reversing-loop"))
    sheets = wrong.count('<svg xmlns="http://www.w3.org/2000/svg" class="plan wired"')
    assert sheets > 5
    assert wrong.count(">DO NOT BUILD<") >= sheets
    assert wrong.count("DO NOT BUILD FROM THIS: the wiring is wrong") == 2  # over the tables and over the cards
    assert "DO NOT BUILD" not in right


def test_no_motion_for_those_who_want_none(opened):
    page = opened(html_of(example("one-frog")), reduced_motion="reduce")
    moving = page.evaluate("""() => [...document.querySelectorAll("*")].filter((one) => {
      const style = getComputedStyle(one);
      return style.transitionDuration !== "0s" || style.animationName !== "none";
    }).length""")
    assert moving == 0


MOST_BYTES, MOST_OPENING, MOST_MS = 4_000_000, 1000, 50
MOVES = """(keys) => keys.map((key) => { const sheet = document.getElementById("sheet"), before = performance.now();
  sheet.dispatchEvent(new KeyboardEvent("keydown", {key})); sheet.querySelector("svg.plan").getBoundingClientRect();
  return performance.now() - before; })"""
TAPS = """(shares) => shares.map((share) => { const plan = document.querySelector("#sheet svg.plan"), edge = plan.getBoundingClientRect();
  const before = performance.now();
  plan.dispatchEvent(new MouseEvent("click", {bubbles: true, clientX: edge.x + share * edge.width, clientY: edge.y + edge.height / 2}));
  return performance.now() - before; })"""


def test_a_thousand_turnouts(opened, record_property):
    """The bytes, the script's time until it is ready, and from a press, a tap or a move of the plan to the end of it."""
    html = html_of(netlister.read_text(branch_line(1000)))
    assert len(html.encode()) < MOST_BYTES
    page = opened(html)
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    page.reload()
    page.wait_for_selector("html.ready")
    spent = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
    assert page.locator("button.lever").count() == 1000
    assert page.evaluate("document.querySelectorAll('*').length") < 15 * 1000
    assert page.locator("#table-rails").count() == 0
    page.evaluate("performance.clearMeasures('throw')")
    page.locator("details.table summary").first.click()
    page.wait_for_selector("#table-rails")
    frog = """(n) => [...document.querySelectorAll(`#table-rails tbody tr`)]
      .find((r) => r.cells[0].textContent === n && r.cells[1].textContent === "frog").cells[2].textContent"""
    for number in (1, 250, 500, 750, 999):
        before = page.evaluate(frog, f"T{number}")
        page.locator(f'button.lever[data-variable="M{number}"]').press("Enter")
        assert page.evaluate(frog, f"T{number}") != before
    page.locator("details.table summary").first.click()
    times = {
        "open": [spent["ScriptDuration"] * 1000],
        "throw": page.evaluate("performance.getEntriesByName('throw').map((one) => one.duration)"),
        "move from afar": page.evaluate(MOVES, ["+", *["ArrowRight"] * 9]),
        "tap": page.evaluate(TAPS, [0.1 * n for n in range(1, 10)]),
        "move near by": page.evaluate(MOVES, [*"++++++++", *["ArrowRight", "ArrowDown"] * 10])[8:],
    }
    record_property("ms", times)
    assert len(times["throw"]) == 5
    middle = {what: sorted(some)[len(some) // 2] for what, some in times.items()}
    assert 0 < middle.pop("open") < MOST_OPENING, times
    assert max(middle.values()) < MOST_MS, middle


def test_same_input_same_bytes():
    layout = example("terminus")
    assert make(layout, [], []) == make(example("terminus"), [], [])
    assert str(ROOT) not in make(
        netlister.read_text(
            "format: netlister/1\nsupplies: {m: {type: dcc, voltage: 15 V}}\ntrack: {a: {length: 1 m}}\n"
        ),
        [],
        [],
    )
    assert json.loads(re.search(r'id="data">(.*?)</script>', make(layout, [], []))[1])["format"] == "netlister-page/1"

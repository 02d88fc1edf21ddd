"""The train on the page: its way against `netlister routes`, where it stops or shorts against the rules of `check`."""

from __future__ import annotations

import json
from urllib.parse import urlencode

import pytest

import netlister
from netlister.circuit.build import build
from netlister.outputs.routes import find
from netlister.poles.reach import Poles
from netlister.routes.settings import Settings
from tests.browser.making import EXAMPLES, example, html_of


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_route_offered_is_one_of_the_command_routes(name, opened):
    layout = example(name)
    page = opened(html_of(layout))
    settings = Settings(Poles(build(layout)))
    offered = page.evaluate("[...document.querySelectorAll('#trip option')].slice(1).map((o) => o.textContent)")
    for number, title in enumerate(offered[:8]):
        start, _, goal = title.partition(" to ")
        way = 0
        if ", way " in goal:
            goal, _, which = goal.rpartition(", way ")
            way = int(which) - 1
        page.locator("#trip").select_option(str(number))
        shown = json.loads(page.locator("#way").get_attribute("data-pieces"))
        told = [step.piece for step in find(settings, (start, ""), (goal, ""), 0, 3).found.ways[way].runs[0]]
        assert shown[: len(told)] == told


LINE = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  one: {length: 300 mm}
  gap: {length: 40 mm}
  two: {length: 300 mm}
  bad: {length: 300 mm}
joints:
  - {from: one, to: gap, insulate: both}
  - {from: gap, to: two, insulate: both}
  - {from: two, to: bad, insulate: both}
feeds:
  - {to: [one, two]}
  - {to: bad, A: right, B: left}
trains:
  short: {axles: [0 mm, 20 mm]}
  long: {axles: [0 mm, 60 mm]}
"""


def troubles(page):
    return page.evaluate("""() => [...document.querySelectorAll("#troubles li")].map((li) =>
      [li.className, li.querySelector("button").textContent])""")


def test_dead_track_stops_a_short_train_and_crossed_feeds_short_every_train(opened):
    # By hand: on 40 mm of dead track two axles 20 mm apart stand wholly on it from 320 to 340 mm, and to either side for
    # half the width of a gap. The feeds of 'bad' are crossed, so the first wheel on the gap at 640 mm shorts.
    layout = netlister.read_text(LINE)
    page = opened(html_of(layout), "#" + urlencode([("train", "short"), ("from", "one.a"), ("at", "330")]))
    gap = json.loads(page.locator("#data").text_content())["gap"]
    assert page.locator("#train-says").get_attribute("data-what") == "stalls"
    found = troubles(page)
    assert found[0] == ["stalls", f"Stops at {round(320 - gap / 2)} to {round(340 + gap / 2)} mm"]
    assert found[1][0] == "short"
    assert found[1][1].startswith(f"Shorts at {round(640 - gap / 2)} to ")
    page.locator("#train").select_option(label="long")
    assert troubles(page)[0][0] == "short"


def test_a_train_is_pushed_by_keys(opened):
    layout = netlister.read_text(LINE)
    page = opened(html_of(layout), "#" + urlencode([("from", "one.a")]))
    slider = page.locator("#push")
    before = int(slider.input_value())
    slider.press("ArrowRight")
    assert int(slider.input_value()) == before + 1
    slider.press("End")
    assert int(slider.input_value()) == 940
    assert "bad" in slider.get_attribute("aria-valuetext")
    assert page.locator("#ribbon .wheel").count() == 4


def test_where_the_train_stops_agrees_with_the_rule_stall(opened):
    """'peat-engine' stops on T3 from toe to through for 5 mm of its way, as `check` says with the rule `stall`."""
    layout = example("peat-railway-faulty")
    report = netlister.check_file(layout.name)
    told = next(f for f in report.findings if f.rule == "stall" and f.subject == "peat-engine at T3")
    assert "together for 5 mm" in " ".join([told.message, *(m.headline for m in told.mistakes)])
    page = opened(
        html_of(layout), "#" + urlencode([("train", "peat-engine"), ("from", "line-2.a"), ("set", "M3=through")])
    )
    stops = [text for what, text in troubles(page) if what == "stalls"]
    assert len(stops) == 1
    start, stop = (int(x) for x in stops[0].removeprefix("Stops at ").removesuffix(" mm").split(" to "))
    assert stop - start == 5


def test_a_reverser_changes_over_under_a_train(opened):
    page = opened(html_of(example("reversing-loop")), "#" + urlencode([("from", "line.a"), ("at", "2400")]))
    assert page.locator("#train-says").get_attribute("data-what") in {"runs", "stalls"}
    assert not [what for what, _ in troubles(page) if what == "short"]

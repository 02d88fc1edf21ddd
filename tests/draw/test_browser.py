"""Drawings in a real Chromium: no two labels share a place, and nothing that a name says is run.

The browser measures the text as it sets it (`getBBox` and the matrix of the element), whatever fonts there are.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from html import unescape
from itertools import pairwise

import pytest

from netlister.draw.plan import plan_svg
from netlister.papers.card import card_svg, cards
from tests.draw.support import EXAMPLES, NASTY, OVAL, TRIANGLE, circle, circuit, example, first, random_circuit

CHROMIUM = next((p for p in map(shutil.which, ("chromium", "chromium-browser", "google-chrome")) if p), None)
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and "NETLISTER_CI" not in os.environ, reason="chromium is not installed; apt-get install chromium"
)

SCRIPT = """
const found = [];
document.querySelectorAll('svg').forEach((svg, number) => {
  const boxes = [];
  svg.querySelectorAll('text').forEach(text => {
    const b = text.getBBox(), m = text.getScreenCTM(), r = svg.getScreenCTM().inverse().multiply(m);
    const x = b.x * r.a + r.e, y = b.y * r.d + r.f;
    boxes.push([x, y, x + b.width * r.a, y + b.height * r.d, text.textContent, text.getAttribute('class') || '']);
  });
  const v = svg.viewBox.baseVal;
  found.push({boxes: boxes, view: [v.x, v.y, v.x + v.width, v.y + v.height], rails: svg.querySelectorAll('.rail').length});
});
const out = document.createElement('pre');
out.id = 'found';
out.textContent = JSON.stringify({drawings: found, scripts: document.scripts.length, pwned: window.pwned === 1});
document.body.appendChild(out);
"""


def measured(folder, svgs):
    """What the browser measures in drawings that stand in one page."""
    page = folder / "page.html"
    body = "\n".join(f"<div>{svg}</div>" for svg in svgs)
    page.write_text(
        f"<!doctype html><meta charset=utf-8><title>t</title><body>{body}<script>{SCRIPT}</script>", encoding="utf-8"
    )
    assert CHROMIUM, "chromium must be installed here"
    command = [
        CHROMIUM,
        *("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run"),
        *(f"--user-data-dir={folder / 'profile'}", "--virtual-time-budget=8000", "--dump-dom", page.as_uri()),
    ]
    done = subprocess.run(command, capture_output=True, check=True, timeout=240)
    match = re.search(r'<pre id="found">(.*?)</pre>', done.stdout.decode("utf-8"), re.DOTALL)
    assert match, done.stderr.decode("utf-8", "replace")[-2000:]
    found = json.loads(unescape(match[1]))
    assert len(found["drawings"]) == len(svgs)
    return found


def collisions(drawing):
    """Pairs of texts whose boxes share more than a hair."""
    boxes = drawing["boxes"]
    pairs = []
    for i, (ax, ay, bx, by, one, _) in enumerate(boxes):
        for cx, cy, dx, dy, two, _ in boxes[:i]:
            if min(bx, dx) - max(ax, cx) > 0.1 and min(by, dy) - max(ay, cy) > 0.1:
                pairs.append((one, two))
    return pairs


def outside(drawing):
    left, top, right, low = drawing["view"]
    return [t for x, y, x2, y2, t, _ in drawing["boxes"] if x < left or x2 > right or y < top or y2 > low]


def check(folder, named, unrailed=()):
    found = measured(folder, [svg for _, svg in named])
    assert found["scripts"] == 1  # the one that measures
    assert not found["pwned"]
    for (name, _), drawing in zip(named, found["drawings"], strict=True):
        assert drawing["boxes"], name
        assert drawing["rails"] or name in unrailed, name
        assert collisions(drawing) == [], name
        assert outside(drawing) == [], name


def test_labels_of_all_examples(tmp_path):
    named = []
    for name in EXAMPLES:
        made = example(name)
        named.append((name, plan_svg(made, first(made))))
        named.append((f"{name}, last", plan_svg(made, tuple(len(v.positions) - 1 for v in made.variables))))
    check(tmp_path, named)


def test_labels_of_figures(tmp_path):
    made = [circuit(t) for t in (TRIANGLE, OVAL, circle(), circle(24, "15 deg"), circle(36, "10 deg"))]
    check(tmp_path, [(str(i), plan_svg(m, first(m))) for i, m in enumerate(made)])


def test_labels_of_random_layouts(tmp_path):
    made = [(f"seed {s}", random_circuit(s)) for s in range(100, 140)]
    check(tmp_path, [(name, plan_svg(m, first(m))) for name, m in made])


def test_labels_of_long_names(tmp_path):
    names = ["W" * 40, "i" * 60, "日本語の駅の側線", "Ж" * 20, "é" * 20, "a", "0" * 30]
    track = "".join(f"  {n}: {{length: 100 mm}}\n" for n in names)
    joints = "".join(f"  - {{from: {a}, to: {b}}}\n" for a, b in pairwise(names))
    made = circuit(f"track:\n{track}joints:\n{joints}")
    check(tmp_path, [("long", plan_svg(made, ()))])


def test_cards_of_all_examples(tmp_path):
    named: list = []
    gear: set[str] = set()
    for name in EXAMPLES:
        made = example(name)
        named += [(f"{name}: {one}", card_svg(made, one)) for one in cards(made.layout)]
        gear |= {f"{name}: {one}" for one in cards(made.layout)} - {
            f"{name}: {one}" for one in (*made.layout.pieces, *made.layout.reversers)
        }
    check(tmp_path, named, gear)


def test_names_are_never_run(tmp_path):
    nasty = ["<script>window[`pwned`]=1</script>", "</title><script>window[`pwned`]=1</script>", NASTY]
    nasty.append('"><img src=x onerror="window[`pwned`]=1">')
    track = "".join(f"  {json.dumps(n)}: {{kind: live-frog, hand: left}}\n" for n in nasty)
    made = circuit(f"title: {json.dumps(nasty[0])}\ntrack:\n{track}")
    check(tmp_path, [("plan", plan_svg(made, first(made))), *((n, card_svg(made, n)) for n in nasty)])

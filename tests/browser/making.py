"""Pages of layouts, and what stands on them."""

from __future__ import annotations

from pathlib import Path

import netlister
from netlister.cli.report import make

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(path.parent.name for path in (ROOT / "examples").glob("*/layout.yaml"))


def example(name):
    return netlister.read_file(str(ROOT / "examples" / name / "layout.yaml"))


def html_of(layout, **options):
    return make(layout, [], [], **options)


def poles_shown(page):
    """Per rail its poles as they stand in the table, and its class on the plan."""
    return page.evaluate("""() => {
      const found = {};
      const drawn = new Map();
      for (const path of document.querySelectorAll("#sheet path.rail[data-rail]")) {
        const kinds = drawn.get(path.dataset.rail) ?? new Set();
        kinds.add([...path.classList].filter((c) => c.startsWith("pole-")).join(" "));
        drawn.set(path.dataset.rail, kinds);
      }
      for (const row of document.querySelectorAll("#table-rails tbody tr")) {
        const name = `${row.cells[0].textContent}.${row.cells[1].textContent}`, text = row.querySelector("td[class^=pole-]").textContent;
        found[name] = [text === "none" ? [] : text.split("+"), [...(drawn.get(name) ?? [])]];
      }
      return found;
    }""")


def expected_class(circuit, poles):
    if not poles:
        return "pole-none"
    if len(poles) > 1:
        return "pole-both"
    letters = {pole.name: pole.letter for pole in circuit.poles}
    return f"pole-{letters[poles[0]]}" if poles[0] in letters else "pole-unit"


def compare(page, circuit, expected):
    """Every rail in the table and on the plan against `expected`, names of rails to sorted names of poles."""
    shown = poles_shown(page)
    assert {rail: poles for rail, (poles, _) in shown.items()} == expected
    drawn = {rail: kinds for rail, (_, kinds) in shown.items() if kinds}
    assert drawn
    assert drawn == {rail: [expected_class(circuit, expected[rail])] for rail in drawn}
    return shown

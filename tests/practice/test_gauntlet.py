"""A gauntlet: two tracks laid into each other, with no blades. Source: common practice, no published source.

The right-hand rail of the one crosses the left-hand rail of the other twice. With plastic there it is a
`diamond-insulated`, with metal frogs a `diamond-live` whose frogs follow what says which track is used.
"""

from __future__ import annotations

import pytest

import netlister
from tests.properties.reference import load, reference

PLASTIC = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {up-w: {}, up-e: {}, down-w: {}, down-e: {}, bridge: {kind: diamond-insulated}}
joints:
  - {from: up-w, to: bridge.a1}
  - {from: bridge.b1, to: up-e}
  - {from: down-w, to: bridge.a2}
  - {from: bridge.b2, to: down-e}
feeds: [{to: up-w}, {to: down-w}]
"""
LIVE = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {up-w: {}, up-e: {}, down-w: {}, down-e: {}, bridge: {kind: diamond-live, set: {1: {S1: up}, 2: {S1: down}}}}
switches:
  S1:
    positions: [up, down]
    contacts:
      a: {common: bridge.frog-a, up: bridge.outer-right, down: bridge.outer-left}
      b: {common: bridge.frog-b, up: bridge.outer-left, down: bridge.outer-right}
joints:
  - {from: up-w, to: bridge.a1, insulate: vee}
  - {from: bridge.b1, to: up-e, insulate: vee}
  - {from: down-w, to: bridge.a2, insulate: vee}
  - {from: bridge.b2, to: down-e, insulate: vee}
feeds: [{to: up-w}, {to: up-e}, {to: down-w}, {to: down-e}, {to: bridge, A: outer-left, B: outer-right}]
"""
MISTAKES = [
    (PLASTIC, ", {to: down-w}", "", {("dead-track", "bridge"), ("dead-track", "down-e"), ("dead-track", "down-w")}),
    (PLASTIC, "to: bridge.a2}", "to: bridge.a2, insulate: left}", {("dead-track", "down-e"), ("dead-track", "bridge")}),
    (LIVE, "up: bridge.outer-right, down: bridge.outer-left", "up: bridge.outer-left, down: bridge.outer-right",
     {("gap-clash", "bridge"), ("dead-track", "bridge")}),
    (LIVE, "{from: bridge.b1, to: up-e, insulate: vee}", "{from: bridge.b1, to: up-e}", {("pole-short", "main.A/main.B")}),
]  # fmt: skip


@pytest.mark.parametrize("text", [PLASTIC, LIVE], ids=["plastic", "live"])
def test_it_is_right(text: str) -> None:
    assert netlister.check_text(text).findings == ()
    assert reference(load(text)) == {}


@pytest.mark.parametrize(("right", "old", "new", "wanted"), MISTAKES)
def test_its_mistakes_are_found(right: str, old: str, new: str, wanted: set[tuple[str, str]]) -> None:
    assert right.count(old) == 1
    wrong = right.replace(old, new)
    found = {(f.rule, f.subject) for f in netlister.check_text(wrong).findings}
    assert wanted <= found
    assert wanted <= reference(load(wrong)).keys()

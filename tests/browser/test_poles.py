"""Poles as the page works them out, against the command `poles` and against plain enumeration."""

from __future__ import annotations

from random import Random

import pytest

import netlister
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles, state_of
from tests.amount import seeds, some
from tests.browser.address import go
from tests.browser.making import EXAMPLES, compare, example, html_of
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import load, poles_in_state, states


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_turnout_thrown_by_keyboard(name, opened):
    """The rails of the page after each throw against those that `netlister poles --set` gives for the same state."""
    layout = example(name)
    circuit = build(layout)
    page = opened(html_of(layout))
    positions = {v.name: v.positions[v.rest] for v in circuit.variables}
    before = compare(page, circuit, rail_poles(circuit, state_of(circuit, positions)))
    changed = 0
    for variable in some(circuit.variables, 8):
        for _ in variable.positions:
            at = variable.positions.index(positions[variable.name])
            positions[variable.name] = variable.positions[(at + 1) % len(variable.positions)]
            throw(page, variable, positions[variable.name])
            now = compare(page, circuit, rail_poles(circuit, state_of(circuit, positions)))
            changed += now != before
            before = now
    assert changed or not circuit.variables or name in WITHOUT_CHANGE


WITHOUT_CHANGE = {"second-hand"}
"""Its turnout has a link left in, so that no throw changes any pole."""


def throw(page, variable, position):
    """Move one thing by the keyboard alone."""
    if len(variable.positions) > 3:
        control = page.get_by_label(f"{variable.kind} {variable.name}", exact=True)
        control.focus()
        page.keyboard.press("Home" if variable.positions.index(position) == 0 else "ArrowDown")
        return
    control = page.locator(f'button.lever[data-variable="{variable.name}"]')
    control.focus()
    page.keyboard.press("Enter")
    assert control.locator(".where").text_content() == position


@pytest.mark.parametrize("seed", seeds(10, 24))
def test_random_layouts_against_plain_enumeration(seed, opened):
    """Every rail in up to six states against the enumeration of `reference.py`, which shares no code with the page."""
    data = random_layout(Random(seed))
    layout = netlister.read_text(dump(data))
    circuit = build(layout)
    page = opened(html_of(layout))
    told = load(dump(data))
    listed = states(told)
    for state in Random(seed).sample(listed, min(6, len(listed))):
        settings = dict(state)
        go(page, [("set", f"{k}={v}") for k, v in settings.items()])
        walked = rail_poles(circuit, state_of(circuit, settings))
        shown = compare(page, circuit, walked)
        for rail, (poles, _) in shown.items():
            assert set(poles) == poles_in_state(told, state)[rail], (rail, settings)

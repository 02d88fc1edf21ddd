"""What is dead on purpose is left so: a frog that says `frog: dead` gets no contact, whatever else is mended."""

from __future__ import annotations

from netlister.layout.read import read_layout
from netlister.mend import mend
from netlister.source import Source

YARD = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  headshunt: {length: 600 mm}
  P1: {kind: isolated-metal-frog, hand: right}
  P2: {kind: isolated-metal-frog, hand: left, frog: dead}
  coal: {length: 600 mm}
  lime: {length: 600 mm}
machines:
  M1: {throws: [P1], contacts: {frog: {common: P1.frog, through: P1.stock-right, diverging: P1.stock-left}}}
  M2: {throws: [P2]}
joints:
  - {from: headshunt, to: P1.toe}
  - {from: P1.diverging, to: P2.toe}
  - {from: P2.through, to: coal}
  - {from: P2.diverging, to: lime}
feeds:
  - {to: headshunt}
"""


def mended(text):
    return mend(read_layout(Source("layout.yaml", text)))


def test_a_frog_that_is_dead_on_purpose_is_nothing_to_mend():
    assert not mended(YARD).repairs
    assert not mended(YARD).before.causes
    assert mended(YARD.replace(", frog: dead", "")).repairs[0].weight == 1


def test_a_feed_that_is_missing_beside_it_is_mended_alone():
    found = mended(YARD.replace("feeds:\n  - {to: headshunt}\n", ""))
    assert found.repairs[0].weight == 1
    assert {rule for rule, _ in found.repairs[0].left} == {"floating-net", "dead-track"}
    assert not found.wrong


def test_a_rail_that_is_dead_beside_it_is_still_mended():
    """One rail of the feed is off: the frog may stay dead, the rail may not."""
    found = mended(YARD.replace("{to: headshunt}", "{to: headshunt, A: left}"))
    assert found.repairs[0].weight == 1
    assert not found.wrong


def test_two_frogs_of_one_route_are_too_many():
    """Then a train has current on neither side: an error, and what is dead on purpose is a choice, too."""
    text = YARD.replace("isolated-metal-frog, hand: left, frog: dead", "three-way-isolated-metal, frog: dead")
    text = text.replace("throws: [P2]", "throws: [P2.left, P2.right]").replace("P2.through", "P2.left").replace(
        "P2.diverging", "P2.right"
    )  # fmt: skip
    found = mended(text)
    assert found.repairs
    assert not found.wrong

"""Colour letters of IEC 60757 (table of the 1983 issue, as in two reprints)."""

from __future__ import annotations

import pytest

import netlister

LETTERS = ["BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR", "GNYE"]

TEXT = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
buses: {main: {supply: main, colours: {A: %s}}}
track: {line: {length: 1 m}}
feeds: [{to: line}]
"""


@pytest.mark.parametrize("letters", LETTERS)
def test_every_colour_of_the_standard(letters):
    layout = netlister.read_text(TEXT % letters)
    assert dict(layout.buses["main"].colours) == {"A": letters}


def test_two_colours_on_one_wire_are_written_together_in_the_order_of_the_table():
    assert dict(netlister.read_text(TEXT % "RDBU").buses["main"].colours) == {"A": "RDBU"}


@pytest.mark.parametrize("letters", ["red", "XX", "BR", "rd"])
def test_others_are_refused(letters):
    with pytest.raises(netlister.UnusableError, match=r"IEC 60757|colour"):
        netlister.read_text(TEXT % letters)

"""Faults of joints: every message with its line and column."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import added_faults

CASES: list[tuple[str, list[str]]] = [
    ("joints: {from: a, to: b}", ["10:9 a row of joints is due here, as a list"]),
    ("joints: [a]", ["10:10 a joint is due here, as 'name: value' pairs"]),
    ("joints: [{from: a}]", ["10:10 this joint has no 'to'; add the end of a piece, as in 'to: T1.toe'"]),
    ("joints: [{form: a, to: b}]", ["10:11 a joint takes no 'form'; did you mean 'from'?"]),
    ("joints: [{from: a, to: b, insulated: left}]", ["10:27 a joint takes no 'insulated'; did you mean 'insulate'?"]),
    ("joints: [{from: a, to: z}]", ["10:24 there is no piece of track 'z'; write 'a', 'b', 'T1', 'T2', 'X1' or 'D1'"]),
    ("joints: [{from: a, to: T1}]", ["10:24 'T1' has several ends; write 'T1.toe', 'T1.through' or 'T1.diverging'"]),
    ("joints: [{from: a, to: T1.to}]", ["10:24 'T1' has no end 'to'; did you mean 'toe'?"]),
    ("joints: [{from: a.c, to: T1.toe}]", ["10:17 'a' has no end 'c'; write 'a.a' or 'a.b'"]),
    ("joints: [{from: a, to: main}]", ["10:24 'main' is a supply, not a piece of track"]),
    (
        "joints: [{from: a, to: b, insulate: all}]",
        ["10:37 'insulate' cannot be 'all'; write 'none', 'left', 'right', 'both' or 'vee'"],
    ),
    (
        "joints: [{from: a, to: b}, {from: a.b, to: T1.toe}]",
        ["10:35 'a.b' is joined already, in line 10; an end is joined once"],
    ),
    ("joints: [{from: a.b, to: a.b}]", ["10:26 'a.b' is joined to itself; name the end of another piece"]),
    ("joints: [{from: [a], to: b}]", ["10:17 the end of a piece, as in 'T1.toe', is due here, not a list"]),
    (
        "joints: [{from: a, to: b, id: main}]",
        ["10:31 the id 'main' is taken: a supply has it in line 2; choose another name"],
    ),
    (
        "joints: [{from: a, to: b, id: J}, {from: b, to: T1.toe, id: J}]",
        ["10:61 the id 'J' is taken: an id has it in line 10; choose another name"],
    ),
    ('joints: [{from: a, to: b, id: ""}]', ["10:31 an id cannot be empty; write a name or leave 'id' out"]),
]


@pytest.mark.parametrize(("text", "expected"), CASES, ids=[text.strip() for text, _ in CASES])
def test_message(text: str, expected: list[str]) -> None:
    assert added_faults(text) == expected

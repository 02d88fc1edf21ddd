"""Tramways: an overhead wire or a third rail, and return through both running rails, as a kind of one's own.

Source of the wiring: common practice, no published source.
"""

from __future__ import annotations

import pytest

import netlister

KIND = """\
kind: street-track
title: Track under an overhead wire
summary: The wire is one pole; the two running rails are joined and are the other one.
plain: true
rails: [wire, left, right]
ends:
  a: {entering: true, left: left, right: right}
  b: {entering: false, left: left, right: right}
bonds: [[left, right]]
routes:
  through: {ends: [a, b], left: [wire], right: [right]}
"""
LAYOUT = """\
format: netlister/1
use: tram.yaml
supplies: {tram: {type: dc, voltage: 12 V, trip: 2 A}}
track: {street: {kind: street-track, length: 2 m}, depot: {kind: street-track}, bend: {kind: street-track}}
joints: [{from: street.b, to: depot.b}, {from: depot.a, to: bend}, {from: bend, to: street}]
feeds: [{to: street, A: wire, B: left}]
wires: [{from: street.wire, to: depot.wire}, {from: depot.wire, to: bend.wire}]
"""


def found(tmp_path, text):
    (tmp_path / "tram.yaml").write_text(KIND)
    (tmp_path / "layout.yaml").write_text(text)
    return sorted((f.rule, f.subject) for f in netlister.check_file(str(tmp_path / "layout.yaml")).findings)


def test_a_loop_needs_no_gap_though_its_pieces_face_each_other(tmp_path):
    assert found(tmp_path, LAYOUT) == []


@pytest.mark.parametrize(
    ("old", "new", "rules"),
    [
        (", {from: depot.wire, to: bend.wire}", "", [("dead-track", "bend"), ("floating-net", "bend.wire")]),
        ("B: left}]", "B: left}, {to: depot, A: left}]", [("pole-short", "tram.A/tram.B")]),
        ("B: left}]", "B: left}, {to: bend, B: wire}]", [("pole-short", "tram.A/tram.B")]),
    ],
)
def test_its_mistakes_are_found(tmp_path, old, new, rules):
    assert found(tmp_path, LAYOUT.replace(old, new)) == rules


def test_a_path_under_wheels_must_begin_on_the_rails_at_its_ends(tmp_path):
    (tmp_path / "tram.yaml").write_text(
        KIND.replace("left: [wire], right: [right]", "left: [wire, wire], right: [left]")
    )
    (tmp_path / "layout.yaml").write_text(LAYOUT)
    with pytest.raises(netlister.UnusableError, match="the path of the"):
        netlister.check_file(str(tmp_path / "layout.yaml"))

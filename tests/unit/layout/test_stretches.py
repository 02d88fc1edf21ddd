"""Lengths along routes: NMRA RP-12.7 (9 mm gauge) gives the figures."""

import pytest

import netlister
from netlister.layout.stretches import stretches

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\n"


def measured(track, route, head=HEAD):
    layout = netlister.read_text(f"{head}track:\n  P: {track}\n", "a.yaml")
    piece = layout.pieces["P"]
    (found,) = [r for r in piece.kind.routes if r.name == route]
    return stretches(layout, piece, found)


@pytest.mark.parametrize(
    ("number", "lead", "toe", "heel"), [(4, 67.5, 7.5, 13), (5, 75.5, 8.5, 15), (7, 115, 11, 17.5)]
)
def test_a_frog_lies_where_the_sheet_has_it(number, lead, toe, heel):
    found = measured(f"{{kind: isolated-metal-frog, hand: right, frog-number: {number}}}", "diverging")
    assert found.length == pytest.approx((lead + heel) / 1000)
    assert [s.rail for s in found.left] == ["stock-left", "frog", "stock-left"]
    assert [s.start for s in found.left] == pytest.approx([0, (lead - toe) / 1000, (lead + heel) / 1000])
    assert found.known
    assert not found.stated


def test_a_stated_length_stretches_the_piece():
    plain = measured("{kind: insulated-frog, hand: left}", "through")
    twice = measured("{kind: insulated-frog, hand: left, length: 199 mm}", "through")
    assert twice.length == pytest.approx(0.199)
    assert twice.stated
    assert [2 * s.stop for s in plain.left] == pytest.approx([s.stop for s in twice.left])


def test_another_gauge_scales_the_sheet():
    found = measured("{kind: live-frog, hand: left}", "through", HEAD + "gauge: 18 mm\n")
    assert found.length == pytest.approx(2 * 0.0995)


def test_a_frog_number_between_those_of_the_sheet_is_interpolated():
    found = measured("{kind: live-frog, hand: left, frog-number: 4.5}", "through")
    assert found.length == pytest.approx((67.5 + 75.5 + 13 + 15) / 2000)


def test_what_is_not_known_is_said_to_be_not_known():
    found = measured("{length: 2 m}", "a-b")
    assert (found.length, found.known, found.stated) == (2, True, True)
    found = measured("", "a-b")
    assert (found.length, found.known) == (0, False)


def kind(lengths):
    text = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {P: {kind: mine}}
use: [mine.yaml]
"""
    body = f"""
kind: mine
title: t
summary: s
rails: [l, r, f]
ends: {{a: {{entering: true, left: l, right: r}}, b: {{left: f, right: r}}}}
dimensions: {{whole: {{value: 100 mm, what: all, source: measured}}}}
routes: {{a-b: {{ends: [a, b], left: [l, f], right: [r], {lengths}}}}}
"""
    return text, body


@pytest.mark.parametrize(
    ("lengths", "message"),
    [
        ("length: whole + 3, left-at: [0 mm]", "'3' is no length; write one of whole or '3 mm'"),
        ("length: hole, left-at: [0 mm]", "'hole' is no length; did you mean 'whole'?"),
        ("length: whole, left-at: [0 mm, 1 mm]", "2 lengths meet in 1 places, and 2 are given"),
        ("left-at: [0 mm]", "but not its 'length'; add it"),
        ("length: whole, left-at: [101 mm]", "the places are out of order or beyond its ends"),
    ],
)
def test_faults_of_lengths_are_told(tmp_path, lengths, message):
    text, body = kind(lengths)
    (tmp_path / "a.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "mine.yaml").write_text(body, encoding="utf-8")
    with pytest.raises(netlister.UnusableError) as caught:
        netlister.read_file(tmp_path / "a.yaml")
    assert message in str(caught.value)


# A No. 6 frog of the sheet: lead 83 mm, toe end 9.5 mm before the point, heel end 16.5 mm past it.


def dead(track, route="through"):
    found = measured(track, route)
    (one,) = [s for s in (*found.left, *found.right) if s.rail is None]
    side = found.left if one in found.left else found.right
    assert [s.stop for s in side[:-1]] == [s.start for s in side[1:]]
    return pytest.approx((one.start * 1000, one.stop * 1000))


def test_a_stated_nose_ends_the_dead_length():
    kind = "{kind: insulated-frog, hand: left"
    assert dead(kind + "}") == (73.5, 99.5)
    assert dead(kind + ", nose: 3 mm}") == (73.5, 86)
    assert dead(kind + ", nose: 0 mm}") == (73.5, 83)
    assert dead(kind + ", nose: 30 mm}") == (73.5, 99.5)  # no farther than the turnout


def test_a_stated_dead_length_takes_the_place_of_what_is_worked_out():
    kind = "{kind: insulated-frog, hand: left"
    assert dead(kind + ", dead: 15 mm}") == (73.5, 88.5)
    assert dead(kind + ", dead: 10 mm, nose: 4 mm}") == (77, 87)
    assert dead(kind + ", length: 199 mm, dead: 15 mm}") == (147, 162)  # as measured, not stretched


def test_dead_lengths_of_a_crossing_keep_their_middles():
    plain, stated = (measured(f"{{kind: diamond-insulated{more}}}", "1") for more in ("", ", dead: 10 mm"))
    for one, other in zip((*plain.left, *plain.right), (*stated.left, *stated.right), strict=True):
        if one.rail is None:
            assert other.stop - other.start == pytest.approx(0.01)
            assert (other.start + other.stop) == pytest.approx(one.start + one.stop)

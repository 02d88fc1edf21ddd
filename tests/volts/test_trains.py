"""Trains as loads, and what they ask of the supplies."""

import pytest

import netlister
from netlister.volts.drop import Survey
from netlister.volts.trains import budgets, each_alone, together

LAYOUT = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 100 mohm}, lights: {type: dc, voltage: 12 V, trip: 1 A}}
rail: 50 mohm/m
joiner: 0 mohm
buses: {main: {supply: main, wire: 10 mohm/m, length: 5 m}}
track: {near: {length: 2 m}, far: {length: 1 m}}
joints: [{from: near, to: far}]
feeds: [{to: near, tap: 5 m, from: main}]
trains: {goods: {current: 1.5 A}, railcar: {current: 500 mA}, wagons: {length: 600 mm}}
"""


def survey():
    return Survey.of(netlister.read_text(LAYOUT))


def test_each_alone_at_the_far_end():
    # worked out: bus 2 x 50 mohm, rails 2 x 150 mohm, the supply 100 mohm
    found = {s.train: s for s in each_alone(survey())}
    assert set(found) == {"goods", "railcar"}
    goods = found["goods"]
    assert (goods.drop.piece, goods.drop.at) == ("far", 1)
    assert goods.lost == pytest.approx(1.5 * 0.4)
    assert goods.left == pytest.approx(15 - 1.5 * 0.5)


def test_both_at_once():
    # worked out: goods at the end of far, the railcar at the end of near; 2 A through the supply, bus and near
    found = {s.train: s for s in together(survey())}
    assert found["goods"].drop.piece == "far"
    assert found["railcar"].drop.piece == "near"
    near = 15 - 2 * 0.1 - 2 * 0.1 - 2 * 0.2
    assert found["railcar"].left == pytest.approx(near)
    assert found["goods"].left == pytest.approx(near - 1.5 * 0.1)


def test_budget():
    found = {b.supply: b for b in budgets(survey())}
    assert found["main"][1:] == pytest.approx((3, 2.0, 1.0, 45, True))
    assert found["lights"].feeds_track is False
    assert found["lights"].trains == 0


def test_budget_of_a_district():
    text = LAYOUT.replace("length: 5 m}}", "length: 5 m}, yard: {from: main, breaker: 1 A}}")
    found = {b.supply: b for b in budgets(Survey.of(netlister.read_text(text)))}
    assert found["yard (district)"][1:] == (1, 0, 1, 15, False)
    fed = {
        b.supply: b
        for b in budgets(
            Survey.of(netlister.read_text(text.replace("from: main}]", "from: yard}]").replace("tap: 5 m, ", "")))
        )
    }
    assert fed["yard (district)"][1:] == pytest.approx((1, 2, -1, 15, True))


def test_a_district_by_plug_and_wire_alone_feeds_track():
    text = LAYOUT.replace("length: 5 m}}", "length: 5 m}, yard: {from: main, breaker: 1 A}}")
    pins = "plugs: {J1: {pins: {1: [yard.A, TB1]}}}\n"
    text += pins + "wires: [{from: TB1, to: far.left}]\n"
    found = {b.supply: b for b in budgets(Survey.of(netlister.read_text(text)))}
    assert found["yard (district)"].feeds_track is True
    apart = text.replace("to: far.left", "to: TB2")
    found = {b.supply: b for b in budgets(Survey.of(netlister.read_text(apart)))}
    assert found["yard (district)"].feeds_track is False

"""Layouts from netlists that were drawn by hand: what is taken for granted, and what is refused and where."""

from __future__ import annotations

import pytest

import netlister
from tests.unit.netlists.drawn import SUPPLY, drawn, siding


def read(parts, nets):
    return netlister.read_text(drawn(parts, nets), "drawing.net")


def found(parts, nets, **options):
    report = netlister.check_text(drawn(parts, nets), "drawing.net", **options)
    return {(f.rule, f.subject) for f in report.findings}


def faults(parts, nets):
    """The messages of an unusable netlist, each with the line that it points at."""
    text = drawn(parts, nets)
    with pytest.raises(netlister.UnusableError) as caught:
        netlister.read_text(text, "drawing.net")
    lines = text.splitlines()
    return [(fault.message, lines[fault.span.line - 1][fault.span.column - 1 :]) for fault in caught.value.faults]


def only_fault(parts, nets):
    ((message, place),) = faults(parts, nets)
    return message, place


# ---- what is drawn is what is checked


def test_a_siding_that_is_right():
    layout = read(*siding())
    assert found(*siding()) == set()
    joints = {frozenset((j.start, j.end)): [i for *_, i in j.pairs] for j in layout.joints}
    assert joints == {
        frozenset((("line", "b"), ("T1", "toe"))): [False, False],
        frozenset((("T1", "through"), ("branch", "a"))): [False, True],
        frozenset((("T1", "diverging"), ("siding", "a"))): [True, False],
    }


def test_swapped_throws_are_found_and_named_by_their_references():
    parts, nets = siding()
    nets["LEFT"][1], nets["RIGHT"][1] = "Q1.through", "Q1.diverging"
    report = netlister.check_text(drawn(parts, nets), "drawing.net")
    (finding,) = {f.rule: f for f in report.findings}.values()
    assert (finding.rule, finding.subject) == ("pole-short", "G1.A/G1.B")
    text = report.to_text()
    assert "T1 is Y1" in text
    assert "T1.frog is net FROG" in text
    assert "M1.Q1.common is Q1.common" in text


def test_a_metal_joiner_at_the_frog_is_found():
    parts, nets = siding()
    parts["U1"] = ("metal-joiner", {})
    assert found(parts, nets) == {("pole-short", "G1.A/G1.B")}


def test_a_missing_feed_is_found():
    parts, nets = siding()
    for reference, net in (("W3", "A"), ("W4", "B")):
        del parts[reference]
        nets[net].remove(f"{reference}.1")
        for pins in nets.values():
            if f"{reference}.2" in pins:
                pins.remove(f"{reference}.2")
    assert ("dead-track", "branch") in found(parts, nets)


def test_feeds_may_be_drawn_either_way_round_or_left_out_for_a_line():
    parts, nets = siding()
    nets["A"][1], nets["Net-(L1-left)"][2] = "W1.2", "W1.1"
    assert found(parts, nets) == set()
    del parts["W1"]
    nets["A"].remove("W1.2")
    nets["Net-(L1-left)"].remove("W1.1")
    nets["A"] += nets.pop("Net-(L1-left)")
    assert found(parts, nets) == set()


def test_a_pole_drawn_onto_the_wrong_rail_is_a_short():
    parts, nets = siding()
    nets["A"] += nets.pop("Net-(L1-right)")
    assert ("pole-short", "G1.A/G1.B") in found(parts, nets)


def test_pins_of_contacts_may_be_numbered():
    parts, nets = siding()
    parts["Q1"] = ("contact-2", {"Moved by": "M1"})
    nets["LEFT"][1], nets["RIGHT"][1] = "Q1.2", "Q1.1"
    assert found(parts, nets) == set()


def test_a_turnout_without_a_machine_is_a_variable_of_its_own():
    parts, nets = siding()
    parts["Y1"][1].pop("Thrown by")
    parts["Q1"][1]["Moved by"] = "T1"
    assert found(parts, nets) == set()
    assert list(read(parts, nets).variables) == ["T1"]


def test_poles_of_one_letter_on_one_net_are_a_common_return():
    parts = {"G1": SUPPLY, "G2": SUPPLY, "L1": ("rail-section", {}), "L2": ("rail-section", {})}
    nets = {"A1": ["G1.A", "L1.left"], "A2": ["G2.A", "L2.left"], "B": ["G1.B", "G2.B", "L1.right", "L2.right"]}
    layout = read(parts, nets)
    assert layout.supplies["G2"].common == "G1.B"
    assert found(parts, nets) == set()
    nets = {"A": ["G1.A", "G2.A", "L1.left", "L2.left"], "B": ["G1.B", "G2.B", "L1.right", "L2.right"]}
    assert ("pole-short", "G1.B/G2.B") in found(parts, nets)  # two supplies in parallel


def test_poles_of_different_letters_on_one_net_are_a_short():
    parts = {"G1": SUPPLY, "L1": ("rail-section", {})}
    assert ("pole-short", "G1.A/G1.B") in found(parts, {"A": ["G1.A", "G1.B", "L1.left"], "B": ["L1.right"]})


def test_a_bus_a_switch_a_component_a_plug_and_a_terminal():
    parts = {
        "G1": SUPPLY,
        "W1": ("bus", {"Name": "town", "Wire": "2.5 mm2", "Length": "4 m", "Breaker": "3 A"}),
        "L1": ("rail-section", {"Name": "quay"}),
        "S1": ("switch", {"Positions": "off, on"}),
        "S2": ("contact-2", {"Moved by": "S1"}),
        "F1": ("fuse", {"Rating": "2 A"}),
        "X1": ("plug-pin", {"Name": "J1.1", "Optional": "true"}),
        "X2": ("terminal", {"Name": "TB1.4"}),
        "W2": ("wire", {"Colour": "BN"}),
    }
    nets = {
        "A": ["G1.A", "W1.A", "S2.common"],
        "B": ["G1.B", "W1.B", "X1.1"],
        "N1": ["S2.2", "F1.1"],
        "N2": ["F1.2", "X2.1", "W2.1"],
        "N3": ["W2.2", "L1.left"],
        "N4": ["X1.2", "L1.right"],
        "unconnected-(S2-Pad1)": ["S2.1"],
    }
    layout = read(parts, nets)
    assert layout.buses["town"].breaker == 3
    assert layout.components["F1"].ends == ("N1", "TB1.4")
    assert [link.ends for link in layout.links] == [("TB1.4", "quay.left")]
    assert layout.pins[0].ends == ("G1.B", "quay.right")
    assert dict(layout.contacts[0].throws) == {"off": None, "on": "N1"}
    assert list(layout.variables) == ["S1", "J1"]


def test_a_wire_that_goes_nowhere_is_a_lone_junction():
    parts = {"G1": SUPPLY, "L1": ("rail-section", {}), "W1": ("wire", {})}
    nets = {"A": ["G1.A", "L1.left"], "B": ["G1.B", "L1.right", "W1.1"]}
    assert found(parts, nets) == {("lone-junction", "pin 2 of W1")}


def test_the_layout_part_says_what_belongs_to_no_single_part():
    parts, nets = siding()
    parts["A1"] = ("layout", {"Gauge": "16.5 mm", "Limits": "joiners=3", "Never": "[{T1: diverging}]", "Notes": "a: b"})
    layout = read(parts, nets)
    assert layout.constants["gauge"] == pytest.approx(0.0165)
    assert layout.limits == {"joiners": 3}
    assert [cube for cube, _ in layout.never] == [(("M1", "diverging"),)]
    assert layout.notes == "a: b"


def test_a_field_allows_a_finding():
    parts, nets = siding()
    parts["U1"] = ("metal-joiner", {})
    text = drawn(parts, nets)
    (finding,) = netlister.check_text(text, "drawing.net").findings
    line = text.splitlines()[finding.where[0].line - 1]
    reference = next(reference for reference in parts if f'(ref "{reference}")' in line)
    parts[reference] = (parts[reference][0], {**parts[reference][1], "Allow": "pole-short: tried on the bench"})
    assert found(parts, nets) == set()
    parts[reference][1]["Allow"] = "dead-track: tried on the bench"
    assert found(parts, nets) == {("pole-short", "G1.A/G1.B"), ("unused-allow", "dead-track")}


def test_fields_of_the_draughtsmans_own_are_left_alone():
    parts, nets = siding()
    parts["Y1"][1].update({"Price": "12", "Footprint": "x", "Sim.Device": "R"})
    assert found(parts, nets) == set()


# ---- what is refused, with its place


def test_an_unknown_symbol():
    parts, nets = siding()
    parts["Y1"] = ("live-forg", parts["Y1"][1])
    message, place = only_fault(parts, nets)
    assert message == "'Y1' is of the symbol 'live-forg', which is not known; did you mean 'live-frog'?"
    assert place.startswith('"live-forg"')


@pytest.mark.parametrize(
    ("reference", "fields", "message", "place"),
    [
        ("Y1", {"Hand": "upper"}, "'hand' cannot be 'upper'; write 'left', 'right' or 'wye'", '"upper"'),
        ("Y1", {"Hand": "right", "Jumpers": "yes"}, "'jumpers' cannot be 'yes'; write 'true' or 'false'", '"yes"'),
        (
            "Y1",
            {"Hand": "right", "Options": "jumper=true"},
            "'live-frog' takes no 'jumper'; did you mean 'jumpers'?",
            '"jumper',
        ),
        (
            "Y1",
            {"Hand": "right", "Jumprs": "true"},
            "'Y1' has a field 'Jumprs' that is not known; did you mean 'jumpers'?",
            '"true"',
        ),
        ("L1", {"Blades": "left"}, "'L1', a 'rail-section', takes no field 'Blades'; leave it out", '"left"'),
        ("L1", {"Length": "1"}, "'length': '1' has no unit; write it in mm, cm, m, in or ft, as in '600 mm'", '"1"'),
        ("Q1", {}, "'Q1' does not say what moves it", '"Q1"'),
        ("Q1", {"Moved by": "M9"}, "there is no machine, switch or turnout 'M9'; there are M1, T1", '"M9"'),
        ("G1", {"Type": "dcc"}, "'G1' has no voltage", '"G1"'),
    ],
)
def test_fields_that_cannot_be(reference, fields, message, place):
    parts, nets = siding()
    parts[reference] = (parts[reference][0], fields)
    if reference == "Y1":
        parts["Q1"] = ("contact", {"Moved by": "Y1"})
    if reference == "L1" and "Length" not in fields:
        parts["L1"][1]["Name"] = "line"
    told = faults(parts, nets)
    assert any(m.startswith(message) and p.startswith(place) for m, p in told), told


def test_pins_that_are_not_there():
    parts, nets = siding()
    nets["FROG"][0] = "Y1.forg"
    message, place = only_fault(parts, nets)
    assert message == "'Y1', a 'live-frog', has no pin 'forg'; did you mean 'frog'?"
    assert place.startswith('"forg"')
    nets["FROG"][0], nets["FROG"][1] = "Y1.frog", "Q1.left"
    message, place = only_fault(parts, nets)
    assert message == "'Q1' has a pin 'left', and 'M1' has no such position; its positions are through, diverging"


def test_joiners_that_join_nothing():
    parts, nets = siding()
    nets["Net-(L2-left)"].remove("X3.2")
    told = faults(parts, nets)
    assert told[0][0] == "the joiner 'X3' joins nothing on one side; wire both its pins to rails"
    assert told[0][1].startswith('"X3"')


def test_a_joiner_that_is_left_out_of_the_export():
    parts, nets = siding()
    del parts["X2"]
    for pins in nets.values():
        pins[:] = [pin for pin in pins if not pin.startswith("X2.")]
    message, place = only_fault(parts, nets)
    assert message.startswith("the joiner 'X1' has no second one for the other rail of its joint")
    assert message.endswith("not marked as excluded from the board: the editor leaves such parts out")
    assert place.startswith('"X1"')


def test_joiners_that_say_what_they_do_not_do():
    parts, nets = siding()
    parts["X1"] = parts["X2"] = ("metal-joiner", {"Name": "toe", "From": "line.b", "To": "T1.through"})
    message, _ = only_fault(parts, nets)
    assert message.startswith("the joiners 'X1' and 'X2' say that they join 'line.b' and 'T1.through'")


def test_joiners_between_ends_that_are_alike_must_say_which():
    kind = "three-way-insulated"  # all its ends have the same two rails
    parts = {
        "G1": SUPPLY,
        "Y1": (kind, {}),
        "L1": ("rail-section", {}),
        "X1": ("metal-joiner", {}),
        "X2": ("metal-joiner", {}),
    }
    nets = {"A": ["G1.A", "Y1.stock-left", "X1.1"], "B": ["G1.B", "Y1.stock-right", "X2.1"]}
    nets |= {"C": ["L1.left", "X1.2"], "D": ["L1.right", "X2.2"]}
    message, _ = only_fault(parts, nets)
    assert "write which in their fields 'From' and 'To'" in message
    parts["X1"] = parts["X2"] = ("metal-joiner", {"Name": "leg", "From": "Y1.centre", "To": "L1.a"})
    assert [(j.start, j.end) for j in read(parts, nets).joints] == [(("Y1", "centre"), ("L1", "a"))]


def test_an_end_is_joined_once():
    parts, nets = siding()
    parts |= {"X8": ("metal-joiner", {"Name": "again"}), "X9": ("metal-joiner", {"Name": "again"})}
    nets["LEFT"].append("X8.1")
    nets["RIGHT"].append("X9.1")
    nets["Net-(L1-left)"].append("X8.2")
    nets["Net-(L1-right)"].append("X9.2")
    message, _ = only_fault(parts, nets)
    assert message.endswith("an end is joined once")


def test_crossed_pins_of_a_bus_and_of_a_reverser():
    parts, nets = siding()
    parts["W9"] = ("bus", {})
    nets["A"].append("W9.B")
    nets["B"].append("W9.A")
    message, _ = only_fault(parts, nets)
    assert message.startswith("the pins of the bus 'W9' do not lie on poles A and B of one supply")
    parts["W9"] = ("automatic-reverser", {})
    nets["A"][-1], nets["B"][-1] = "W9.in-B", "W9.in-A"
    message, _ = only_fault(parts, nets)
    assert message.startswith("pins 'in-A' and 'in-B' of 'W9' do not lie on poles A and B")


def test_names_that_are_used_twice():
    parts, nets = siding()
    parts["L2"] = ("rail-section", {"Name": "line"})
    message, place = only_fault(parts, nets)
    assert "second time" in message
    assert place.startswith('"line"')


def test_faulty_yaml_in_a_field():
    parts, nets = siding()
    parts["A1"] = ("layout", {"Never": "[{T1: "})
    told = faults(parts, nets)
    assert told[0][0].startswith("unreadable YAML")
    assert told[0][1].startswith('"[{T1')


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('<?xml version="1.0"?><export version="E"/>', "this is XML"),
        ("* a deck\nR1 1 2 3\n.end\n", "a deck for SPICE"),
        ("*PADS-PCB*\n*PART*\n", "which begins with '*PADS'"),
        ("( { Netlist Version 1.1 created }\n ( /01f7 $noname L2 x", "which begins with '( {'"),
        ("(NETLIST)\n(Source: a.kicad_sch)\n$PACKAGES\n", "which begins with '(NETLIST)'"),
        (".HEA\n.TIM 2026-11-27\n", "which begins with '.HEA'"),
        ("(export (version D) (components) (nets))", "excluded from the board"),
        ("(kicad_sch (version 20211123))", "begins with '(export', not with '(kicad_sch'"),
    ],
)
def test_what_is_no_netlist_of_ours_is_told_what_it_is(text, said):
    with pytest.raises(netlister.UnusableError) as caught:
        netlister.check_text(text, "wiring.net")
    (fault,) = caught.value.faults
    assert said in fault.message
    assert "export" in fault.message

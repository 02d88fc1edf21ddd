"""Netlists as a schematic editor exports them from a drawing made with our symbols, from a few lines."""

from __future__ import annotations


def text_of(value):
    return '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'


def drawn(parts, nets, title=""):
    """A netlist: `parts` maps references to (symbol, fields), `nets` maps names to rows of `T1.frog`."""
    lines = ['(export (version "E")', '  (design (source "drawing.kicad_sch")']
    lines.append(f'    (sheet (number "1") (name "/") (title_block (title {text_of(title)}))))')
    lines.append("  (components")
    for reference, (symbol, fields) in parts.items():
        lines.append(f"    (comp (ref {text_of(reference)}) (value {text_of(symbol)})")
        for name, value in fields.items():
            lines.append(f"      (property (name {text_of(name)}) (value {text_of(value)}))")
        lines.append(f'      (libsource (lib "netlister") (part {text_of(symbol)}) (description "")))')
    lines.append("  )\n  (nets")
    for number, (name, pins) in enumerate(nets.items(), 1):
        lines.append(f'    (net (code "{number}") (name {text_of(name)})')
        for pin in pins:
            reference, _, number_of_pin = pin.partition(".")
            text = text_of(number_of_pin)
            lines.append(
                f'      (node (ref {text_of(reference)}) (pin {text}) (pinfunction {text}) (pintype "passive"))'
            )
        lines.append("    )")
    return "\n".join([*lines, "  ))"]) + "\n"


SUPPLY = ("supply", {"Type": "dcc", "Voltage": "15 V"})


def siding():
    """Parts and nets of a siding off a line, right as they stand: a live frog and the contact of its machine."""
    parts = {
        "G1": SUPPLY,
        "L1": ("rail-section", {"Name": "line"}),
        "L2": ("rail-section", {"Name": "branch"}),
        "L3": ("rail-section", {"Name": "siding"}),
        "Y1": ("live-frog", {"Name": "T1", "Hand": "right", "Thrown by": "M1"}),
        "Q1": ("contact", {"Moved by": "M1"}),
        "X1": ("metal-joiner", {}),
        "X2": ("metal-joiner", {}),
        "X3": ("metal-joiner", {}),
        "U1": ("insulated-joiner", {}),
        "U2": ("insulated-joiner", {}),
        "X4": ("metal-joiner", {}),
    }
    nets = {
        "FROG": ["Y1.frog", "Q1.common", "U1.1", "U2.1"],
        "LEFT": ["Y1.stock-left", "Q1.diverging", "X1.2", "X3.1"],
        "RIGHT": ["Y1.stock-right", "Q1.through", "X2.2", "X4.1"],
        "Net-(L1-left)": ["L1.left", "X1.1", "W1.2"],
        "Net-(L1-right)": ["L1.right", "X2.1", "W2.2"],
        "Net-(L2-left)": ["L2.left", "X3.2", "W3.2"],
        "Net-(L2-right)": ["L2.right", "U1.2", "W4.2"],
        "Net-(L3-left)": ["L3.left", "U2.2", "W5.2"],
        "Net-(L3-right)": ["L3.right", "X4.2", "W6.2"],
        "A": ["G1.A", "W1.1", "W3.1", "W5.1"],
        "B": ["G1.B", "W2.1", "W4.1", "W6.1"],
    }
    parts |= {f"W{number}": ("feed", {}) for number in range(1, 7)}
    return parts, nets

"""The wiring of the brickworks, as a script: a tramway from the clay pit with a siding to the kiln.

Run it with `python examples/brickworks/wiring.py`; `python examples/brickworks/wiring.py mended` puts the mistake right.
"""

import sys

from netlister.skidl import attach, check, circuit, net, part

MENDED = "mended" in sys.argv[1:]

tram = circuit()
pole_a, pole_b = net("POLE_A", tram), net("POLE_B", tram)

supply = part("supply", ref="G1", type="dcc", voltage="15 V", trip="2 A", circuit=tram)
pit = part("rail-section", ref="L1", name="pit", length="1.2 m", circuit=tram)
press = part("rail-section", ref="L2", name="press", length="900 mm", circuit=tram)
kiln = part("rail-section", ref="L3", name="kiln", length="500 mm", circuit=tram)
turnout = part("live-frog", ref="T1", hand="left", circuit=tram)
machine = part("machine", ref="M1", throws="T1", type="stall", circuit=tram)
frog = part("contact", ref="Q1", moved_by="M1", circuit=tram)
switch = part("switch", ref="S1", positions=["off", "on"], type="toggle", circuit=tram)
stop = part("contact", ref="S2", moved_by="S1", positions=["off", "on"], circuit=tram)

part("layout", expect=[{"track": "kiln", "is": "dead", "when": {"S1": "off"}}], circuit=tram)

supply["A"] += pole_a
supply["B"] += pole_b

# The frog is powered by the contact of its machine: seen from the toe, through leaves on the right.
frog["common"] += turnout["frog"]
frog["through"] += turnout["stock-left"]
frog["diverging"] += turnout["stock-right"]


def joint(name, ends, left, right):
    """Two joiners: `left` and `right` are each the symbol and the two rails."""
    for side, (symbol, one, other) in (("left", left), ("right", right)):
        joiner = part(symbol, name=name, rail=side, **{"from": ends[0], "to": ends[1]}, circuit=tram)
        joiner["1"] += one
        joiner["2"] += other


METAL, INSULATED = "metal-joiner", "insulated-joiner"
joint(
    "toe",
    ("pit.b", "T1.toe"),
    (METAL, pit["left"], turnout["stock-left"]),
    (METAL, pit["right"], turnout["stock-right"]),
)
joint(
    "main",
    ("T1.through", "press.a"),
    (INSULATED if MENDED else METAL, turnout["frog"], press["left"]),
    (METAL, turnout["stock-right"], press["right"]),
)
joint(
    "spur",
    ("T1.diverging", "kiln.a"),
    (INSULATED, turnout["stock-left"], kiln["left"]),
    (INSULATED, turnout["frog"], kiln["right"]),
)

for piece in (pit, press):
    for pole, rail in ((pole_a, "left"), (pole_b, "right")):
        feed = part("feed", circuit=tram)
        feed["1"] += pole
        feed["2"] += piece[rail]

# The kiln siding is fed through a hand switch on pole A, so that a locomotive can be left there.
stop["common"] += kiln["left"]
stop["on"] += pole_a
stop["off"] += tram.NC
feed = part("feed", circuit=tram)
feed["1"] += pole_b
feed["2"] += kiln["right"]

print(check(tram).to_text(), end="")
attach(tram)
tram.ERC()

"""Limits that the choices of several kinds of entries share."""

from __future__ import annotations

from netlister.layout.model import Wire

NO_WIRE = Wire("", None, None, None)
TWO = 2
MOST_PIECES = 60
"""Pieces of a section with turnouts in it, beyond which no reverser is proposed for it."""

MOST_SAID = 4
MOST_PARTNERS = 60
"""Pins of one plug, and wires, that one is exchanged with at the most."""

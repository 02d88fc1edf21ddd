"""Limits that the choices of several kinds of entries share."""

from __future__ import annotations

from netlister.layout.model import Wire

NO_WIRE = Wire("", None, None, None)
TWO = 2
MOST_SAID = 4
MOST_PARTNERS = 60
"""Pins of one plug, and wires, that one is exchanged with at the most."""

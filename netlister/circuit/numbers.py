"""What the numbers of a circuit are: types that are plain whole numbers when the program runs.

The number of a pole is its place in `Circuit.poles`; it is the number of its node and of its net as well, and a pole
is alone in its net. From the number of poles up it is that of a frog unit, where a unit may stand in for a pole.
"""

from __future__ import annotations

from typing import NewType

Node = NewType("Node", int)
"""A terminal or junction: its place in `Circuit.names`."""

Net = NewType("Net", int)
"""Nodes that are always joined: their place in `Nets.members`."""

PoleNumber = NewType("PoleNumber", Net)
"""A pole, or a frog unit."""

Var = NewType("Var", int)
"""A variable: its place in `Circuit.variables`; below 0 one that tells how far something has moved.

Its values are numbers, too: `layout.model.Value`.
"""

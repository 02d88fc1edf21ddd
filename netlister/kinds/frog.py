"""Numbers and angles of frogs."""

from __future__ import annotations

import math

MEASURES = ("right-angle", "centre-line", "isosceles")
"""The three ways to measure a frog "1 in N": along one leg, along the centre line, along both legs."""


def frog_angle(number: float, measure: str = "centre-line") -> float:
    """The angle of a frog in degrees, from its number N > 0.

    `right-angle`: arctan(1/N), as in NEM 127 (x = cot(angle)); `centre-line`: 2 arctan(1/(2 N)), as in NMRA RP-12.7;
    `isosceles`: 2 arcsin(1/(2 N)), as textbooks of civil engineering have it, for N of at least 0.5.

    Raises ValueError for another measure and for a number that no frog has.
    """
    if not (math.isfinite(number) and number > 0):
        msg = f"there is no frog of number {number}; give a number above zero, such as 6"
        raise ValueError(msg)
    if measure == "right-angle":
        return math.degrees(math.atan(1 / number))
    if measure == "centre-line":
        return math.degrees(2 * math.atan(1 / (2 * number)))
    if measure == "isosceles":
        if number < 0.5:  # noqa: PLR2004
            msg = f"by the isosceles measure there is no frog of number {number}; give at least 0.5"
            raise ValueError(msg)
        return math.degrees(2 * math.asin(1 / (2 * number)))
    msg = f"there is no measure '{measure}'; write one of {', '.join(MEASURES)}"
    raise ValueError(msg)

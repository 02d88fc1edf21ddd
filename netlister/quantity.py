"""Quantities: number and unit in one text, to SI units and back; and the resistance of copper wire.

Sources of the numbers:

- American wire gauge: ASTM B258, d = 0.127 mm x 92^((36 - n) / 39).
- Resistivity of annealed copper at 20 degC: IEC 60028 (1925), 1/58 ohm mm2/m.
- Largest resistance of a conductor at 20 degC, plain annealed copper: IEC 60228, classes 1, 2 and 5.
- Letters of colours: IEC 60757.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.lengths import Metres

STATUSES = ("read", "second-hand", "derived", "from memory", "assumed", "common practice")
"""How far to trust a number that the project states: read in the document itself; in somebody's copy of it; derived
from other such numbers; from memory; assumed; common practice, with no published source."""


class QuantityError(ValueError):
    """A text that is not the quantity due; the message says what to write instead."""


class Dimension(NamedTuple):
    """A kind of quantity: what it is called, an example, and its units as factors to SI."""

    name: str  # with its article: "a length"
    example: str
    units: dict[str, float]
    listed: tuple[str, ...]  # the units that messages name; the others are spellings of these
    least: str = ""  # but for zero, nothing less or greater than this is meant: such numbers are slips of the pen,
    greatest: str = ""  # and sums of them with others would lose all their digits

    @property
    def si(self) -> str:
        """The unit that the values of `parse` are in, but for shares and angles; nothing for a plain number."""
        return next((unit for unit in self.listed if self.units[unit] == 1.0), "")


def _dimension(
    name: str, example: str, listed: dict[str, float], within: tuple[str, str], spellings: dict[str, str] | None = None
) -> Dimension:
    units = listed | {spelling: listed[unit] for spelling, unit in (spellings or {}).items()}
    return Dimension(name, example, units, tuple(listed), *within)


FOOT = 0.3048  # m, exact by the international definition of 1959
INCH = 0.0254  # m, the same

LENGTH = _dimension(
    "a length", "600 mm", {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH, "ft": FOOT}, ("0.001 mm", "10000 m")
)
AREA = _dimension("a cross-section", "2.5 mm2", {"mm2": 1e-6}, ("0.001 mm2", "1000 mm2"), {"mm²": "mm2", "mm^2": "mm2"})
VOLTAGE = _dimension("a voltage", "15 V", {"V": 1.0, "mV": 1e-3}, ("0.001 mV", "1000 V"))
CURRENT = _dimension("a current", "3 A", {"A": 1.0, "mA": 1e-3}, ("0.001 mA", "1000 A"))
POWER = _dimension("a power", "5 W", {"W": 1.0, "mW": 1e-3}, ("0.001 mW", "10000 W"))
RESISTANCE = _dimension(
    "a resistance",
    "50 mohm",
    {"ohm": 1.0, "mohm": 1e-3, "kohm": 1e3},
    ("0.001 mohm", "10000 kohm"),
    {"Ω": "ohm", "mΩ": "mohm", "kΩ": "kohm"},
)
PER_LENGTH = _dimension(
    "a resistance per length",
    "20 mohm/m",
    {"mohm/m": 1e-3, "ohm/m": 1.0, "ohm/km": 1e-3, "mohm/ft": 1e-3 / FOOT, "ohm/ft": 1 / FOOT},
    ("0.001 mohm/m", "1000 ohm/m"),
    {"mΩ/m": "mohm/m", "Ω/m": "ohm/m", "Ω/km": "ohm/km"},
)
ANGLE = _dimension("an angle", "30 deg", {"deg": math.pi / 180}, ("0.001 deg", "3600 deg"), {"°": "deg"})
TIME = _dimension("a time", "2 s", {"s": 1.0, "ms": 1e-3}, ("0.001 ms", "100000 s"))
SHARE = _dimension("a share", "5 %", {"%": 1e-2}, ("0.001 %", "1000 %"))
NUMBER = Dimension("a number", "1.5", {"": 1.0}, ("",), "0.000001", "1000000")

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?(?![0-9.])")
_NOT_FINITE = re.compile(r"[+-]?\.?(?:nan|inf|infinity)\b", re.IGNORECASE)
_SHOWN = 40


def shown(text: str) -> str:
    """A text fit to be quoted in a message: in one line, printable and not too long."""
    line = "".join(c if c.isprintable() else " " for c in text[: _SHOWN + 1])
    return line if len(line) <= _SHOWN else line[: _SHOWN - 1] + "…"


@lru_cache(maxsize=1 << 16)
def _parse(text: str, name: str) -> float:
    return _convert(text, _BY_NAME[name])


def parse(text: str, dimension: Dimension) -> float:
    """The value of `text` in SI units (an angle in radians, a share as a fraction).

    Raises QuantityError for a number without unit, a unit of something else, a negative number, and what is
    no finite number.
    """
    return _parse(text, dimension.name)


def _convert(text: str, dimension: Dimension) -> float:
    written = text.strip()
    match = _NUMBER.match(written)
    if match is None:
        raise QuantityError(_no_number(written, dimension))
    unit = written[match.end() :].strip()
    factor = dimension.units.get(unit)
    if factor is None:
        raise QuantityError(_wrong_unit(written, match[0], unit, dimension))
    number = float(match[0])
    if number < 0:
        message = f"'{shown(written)}' is negative; {dimension.name} is zero or more, as in '{dimension.example}'"
        raise QuantityError(message)
    value = number * factor + 0.0  # no minus zero
    least, greatest = _bounds(dimension)
    if value > greatest:
        message = (
            f"'{shown(written)}' is more than {dimension.greatest}, the most that is taken; write what you measure"
        )
        raise QuantityError(message)
    if value < least and _hidden_digits(match[0]):
        bound = f"less than {dimension.least}, the least that is taken"
        message = f"'{shown(written)}' is {bound}; for none at all write 0"
        raise QuantityError(message)
    return value


def _bounds(dimension: Dimension) -> tuple[float, float]:
    """The least and the greatest value in SI units, with room for the rounding of units."""

    def value(text: str) -> float:
        number, _, unit = text.partition(" ")
        return float(number) * dimension.units[unit]

    return value(dimension.least) * (1 - 1e-9), value(dimension.greatest) * (1 + 1e-9)


def _hidden_digits(number: str) -> bool:
    """Whether a number that counts as zero was written with digits that are not."""
    return bool(re.search("[1-9]", re.split("[eE]", number)[0]))


def _no_number(written: str, dimension: Dimension) -> str:
    if not written:
        return f"nothing is written here; write {_wanted(dimension)}"
    if _NOT_FINITE.match(written):
        return f"'{shown(written)}' is not a finite number; write {_wanted(dimension)}"
    return f"'{shown(written)}' is not {dimension.name}; write {_wanted(dimension)}"


def _wrong_unit(written: str, number: str, unit: str, dimension: Dimension) -> str:
    if unit.startswith(",") and unit[1:2].isdigit():
        return f"'{shown(written)}' has a comma; write the number with a point, as in '{dimension.example}'"
    if dimension is NUMBER:
        return f"'{shown(written)}' is not a plain number; write it without '{shown(unit)}', as in '{shown(number)}'"
    if not unit:
        return f"'{shown(written)}' has no unit; write it in {_units(dimension)}, as in '{dimension.example}'"
    what = dimension.name.split(" ", 1)[1]
    return f"'{shown(unit)}' is no unit of {what}; write it in {_units(dimension)}, as in '{dimension.example}'"


def _wanted(dimension: Dimension) -> str:
    if dimension is NUMBER:
        return f"a number, as in '{dimension.example}'"
    return f"number and unit ({_units(dimension)}), as in '{dimension.example}'"


def _units(dimension: Dimension) -> str:
    *most, last = dimension.listed
    return f"{', '.join(most)} or {last}" if most else last


_BY_NAME = {
    d.name: d
    for d in (
        LENGTH, AREA, VOLTAGE, CURRENT, POWER, RESISTANCE, PER_LENGTH, ANGLE, TIME, SHARE, NUMBER,
    )
}  # fmt: skip


def show(value: float, unit: str, digits: int = 3) -> str:
    """A value in SI units as text in `unit`, rounded to so many significant digits: ``show(0.6, "mm")``."""
    factor = next(d.units[unit] for d in _BY_NAME.values() if unit in d.units)
    number = value / factor
    if number == 0 or not math.isfinite(number):
        text = f"{number:g}"
    else:
        places = max(0, digits - 1 - math.floor(math.log10(abs(number))))
        text = f"{number:.{places}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".rstrip()


def length_text(length: Metres) -> str:
    """A length in m as text: in millimetres, from one metre on in metres."""
    return show(length, "m", 4) if length >= 1 else show(length, "mm", 4)


# -- wire

COPPER = 1 / 58e6  # ohm m, annealed copper at 20 degC: IEC 60028 (1925)

IEC_60228: dict[int, dict[float, float]] = {
    # cross-section in mm2 -> largest resistance in ohm/km at 20 degC, plain annealed copper
    1: {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08},
    2: {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08},
    5: {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30},
}
"""Per class of conductor (1 solid, 2 stranded, 5 flexible) the table of IEC 60228."""

_GAUGE = re.compile(r"AWG\s*(-?[0-9]{1,3}|0{2,4}|[1-4]/0)|(-?[0-9]{1,3}|0{2,4}|[1-4]/0)\s*AWG", re.IGNORECASE)
_LARGEST_GAUGE = 50
_SMALLEST_GAUGE = -3  # 4/0
WIRE = "a wire is a cross-section ('2.5 mm2'), a gauge number ('AWG 14') or a resistance per length ('20 mohm/m')"


class WireData(NamedTuple):
    """What a wire is: its cross-section in mm2 (None where only its resistance is known), its resistance per m."""

    area_mm2: float | None
    ohm_per_m: float


def gauge_area(gauge: float) -> float:
    """The cross-section in mm2 of a solid wire of an American wire gauge number: ASTM B258 (00 is -1)."""
    diameter = 0.127 * math.pow(92, (36 - gauge) / 39)
    return math.pi / 4 * diameter * diameter


def copper_ohm_per_m(area_mm2: float) -> float:
    """The resistance in ohm/m of annealed copper at 20 degC, from its resistivity (IEC 60028)."""
    return COPPER / (area_mm2 * 1e-6)


def largest_ohm_per_m(area_mm2: float, conductor_class: int = 5) -> float | None:
    """The largest resistance in ohm/m that IEC 60228 allows, or None where it has no such cross-section."""
    found = IEC_60228[conductor_class].get(area_mm2)
    return None if found is None else found / 1000


@lru_cache(maxsize=4096)
def parse_wire(text: str) -> WireData:
    """A wire from its cross-section, gauge number or resistance per length.

    Raises QuantityError, also for a cross-section of zero: such a wire is a resistance per length without limit.
    """
    written = text.strip()
    if "awg" in written.lower():
        area = gauge_area(_gauge(written))
        return WireData(area, copper_ohm_per_m(area))
    match = _NUMBER.match(written)
    unit = written[match.end() :].strip() if match else ""
    if unit in PER_LENGTH.units:
        return WireData(None, parse(written, PER_LENGTH))
    if unit in AREA.units:
        area = parse(written, AREA) * 1e6
        if area == 0:
            raise QuantityError("a wire without cross-section does not conduct; for an ideal wire write '0 mohm/m'")
        area = float(f"{area:.12g}")
        return WireData(area, copper_ohm_per_m(area))
    if match and not unit:
        message = f"'{shown(written)}' has no unit; {WIRE}"
        raise QuantityError(message)
    if match and unit.startswith(","):
        message = f"'{shown(written)}' has a comma; write the number with a point, as in '2.5 mm2'"
        raise QuantityError(message)
    message = f"'{shown(written)}' is no wire; {WIRE}"
    raise QuantityError(message)


def _gauge(written: str) -> int:
    match = _GAUGE.fullmatch(written)
    if match is None:
        message = f"'{shown(written)}' is no wire gauge; write it as in 'AWG 14'"
        raise QuantityError(message)
    number = match[1] or match[2]
    if number.endswith("/0"):
        gauge = 1 - int(number[0])
    elif len(number) > 1 and set(number) == {"0"}:
        gauge = 1 - len(number)
    else:
        gauge = int(number)
    if not _SMALLEST_GAUGE <= gauge <= _LARGEST_GAUGE or number.startswith("-"):
        message = f"there is no wire gauge '{shown(number)}'; they go from 4/0 over 0 to {_LARGEST_GAUGE}"
        raise QuantityError(message)
    return gauge


# -- colours

COLOURS = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "GD": "gold",
    "TQ": "turquoise",
    "SR": "silver",
}
"""The letters of IEC 60757."""

_NAMES = {name: code for code, name in COLOURS.items()} | {"gray": "GY", "purple": "VT", "cyan": "TQ"}
_PAIR = 4


@lru_cache(maxsize=1024)
def parse_colour(text: str) -> str:
    """The letters of a colour, or of two joined (``GNYE``), by IEC 60757. Raises QuantityError."""
    if text in COLOURS:
        return text
    if len(text) == _PAIR and text[:2] in COLOURS and text[2:] in COLOURS and text[:2] != text[2:]:
        return text
    folded = text.strip().casefold()
    meant = _NAMES.get(folded, "")
    upper = text.strip().upper()
    if not meant and (upper in COLOURS or (len(upper) == _PAIR and {upper[:2], upper[2:]} <= COLOURS.keys())):
        meant = upper
    if meant and meant != text:
        message = f"'{shown(text)}' is no colour of IEC 60757; write '{meant}'"
        raise QuantityError(message)
    listed = ", ".join(COLOURS)
    message = f"'{shown(text)}' is no colour of IEC 60757; write one of {listed}, or two joined, as GNYE"
    raise QuantityError(message)


def count_said(number: int) -> str:
    """A count for a person: to the unit below a thousand million, beyond that about; as great as it may be."""
    if number < 10**9:
        return f"{number:,}"
    exponent = int(math.log10(number))
    lead = number // 10 ** (exponent - 2) / 100
    if lead >= 9.95:  # noqa: PLR2004 - would be rounded to ten
        lead, exponent = lead / 10, exponent + 1
    return f"about {lead:.1f}e+{exponent:02d}"

"""The symbols to draw a layout's wiring with in a schematic editor: a library in KiCad's format, made from the kinds.

There is a symbol for every kind of track piece and for every other part that a netlist has. Pins are named and
numbered as `netlister.outputs.netlist_parts` names them. Shapes are those of the schematic (`schematic/shapes.py`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.expressions import string
from netlister.layout.devices import DEVICES
from netlister.outputs.netlist_draft import TRACK, WIRING, NetlistPart
from netlister.outputs.schematic.shapes import shifted_shape, symbol_of, ways_of
from netlister.outputs.schematic.written import body_text, effects_text, mm_of, property_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.kinds import Library
    from netlister.kinds.model import Kind
    from netlister.outputs.schematic.shapes import DrawnSymbol

VERSION = "20211014"
"""The version of the format that this is written in."""

BRIDGING = "contact-make-before-break"


class Symbol(NamedTuple):
    """A symbol. `fields`: name, value, and whether the value is shown; `pins`: their names in order."""

    name: str
    letter: str
    description: str
    fields: tuple[tuple[str, str, bool], ...]
    drawn: DrawnSymbol
    pins: tuple[str, ...]


def symbol_library(library: Library) -> str:
    """All symbols as the text of a library file; the same kinds give the same text."""
    lines = [f"(kicad_symbol_lib (version {VERSION}) (generator netlister)"]
    for symbol in all_symbols(library):
        lines += _written(symbol)
    return "\n".join([*lines, ")"]) + "\n"


def all_symbols(library: Library) -> list[Symbol]:
    """All symbols: the pieces of track by name, then contacts, then the rest."""
    kinds = [piece_kind(library, name) for name in library.names()]
    return [*(_piece(library, kind) for kind in kinds), *_contacts(library), *_rest()]


def piece_kind(library: Library, name: str) -> Kind:
    """A kind as its symbol shows it: without options, and for the right hand where there are hands."""
    hands = library.takes(name).hands
    return library.kind(name, "right" if "right" in hands else next(iter(hands), ""))


# ---- pieces of track


def _piece(library: Library, kind: Kind) -> Symbol:
    takes = library.takes(kind.name)
    fields = [("Hand", kind.hand, True)] if takes.hands else []
    fields += [("Length", "", False)]
    fields += [(option.replace("-", " ").capitalize(), "", False) for option in takes.options if option != "hand"]
    fields += [("Thrown by", "", False)] if len(kind.bars) == 1 else []
    fields += [(f"Thrown by {bar.name}", "", False) for bar in kind.bars if len(kind.bars) > 1]
    fields += [(f"Set {route.name}", "", False) for route in kind.routes if kind.crossing]
    letter = "Y" if kind.bladed else "L"
    drawn = symbol_of(_stub(TRACK, kind.name, "", kind.rails), ways_of(kind))
    return Symbol(kind.name, letter, kind.summary, tuple(fields), drawn, kind.rails)


def _stub(library: str, kind: str, value: str, pins: tuple[str, ...]) -> NetlistPart:
    """A part as its symbol is drawn for."""
    return NetlistPart("", library, kind, value, "", (), tuple((pin, "") for pin in pins))


# ---- contacts


def contact_positions(library: Library) -> dict[str, tuple[str, ...]]:
    """The symbols of contacts: for the positions of every kind of blades, and with numbered positions for switches."""
    found: dict[tuple[str, ...], str] = {("through", "diverging"): "contact"}
    for name in library.names():
        takes = library.takes(name)
        if takes.number is not None:
            continue
        for hand in takes.hands or ("",):
            for bar in library.kind(name, hand).bars:
                if {*bar.positions} != {"through", "diverging"}:
                    found.setdefault(bar.positions, "contact-" + "-".join(bar.positions))
    names = {name: positions for positions, name in found.items()}
    names[BRIDGING] = ("through", "diverging")
    for count in range(2, 7):
        names[f"contact-{count}"] = tuple(str(k) for k in range(1, count + 1))
    return names


def _contacts(library: Library) -> Iterator[Symbol]:
    for name, positions in contact_positions(library).items():
        yield _contact(name, positions, "make before break" if name == BRIDGING else "break before make")


def _contact(name: str, positions: tuple[str, ...], how: str) -> Symbol:
    """A changeover contact, drawn at its first position."""
    pins = ("common", *positions)
    what = f"Changeover contact, {how}: common, {', '.join(positions)}"
    fields = (("Moved by", "", True), ("Action", how.replace(" ", "-"), False))
    return Symbol(name, "Q", what, fields, symbol_of(_stub(WIRING, "contact", how.replace(" ", "-"), pins)), pins)


# ---- the rest


def _rest() -> Iterator[Symbol]:
    for name, letter, what, pins, takes, hidden, values, named in DEVICES.values():
        shown = dict(values)
        keys = [key for key in takes if key not in hidden and not key.startswith("terminal-")]
        fields = [("Name", "", True)] if named else []
        fields += [(_title(key), shown.get(key, ""), key in shown) for key in keys]
        value = " ".join(value for _, value in values) if name == "supply" else ""
        yield Symbol(
            name, letter, what, tuple(fields), symbol_of(_stub(WIRING, name.replace("-", " "), value, pins)), pins
        )


def _title(key: str) -> str:
    """The name of a field: `trip-time` is `Trip time`, `colour-a` is `Colour A`."""
    words = key.replace("-", " ").capitalize()
    return words[:-1] + words[-1].upper() if words[-2:-1] == " " else words


# ---- the text


def _written(symbol: Symbol) -> list[str]:
    name, drawn = string(symbol.name), symbol.drawn
    names = "" if drawn.named else " hide"
    left, top, right, bottom = drawn.box
    across = -round((left + right) / 4) * 2  # pins stay on the grid of editors, two of our steps
    lines = [f"  (symbol {name} (pin_numbers hide) (pin_names (offset 0.4){names}) (in_bom yes) (on_board yes)"]
    usual = [
        ("Reference", symbol.letter, True),
        ("Value", symbol.name, symbol.name not in {"wire", "lead", "feed", "terminal"}),
        *(("Footprint", "", False), ("Datasheet", "", False)),
    ]
    more = [("ki_keywords", "track wiring", False), ("ki_description", symbol.description, False)]
    for number, (field, value, shown) in enumerate([*usual, *symbol.fields, *more]):
        y = top - 1.5 if field == "Reference" else bottom + 1.5 + 2 * max(0, number - 1)
        effects = effects_text(hide=not shown)
        lines.append(f"    {property_text(number, field, value, f'0 {mm_of(-y)} 0', effects)}")
    shapes = [shifted_shape(shape, across) for shape in drawn.shapes]
    pins = {pin.name: pin._replace(x=pin.x + across) for pin in drawn.pins}
    body = body_text(symbol.name, shapes, [pins[name] for name in symbol.pins])
    return [*lines, *(f"    {line}" for line in body), "  )"]

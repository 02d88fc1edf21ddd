"""The symbols of netlists and schematics that are no pieces of track: pins, reference letters, fields.

Reference letters follow the classes of IEC 81346-2 (2009) as training pages give them; the text of the standard was
not at hand, and those marked (m) are from memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.schema import (
    BUS,
    COMPONENT,
    COMPONENT_KINDS,
    DATA,
    FEED,
    LINK,
    MACHINE,
    PIECE,
    POLES,
    SUPPLY,
    SWITCH,
    TRIPS,
    UNIT,
)

if TYPE_CHECKING:
    from netlister.layout.forms import EntrySchema


class DeviceSymbol(NamedTuple):
    """A symbol that is no piece of track.

    `says`: what it is. `pins`: as the netlist that is written has them. `fields`: the keys that it takes besides
    those that every part has, in the order of the symbol; `hidden`: those of them that are no fields of the symbol
    that is drawn. `shown`: fields that are shown in a drawing, with their first values. `named`: whether its symbol
    has a field for its name.
    """

    name: str
    letter: str
    says: str
    pins: tuple[str, ...]
    fields: tuple[str, ...] = ()
    hidden: tuple[str, ...] = ()
    shown: tuple[tuple[str, str], ...] = ()
    named: bool = False


_TWO = ("1", "2")
_ENDS = ("terminal-1", "terminal-2")
"""What a pin is wired to as written, where its net alone does not say it."""


def _fields(entry: EntrySchema, *first: str, without: tuple[str, ...] = ()) -> tuple[str, ...]:
    """The keys of an entry that are fields, some first."""
    rest = (key.name for key in entry.row if key.field and key.name not in {*first, *without})
    return (*first, *rest)


_JOINER = ("from", "to", "rail", "insulate")

DEVICES: dict[str, DeviceSymbol] = {
    device.name: device
    for device in (
        DeviceSymbol(
            *("supply", "G", "Supply of the track, poles A and B", POLES),
            fields=_fields(SUPPLY, "type", "voltage", "trip", "trip-current", "trip-time"),
            hidden=("trip-current",),
            shown=(("type", "dcc"), ("voltage", "15 V")),
        ),
        DeviceSymbol(
            *("bus", "W", "Bus: on the nets of its supply, A on A and B on B", POLES),
            fields=(*_fields(BUS), "colour-a", "colour-b"),
            hidden=("colours",),
        ),
        DeviceSymbol(
            *("metal-joiner", "X", "Metal rail joiner of one rail; a joint has two, of one Name", _TWO, _JOINER),
            named=True,
        ),
        DeviceSymbol(
            *("insulated-joiner", "U", "Insulated rail joiner of one rail; a joint has two, of one Name", _TWO),
            fields=_JOINER,
            named=True,
        ),  # its letter (m)
        DeviceSymbol(
            *("feed", "W", "Feed: the wire from a pole to a rail", _TWO),
            fields=_fields(FEED, "from", "to", "rail", "at", "tap", "entry"),
            hidden=("entry",),
        ),
        DeviceSymbol("lead", "W", "Wire from a pole to a contact", _TWO),
        DeviceSymbol("wire", "W", "Wire", _TWO, (*_fields(LINK), *_ENDS)),
        DeviceSymbol(
            *("automatic-reverser", "Q", "Automatic reverser: outputs A and B", ("in-A", "in-B", *POLES)),
            fields=("from", "mode", "time"),
            hidden=("mode",),
        ),
        DeviceSymbol(
            *("following-reverser", "Q", "Reverser that follows a machine or turnout", ("in-A", "in-B", *POLES)),
            fields=("from", "follows", "straight"),
            shown=(("follows", ""), ("straight", "")),
        ),
        DeviceSymbol(
            *("frog-unit", "Q", "Automatic unit that powers one frog", (*POLES, "frog")),
            fields=(*_fields(UNIT), "terminal-frog"),
        ),
        *(
            DeviceSymbol(
                *(kind.name, kind.letter, kind.says, _TWO),
                fields=(*_fields(COMPONENT, without=tuple({*TRIPS} - {*kind.takes})), *_ENDS),
            )
            for kind in COMPONENT_KINDS
        ),
        DeviceSymbol(
            *("plug-pin", "X", "Pin of a plug between baseboards; Plug and Pin, or Name as J1.1", _TWO),
            fields=("plug", "pin", "optional", *_ENDS),
            named=True,
        ),
        DeviceSymbol("terminal", "X", "Screw of a terminal strip", ("1",), named=True),
        DeviceSymbol(
            *("machine", "M", "Switch machine; its contacts are symbols of their own", ()),
            fields=_fields(MACHINE),
            shown=(("throws", ""),),
        ),
        DeviceSymbol(
            *("switch", "S", "Hand switch, or a relay that follows something", ()),
            fields=_fields(SWITCH),
            shown=(("positions", "off, on"),),
        ),
        DeviceSymbol("plug", "X", "Optional plug without pins", (), ("optional",)),
        DeviceSymbol(
            *("layout", "A", "What belongs to the layout as a whole", ()),
            fields=(
                *("title", "notes", "rail", "gauge", "gap", "joiner", "contact", "blade"),
                *("limits", "use", *DATA),
            ),
        ),  # its letter (m)
    )
}
"""Every symbol but pieces of track and contacts. The track has no class there that fits, and keeps letters that
the standard leaves free: L without blades, Y with blades. A contact is Q where a machine or the blades move it, S of
a hand switch, K of a relay."""

CONTACT_FIELDS = ("moved-by", "action", "positions", "type")
PIECE_FIELDS = (*_fields(PIECE, without=("set",)), "options", "set", "thrown-by")
EVERY_PART = ("name", "board", "allow", "place", "conducts")
"""Fields that every part may have; what is in the last two is told, not read."""

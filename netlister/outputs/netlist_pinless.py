"""Parts of a netlist that have no pins: what moves, plugs without a pin, the layout as a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.terminal import Terminal, owner_of
from netlister.outputs.netlist_draft import WIRING, NetlistPart
from netlister.outputs.netlist_fields import (
    amount,
    expectation_value,
    field_text,
    filled,
    limit_text,
    listed,
    train_value,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.outputs.netlist_draft import Drafts


def machines(drafts: Drafts) -> Iterator[NetlistPart]:
    """What moves: a machine, a hand switch, a relay. It has no pins; its contacts are parts of their own."""
    layout = drafts.layout
    for name, bars in layout.machines.items():
        fields = filled(
            *drafts.head(name, layout.variables[name].span),
            ("Throws", listed([_thrown(drafts, bar) for bar in bars])),
            ("Type", layout.types.get(name, "")),
        )
        yield NetlistPart("M", WIRING, "machine", "machine", f"machine {name}", fields, ())
    for variable in layout.variables.values():
        if variable.kind == "switch":
            fields = filled(
                *drafts.head(variable.name, variable.span),
                ("Positions", listed(variable.positions)),
                ("Type", layout.types.get(variable.name, "")),
                ("Rest", variable.positions[variable.rest] if variable.rest else ""),
            )
            yield NetlistPart("S", WIRING, "switch", "switch", f"switch {variable.name}", fields, ())
    told: set[str] = set()
    for contact in layout.contacts:
        name = contact.owner
        if name not in told and drafts.contact_letter(contact) == "K":
            told.add(name)
            position = {
                value: p for (p, _), values in zip(contact.throws, contact.values, strict=True) for value in values
            }
            fields = filled(
                *drafts.head(name, contact.span),
                ("Follows", contact.variable),
                ("Positions", listed([position[value] for value in sorted(position)])),
                ("Type", layout.types.get(name, "")),
            )
            yield NetlistPart("K", WIRING, "switch", "relay", f"switch {name}", fields, ())


def _thrown(drafts: Drafts, bar: str) -> str | dict[str, str]:
    """A tie bar as a machine names it: with its position where that is not its first."""
    own = next(b for b in drafts.layout.pieces[owner_of(bar)].kind.bars if b.name in {"", Terminal.of(bar).own})
    first = drafts.layout.bars[bar].positions[0]
    return bar if first == own.positions[0] else {bar: first}


def lone_plugs(drafts: Drafts) -> Iterator[NetlistPart]:
    """An optional plug without a pin."""
    with_pins = {pin.plug for pin in drafts.layout.pins}
    for variable in drafts.layout.variables.values():
        if variable.kind == "plug" and variable.name not in with_pins:
            fields = (*drafts.head(variable.name, variable.span), ("Optional", "true"))
            yield NetlistPart("X", WIRING, "plug", "plug", f"plug {variable.name}", fields, ())


def whole_layout(drafts: Drafts) -> Iterator[NetlistPart]:
    """What belongs to the layout as a whole; no part where there is nothing."""
    layout = drafts.layout
    loads = [c.name for c in layout.components.values() if c.kind == "load"]
    constants = {n: amount(v, "m" if n in {"gauge", "gap"} else "ohm") for n, v in layout.constants.items()}
    fields = filled(
        ("Notes", layout.notes),
        ("Rail", layout.rail),
        *((name.capitalize(), text) for name, text in constants.items() if name != "rail"),
        ("Limits", field_text({n: limit_text(n, value) for n, value in layout.limits.items()} or "")),
        ("Use", listed(layout.use)),
        ("Never", field_text([dict(cube) for cube, _ in layout.never] or "")),
        ("Expect", field_text([expectation_value(e, loads) for e in layout.expectations] or "")),
        ("Trains", field_text({train.name: train_value(train) for train in layout.trains.values()} or "")),
    )
    if fields:
        yield NetlistPart("A", WIRING, "layout", "layout", "layout", fields, ())

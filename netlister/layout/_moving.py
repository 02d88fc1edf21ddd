"""What moves, and its contacts: machines, blades, hand switches, relays, optional plugs."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.layout._context import Positioned, circles, either, singles
from netlister.layout._names import bus_at, end_at, terminal
from netlister.layout.model import (
    BarPosition,
    Contact,
    Value,
    Variable,
)
from netlister.layout.schema import ACTIONS, CONTACT, HAND_SWITCHES, MACHINE, SWITCH
from netlister.quantity import shown
from netlister.source import Mapping, Scalar, Span

if TYPE_CHECKING:
    from collections.abc import Container

    from netlister.layout._context import Fields, LayoutReader
    from netlister.layout.forms import EntrySchema
    from netlister.source import TextNode


IN_OUT = ("in", "out")
LEAST_POSITIONS = 2


class _Pending(NamedTuple):
    """A contact whose terminals are still to be read."""

    owner: str
    name: str
    positioned: Positioned
    key: TextNode
    value: TextNode


class MovingReader:
    """Reads everything that moves, then everything that is wired to it."""

    def __init__(self, r: LayoutReader) -> None:
        self.r = r
        self.pending: list[_Pending] = []
        self.thrown: dict[str, tuple[str, TextNode]] = {}  # tie bar -> machine, node

    # -- what moves

    def read_moving(self) -> None:
        """Read machines, turnouts, switches and optional plugs, and which contacts each has."""
        r = self.r
        for name, key, value in r.entries_of["machines"]:
            self._machine(name, key, value)
        self._turnouts()
        self._piece_contacts()
        self._switches()
        for name, key, value in r.entries_of["plugs"]:
            self._plug_variable(name, key, value)

    def _machine(self, name: str, key: TextNode, value: TextNode) -> None:
        r = self.r
        fields = r.fields(value, MACHINE.keys, "a machine")
        self._type(name, fields, MACHINE)
        throws = fields.get("throws")
        if throws is None:
            if r.lacks(value, fields, "throws"):
                r.missing(key, name, "throws nothing; add 'throws' with the turnouts that it moves")
            r.faulty.add(name)
            return
        bars = self._thrown_bars(name, throws)
        if not bars:
            r.faulty.add(name)
            return
        positions = r.bar_positions[bars[0][0]]
        layout = r.layout
        for bar, node, first in bars:
            own = r.bar_positions[bar]
            if len(own) != len(positions):
                message = f"'{shown(bar)}' has {len(own)} positions and '{shown(bars[0][0])}' {len(positions)}"
                r.fault(node, f"{message}; throw them by machines of their own")
                continue
            if first:
                own = own[first:] + own[:first]
            layout.bars[bar] = BarPosition(bar, name, own)
            values = singles(len(own))
            if first:
                values = values[-first:] + values[:-first]
            r.positioned[bar] = Positioned(name, r.bar_positions[bar], values, positions)
        positioned = r.positioned[name] = Positioned(name, positions, singles(len(positions)), positions)
        layout.machines[name] = tuple([bar for bar, _, _ in bars])
        layout.variables[name] = Variable(name, "machine", positions, r.place(key))
        if "contacts" in fields:
            self._contacts(name, positioned, fields["contacts"])

    def _type(self, name: str, fields: Fields, entry: EntrySchema) -> str:
        """How something is built, where that is written."""
        r = self.r
        found = r.word(fields["type"], entry["type"].words, "type") if "type" in fields else None
        if found is not None:
            r.layout.types[name] = found
        return found or ""

    def _thrown_bars(self, name: str, throws: TextNode) -> list[tuple[str, TextNode, int]]:
        """The tie bars that a machine throws: name, node, and the number of its position in the machine's first."""
        r = self.r
        found: list[tuple[str, TextNode, int]] = []
        for item in r.one_or_more(throws, "name the turnouts that this machine moves, as in '[T1, T2]'"):
            if type(item) is Scalar:
                if self._throw(name, item, item.value):
                    found.append((item.value, item, 0))
                continue
            for bar, key, value in r.items(item, "a turnout, or '{T2: diverging}' with its position,"):
                if self._throw(name, key, bar):
                    position = r.word(value, r.bar_positions[bar], bar)
                    found.append((bar, key, 0 if position is None else r.bar_positions[bar].index(position)))
        return found

    def _throw(self, machine: str, node: TextNode, bar: str) -> bool:
        """Note that a machine throws a tie bar, unless that is a fault."""
        r = self.r
        if bar in r.bar_positions and bar not in self.thrown:
            self.thrown[bar] = (machine, node)
            return True
        if bar in self.thrown:
            other, first = self.thrown[bar]
            line = r.line(first)
            if other == machine:
                r.fault(node, f"'{shown(bar)}' is named twice; it stands in line {line} already")
            else:
                message = f"'{shown(bar)}' is thrown by the machine '{shown(other)}' already, in line {line}"
                r.fault(node, f"{message}; name it under one of them")
            return False
        self._no_bar(node, bar)
        return False

    def _no_bar(self, node: TextNode, bar: str) -> None:
        r = self.r
        name, dot, _ = bar.partition(".")
        if name in r.faulty:
            return
        piece = r.layout.pieces.get(name)
        if piece is None:
            r.unknown_name(node, name if dot else bar, "a turnout", r.bar_positions)
        elif not piece.bars:
            r.fault(node, f"'{shown(name)}' is a '{piece.kind.name}' and has no blades to throw; name a turnout")
        elif len(piece.bars) > 1:
            what = f"has no tie bar '{shown(bar[len(name) + 1 :])}'" if dot else "has several tie bars"
            r.fault(node, f"'{shown(name)}' {what}; write {either(piece.bars)}")
        else:
            r.fault(node, f"'{shown(name)}' has one tie bar; write '{shown(name)}' alone")

    def _turnouts(self) -> None:
        """Every tie bar that no machine throws is a variable of its own."""
        r, layout = self.r, self.r.layout
        if len(self.thrown) == len(r.bar_positions):
            return
        for bar, positions in r.bar_positions.items():
            if bar not in self.thrown:
                span = layout.pieces[bar.partition(".")[0]].span
                layout.variables[bar] = Variable(bar, "turnout", positions, span)
                layout.bars[bar] = BarPosition(bar, bar, positions)
                r.positioned[bar] = Positioned(bar, positions, singles(len(positions)), positions)

    def _piece_contacts(self) -> None:
        """Contacts of a lever or micro-switch that move with the blades of a piece."""
        r = self.r
        pieces = r.layout.pieces
        for name, _, value in r.entries_of["track"]:
            if type(value) is not Mapping:
                continue
            for key, node in value.value:
                if key.value == "contacts":
                    piece = pieces.get(name)
                    if piece is not None and len(piece.bars) == 1 and name in r.positioned:
                        self._contacts(name, r.positioned[name], node, piece.kind.ends)

    def _switches(self) -> None:
        """Hand switches, and relays after what they follow."""
        r = self.r
        relays: dict[str, Fields] = {}
        contacts: list[tuple[str, TextNode]] = []
        for name, key, value in r.entries_of["switches"]:
            fields = r.fields(value, SWITCH.keys, "a switch")
            if "contacts" in fields:
                contacts.append((name, fields["contacts"]))
            kind = self._type(name, fields, SWITCH)
            self._check_type(key, name, fields, kind)
            if "follows" in fields:
                relays[name] = fields
                continue
            if kind == "relay":
                r.faulty.add(name)
                continue
            if "positions" not in fields:
                if r.lacks(value, fields, "positions"):
                    r.missing(key, name, "has no positions; add them, as in 'positions: [off, on]'")
                r.faulty.add(name)
                continue
            positions = self._positions(fields["positions"])
            if len(positions) < LEAST_POSITIONS:
                r.faulty.add(name)
                continue
            r.positioned[name] = Positioned(name, positions, singles(len(positions)), positions)
            rest = r.word(fields["rest"], positions, "rest") if "rest" in fields else None
            number = Value(0 if rest is None else positions.index(rest))
            r.layout.variables[name] = Variable(name, "switch", positions, r.place(key), number)
        self._relays(relays)
        for name, node in contacts:
            if name in r.positioned:
                self._contacts(name, r.positioned[name], node)

    def _check_type(self, key: TextNode, name: str, fields: Fields, kind: str) -> None:
        """A hand switch follows nothing, a relay something; only what a hand holds springs back."""
        r = self.r
        if "follows" in fields and kind in HAND_SWITCHES:
            message = f"a {kind} is moved by hand and follows nothing; leave 'follows' out, or write 'type: relay'"
            r.fault(fields["follows"], message)
        elif "follows" in fields and "rest" in fields:
            r.fault(fields["rest"], "'rest' is for a switch under a hand that springs back; leave it out")
        elif kind == "relay" and "follows" not in fields:
            message = "is a relay and follows nothing; add 'follows' with the name of a machine or switch"
            r.missing(key, name, f"{message}, or write 'type: latching-relay' if it may stand either way")
        elif kind == "latching-relay" and "rest" in fields:
            r.fault(fields["rest"], "a latching relay stays where it was put and has no 'rest'; leave it out")

    def _positions(self, node: TextNode, *, relay: bool = False) -> tuple[str, ...]:
        """The positions of a switch; nothing where they are faulty."""
        r = self.r
        before = len(r.faults)
        found: list[str] = []
        for item in r.entries(node, "a row of positions, as in '[off, on]',"):
            text = r.text(item, "the name of a position")
            if text is None:
                continue
            if not text or "." in text:
                r.fault(item, f"a position cannot be called '{shown(text)}'; write a name without dots")
            elif text in CONTACT.keys:
                r.fault(item, f"a position cannot be called '{text}', which has a meaning in contacts; choose another")
            elif text in found and not relay:
                r.fault(item, f"the position '{shown(text)}' is here a second time; name each once")
            else:
                found.append(text)
        if len(r.faults) > before:
            return ()
        if len(found) < LEAST_POSITIONS:
            r.fault(node, "a switch has two positions or more; write them, as in '[off, on]'")
        return tuple(found)

    def _relays(self, relays: dict[str, Fields]) -> None:
        """Relays, each after what it follows; circles are faults."""
        r = self.r
        leaders: dict[str, str] = {}
        followers: dict[str, list[str]] = {}
        for name, fields in relays.items():
            text = r.text(fields["follows"], "the name of a machine or switch")
            if text is not None:
                leaders[name] = text
                followers.setdefault(text, []).append(name)
        ready = [name for name, leader in leaders.items() if leader not in relays]
        done: set[str] = set()
        while ready:
            name = ready.pop(0)
            done.add(name)
            self._relay(name, relays[name], leaders[name])
            ready += followers.get(name, ())
        r.faulty.update(name for name in relays if name not in done)
        for circle in circles(leaders):
            way = " follows ".join(f"'{shown(n)}'" for n in (*circle, circle[0]))
            message = f"these relays follow each other in a circle: {way}; let one follow a machine or switch"
            r.fault(relays[circle[0]]["follows"], message)

    def _relay(self, name: str, fields: Fields, leader: str) -> None:
        r = self.r
        r.faulty.add(name)
        positioned = r.find_positioned(fields["follows"], leader)
        if positioned is None:
            if "positions" in fields:
                self._positions(fields["positions"], relay=True)
            return
        positions = (
            positioned.positions if "positions" not in fields else self._positions(fields["positions"], relay=True)
        )
        if not positions:
            return
        if len(positions) != len(positioned.positions):
            message = (
                f"'{shown(name)}' has {len(positions)} positions and '{shown(leader)}' {len(positioned.positions)}"
            )
            r.fault(
                fields["positions"], f"{message}; write one for each of {_listed(positioned.positions)}, in that order"
            )
            return
        r.faulty.discard(name)
        merged: dict[str, tuple[Value, ...]] = {}
        for position, values in zip(positions, positioned.values, strict=True):
            merged[position] = tuple(sorted((*merged.get(position, ()), *values)))
        r.positioned[name] = Positioned(positioned.variable, tuple(merged), tuple(merged.values()), positioned.choices)

    def _plug_variable(self, name: str, key: TextNode, value: TextNode) -> None:
        r = self.r
        for field, node in value.value if type(value) is Mapping else ():
            if field.value == "optional" and type(node) is Scalar and node.value == "true":
                r.positioned[name] = Positioned(name, IN_OUT, singles(2), IN_OUT)
                r.layout.variables[name] = Variable(name, "plug", IN_OUT, r.place(key))

    # -- contacts

    def _contacts(self, owner: str, positioned: Positioned, node: TextNode, ends: Container[str] = ()) -> None:
        """Note the contacts of something that moves; their terminals are read when all are known."""
        r = self.r
        known = r.contacts.setdefault(owner, {})
        for name, key, value in r.items(node, "a contact under its name, as in '{frog: {common: T1.frog}}',"):
            if not name or "." in name:
                r.fault(key, f"a contact cannot be called '{shown(name)}'; write a name without dots")
                continue
            if name in ends and {"left", "right"} & {*positioned.positions}:
                r.fault(key, f"'{shown(owner)}.{name}.left' would be a rail and a contact; call the contact otherwise")
                continue
            known[name] = positioned.positions
            self.pending.append(_Pending(owner, name, positioned, key, value))

    def read_contacts(self) -> None:
        """Read what the contacts are wired to."""
        r = self.r
        contacts, place = r.layout.contacts, r.place
        allowed: dict[tuple[str, ...], frozenset[str]] = {}
        for owner, name, positioned, key, value in self.pending:
            positions = positioned.positions
            fields_allowed = allowed.get(positions)
            if fields_allowed is None:
                fields_allowed = allowed[positions] = CONTACT.keys.union(positions)
            fields = r.fields(value, fields_allowed, "this contact")
            common = terminal(r, fields["common"]) if "common" in fields else None
            span = place(key)
            throws: list[tuple[str, str | None]] = []
            spans: list[Span] = []
            for position in positions:
                node = fields.get(position)
                if node is None:
                    throws.append((position, None))
                    spans.append(span)
                else:
                    throws.append((position, terminal(r, node)))
                    spans.append(place(node))
            action = r.word(fields["action"], ACTIONS, "action") if "action" in fields else ACTIONS[0]
            contacts.append(
                Contact(
                    owner,
                    name,
                    common,
                    tuple(throws),
                    positioned.values,
                    positioned.variable,
                    action or ACTIONS[0],
                    span,
                    tuple(spans),
                    tuple(bus_at(r, fields.get(field)) for field in ("common", *positions)),
                    tuple(end_at(r, fields.get(field)) for field in ("common", *positions)),
                )
            )


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(f"'{shown(word)}'" for word in words)

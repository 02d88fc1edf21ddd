"""What may have been done wrong at each place of a layout, each with what undoes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.circuit.districts import districts
from netlister.edits.model import (
    AddContact,
    AddFeed,
    AddPin,
    AddReverser,
    AddSwitch,
    Insulate,
    Rebus,
    Recommon,
    Recomponent,
    Reexpect,
    Refeed,
    Relink,
    Repin,
    Rewire,
    SetOption,
    Straighten,
    TakeOut,
    Tie,
)
from netlister.layout.model import Contact, Feed, Pin, Reverser, Variable, Wire
from netlister.repairs.model import choice
from netlister.repairs.needed import needed
from netlister.repairs.words import joined, quoted
from netlister.routes.settings import is_changing

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from netlister.edits.model import Change, Place
    from netlister.layout.model import Component, Joint, Layout, Link, Piece
    from netlister.repairs.model import Choice

NO_WIRE = Wire("", None, None, None)
TWO = 2
MOST_SAID = 4
MOST_PARTNERS = 60
"""Pins of one plug, and wires, that one is exchanged with at the most."""

MOST_SOURCES = 6
"""Sources that a track may be fed from, those in use nearby first."""


class Choices:
    """The choices at each place of a layout, made when they are asked for. `keep`: names of what stays as it is."""

    def __init__(self, layout: Layout, keep: frozenset[str] = frozenset()) -> None:  # noqa: C901, PLR0912 - one section after the other
        self.layout = layout
        self.keep = keep
        self.at: dict[str, list[Place]] = {}
        self.moved_with: dict[str, list[int]] = {}
        self.joints_of: dict[str, list[int]] = {}
        self.feeds_of: dict[str, list[int]] = {}
        self.fed_from: set[str] = set()
        self._known: dict[Any, list[Choice]] = {}
        self._used: list[str] | None = None
        for number, joint in enumerate(layout.joints):
            for pair in joint.pairs:
                for terminal in pair[:2]:
                    self._note(terminal, "joints", number)
            for piece in dict.fromkeys((joint.start[0], joint.end[0])):
                self.joints_of.setdefault(piece, []).append(number)
        for number, feed in enumerate(layout.feeds):
            self.feeds_of.setdefault(feed.piece, []).append(number)
            for pole, rail in feed.wires:
                self._note(rail, "feeds", number)
                self.fed_from.add(pole)
        for number, contact in enumerate(layout.contacts):
            for to in (contact.common, *(throw for _, throw in contact.throws)):
                self._note(to, "contacts", number)
            self.moved_with.setdefault(contact.variable, []).append(number)
        for number, pin in enumerate(layout.pins):
            for end in pin.ends:
                self._note(end, "pins", number)
        for number, link in enumerate(layout.links):
            for end in link.ends:
                self._note(end, "links", number)
        for name, component in layout.components.items():
            for end in component.ends:
                self._note(end, "components", name)
        for name, unit in layout.units.items():
            self._note(unit.frog, "units", name)
        for name, reverser in layout.reversers.items():
            for output in reverser.outputs:
                self._note(output, "reversers", name)
        for number, expectation in enumerate(layout.expectations):
            for piece in expectation.pieces:
                self._note(piece, "expectations", number)

    def _note(self, terminal: str | None, section: str, key: int | str) -> None:
        if terminal is not None:
            listed = self.at.setdefault(terminal, [])
            if (section, key) not in listed:
                listed.append((section, key))

    def of(self, place: Place) -> list[Choice]:
        """The choices that alter an entry."""
        known = self._known.get(place)
        if known is None:
            section, key = place
            made = getattr(self, f"_{section}", None)
            entries = getattr(self.layout, "pieces" if section == "section" else section, None)
            added = isinstance(entries, dict) and key not in entries  # by a choice that was made already
            known = self._known[place] = [] if made is None or added else self._free(made(key))
        return known

    def beside(self, piece: str) -> Iterator[Place]:
        """Feeds and contacts at any rail of a piece, and contacts that move with its blades."""
        there = self.layout.pieces[piece]
        for rail in there.kind.rails:
            for place in self.at.get(f"{piece}.{rail}", ()):
                if place[0] in {"feeds", "contacts"}:
                    yield place
        for bar in there.bars:
            for number in self.moved_with.get(self.layout.bars[bar].variable, ()):
                yield "contacts", number

    def feeding(self, piece: str) -> list[Choice]:
        """Feeds, contacts and pins that a piece may lack."""
        known = self._known.get(("", piece))
        if known is None:
            found = [*self._new_feeds(self.layout.pieces[piece]), *self._new_contacts(self.layout.pieces[piece])]
            known = self._known["", piece] = self._free([*found, *self._new_pins(piece)])
        return known

    def _free(self, choices: Iterable[Choice]) -> list[Choice]:
        """Those that change nothing that is to stay as it is."""
        if not self.keep:
            return list(choices)
        return [c for c in choices if self.keep.isdisjoint(n for change in c.edit for n in self.names_in(change))]

    def names_in(self, change: Change) -> Iterator[str]:
        """The names of what a change touches: of an entry, and of what it belongs to."""
        layout = self.layout
        for section, key in change.places():
            match section:
                case "joints":
                    joint = layout.joints[int(key)]
                    yield from (joint.name, *(".".join(end) for end in (joint.start, joint.end)))
                case "feeds":
                    feed = change.feed if isinstance(change, AddFeed) else layout.feeds[int(key)]
                    yield from (feed.name, feed.piece)
                case "contacts":
                    contact = change.contact if isinstance(change, AddContact) else layout.contacts[int(key)]
                    yield from (contact.owner, f"{contact.owner}.{contact.name}")
                case "pins":
                    yield change.pin.plug if isinstance(change, AddPin) else layout.pins[int(key)].plug
                case "links":
                    yield layout.links[int(key)].name
                case "expectations":
                    yield from layout.expectations[int(key)].pieces
                case _:
                    yield str(key)

    # -- how a pole is written

    def pole(self, terminal: str, bus: str = "") -> str:
        """A terminal as the file would name it: a pole by the bus that is meant, or the only one that has it."""
        head, _, letter = terminal.rpartition(".")
        if letter not in {"A", "B"} or head not in self.layout.supplies:
            return terminal
        if not bus:
            carry = [b.name for b in self.layout.buses.values() if terminal in b.poles and not b.implicit]
            bus = carry[0] if len(carry) == 1 else head
        return f"{bus}.{letter}"

    def letter(self, source: str, terminal: str) -> str:
        """The key of a feed under which a pole of its source is written."""
        poles = self.poles_of(source)
        return "AB"[poles.index(terminal)] if terminal in poles else terminal.rsplit(".", 1)[-1]

    def poles_of(self, source: str) -> tuple[str, str]:
        """The two poles of a bus, supply or reverser."""
        layout = self.layout
        if source in layout.reversers:
            return layout.reversers[source].outputs
        bus = layout.buses.get(source)
        return layout.supplies[source].poles if bus is None else bus.poles

    def _signal(self, source: str) -> tuple[str, str, bool]:
        """What tells signals apart: one is no cure for another, as a programming output is none for a main line."""
        reverser = self.layout.reversers.get(source)
        name = source if reverser is None else reverser.bus
        bus = self.layout.buses.get(name)
        owner = self.layout.supplies.get(name if bus is None else bus.supply)
        return ("", "", False) if owner is None else (owner.type, owner.station or "main", owner.programming)

    def _feed_text(self, feed: Feed) -> str:
        ways = [f"{self.letter(feed.source, pole)}: {rail.split('.', 1)[1]}" for pole, rail in feed.wires]
        real = [b for b in self.layout.buses.values() if not self.layout.supplies[b.supply].accessory]
        source = "" if len(real) == 1 and feed.source == real[0].name else f"from: {quoted(feed.source)}, "
        return f"{{to: {quoted(feed.target or feed.piece)}, {source}{', '.join(ways)}}}"

    # -- joints

    def _joints(self, number: int) -> Iterator[Choice]:
        joint = self.layout.joints[number]
        left, right = (pair[2] for pair in joint.pairs)
        framed = any(self.layout.pieces[name].kind.framed for name, _ in (joint.start, joint.end))
        for word, sides in _insulations(joint):
            if framed and word != "both":
                continue  # a wheel over the one cut would join the poles through the frame
            edit = tuple(Insulate(number, side, True) for side in sides)
            headline = f"the joint '{joint.name}' is metal where it must be insulated"
            if left or right:
                headline = f"the joint '{joint.name}' has a metal joiner where it must be insulated"
            say = f"insulate '{joint.name}': write 'insulate: {word}' there"
            yield choice("joint-metal", edit, headline, say, joint.span)
        if any(end in self.layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end)):
            return
        cut = tuple(side for side, insulated in enumerate((left, right)) if insulated)
        for sides in dict.fromkeys((cut, *((side,) for side in cut))):
            if not sides:
                continue
            stays = [s for s in cut if s not in sides]
            word = ("none", "left", "right")[0 if not stays else 1 + stays[0]]
            edit = tuple(Insulate(number, side, False) for side in sides)
            headline = f"the joint '{joint.name}' is insulated where it must be metal"
            say = f"use metal joiners at '{joint.name}': write 'insulate: {word}' there"
            yield choice("joint-insulated", edit, headline, say, joint.span)
        for piece in (joint.start[0], joint.end[0]):
            yield from self.of(("section", piece))

    # -- feeds

    def _feeds(self, number: int) -> Iterator[Choice]:  # noqa: PLR0915 - one kind of mistake after the other
        feed = self.layout.feeds[number]
        piece = self.layout.pieces[feed.piece]
        name = feed.piece
        if len(feed.wires) == TWO:
            (p, a), (q, b) = feed.wires
            say = f"swap the two wires of the feed of '{name}': {self.pole(p, feed.source)} to {b}, {self.pole(q, feed.source)} to {a}"  # noqa: E501
            headline = f"the wires of the feed of '{name}' are swapped"
            yield choice("feed-swapped", (Refeed(number, feed.source, ((p, b), (q, a))),), headline, say, feed.span)
        else:
            ((p, a),) = feed.wires
            rails = [r for r in piece.kind.rails if f"{name}.{r}" != a] if piece.kind.plain else []
            for rail in rails:
                other = f"{name}.{rail}"
                headline = f"the feed of '{name}' is on the wrong rail"
                say = f"wire {self.pole(p, feed.source)} to {other}, not to {a}"
                yield choice("feed-rail", (Refeed(number, feed.source, ((p, other),)),), headline, say, feed.span)
            poles = self.poles_of(feed.source)
            if p in poles and poles[0] != poles[1]:
                q = poles[1 - poles.index(p)]
                headline = f"the feed of '{name}' is on the wrong pole"
                say = f"wire {self.pole(q, feed.source)} to {a}, not {self.pole(p, feed.source)}"
                yield choice("feed-pole", (Refeed(number, feed.source, ((q, a),)),), headline, say, feed.span)
        label = districts(self.layout)
        for source in self._sources(feed.source):
            if source == feed.source or self._signal(source) != self._signal(feed.source):
                continue
            old, new = self.poles_of(feed.source), self.poles_of(source)
            if source in self.layout.reversers and not self._serves(source, name):
                continue
            if not all(pole in old for pole, _ in feed.wires):
                continue
            if old == new and label.get(source) == label.get(feed.source):
                continue  # the same poles by another name
            for turned in (False, True):
                poles = new[::-1] if turned else new
                wires = tuple((poles[old.index(pole)], rail) for pole, rail in feed.wires)
                text = self._feed_text(feed._replace(source=source, wires=wires))
                headline = f"'{name}' is fed from '{feed.source}' and must be fed from '{source}'"
                if old == new:
                    headline = f"'{name}' lies in the district '{label[source]}' and is fed from '{feed.source}'"
                if turned:
                    if source not in self.layout.reversers and feed.source not in self.layout.reversers:
                        continue
                    headline += ", its rails exchanged"
                yield choice(
                    "feed-source",
                    (Refeed(number, source, wires),),
                    headline,
                    f"write its feed as {text}",
                    feed.span,
                )
        others = {self.layout.feeds[n].source for n in self.feeds_of[name] if n != number}
        extra = feed.source not in self.layout.reversers and bool(others & self.layout.reversers.keys())
        what = (
            f"'{name}' is fed from '{feed.source}' as well as from {joined([repr(one) for one in sorted(others)])}"
            if extra
            else ""
        )
        headline = what or f"'{name}' has a feed that it must not have"
        say = f"take out the feed of '{name}' from '{feed.source}'"
        yield choice("feed-extra" if extra else "feed-out", (TakeOut("feeds", number),), headline, say, feed.span)
        if len(feed.wires) == TWO:
            for kept, gone in ((feed.wires[0], feed.wires[1]), (feed.wires[1], feed.wires[0])):
                headline = f"the feed of '{name}' has a wire to {gone[1]} that it must not have"
                say = f"feed {kept[1]} alone: {self._feed_text(feed._replace(wires=(kept,)))}"
                yield choice("feed-out", (Refeed(number, feed.source, (kept,)),), headline, say, feed.span)
        yield from self._ties(feed.source)

    def _ties(self, source: str) -> Iterator[Choice]:
        """A common return that two controllers have and the file does not say."""
        layout = self.layout
        bus = layout.buses.get(source)
        mine = layout.supplies.get(source if bus is None else bus.supply)
        if mine is None or mine.type != "dc" or mine.accessory:
            return
        for other in layout.supplies.values():
            if other.name == mine.name or other.type != "dc" or other.accessory:
                continue
            later, first = (
                (mine, other)
                if list(layout.supplies).index(mine.name) > list(layout.supplies).index(other.name)
                else (other, mine)
            )
            if later.common:
                continue
            idle = [
                side for side in (0, 1) if later.poles[side] not in self.at and later.poles[side] not in self.fed_from
            ]
            for side, letter in enumerate("AB"):
                if later.poles[side] == first.poles[side] or (idle and side not in idle):
                    continue
                to = f"{first.name}.{letter}"
                headline = f"'{later.name}' and '{first.name}' share a rail, and no common return is written"
                say = f"if the outputs are isolated from each other, write 'common: {to}' at '{later.name}'"
                yield choice("common-forgotten", (Tie(later.name, to),), headline, say, later.span)

    def _sources(self, like: str = "") -> list[str]:
        """Buses and automatic reversers that a track may be fed from, those of many feeds first."""
        layout = self.layout
        if self._used is None:
            uses: dict[str, int] = {}
            for feed in layout.feeds:
                uses[feed.source] = uses.get(feed.source, 0) + 1
            names = [b.name for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
            names += list(layout.reversers)
            names.sort(key=lambda n: -uses.get(n, 0))
            self._used = names[:MOST_SOURCES]
        found = self._used
        return found if not like or like in found else [like, *found]

    def _serves(self, reverser: str, piece: str) -> bool:
        """Whether a reverser may be meant for a piece: it feeds nothing yet, or the same section of plain track."""
        fed = {feed.piece for feed in self.layout.feeds if feed.source == reverser}
        return not fed or not fed.isdisjoint(self._chain(piece)[0])

    def _new_feeds(self, piece: Piece) -> Iterator[Choice]:
        """A feed that a piece lacks, or the other wire of one; frogs want contacts and not feeds."""
        if not piece.kind.routes:
            return  # what stands at the end of a track
        ends = [(end.left, end.right) for end in piece.kind.ends.values() if end.left != end.right]
        pairs = dict.fromkeys(pair for pair in ends if not any(map(piece.kind.is_changing, pair)))
        if not pairs and len(fixed := [rail for rail in piece.kind.rails if not piece.kind.is_changing(rail)]) == TWO:
            pairs = {(fixed[0], fixed[1]): None}
        for sides in {frozenset(pair): pair for pair in reversed(pairs)}.values():
            yield from self._new_feeds_of(piece, sides)

    def _new_feeds_of(self, piece: Piece, sides: tuple[str, str]) -> Iterator[Choice]:
        served = [self.layout.feeds[n] for n in self.feeds_of.get(piece.name, ())]
        fed = {rail for feed in served for _, rail in feed.wires}
        for source in dict.fromkeys((*(feed.source for feed in served), *self._near_sources(piece.name))):
            if source in self.layout.reversers and not self._serves(source, piece.name):
                continue
            if served and all(feed.source != source for feed in served):
                continue
            a, b = self.poles_of(source)
            for first, second in (sides, sides[::-1]):
                both = ((a, f"{piece.name}.{first}"), (b, f"{piece.name}.{second}"))
                for wires in (both, both[:1], both[1:]):
                    if any(rail in fed for _, rail in wires):
                        continue
                    feed = Feed("", source, piece.name, wires, None, None, NO_WIRE, piece.span)
                    yield self._added_feed(piece, feed, served)

    def _near_sources(self, piece: str) -> list[str]:
        """Sources that a track may be fed from, first those that feed what lies beside it."""
        beside = dict.fromkeys(
            end[0]
            for number in self.joints_of.get(piece, ())
            for end in (self.layout.joints[number].start, self.layout.joints[number].end)
        )
        near = [self.layout.feeds[n].source for name in beside for n in self.feeds_of.get(name, ())]
        known = self._sources()
        return list(dict.fromkeys((*(s for s in near if s in known), *known)))

    def _added_feed(self, piece: Piece, feed: Feed, served: list[Feed]) -> Choice:
        headline = f"'{piece.name}' has no feed of its own"
        kind = ("feed-missing" if piece.kind.plain else "feed-piece") if len(feed.wires) == TWO else "feed-one-wire"
        if served:
            headline = f"{joined([rail for _, rail in feed.wires])} has no feed wire"
            if self._two_wires(feed.source, [other for other in self.layout.feeds if other not in served]):
                kind = "feed-wire-off"
        return choice(kind, (AddFeed(feed),), headline, f"add the feed {self._feed_text(feed)}", piece.span)

    def _two_wires(self, source: str, others: list[Feed]) -> bool:
        """Whether feeds have two wires here: not so on a common return, or where most others have one."""
        supply = self.layout.supplies.get(self.layout.buses[source].supply if source in self.layout.buses else source)
        if supply is not None and any(s.common.startswith(f"{supply.name}.") for s in self.layout.supplies.values()):
            return False
        ones = sum(1 for feed in others if len(feed.wires) == 1)
        return (supply is None or not supply.common) and 2 * ones <= len(others)

    # -- contacts

    def _contacts(self, number: int) -> Iterator[Choice]:
        contact = self.layout.contacts[number]
        called = f"contact '{contact.name}' of '{contact.owner}'"
        wired = [to for _, to in contact.throws]
        if len(wired) == TWO and all(wired):
            (p, a), (q, b) = contact.throws
            yield self._rewired(
                "throws-swapped",
                number,
                (b, a),
                f"the throws of {called} are the wrong way round",
                f"swap the two throws of '{contact.name}' of '{contact.owner}': "
                f"{p} to {self.pole(b or '')}, {q} to {self.pole(a or '')}",
            )
        needs = needed(self.layout, contact)
        if needs and any(to != want for to, want in zip(wired, needs, strict=True)) and (wired[::-1] != list(needs)):
            wrong = [(p, to, want) for (p, to), want in zip(contact.throws, needs, strict=True) if to != want]
            said = joined([f"{p} is {'open' if to is None else f'wired to {to}'}" for p, to, _ in wrong])
            fix = f"wire {joined([f'{p} to {want}' for p, _, want in wrong])}"
            yield self._rewired("throws-wrong", number, needs, f"{called}: {said}", fix)
        yield from self._poles_of_throws(number, contact, called)
        yield from self._commons(number, contact, called)
        yield from self._exchanged(number, contact)

    def _rewired(self, kind: str, number: int, ends: tuple[str | None, ...], headline: str, fix: str) -> Choice:
        contact = self.layout.contacts[number]
        known = dict(zip((to for _, to in contact.throws), contact.buses[1:], strict=False))
        throws = tuple((position, to) for (position, _), to in zip(contact.throws, ends, strict=True))
        buses = tuple(known.get(to, "") for to in ends)
        return choice(kind, (Rewire(number, throws, buses),), headline, fix, contact.span)

    def _poles_of_throws(self, number: int, contact: Contact, called: str) -> Iterator[Choice]:
        """Throws that are all on one letter of some supplies, and belong on the other; one throw on the other pole."""
        other: dict[str, str] = {}
        for supply in self.layout.supplies.values():
            if supply.poles[0] != supply.poles[1]:
                for one, two in (supply.poles, supply.poles[::-1]):
                    other.setdefault(one, two)
        ends = [to for _, to in contact.throws]
        on = [n for n, to in enumerate(ends) if to in other]
        for chosen in dict.fromkeys((tuple(on), *((n,) for n in on))):
            if not chosen or (len(chosen) == TWO and len(ends) == TWO and other[ends[0] or ""] == ends[1]):
                continue
            new = tuple(other[to] if n in chosen and to is not None else to for n, to in enumerate(ends))
            buses = (*contact.buses, *("" for _ in ends))[1:]
            throws = tuple((p, to) for (p, _), to in zip(contact.throws, new, strict=True))
            places = [contact.throws[n][0] for n in chosen]
            was = joined([self.pole(ends[n] or "", buses[n]) for n in chosen])
            fix = joined([f"{contact.throws[n][0]} to {self.pole(new[n] or '', buses[n])}" for n in chosen])
            edit = Rewire(number, throws, tuple(buses[: len(ends)]))
            headline = f"{called}: {joined(places)} {'is' if len(places) == 1 else 'are'} wired to {was}"
            yield choice("pin-pole", (edit,), headline, f"wire {fix}", contact.span)

    def _commons(self, number: int, contact: Contact, called: str) -> Iterator[Choice]:
        """The common on another rail: the other one of plain track, or a frog that has no contact."""
        if contact.common is None or "." not in contact.common:
            return
        name, rail = contact.common.split(".", 1)
        piece = self.layout.pieces.get(name)
        targets: list[str] = []
        if piece is not None and piece.kind.plain and rail in {"left", "right"}:
            targets.append(f"{name}.{'right' if rail == 'left' else 'left'}")
        near = dict.fromkeys(t.split(".", 1)[0] for t in (contact.common, *(to for _, to in contact.throws)) if t)
        bars = {b.bar.split(".", 1)[0] for b in self.layout.bars.values() if b.variable == contact.variable}
        served = {c.common for c in self.layout.contacts} | {u.frog for u in self.layout.units.values()}
        for other in dict.fromkeys((*near, *sorted(bars))):
            there = self.layout.pieces.get(other)
            if there is not None and (other in bars or piece is None or is_changing(rail)):
                targets += [f"{other}.{r}" for r in there.kind.rails if r.startswith("frog")]
        for target in dict.fromkeys(targets):
            if target == contact.common or (target in served and is_changing(target.split(".", 1)[1])):
                continue
            edit: list[Change] = [Recommon(number, target)]
            headline = f"the common of {called} is wired to {contact.common}"
            yield choice("common-elsewhere", tuple(edit), headline, f"wire the common to {target}", contact.span)
            needs = needed(self.layout, contact._replace(common=target))
            if needs and needs != tuple(to for _, to in contact.throws):
                throws = tuple((p, want) for (p, _), want in zip(contact.throws, needs, strict=True))
                edit.append(Rewire(number, throws, tuple("" for _ in throws)))
                fix = f"wire the common to {target}, {', '.join(f'{p} to {want}' for p, want in throws)}"
                yield choice("common-elsewhere", tuple(edit), headline, fix, contact.span)

    def _exchanged(self, number: int, first: Contact) -> Iterator[Choice]:
        """Two frogs of a piece with several tie bars, each on a contact that moves with the bar of the other.

        Common practice, no published source: the frog at one end of a slip follows the tie bar at the other end.
        """
        name = (first.common or "").split(".", 1)[0]
        if name not in self.layout.pieces:
            return
        for other, second in enumerate(self.layout.contacts):
            if other == number or first.variable == second.variable or not (second.common or "").startswith(f"{name}."):
                continue
            swapped = first._replace(common=second.common), second._replace(common=first.common)
            wants = [needed(self.layout, contact) for contact in swapped]
            if needed(self.layout, first) or needed(self.layout, second) or not all(wants):
                continue
            edit: list[Change] = []
            wires = []
            for k, c, want in zip((number, other), swapped, wants, strict=True):
                throws = tuple((p, to) for (p, _), to in zip(c.throws, want or (), strict=True))
                edit += [Recommon(k, c.common or ""), Rewire(k, throws, tuple("" for _ in throws))]
                ways = ", ".join(f"{p} to {to}" for p, to in throws)
                wires.append(f"'{c.name}' of '{c.owner}': common to {c.common}, {ways}")
            headline = f"each frog of '{name}' moves with the wrong tie bar"
            edit.sort(key=repr)
            yield choice(
                "bars-exchanged",
                tuple(edit),
                headline,
                f"wire each to the other contact, {'; '.join(wires)}",
                first.span,
            )

    def _new_contacts(self, piece: Piece) -> Iterator[Choice]:
        if not piece.kind.bladed:
            return
        served = {contact.common for contact in self.layout.contacts}
        for rail in piece.kind.rails:
            terminal = f"{piece.name}.{rail}"
            if rail.startswith("frog") and terminal not in served:
                for contact in self._contacts_for(piece, terminal):
                    wires = ", ".join(f"{position} to {to}" for position, to in contact.throws)
                    say = f"give {terminal} a changeover contact that moves with '{contact.variable}': common to {terminal}, {wires}"  # noqa: E501
                    yield choice(
                        "contact-missing",
                        (AddContact(contact),),
                        f"{terminal} has no contact to feed it",
                        say,
                        piece.span,
                    )

    def _contacts_for(self, piece: Piece, terminal: str) -> Iterator[Contact]:
        """Contacts with the right throws for a frog."""
        for bar in piece.bars:
            variable = self.layout.variables[self.layout.bars[bar].variable]
            owner = variable.name
            positions = variable.positions
            if owner not in self.layout.machines and owner not in self.layout.pieces:
                continue
            values = tuple((i,) for i in range(len(positions)))
            taken = {c.name for c in self.layout.contacts if c.owner == owner}
            name = next(n for n in ("frog", *(f"frog-{k}" for k in range(2, 99))) if n not in taken)
            blank = tuple((position, None) for position in positions)
            spans = tuple(piece.span for _ in positions)
            buses = tuple("" for _ in range(len(positions) + 1))
            draft = Contact(
                owner, name, terminal, blank, values, owner, "break-before-make", piece.span, spans, buses, buses
            )
            wants = needed(self.layout, draft)
            if wants:
                yield draft._replace(throws=tuple((p, want) for p, want in zip(positions, wants, strict=True)))

    # -- pieces

    def _pieces(self, name: str) -> Iterator[Choice]:
        piece = self.layout.pieces[name]
        library = self.layout.library
        if library is not None:
            definition = library.definition(piece.kind.name)
            given = dict(piece.kind.options)
            for option, (values, _) in definition.options.items():
                note = definition.option_notes[option]
                now = given.get(option, note.default)
                for value in () if note.choice else values:
                    if value != now and (now or value != "false"):
                        yield _built(piece, option, now, value, note.what)
            if piece.kind.hand in {"left", "right"}:
                other = "left" if piece.kind.hand == "right" else "right"
                headline = f"'{name}' is written as a {piece.kind.hand}-hand turnout; or is it the other hand?"
                say = f"look at the turnout; if it is so, write 'hand: {other}' at '{name}'"
                yield choice("hand", (SetOption(name, "hand", other),), headline, say, piece.span)
        yield from self.of(("section", name))
        yield from self._turning(piece)

    def _section(self, name: str) -> Iterator[Choice]:
        """A reverser for the plain track that a piece is part of, cut at both ends."""
        layout = self.layout
        if not layout.pieces[name].kind.plain:
            return
        chain, ends = self._chain(name)
        if len(ends) != TWO or chain[0] != name:
            if len(ends) == TWO:
                yield from self.of(("section", chain[0]))
            return
        if any(layout.feeds[n].source in layout.reversers for p in chain for n in self.feeds_of.get(p, ())):
            return
        cuts = tuple(
            Insulate(number, side, True)
            for number in sorted(ends)
            for side in (0, 1)
            if not layout.joints[number].pairs[side][2]
        )
        free = next(n for n in (f"R{k}" for k in range(1, 999)) if not self._is_known(n))
        longest = max(chain, key=lambda p: layout.pieces[p].length or 0)
        for bus in [s for s in self._sources() if s not in layout.reversers][:TWO]:
            outputs = (f"{free}.A", f"{free}.B")
            poles = self.poles_of(bus)
            span = layout.pieces[longest].span
            by_hand = self._signal(bus)[0] == "dc"
            switch = next(n for n in (f"S{k}" for k in range(1, 999)) if not self._is_known(n))
            follows, straight = (switch, (0,)) if by_hand else (None, ())
            reverser = Reverser(free, bus, poles, outputs, not by_hand, follows, straight, span)
            edit: list[Change] = [*cuts, AddReverser(reverser)]
            if by_hand:
                edit.insert(0, AddSwitch(Variable(switch, "switch", ("normal", "reversed"), span)))
            fed = [n for p in chain for n in self.feeds_of.get(p, ())]
            if any(pole not in poles for n in fed for pole, _ in layout.feeds[n].wires):
                continue
            for n in fed:
                wires = tuple((outputs[poles.index(pole)], rail) for pole, rail in layout.feeds[n].wires)
                edit.append(Refeed(n, free, wires))
            if not fed:
                wires = ((outputs[0], f"{longest}.left"), (outputs[1], f"{longest}.right"))
                edit.append(AddFeed(Feed("", free, longest, wires, None, None, NO_WIRE, span)))
            at = joined([f"'{layout.joints[n].name}'" for n in sorted(ends)])
            said = f"'{longest}'" if len(chain) == 1 else f"'{chain[0]}' to '{chain[-1]}'"
            device = f"a reverser ({quoted(free)}: {{from: {quoted(bus)}, mode: automatic}})"
            if by_hand:
                entry = f"{{from: {quoted(bus)}, follows: {switch}, straight: [normal]}}"
                device = (
                    f"a hand reversing switch ({switch}: {{positions: [normal, reversed]}}, {quoted(free)}: {entry})"
                )
            say = (
                f"insulate both rails at {at} and feed {said} from {device}; the longest train must fit between"
                f"{', and the switch is thrown while it stands there' if by_hand else ''}"
            )
            headline = f"through '{longest}' the track comes back on itself with its rails exchanged"
            yield choice("reverser-missing", tuple(edit), headline, say, span)

    def _chain(self, name: str) -> tuple[list[str], list[int]]:
        """The plain track that a piece is part of, in order of names, and the joints at its two ends."""
        layout = self.layout
        chain, stack, ends = {name}, [name], []
        while stack:
            here = stack.pop()
            for number in self.joints_of.get(here, ()):
                joint = layout.joints[number]
                other = joint.end[0] if joint.start[0] == here else joint.start[0]
                if layout.pieces[other].kind.plain and not (joint.pairs[0][2] and joint.pairs[1][2]):
                    if other not in chain:
                        chain.add(other)
                        stack.append(other)
                else:
                    ends.append(number)
            if len(chain) > MOST_PARTNERS:
                return [name], []
        return sorted(chain), ends

    def _is_known(self, name: str) -> bool:
        layout = self.layout
        sections: tuple[Any, ...] = (
            *(layout.pieces, layout.supplies, layout.buses, layout.reversers, layout.units, layout.components),
            *(layout.machines, layout.variables, layout.trains, layout.boards),
        )
        return any(name in section for section in sections)

    def _turning(self, piece: Piece) -> Iterator[Choice]:
        """A reverser for the rails of a piece that turns end for end and is fed straight from a bus."""
        kind, layout = piece.kind, self.layout
        turns = [end for end in kind.ends.values() if end.name in kind.gaps and not end.entering]
        if len(turns) != TWO or (turns[0].left, turns[0].right) != (turns[1].right, turns[1].left):
            return
        for number in self.feeds_of.get(piece.name, ()):
            feed = layout.feeds[number]
            bus = layout.buses.get(feed.source)
            if bus is None or self._signal(feed.source)[0] == "dc":
                continue
            free = next(n for n in (f"R{k}" for k in range(1, 999)) if not self._is_known(n))
            outputs = (f"{free}.A", f"{free}.B")
            reverser = Reverser(free, bus.name, bus.poles, outputs, True, None, (), feed.span)
            wires = tuple((outputs[bus.poles.index(pole)], rail) for pole, rail in feed.wires)
            edit = (AddReverser(reverser), Refeed(number, free, wires))
            headline = f"'{piece.name}' turns end for end and is fed straight from '{bus.name}'"
            say = "feed it from a reverser, automatic or one that follows its position as a split ring does"
            yield choice("reverser-missing", edit, headline, say, feed.span)

    # -- plugs

    def _pins(self, number: int) -> Iterator[Choice]:
        pin = self.layout.pins[number]
        mates = [n for n, other in enumerate(self.layout.pins) if other.plug == pin.plug and n != number]
        for other in mates[:MOST_PARTNERS]:
            yield self._swapped_pins(*sorted((number, other)))
        for side, end in enumerate(pin.ends):
            for new in self._other_poles(end):
                ends = (new, pin.ends[1]) if side == 0 else (pin.ends[0], new)
                if ends[0] == ends[1]:
                    continue
                was, now = self.pole(end, pin.buses[side]), self.pole(new, pin.buses[side])
                headline = f"pin {pin.pin} of the plug '{pin.plug}' is wired to {was}"
                yield choice("pin-pole", (Repin(number, ends, pin.buses),), headline, f"wire it to {now}", pin.span)

    def _swapped_pins(self, first: int, second: int) -> Choice:
        one, two = self.layout.pins[first], self.layout.pins[second]
        edit = (
            Repin(first, (one.ends[0], two.ends[1]), (one.buses[0], two.buses[1])),
            Repin(second, (two.ends[0], one.ends[1]), (two.buses[0], one.buses[1])),
        )
        (a, b), (c, d) = ([self.pole(e, bus) for e, bus in zip(p.ends, p.buses, strict=True)] for p in (one, two))
        fix = f"exchange them on one side: pin {one.pin} joins {a} to {d}, pin {two.pin} joins {c} to {b}"
        return choice(
            "pins-swapped", edit, f"pins {one.pin} and {two.pin} of the plug '{one.plug}' are swapped", fix, one.span
        )

    def _other_poles(self, pole: str) -> Iterator[str]:
        for supply in self.layout.supplies.values():
            if pole in supply.poles and supply.poles[0] != supply.poles[1]:
                yield supply.poles[1 - supply.poles.index(pole)]

    def _new_pins(self, piece: str) -> Iterator[Choice]:
        """A pin that a plug lacks, to a junction that is wired to a rail of the piece, or to the rail itself."""
        if not self.layout.pins or self.feeds_of.get(piece):
            return
        rails = [f"{piece}.{rail}" for rail in self.layout.pieces[piece].kind.rails]
        strips = []
        for rail in rails:
            for section, key in self.at.get(rail, ()):
                if section == "links":
                    link = self.layout.links[int(key)]
                    strips += [e for e in link.ends if e != rail]
        plugs: dict[str, Pin] = {}
        for pin in self.layout.pins:
            plugs.setdefault(pin.plug, pin)
        targets = strips or (rails if self.layout.pieces[piece].kind.plain else [])
        for plug, like in plugs.items():
            taken = {p.pin for p in self.layout.pins if p.plug == plug}
            free = next(str(n) for n in range(1, 999) if str(n) not in taken)
            for target in dict.fromkeys(targets):
                if any(target in p.ends for p in self.layout.pins):
                    continue
                for source in [s for s in self._sources() if s not in self.layout.reversers]:
                    for pole in self.poles_of(source):
                        pin = Pin(plug, free, (pole, target), like.variable, like.span, (source, ""))
                        say = f"add a pin that joins {self.pole(pole, source)} to {target}"
                        headline = f"the plug '{plug}' has no pin for {target}"
                        yield choice("pin-missing" if strips else "pin-new", (AddPin(pin),), headline, say, like.span)

    # -- wires

    def _links(self, number: int) -> Iterator[Choice]:
        link = self.layout.links[number]
        a, b = (self.pole(e, bus) for e, bus in zip(link.ends, link.buses, strict=True))
        yield from self._one_contact_for_two(number, link)
        for other in range(min(len(self.layout.links), MOST_PARTNERS)):
            if other != number and self._on_poles(link) == self._on_poles(self.layout.links[other]):
                yield self._exchanged_links(*sorted((number, other)))
        for side, end in enumerate(link.ends):
            for new in self._other_poles(end):
                ends = (new, link.ends[1]) if side == 0 else (link.ends[0], new)
                if ends[0] == ends[1]:
                    continue
                now = self.pole(new, link.buses[side])
                headline = f"the wire from {a} to {b} is on the wrong pole"
                edit = (Relink(number, ends, link.buses),)
                yield choice("pin-pole", edit, headline, f"wire it to {now}", link.span)
        headline = f"the wire from {a} to {b} joins what must stay apart"
        yield choice("wire-out", (TakeOut("links", number),), headline, "take this wire out", link.span)

    def _on_poles(self, link: Link) -> int:
        """How many ends of a wire are on a pole: wires of one kind lie beside each other."""
        return sum(1 for end in link.ends if next(self._other_poles(end), None) is not None)

    def _exchanged_links(self, first: int, second: int) -> Choice:
        one, two = self.layout.links[first], self.layout.links[second]
        edit = (
            Relink(first, (one.ends[0], two.ends[1]), (one.buses[0], two.buses[1])),
            Relink(second, (two.ends[0], one.ends[1]), (two.buses[0], one.buses[1])),
        )
        (a, b), (c, d) = ([self.pole(e, bus) for e, bus in zip(w.ends, w.buses, strict=True)] for w in (one, two))
        headline = f"the wires from {a} and {c} are exchanged at their far ends"
        return choice("wires-exchanged", edit, headline, f"wire {a} to {d}, and {c} to {b}", one.span)

    def _one_contact_for_two(self, number: int, link: Link) -> Iterator[Choice]:
        """Two frogs joined by a wire and fed by one contact."""
        served = {contact.common for contact in self.layout.contacts}
        for end, other in (link.ends, link.ends[::-1]):
            name, _, rail = end.partition(".")
            piece = self.layout.pieces.get(name)
            if piece is None or not rail.startswith("frog") or end in served:
                continue
            for contact in self._contacts_for(piece, end):
                wires = ", ".join(f"{position} to {to}" for position, to in contact.throws)
                headline = (
                    f"the wire from {end} to {other} feeds two frogs through one contact, and they need unlike poles"
                )
                say = (
                    f"take this wire out and give {end} a contact of its own that moves with '{contact.variable}': "
                    f"common to {end}, {wires}"
                )
                yield choice("frogs-joined", (AddContact(contact), TakeOut("links", number)), headline, say, link.span)

    # -- components, devices, what is meant

    def _components(self, name: str) -> Iterator[Choice]:
        found = [c for c in self.layout.components.values() if c.kind in {"lamp", "resistor"}]
        this = self.layout.components[name]
        fix = "write 'kind: load' for what uses current; a lamp or resistor in series in a wire stays as it is"
        groups: list[list[Component]] = [[this]] if this in found else []
        if len(found) > 1 and this in found:
            groups.append(found)
        for chosen in groups:
            edit = tuple(Recomponent(c.name, "load", c.ends, c.buses) for c in chosen)
            said = ", ".join(f"'{c.name}'" for c in chosen[:MOST_SAID]) + (
                f" and {len(chosen) - MOST_SAID} more" if len(chosen) > MOST_SAID else ""
            )
            verb = f"is a {this.kind}" if len(chosen) == 1 else "are lamps or resistors"
            headline = f"{said} {verb} from pole to pole, and in the checks that conducts"
            yield choice("load", edit, headline, fix, chosen[0].span)
        if this.kind == "diode":
            edit = (Recomponent(name, this.kind, this.ends[::-1], this.buses[::-1]),)
            a, b = (self.pole(end, bus) for end, bus in zip(this.ends, this.buses, strict=True))
            fix = f"turn it round, with the supply unplugged, and write 'from: {b}, to: {a}' at '{name}'"
            yield choice("diode-turned", edit, f"the diode '{name}' lies the wrong way round", fix, this.span)
        for side, end in enumerate(this.ends):
            for new in self._other_poles(end):
                ends = (new, this.ends[1]) if side == 0 else (this.ends[0], new)
                if ends[0] == ends[1]:
                    continue
                headline = f"'{name}' is wired to {self.pole(end, this.buses[side])}"
                edit = (Recomponent(name, this.kind, ends, this.buses),)
                yield choice("pin-pole", edit, headline, f"wire it to {self.pole(new, this.buses[side])}", this.span)

    def _reversers(self, name: str) -> Iterator[Choice]:
        reverser = self.layout.reversers[name]
        if reverser.variable is not None:
            positions = self.layout.variables[reverser.variable].positions
            headline = f"'{name}' stands straight where it must be crossed"
            for straight in dict.fromkeys(_straights(positions, reverser.straight)):
                there = joined([positions[n] for n in straight])
                say = f"let it stand straight at {there} of '{reverser.variable}', and crossed else"
                yield choice("straight", (Straighten(name, straight),), headline, say, reverser.span)
        for bus in self.layout.buses.values():
            if bus.name != reverser.bus and not self.layout.supplies[bus.supply].accessory:
                headline = f"the reverser '{name}' is fed from '{reverser.bus}'"
                say = f"feed '{name}' from '{bus.name}'"
                edit = (Rebus("reversers", name, bus.name, bus.poles),)
                yield choice("device-bus", edit, headline, say, reverser.span)

    def _units(self, name: str) -> Iterator[Choice]:
        unit = self.layout.units[name]
        for bus in self.layout.buses.values():
            if bus.name != unit.bus and not self.layout.supplies[bus.supply].accessory:
                headline = f"the frog unit '{name}' is fed from '{unit.bus}', and its turnout from '{bus.name}'"
                say = f"feed '{name}' from '{bus.name}', the bus of the turnout's stock rails"
                yield choice("device-bus", (Rebus("units", name, bus.name, bus.poles),), headline, say, unit.span)

    def _expectations(self, number: int) -> Iterator[Choice]:
        entry = self.layout.expectations[number]
        what = "live" if entry.live else "dead"
        said = joined([f"{p!r}" for p in entry.pieces])
        verb = "is" if len(entry.pieces) == 1 else "are"
        headline = f"{said} {verb} meant to be {what}, and the wiring says otherwise"
        for n, (name, now) in enumerate(entry.when):
            positions = self.layout.variables[name].positions
            for other in positions if len(positions) <= MOST_SAID else ():
                if other != now:
                    when = (*entry.when[:n], (name, other), *entry.when[n + 1 :])
                    written = ", ".join(f"{quoted(v)}: {quoted(x)}" for v, x in when)
                    say = f"change the wiring; or, if it is what you want, write 'when: {{{written}}}' in this entry"
                    told = f"{said} {verb} meant to be {what} when {name} is at {now}, and the wiring says otherwise"
                    yield choice("expectation-other", (Reexpect(number, when),), told, say, entry.span)
        say = "change the wiring; or, if it is what you want, take this entry of 'expect' out"
        yield choice("expectation", (TakeOut("expectations", number),), headline, say, entry.span)


def _straights(positions: Sequence[str], now: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Other positions in which a reverser may stand straight: all others, or one track's two ways round exchanged."""
    every = range(len(positions))
    flips = [frozenset(every)]
    flips += [
        frozenset({n, positions.index(f"{p}-turned")}) for n, p in enumerate(positions) if f"{p}-turned" in positions
    ]
    flips += [frozenset({n}) for n in every if not any("-turned" in p for p in positions)]
    for flip in flips:
        new = tuple(n for n in every if (n in now) != (n in flip))
        if new and len(new) < len(positions):
            yield new


def _insulations(joint: Joint) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Words for more insulation than there is, and the sides that it insulates."""
    now = tuple(pair[2] for pair in joint.pairs)
    vee = tuple(any(is_changing(t.split(".", 1)[1]) for t in pair[:2]) for pair in joint.pairs)
    seen = {now}
    for word, wanted in (("vee", vee), ("left", (True, False)), ("right", (False, True)), ("both", (True, True))):
        new = (wanted[0] or now[0], wanted[1] or now[1])
        if any(wanted) and new not in seen:
            seen.add(new)
            yield "both" if all(new) else word, tuple(s for s in (0, 1) if new[s] and not now[s])


def _built(piece: Piece, option: str, now: str, value: str, what: str) -> Choice:
    headline = f"'{piece.name}' is built with '{option}: {now}'" if now else f"'{piece.name}' has no '{option}'"
    say = f"write '{option}: {value}' at '{piece.name}', once the piece itself is so"
    if option == "jumpers":
        headline = f"'{piece.name}' has {'no jumpers' if value == 'true' else 'jumpers'}"
        verb = "fit the jumpers of" if value == "true" else "take off the jumpers of"
        say = f"{verb} '{piece.name}', then write 'jumpers: {value}' there"
    elif option == "links":
        headline = f"the hidden links of '{piece.name}' are {'left in' if value == 'cut' else 'cut'}"
        verb = "cut the hidden links of" if value == "cut" else "put back the hidden links of"
        say = f"{verb} '{piece.name}', then write 'links: {value}' there"
    elif option == "guards":
        headline = f"the guard rails of '{piece.name}' are bonded to the wrong running rails ('guards: {now}')"
        say = f"bond them to the others, then write 'guards: {value}' at '{piece.name}'"
    elif what:
        headline += f" ({what})"
    return choice("option", (SetOption(piece.name, option, value),), headline, say, piece.span)

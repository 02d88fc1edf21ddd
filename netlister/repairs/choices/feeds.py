"""Feeds that are swapped, on the wrong rail or source, too many or forgotten."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.districts import districts
from netlister.edits.feeds import exact_length
from netlister.edits.gear import Tie
from netlister.edits.model import AddFeed, Refeed, TakeOut
from netlister.edits.patch import as_yaml
from netlister.layout.model import Feed
from netlister.layout.terminal import Terminal, named, owner_of
from netlister.repairs.choices.common import NO_WIRE, TWO
from netlister.repairs.model import choice
from netlister.repairs.words import list_in_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.layout.model import Contact, Piece
    from netlister.lengths import Metres
    from netlister.repairs.choices.places import EntryPlaces
    from netlister.repairs.model import Choice


def at_feed(places: EntryPlaces, number: int) -> Iterator[Choice]:  # noqa: PLR0915 - one kind of mistake after the other
    """What may be wrong with a feed."""
    feed = places.layout.feeds[number]
    piece = places.layout.pieces[feed.piece]
    name = feed.piece
    if len(feed.wires) == TWO:
        (p, a), (q, b) = feed.wires
        say = f"swap the two wires of the feed of '{name}': {places.pole(p, feed.source)} to {b}, {places.pole(q, feed.source)} to {a}"  # noqa: E501
        headline = f"the wires of the feed of '{name}' are swapped"
        yield choice("feed-swapped", (Refeed(number, feed.source, ((p, b), (q, a))),), headline, say, feed.span)
    else:
        ((p, a),) = feed.wires
        rails = [r for r in piece.kind.rails if named(name, r) != a] if piece.kind.plain else []
        for rail in rails:
            other = named(name, rail)
            headline = f"the feed of '{name}' is on the wrong rail"
            say = f"wire {places.pole(p, feed.source)} to {other}, not to {a}"
            yield choice("feed-rail", (Refeed(number, feed.source, ((p, other),)),), headline, say, feed.span)
        poles = places.poles_of(feed.source)
        if p in poles and poles[0] != poles[1]:
            q = poles[1 - poles.index(p)]
            headline = f"the feed of '{name}' is on the wrong pole"
            say = f"wire {places.pole(q, feed.source)} to {a}, not {places.pole(p, feed.source)}"
            yield choice("feed-pole", (Refeed(number, feed.source, ((q, a),)),), headline, say, feed.span)
    label = districts(places.layout)
    for source in places.sources(feed.source):
        if source == feed.source or places.signal(source) != places.signal(feed.source):
            continue
        old, new = places.poles_of(feed.source), places.poles_of(source)
        if source in places.layout.reversers and not serves(places, source, name):
            continue
        if not all(pole in old for pole, _ in feed.wires):
            continue
        if old == new and label.get(source) == label.get(feed.source):
            continue  # the same poles by another name
        for turned in (False, True):
            poles = new[::-1] if turned else new
            wires = tuple((poles[old.index(pole)], rail) for pole, rail in feed.wires)
            text = _feed_text(places, feed._replace(source=source, wires=wires))
            headline = f"'{name}' is fed from '{feed.source}' and must be fed from '{source}'"
            if old == new:
                headline = f"'{name}' lies in the district '{label[source]}' and is fed from '{feed.source}'"
            if turned:
                if source not in places.layout.reversers and feed.source not in places.layout.reversers:
                    continue
                headline += ", its rails exchanged"
            odd = "feed-reverser" if source in places.layout.reversers else "feed-odd"
            kind = odd if _is_odd_one(places, number, source) else "feed-source"
            yield choice(kind, (Refeed(number, source, wires),), headline, f"write its feed as {text}", feed.span)
    others = {places.layout.feeds[n].source for n in places.feeds_of[name] if n != number}
    extra = feed.source not in places.layout.reversers and bool(others & places.layout.reversers.keys())
    what = (
        f"'{name}' is fed from '{feed.source}' as well as from {list_in_words([repr(one) for one in sorted(others)])}"
        if extra
        else ""
    )
    headline = what or f"'{name}' has a feed that it must not have"
    say = f"take out the feed of '{name}' from '{feed.source}'"
    yield choice("feed-extra" if extra else "feed-out", (TakeOut("feeds", number),), headline, say, feed.span)
    if len(feed.wires) == TWO:
        for kept, gone in ((feed.wires[0], feed.wires[1]), (feed.wires[1], feed.wires[0])):
            headline = f"the feed of '{name}' has a wire to {gone[1]} that it must not have"
            say = f"feed {kept[1]} alone: {_feed_text(places, feed._replace(wires=(kept,)))}"
            yield choice("feed-out", (Refeed(number, feed.source, (kept,)),), headline, say, feed.span)
    yield from _ties(places, feed.source)


def _ties(places: EntryPlaces, source: str) -> Iterator[Choice]:
    """A common return that two controllers have and the file does not say."""
    layout = places.layout
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
        switched = {side for side in (0, 1) if _is_chosen(layout.contacts, later.poles[side], first.poles[side])}
        idle = [
            side for side in (0, 1) if later.poles[side] not in places.at and later.poles[side] not in places.fed_from
        ]
        for side, letter in enumerate("AB"):
            if later.poles[side] == first.poles[side] or (idle and side not in idle) or side in switched:
                continue
            to = named(first.name, letter)
            headline = f"'{later.name}' and '{first.name}' share a rail, and no common return is written"
            say = f"if the outputs are isolated from each other, write 'common: {to}' at '{later.name}'"
            yield choice("common-forgotten", (Tie(later.name, to),), headline, say, later.span)


def _is_chosen(contacts: Iterable[Contact], one: str, other: str) -> bool:
    """Whether a contact chooses between two poles, so that they are not meant to be one."""
    return any({one, other} <= {to for _, to in contact.throws} for contact in contacts)


def new_feeds(places: EntryPlaces, piece: Piece) -> Iterator[Choice]:
    """A feed that a piece lacks, or the other wire of one; frogs want contacts and not feeds."""
    if not piece.kind.routes:
        return  # what stands at the end of a track
    ends = [(end.left, end.right) for end in piece.kind.ends.values() if end.left != end.right]
    pairs = dict.fromkeys(pair for pair in ends if not any(map(piece.kind.is_changing, pair)))
    if not pairs and len(fixed := [rail for rail in piece.kind.rails if not piece.kind.is_changing(rail)]) == TWO:
        pairs = {(fixed[0], fixed[1]): None}
    for sides in {frozenset(pair): pair for pair in reversed(pairs)}.values():
        yield from _new_feeds_of(places, piece, sides)


def _new_feeds_of(places: EntryPlaces, piece: Piece, sides: tuple[str, str]) -> Iterator[Choice]:
    served = [places.layout.feeds[n] for n in places.feeds_of.get(piece.name, ())]
    fed = {rail for feed in served for _, rail in feed.wires}
    for source in dict.fromkeys((*(feed.source for feed in served), *_near_sources(places, piece.name))):
        if source in places.layout.reversers and not serves(places, source, piece.name):
            continue
        if served and all(feed.source != source for feed in served):
            continue
        a, b = places.poles_of(source)
        for first, second in (sides, sides[::-1]):
            both = ((a, piece.terminal(first)), (b, piece.terminal(second)))
            for wires in (both, both[:1], both[1:]):
                if any(rail in fed for _, rail in wires):
                    continue
                tap = _tap(places, source, piece.name)
                feed = Feed("", source, piece.name, wires, None, tap, NO_WIRE, piece.span)
                yield _added_feed(places, piece, feed, served)


def _tap(places: EntryPlaces, source: str, piece: str) -> Metres | None:
    """Where a new feed is tapped: where one of the piece or beside it is, else at the far end of the bus."""
    layout = places.layout
    bus = layout.buses.get(source)
    if bus is None or bus.wire.length is None:
        return None
    beside = [
        end[0]
        for number in places.joints_of.get(piece, ())
        for end in (layout.joints[number].start, layout.joints[number].end)
    ]
    feeds = [layout.feeds[number] for name in (piece, *beside) for number in places.feeds_of.get(name, ())]
    return next((feed.tap for feed in feeds if feed.source == source and feed.tap is not None), bus.wire.length)


def _near_sources(places: EntryPlaces, piece: str) -> list[str]:
    """Sources that a track may be fed from, first those that feed what lies beside it."""
    beside = dict.fromkeys(
        end[0]
        for number in places.joints_of.get(piece, ())
        for end in (places.layout.joints[number].start, places.layout.joints[number].end)
    )
    near = [places.layout.feeds[n].source for name in beside for n in places.feeds_of.get(name, ())]
    known = places.sources()
    return list(dict.fromkeys((*(s for s in near if s in known), *known)))


def _added_feed(places: EntryPlaces, piece: Piece, feed: Feed, served: list[Feed]) -> Choice:
    headline = f"'{piece.name}' has no feed of its own"
    usual = len(feed.wires) == TWO or not _two_wires(places, feed.source, places.layout.feeds)
    kind = ("feed-missing" if piece.kind.plain else "feed-piece") if usual else "feed-one-wire"
    if served:
        headline = f"{list_in_words([rail for _, rail in feed.wires])} has no feed wire"
        if _two_wires(places, feed.source, [other for other in places.layout.feeds if other not in served]):
            kind = "feed-wire-off"
    return choice(kind, (AddFeed(feed),), headline, f"add the feed {_feed_text(places, feed)}", piece.span)


def _feed_text(places: EntryPlaces, feed: Feed) -> str:
    ways = [f"{places.letter(feed.source, pole)}: {Terminal.of(rail).own}" for pole, rail in feed.wires]
    real = [b for b in places.layout.buses.values() if not places.layout.supplies[b.supply].accessory]
    source = "" if len(real) == 1 and feed.source == real[0].name else f"from: {as_yaml(feed.source)}, "
    tap = "" if feed.tap is None else f", tap: {exact_length(feed.tap)}"
    return f"{{to: {as_yaml(feed.target or feed.piece)}, {source}{', '.join(ways)}{tap}}}"


def _two_wires(places: EntryPlaces, source: str, others: list[Feed]) -> bool:
    """Whether feeds have two wires here: not so on a common return, or where most others have one."""
    supply = places.layout.supplies.get(places.layout.buses[source].supply if source in places.layout.buses else source)
    if supply is not None and any(owner_of(s.common) == supply.name for s in places.layout.supplies.values()):
        return False
    ones = sum(1 for feed in others if len(feed.wires) == 1)
    return (supply is None or not supply.common) and 2 * ones <= len(others)


def _is_odd_one(places: EntryPlaces, number: int, source: str) -> bool:
    """Whether of all feeds between the gaps of a section a feed alone has another source."""
    feed = places.layout.feeds[number]
    if len(places.feeds_of[feed.piece]) > 1:
        return False
    known = places.sources_with(feed.piece)
    return known[feed.source] == 1 < known[source] == known.total() - 1


def serves(places: EntryPlaces, reverser: str, piece: str) -> bool:
    """Whether a reverser may be meant for a piece: it feeds nothing yet, or track that no gap in both rails parts."""
    return places.fed_from.isdisjoint(places.poles_of(reverser)) or reverser in places.sources_with(piece)

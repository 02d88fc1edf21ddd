"""Random changes of a layout, of every kind that there is."""

from __future__ import annotations

from netlister.edits.gear import (
    AddExpectation,
    AddLink,
    AddPin,
    AddReverser,
    AddUnit,
    Rebus,
    Recomponent,
    Relink,
    Repin,
    SetOption,
    Straighten,
)
from netlister.edits.model import (
    AddContact,
    AddFeed,
    ImpossibleError,
    Insulate,
    Recommon,
    Refeed,
    Rewire,
    TakeOut,
    apply,
)
from netlister.layout.model import Contact, Expectation, Feed, FrogUnit, Link, Pin, Reverser, Wire

NO_WIRE = Wire("", None, None, None)


def rails(layout):
    return [f"{p.name}.{r}" for p in layout.pieces.values() for r in p.kind.rails if r not in p.kind.sealed]


def sources(layout):
    found = {b.name: b.poles for b in layout.buses.values() if not layout.supplies[b.supply].accessory}
    found |= {s.name: s.poles for s in layout.supplies.values() if not s.accessory}
    return found | {r.name: r.outputs for r in layout.reversers.values()}


def a_terminal(layout, rng):
    if rng.random() < 0.4:
        name, poles = rng.choice(list(sources(layout).items()))
        pole = rng.choice(poles)
        return pole, name if name in layout.buses or name in layout.supplies else ""
    return rng.choice(rails(layout)), ""


def wires_of(layout, rng, piece, poles):
    free = [r for r in layout.pieces[piece].kind.rails if r not in layout.pieces[piece].kind.sealed]
    if not free:
        return ()
    count = rng.choice([1, 2, 2])
    chosen = rng.sample(free, min(count, len(free)))
    letters = rng.sample(poles, len(chosen))
    return tuple((p, f"{piece}.{r}") for p, r in zip(letters, chosen, strict=True))


def random_change(layout, rng):  # noqa: PLR0911, PLR0912, PLR0915
    match rng.randrange(18):
        case 0 | 1 if layout.joints:
            joint = rng.randrange(len(layout.joints))
            side = rng.randrange(2)
            if any(end in layout.pieces[name].kind.gaps for name, end in layout.joints[joint][1:3]):
                return None  # always a gap: what is insulated there cannot be metal
            return Insulate(joint, side, not layout.joints[joint].pairs[side][2])
        case 2 | 3 if layout.feeds:
            number = rng.randrange(len(layout.feeds))
            feed = layout.feeds[number]
            name, poles = rng.choice(list(sources(layout).items()))
            wires = wires_of(layout, rng, feed.piece, poles)
            if rng.random() < 0.4 and len(feed.wires) == 2:
                (p, a), (q, b) = feed.wires
                return Refeed(number, feed.source, ((p, b), (q, a)))
            return Refeed(number, name, wires) if wires else None
        case 4:
            piece = rng.choice(list(layout.pieces))
            name, poles = rng.choice(list(sources(layout).items()))
            wires = wires_of(layout, rng, piece, poles)
            return (
                AddFeed(Feed("", name, piece, wires, None, None, NO_WIRE, layout.pieces[piece].span)) if wires else None
            )
        case 5 | 6 if layout.contacts:
            number = rng.randrange(len(layout.contacts))
            contact = layout.contacts[number]
            if rng.random() < 0.2:
                return Recommon(number, *a_terminal(layout, rng))
            if rng.random() < 0.4 and len(contact.throws) == 2:
                (p, a), (q, b) = contact.throws
                buses = contact.buses[1:]
                return Rewire(number, ((p, b), (q, a)), buses[::-1])
            ends = [a_terminal(layout, rng) if rng.random() < 0.8 else (None, "") for _ in contact.throws]
            return Rewire(
                number,
                tuple((p, to) for (p, _), (to, _) in zip(contact.throws, ends, strict=True)),
                tuple(bus for _, bus in ends),
            )
        case 7:
            movers = [
                v for v in layout.variables.values() if v.kind in {"machine", "turnout", "switch"} and "." not in v.name
            ]
            if not movers:
                return None
            mover = rng.choice(movers)
            used = {(c.owner, c.name) for c in layout.contacts}
            ends = [a_terminal(layout, rng) for _ in mover.positions]
            common = rng.choice(rails(layout))
            return AddContact(
                Contact(
                    mover.name,
                    rng.choice([n for n in ("added", "on", "f 2", "no: 1") if (mover.name, n) not in used]),
                    common,
                    tuple((p, to) for p, (to, _) in zip(mover.positions, ends, strict=True)),
                    tuple((i,) for i in range(len(mover.positions))),
                    mover.name,
                    rng.choice(["break-before-make", "make-before-break"]),
                    mover.span,
                    (),
                    ("", *(bus for _, bus in ends)),
                )
            )
        case 8:
            piece = rng.choice(list(layout.pieces.values()))
            options = layout.library.takes(piece.kind.name).options
            if options:
                option = rng.choice(list(options))
                change = SetOption(piece.name, option, rng.choice(list(options[option]) or ["2"]))
                try:
                    kind = apply((change,), layout).pieces[piece.name].kind
                except ImpossibleError:
                    return None
                same = ("rails", "ends", "bars", "gaps", "sealed")  # else joints and positions are others, too
                return change if all(getattr(kind, f) == getattr(piece.kind, f) for f in same) else None
            return None
        case 9 if layout.pins:
            number = rng.randrange(len(layout.pins))
            pin = layout.pins[number]
            if rng.random() < 0.3:
                ends = [a_terminal(layout, rng) for _ in range(2)]
                return AddPin(
                    Pin(pin.plug, "new:9", tuple(e for e, _ in ends), pin.variable, pin.span, tuple(b for _, b in ends))
                )
            return Repin(number, pin.ends[::-1], pin.buses[::-1])
        case 10 if layout.links:
            number = rng.randrange(len(layout.links))
            ends = [a_terminal(layout, rng) for _ in range(2)]
            return Relink(number, tuple(e for e, _ in ends), tuple(b for _, b in ends))
        case 11 if layout.components:
            part = rng.choice(list(layout.components.values()))
            return Recomponent(part.name, part.kind, part.ends[::-1], part.buses[::-1])
        case 12:
            name, poles = rng.choice(
                [(b.name, b.poles) for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
            )
            outputs = ("R added.A", "R added.B")
            variable = rng.choice([None, *(v.name for v in layout.variables.values() if v.kind != "plug")])
            return AddReverser(
                Reverser(
                    "R added",
                    name,
                    poles,
                    outputs,
                    variable is None,
                    variable,
                    () if variable is None else (0,),
                    next(iter(layout.pieces.values())).span,
                )
            )
        case 13:
            following = [r for r in layout.reversers.values() if r.variable]
            devices = [("units", u) for u in layout.units.values()] + [
                ("reversers", r) for r in layout.reversers.values()
            ]
            if following and rng.random() < 0.5:
                reverser = rng.choice(following)
                return Straighten(
                    reverser.name,
                    tuple(sorted(rng.sample(range(len(layout.variables[reverser.variable].positions)), 1))),
                )
            if not devices:
                return None
            section, device = rng.choice(devices)
            bus = rng.choice([b for b in layout.buses.values() if not layout.supplies[b.supply].accessory])
            return Rebus(section, device.name, bus.name, bus.poles)
        case 15:
            one, two = a_terminal(layout, rng), a_terminal(layout, rng)
            if one[0] == two[0]:
                return None
            return AddLink(Link("", (one[0], two[0]), NO_WIRE, "", span_of(layout), (one[1], two[1])))
        case 16:
            frogs = [f"{p.name}.{rail}" for p in layout.pieces.values() for rail in p.kind.frogs]
            frogs = [f for f in frogs if f not in {u.frog for u in layout.units.values()}]
            if not frogs or "U added" in layout.units:
                return None
            bus = rng.choice([b for b in layout.buses.values() if not layout.supplies[b.supply].accessory])
            return AddUnit(FrogUnit("U added", rng.choice(frogs), bus.poles, span_of(layout), None, bus.name))
        case 17:
            movers = [v for v in layout.variables.values() if len(v.positions) > 1]
            when = ((m.name, rng.choice(m.positions)) for m in rng.sample(movers, min(1, len(movers))))
            pieces = tuple(rng.sample(list(layout.pieces), min(rng.randint(1, 2), len(layout.pieces))))
            return AddExpectation(Expectation(pieces, rng.random() < 0.5, tuple(when), span_of(layout)))
        case 14:
            section = rng.choice(["feeds", "links", "contacts", "pins", "expectations", "joints"])
            entries = getattr(layout, section)
            return TakeOut(section, rng.randrange(len(entries))) if entries else None
    return None


def span_of(layout):
    """Some place of the file."""
    return next(iter(layout.pieces.values())).span


def random_edit(layout, rng, most=5):
    """Several changes that can be made at once."""
    edit = []
    taken = set()
    for _ in range(rng.randint(1, most) * 2):
        change = random_change(layout, rng)
        if change is None:
            continue
        key = (type(change).__name__, change.places(), getattr(change, "side", 0))
        places = {(s, n) for s, n in change.places() if n != ""}
        clash = places & taken if not isinstance(change, Insulate) else {p for p in places if (p, "out") in taken}
        if isinstance(change, (AddContact, AddPin)):
            key = (type(change).__name__, getattr(change, "contact", getattr(change, "pin", None))[:2])
        if key in taken or clash:
            continue
        try:
            apply((*edit, change), layout)
        except ImpossibleError:
            continue
        taken |= {key, *places}
        if isinstance(change, TakeOut):
            taken |= {(p, "out") for p in places}
        edit.append(change)
        if len(edit) == most:
            break
    return tuple(edit)

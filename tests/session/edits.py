"""Edits of every kind for a layout, chosen at random, right ones and wrong ones."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister.edits import gear, model
from netlister.layout.model import Expectation, Feed, FrogUnit, Link, Variable, Wire
from netlister.source import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from random import Random

    from netlister.edits.model import Edit, EntryPlace
    from netlister.layout.model import Layout

HERE = Span("edits", 1, 1, 1, 1)
NO_WIRE = Wire("", None, None, None)


class Section(NamedTuple):
    """Another list or mapping for a section, as no change of the model makes it: so that each section is covered."""

    section: str
    value: Any

    def places(self) -> tuple[EntryPlace, ...]:
        """The section."""
        return ((self.section, ""),)

    def made_in(self, layout: Layout) -> Layout:
        """The layout with the section so."""
        return replace(layout, **{self.section: self.value})


def terminals(layout: Layout) -> list[str]:
    """Rails, poles and a free junction."""
    rails = [f"{piece.name}.{rail}" for piece in layout.pieces.values() for rail in piece.kind.rails]
    poles = [pole for supply in layout.supplies.values() for pole in supply.poles]
    return [*rails, *dict.fromkeys(poles), "strip.1"]


def insulate(rng: Random, layout: Layout) -> Edit:
    number, side = rng.randrange(len(layout.joints)), rng.randrange(2)
    return (model.Insulate(number, side, not layout.joints[number].pairs[side][2]),)


def insulate_both(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.joints))
    return tuple(model.Insulate(number, s, not layout.joints[number].pairs[s][2]) for s in (0, 1))


def part(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.joints))
    return (Section("joints", [*layout.joints[:number], *layout.joints[number + 1 :]]),)


def refeed(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.feeds))
    feed = layout.feeds[number]
    supply = rng.choice(list(layout.supplies.values()))
    rails = [rail for _, rail in feed.wires]
    if rng.random() < 0.5 and len(feed.wires) == 2:
        return (
            model.Refeed(number, feed.source, tuple(zip([p for p, _ in reversed(feed.wires)], rails, strict=True))),
        )
    return (model.Refeed(number, supply.name, tuple((rng.choice(supply.poles), rail) for rail in rails)),)


def add_feed(rng: Random, layout: Layout) -> Edit:
    supply = rng.choice(list(layout.supplies.values()))
    piece = rng.choice(list(layout.pieces.values()))
    rails = rng.sample(list(piece.kind.rails), min(2, len(piece.kind.rails)))
    wires = tuple((pole, f"{piece.name}.{rail}") for pole, rail in zip(supply.poles, rails, strict=False))
    return (model.AddFeed(Feed("", supply.name, piece.name, wires, None, None, NO_WIRE, HERE)),)


def rewire(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.contacts))
    contact = layout.contacts[number]
    ends = [terminal for _, terminal in contact.throws]
    choice = rng.randrange(3)
    if choice == 0:
        ends.reverse()
    else:
        ends[rng.randrange(len(ends))] = None if choice == 1 else rng.choice(terminals(layout))
    throws = tuple((position, end) for (position, _), end in zip(contact.throws, ends, strict=True))
    return (model.Rewire(number, throws, ("",) * len(throws)),)


def recommon(rng: Random, layout: Layout) -> Edit:
    return (model.Recommon(rng.randrange(len(layout.contacts)), rng.choice(terminals(layout))),)


def add_contact(rng: Random, layout: Layout) -> Edit:
    like = rng.choice(layout.contacts)
    common, *ends = (rng.choice(terminals(layout)) for _ in range(len(like.throws) + 1))
    throws = tuple((position, end) for (position, _), end in zip(like.throws, ends, strict=True))
    nothing = ("",) * (len(throws) + 1)
    made = like._replace(name="more", common=common, throws=throws, buses=nothing, ends_at=nothing)
    return (model.AddContact(made),)


def option(rng: Random, layout: Layout) -> Edit:
    piece = rng.choice([p for p in layout.pieces.values() if not p.kind.plain])
    others = {"hand": ("left", "right"), "jumpers": ("true", "false"), "frog": ("dead", "live")}
    name = rng.choice(list(others))
    return (gear.SetOption(piece.name, name, rng.choice(others[name])),)


def repin(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.pins))
    ends = layout.pins[number].ends
    ends = ends[::-1] if rng.random() < 0.3 else (ends[0], rng.choice(terminals(layout)))
    return (gear.Repin(number, ends, ("", "")),)


def add_pin(rng: Random, layout: Layout) -> Edit:
    pin = rng.choice(layout.pins)
    one, two = rng.sample(terminals(layout), 2)
    return (gear.AddPin(pin._replace(pin="more", ends=(one, two), buses=("", ""), ends_at=("", ""))),)


def relink(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.links))
    one, two = rng.sample(terminals(layout), 2)
    return (gear.Relink(number, (one, two), ("", "")),)


def recomponent(rng: Random, layout: Layout) -> Edit:
    component = rng.choice(list(layout.components.values()))
    kind = rng.choice(("load", "fuse", component.kind))
    return (gear.Recomponent(component.name, kind, component.ends, component.buses),)


def straighten(rng: Random, layout: Layout) -> Edit:
    reverser = rng.choice([r for r in layout.reversers.values() if not r.automatic])
    assert reverser.variable is not None
    count = len(layout.variables[reverser.variable].positions)
    return (gear.Straighten(reverser.name, tuple(i for i in range(count) if i not in reverser.straight)),)


def add_reverser(rng: Random, layout: Layout) -> Edit:
    like = rng.choice(list(layout.reversers.values()))
    made = like._replace(name="more", outputs=("more.A", "more.B"))
    return (gear.AddReverser(made),)


def add_switch(rng: Random, layout: Layout) -> Edit:
    return (gear.AddSwitch(Variable("one more", "switch", ("up", "down"), HERE)),)


def reexpect(rng: Random, layout: Layout) -> Edit:
    number = rng.randrange(len(layout.expectations))
    variable = rng.choice(list(layout.variables.values()))
    return (gear.Reexpect(number, ((variable.name, rng.choice(variable.positions)),)),)


def rebus(rng: Random, layout: Layout) -> Edit:
    section = rng.choice([s for s in ("units", "reversers") if getattr(layout, s)])
    entry = rng.choice(list(getattr(layout, section).values()))
    bus = rng.choice(list(layout.buses.values()))
    return (gear.Rebus(section, entry.name, bus.name, bus.poles),)


def thicken(rng: Random, layout: Layout) -> Edit:
    bus = rng.choice([b for b in layout.buses.values() if not b.implicit])
    return (gear.Thicken(bus.name, bus.wire._replace(text="4 mm2", area_mm2=4e-6)),)


def tie(rng: Random, layout: Layout) -> Edit:
    later, first = rng.sample(list(layout.supplies.values()), 2)
    return (gear.Tie(later.name, f"{first.name}.{rng.choice('AB')}"),)


def take_out(rng: Random, layout: Layout) -> Edit:
    sections = [s for s in ("feeds", "links", "contacts", "pins", "expectations") if getattr(layout, s)]
    section = rng.choice(sections)
    return (model.TakeOut(section, rng.randrange(len(getattr(layout, section)))),)


def expect(rng: Random, layout: Layout) -> Edit:
    variable = rng.choice(list(layout.variables.values()))
    cube = ((variable.name, rng.choice(variable.positions)),) if rng.random() < 0.7 else ()
    made = Expectation((rng.choice(list(layout.pieces)),), rng.random() < 0.4, cube, HERE)
    return (gear.AddExpectation(made),)


def add_unit(rng: Random, layout: Layout) -> Edit:
    piece = rng.choice([p for p in layout.pieces.values() if p.kind.frogs])
    bus = rng.choice(list(layout.buses.values()))
    frog = f"{piece.name}.{rng.choice(piece.kind.frogs)}"
    return (gear.AddUnit(FrogUnit("more", frog, bus.poles, HERE, None, bus.name)),)


def add_link(rng: Random, layout: Layout) -> Edit:
    one, two = rng.sample(terminals(layout), 2)
    return (gear.AddLink(Link("", (one, two), NO_WIRE, "", HERE)),)


def rule_out(rng: Random, layout: Layout) -> Edit:
    if layout.never and rng.random() < 0.5:
        return (Section("never", layout.never[1:]),)
    variables = rng.sample(list(layout.variables.values()), min(2, len(layout.variables)))
    cube = tuple((v.name, rng.choice(v.positions)) for v in variables if len(v.positions) > 1)
    return (Section("never", [*layout.never, (cube, HERE)]),) if len(cube) == len(variables) else insulate(rng, layout)


KINDS: tuple[tuple[Callable[[Random, Layout], Edit], Callable[[Layout], Any]], ...] = (
    (insulate, lambda made: made.joints),
    (insulate_both, lambda made: made.joints),
    (part, lambda made: made.joints),
    (refeed, lambda made: made.feeds),
    (add_feed, lambda made: made.pieces),
    (rewire, lambda made: made.contacts),
    (recommon, lambda made: made.contacts),
    (add_contact, lambda made: made.contacts),
    (option, lambda made: any(not p.kind.plain for p in made.pieces.values())),
    (repin, lambda made: made.pins),
    (add_pin, lambda made: made.pins),
    (relink, lambda made: made.links),
    (recomponent, lambda made: made.components),
    (straighten, lambda made: any(not r.automatic for r in made.reversers.values())),
    (add_reverser, lambda made: made.reversers),
    (add_switch, lambda made: "one more" not in made.variables),
    (reexpect, lambda made: made.expectations and made.variables),
    (thicken, lambda made: any(not b.implicit for b in made.buses.values())),
    (tie, lambda made: len(made.supplies) > 1),
    (rebus, lambda made: (made.units or made.reversers) and made.buses),
    (take_out, lambda made: made.feeds or made.links or made.contacts or made.pins or made.expectations),
    (expect, lambda made: made.variables),
    (
        add_unit,
        lambda made: "more" not in made.units and any(p.kind.frogs for p in made.pieces.values()) and made.buses,
    ),
    (add_link, lambda made: made.pieces),
    (rule_out, lambda made: made.variables and made.joints),
)
"""How to make an edit of each kind, and what a layout must have for it."""


def edits(rng: Random, now: Callable[[], Layout]) -> Iterator[Edit]:
    """One edit of every kind that the layout can take as it is now, and one of two at once, in random order."""
    kinds = list(KINDS)
    rng.shuffle(kinds)
    yield from (make(rng, now()) for make, needs in kinds if needs(now()))
    if now().joints and now().feeds:
        yield (*insulate(rng, now()), *refeed(rng, now()))

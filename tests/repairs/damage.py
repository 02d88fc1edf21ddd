"""Mistakes put into right layouts by program, and what the tool makes of them.

A mistake alters the plain data of a file; nothing of the tool has a hand in it. The tool then reads the file with the
mistakes; its repairs are obeyed on the text, and what comes of it is judged by the plain enumeration.
`python -m tests.repairs.damage` counts over everything.
"""

from __future__ import annotations

import copy
import itertools
import sys
from collections import Counter
from functools import cache, partial
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

from netlister import check_text
from netlister.edits.gear import AddPin, AddReverser, Rebus, SetOption, Straighten, Tie
from netlister.edits.model import AddContact, AddFeed, TakeOut
from netlister.edits.text import new_text, text_edits
from netlister.finding import Severity
from netlister.repairs.model import weights
from netlister.source import Source
from tests.properties.layouts import dump
from tests.properties.reference import Data, Key, State, load, reference
from tests.repairs.obey import edits_of, obeyed, told
from tests.repairs.right import RIGHT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.check import Report
    from netlister.repairs.model import Repair

About = tuple[str, str]
"""What a mistake is about: a section and a name in it."""


class Mistake(NamedTuple):
    """A mistake: its kind as `weights.yaml` names it, what it is about, and how it is made in the data."""

    kind: str
    about: About
    make: Callable[[Data], None]
    said: str

    @property
    def weight(self) -> int:
        """How far it is from what is right."""
        return weights()[self.kind]


def parted(data: Data) -> Data:
    """The layout with a feed of its own for each piece that is fed."""
    data = copy.deepcopy(data)
    data["feeds"] = [
        {**feed, "to": to}
        for feed in data.get("feeds", [])
        for to in (feed["to"] if isinstance(feed["to"], list) else [feed["to"]])
    ]
    return data


def mistakes(data: Data) -> Iterator[Mistake]:
    """Everything that may be done wrong once in a layout, as `parted` gives it."""
    yield from _at_joints(data)
    yield from _at_feeds(data)
    yield from _at_contacts(data)
    yield from _at_pieces(data)
    yield from _at_gear(data)


def _at_joints(data: Data) -> Iterator[Mistake]:
    for number, joint in enumerate(data["joints"]):
        about = "joint", f"{joint['from']}/{joint['to']}"
        now = joint.get("insulate")
        if now is None:
            yield Mistake("joint-insulated", about, _set("joints", number, insulate="both"), "insulated")
            continue
        yield Mistake("joint-metal", about, _set("joints", number, insulate=None), "metal")
        if now == "both":
            for side in ("left", "right"):
                yield Mistake("joint-metal", about, _set("joints", number, insulate=side), f"insulated {side} only")


def _at_feeds(data: Data) -> Iterator[Mistake]:
    buses = list(data.get("buses") or data["supplies"])
    buses = [b for b in buses if "accessory" not in (data["supplies"].get(b) or {})]
    for number, feed in enumerate(data["feeds"]):
        about = "feed", feed["to"].split(".")[0]
        sides = {letter: feed[letter] for letter in "AB" if letter in feed} or {"A": "left", "B": "right"}
        plain = "kind" not in data["track"][about[1]]
        missing = ("feed-missing" if plain else "feed-piece") if len(sides) > 1 else "feed-one-wire"
        yield Mistake(missing, about, _out("feeds", number), "missing")
        if len(sides) == 1:
            ((letter, rail),) = sides.items()
            wrong = {letter: {"left": "right", "right": "left"}[rail]}
            yield Mistake("feed-rail", about, _set("feeds", number, **wrong), "on the other rail")
        else:
            swapped = {"A": sides["B"], "B": sides["A"]}
            yield Mistake("feed-swapped", about, _set("feeds", number, **swapped), "swapped")
            yield Mistake("feed-one-wire", about, _set("feeds", number, A=sides["A"], B=None), "without its B")
            yield Mistake("feed-one-wire", about, _set("feeds", number, A=None, B=sides["B"]), "without its A")
        source = feed.get("from")
        if source in (data.get("reversers") or {}):
            yield Mistake("feed-source", about, _set("feeds", number, **{"from": buses[0]}), "from the bus")
            more = {**feed, "from": buses[0]}
            yield Mistake("feed-extra", about, partial(_append, "feeds", more), "from the bus as well")
        elif "buses" in data:
            other = next(b for b in buses if b != source)
            yield Mistake("feed-source", about, _set("feeds", number, **{"from": other}), f"from {other}")


def _at_contacts(data: Data) -> Iterator[Mistake]:
    for section in ("machines", "switches"):
        for owner, values in (data.get(section) or {}).items():
            for name, contact in (values.get("contacts") or {}).items():
                about = "contact", f"{owner}.{name}"
                path = (section, owner, "contacts", name)
                throws = [key for key in contact if key != "common"]
                if len(throws) > 1:
                    a, b = throws[0], throws[-1]
                    swap = {a: contact[b], b: contact[a]}
                    yield Mistake("throws-swapped", about, _set(*path, **swap), "swapped")
                if section == "machines":
                    yield Mistake("contact-missing", about, _out(*path), "missing")
                    yield Mistake("throws-wrong", about, _set(*path, **{throws[0]: None}), f"open at {throws[0]}")
                elif contact["common"].endswith(".left"):
                    wrong = contact["common"].replace(".left", ".right")
                    yield Mistake("common-elsewhere", about, _set(*path, common=wrong), "common on the other rail")


def _at_pieces(data: Data) -> Iterator[Mistake]:
    for name, piece in data["track"].items():
        about = "piece", name
        if piece.get("jumpers") == "true":
            yield Mistake("option", about, _set("track", name, jumpers=None), "without jumpers")
        if piece.get("kind") == "live-frog-bonded":
            yield Mistake("option", about, _set("track", name, links="left-in"), "links left in")
        if piece.get("hand") in {"left", "right"}:
            other = {"left": "right", "right": "left"}[piece["hand"]]
            yield Mistake("hand", about, _set("track", name, hand=other), "of the other hand")


def _at_gear(data: Data) -> Iterator[Mistake]:
    for name, plug in (data.get("plugs") or {}).items():
        pins = plug["pins"]
        for a, b in itertools.combinations(pins, 2):
            swap = {a: [pins[a][0], pins[b][1]], b: [pins[b][0], pins[a][1]]}
            yield Mistake("pins-swapped", ("plug", name), _set("plugs", name, "pins", **swap), f"{a} and {b} swapped")
        for a in pins:
            yield Mistake("pin-missing", ("plug", name), _out("plugs", name, "pins", a), f"{a} missing")
    wires = data.get("wires") or []
    for a, b in itertools.combinations(range(len(wires)), 2):
        about = "wire", f"{wires[a]['from']}/{wires[a]['to']}"
        yield Mistake("wires-exchanged", about, partial(_exchange, a, b), "exchanged")
    for name, supply in data["supplies"].items():
        if "common" in supply:
            yield Mistake("common-forgotten", ("supply", name), _set("supplies", name, common=None), "no common")
    for name, reverser in (data.get("reversers") or {}).items():
        if "straight" in reverser:
            turned = [f"{s}-turned" for s in reverser["straight"]]
            yield Mistake("straight", ("reverser", name), _set("reversers", name, straight=turned), "crossed")


def _at(data: Data, path: tuple[Any, ...]) -> Any:
    for step in path:
        data = data[step]
    return data


def _set(*path: Any, **values: Any) -> Callable[[Data], None]:
    """Set keys of an entry, or take out those whose value is None."""

    def make(data: Data) -> None:
        entry = _at(data, path)
        for key, value in values.items():
            entry[key] = copy.deepcopy(value)
            if value is None:
                del entry[key]

    return make


def _append(section: str, entry: Data, data: Data) -> None:
    data[section].append(entry)


def _exchange(one: int, other: int, data: Data) -> None:
    """Exchange the far ends of two wires."""
    first, second = data["wires"][one], data["wires"][other]
    first["to"], second["to"] = second["to"], first["to"]


def _out(*path: Any) -> Callable[[Data], None]:
    """Take an entry out; one of a list is left as a hole until all mistakes are made, so that numbers stay true."""

    def make(data: Data) -> None:
        inner = _at(data, path[:-1])
        if isinstance(inner, list):
            inner[path[-1]] = None
        else:
            del inner[path[-1]]

    return make


def damaged(data: Data, made: tuple[Mistake, ...]) -> Data:
    """The layout with some mistakes."""
    data = copy.deepcopy(data)
    for one in made:
        one.make(data)
    for section, entries in data.items():
        if isinstance(entries, list):
            data[section] = [entry for entry in entries if entry is not None]
    return data


# -- what the tool makes of it


def about(report: Report, repair: Repair) -> set[About]:
    """What the choices of a repair are about."""
    layout = report.layout
    found: set[About] = set()
    for change in repair.edit:
        match change:
            case AddFeed():
                found.add(("feed", change.feed.piece))
            case AddContact():
                owners = [c for c in layout.contacts if c.common == change.contact.common]
                found |= {("contact", f"{c.owner}.{c.name}") for c in owners}
                found.add(("frog", change.contact.common or ""))
            case AddPin():
                found.add(("plug", change.pin.plug))
            case SetOption():
                found.add(("piece", change.piece))
            case Tie():
                found.add(("supply", change.supply))
            case AddReverser():
                pass
            case Rebus() | Straighten():
                found.add(("reverser", change.name))
            case TakeOut() if change.section == "feeds":
                found.add(("feed", layout.feeds[change.number].piece))
            case _:
                for section, key in change.places():
                    match section:
                        case "joints":
                            joint = layout.joints[int(key)]
                            found.add(("joint", joint.name))
                        case "feeds":
                            found.add(("feed", layout.feeds[int(key)].piece))
                        case "contacts":
                            contact = layout.contacts[int(key)]
                            found.add(("contact", f"{contact.owner}.{contact.name}"))
                        case "pins":
                            found.add(("plug", layout.pins[int(key)].plug))
                        case "links":
                            link = layout.links[int(key)]
                            found.add(("wire", "/".join(link.ends)))
                        case _:
                            pass
    return found


class Outcome(NamedTuple):
    """What came of some mistakes. `least`: what the repairs of all causes weigh, None where one has none."""

    weight: int
    least: int | None
    named: bool
    first: bool
    first_tie: bool
    clean: bool
    shorts: tuple[str, ...]
    said: tuple[str, ...]
    text: str
    mild: bool
    """Whether all that is found is track that is dead in some positions, which may be meant."""

    @property
    def is_least(self) -> bool:
        """Whether nothing that weighs less than the mistakes mends them."""
        return self.least is None or self.least >= self.weight


def judged(data: Data, made: tuple[Mistake, ...]) -> Outcome | None:
    """Put mistakes in, ask the tool, and obey it; None where the mistakes do no harm."""
    wrong = damaged(data, made)
    text = dump(wrong)
    before = reference(wrong)
    if not before:
        return None
    report, said = told(text)
    mended = [[about(report, r) for r in cause.repairs] for cause in report.causes.values()]
    wanted = [_names(data, one) for one in made]
    everything = set().union(*(tie for ties in mended for tie in ties))
    named = all(not w.isdisjoint(everything) for w in wanted)
    first = mended[0][0] if mended and mended[0] else set()
    ties = set().union(*mended[0]) if mended else set()
    hit, tied = (any(not w.isdisjoint(some) for w in wanted) for some in (first, ties))
    least = None
    if report.causes and all(c.repairs for c in report.causes.values()):
        least = sum(c.repairs[0].weight for c in report.causes.values())
    shorts = []
    for cause in said.get("causes", []):
        for repair in cause["repairs"]:
            after = reference(load(obeyed(text, edits_of(repair))))
            shorts += [r["say"] for r in repair["changes"] if not _no_new_shorts(before, after)]
    firsts = [cause.repairs[0] for cause in report.causes.values() if cause.repairs]
    edit = tuple(dict.fromkeys(change for repair in firsts for change in repair.edit))
    source = Source("yard.yaml", text)
    clean = bool(firsts) and not _wrong(new_text(source, text_edits(report.layout, source, edit)))
    lines = [
        f"{c.repairs[0].weight}: " + " | ".join(r.say for r in c.repairs[:4])
        for c in report.causes.values()
        if c.repairs
    ]
    weight = sum(one.weight for one in made)
    return Outcome(
        weight,
        least,
        named,
        hit,
        tied,
        clean,
        tuple(shorts),
        tuple(lines),
        text,
        not any(f.severity == Severity.ERROR for f in report.findings),
    )


def _wrong(text: str) -> set[Key]:
    """What is broken, but for track of which the tool says that it is dead in some positions, which may be meant."""
    mild = {("dead-track", f.subject) for f in check_text(text, causes=False).findings if f.severity < Severity.ERROR}
    return {key for key in reference(load(text)) if key not in mild}


def _names(data: Data, one: Mistake) -> set[About]:
    """What a repair of a mistake may be about: of a contact that is missing its frog, of gear what hangs at it."""
    names = {one.about}
    if one.about[0] == "contact":
        owner, name = one.about[1].split(".")
        for section in ("machines", "switches"):
            if owner in (data.get(section) or {}):
                names.add(("frog", data[section][owner]["contacts"][name]["common"]))
    return names


def _no_new_shorts(before: dict[Key, set[State]], after: dict[Key, set[State]]) -> bool:
    return all(states <= before.get(key, set()) for key, states in after.items() if key[0] == "pole-short")


@cache
def harmful(name: str) -> list[Mistake]:
    """The mistakes that do harm by themselves in one of the right layouts."""
    data = parted(load(RIGHT[name]))
    return [one for one in mistakes(data) if reference(damaged(data, (one,)))]


def some(
    rng: Random | None, number: int, size: int, names: tuple[str, ...] = tuple(RIGHT)
) -> Iterator[tuple[str, Data, tuple[Mistake, ...]]]:
    """So many sets of mistakes of a size, in each layout in turn; without `rng` all of them."""
    pool = {name: parted(load(RIGHT[name])) for name in names}
    sets = {name: harmful(name) for name in names}
    if rng is None:
        for name, listed in sets.items():
            for made in itertools.combinations(listed, size):
                if len({one.about for one in made}) == size:
                    yield name, pool[name], made
        return
    for turn in range(number):
        name = names[turn % len(names)]
        made = tuple(rng.sample(sets[name], min(size, len(sets[name]))))
        if len({one.about for one in made}) == size:
            yield name, pool[name], made


def main(singles: int, pairs: int, triples: int, seed: int) -> int:
    """Count over sets of mistakes, and print what went wrong."""
    bad = 0
    for size, number in ((1, singles), (2, pairs), (3, triples)):
        counts: Counter[str] = Counter()
        rng = None if size == 1 and not number else Random(seed)
        for name, data, made in some(rng, number, size) if number or size == 1 else ():
            out = judged(data, made)
            if out is None:
                counts["harmless"] += 1
                continue
            if out.mild and not out.said:
                counts["told as what may be meant"] += 1
                continue
            counts["harmful"] += 1
            counts["first heading"] += out.first
            counts["first heading or its ties"] += out.first_tie
            counts["least"] += out.is_least
            counts["least and all named"] += out.is_least and out.named
            counts["cheaper, all named all the same"] += not out.is_least and out.named
            counts["no repair of some cause"] += out.least is None
            counts["heavier than the mistakes"] += out.least is not None and out.least > out.weight
            counts["obeyed: clean"] += out.clean
            counts["obeyed: new shorts"] += bool(out.shorts)
            bad += bool(out.shorts)
            odd = []
            if out.is_least and not out.named:
                odd.append("NOT NAMED")
            if not out.first:
                odd.append("FIRST" if not out.first_tie else "first is a tie")
            if not out.clean:
                odd.append("NOT CLEAN")
            if out.least is None or out.least > out.weight:
                odd.append("HEAVIER")
            if out.shorts:
                odd.append("SHORTS")
            if odd:
                print(f"-- {name}: {', '.join(odd)} ({out.least} for {out.weight})")
                print("   made:", "; ".join(f"{m.about[1]} {m.said} ({m.weight})" for m in made))
                for line in out.said:
                    print("   ", line[:240])
        print(size, dict(counts), flush=True)
    return bad


if __name__ == "__main__":
    sys.exit(main(*(int(one) for one in sys.argv[1:5])))

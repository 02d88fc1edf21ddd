"""All small sets of edits of a small layout, each judged by plain enumeration: is any cheaper than what `mend` finds?

The edits are written here once more, on the plain data of the file; nothing of the tool's choices has a hand in it.
`python -m tests.repairs.brute NUMBER SEED` looks at so many random layouts.
"""

from __future__ import annotations

import copy
import itertools
import sys
from functools import partial
from random import Random
from typing import TYPE_CHECKING, NamedTuple

import netlister
from netlister.finding import Severity
from netlister.mend import mend
from netlister.repairs.model import weights
from netlister.source import UnusableError
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import HANDS, Data, Key, Layout, State, reference
from tests.repairs.damage import damaged, parted, some
from tests.repairs.right import RIGHT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.mend import Mended

FROGS = {"live-frog", "live-frog-bonded", "isolated-metal-frog"}
MOST_STATES = 16
MOST_PIECES = 8
MOST_BROKEN = 12
ENUMERATED = {"pole-short", "floating-net", "dead-track", "gap-clash", "expectation"}


class Edit(NamedTuple):
    """One edit of the data. `at`: what it is made at; two edits of a set never share it."""

    weight: int
    at: tuple[object, ...]
    make: Callable[[Data], None]
    said: str


def edits(data: Data) -> Iterator[Edit]:
    """What a person may change in one place, with what it costs."""
    price = weights()
    layout = Layout(data)
    for number, (joint, entry) in enumerate(zip(layout.joints, data.get("joints", []), strict=True)):
        if any(end in layout.kinds[piece].gaps for piece, end in joint.ends):
            continue
        first = layout.end_rails(*joint.ends[0])
        cut = {
            side
            for side, rail in zip(("left", "right"), first, strict=True)
            if any(rail in pair for pair in joint.insulated)
        }
        for new in ("none", "left", "right", "both"):
            sides = {"none": set(), "both": {"left", "right"}}.get(new, {new})
            if sides > cut:
                yield Edit(price["joint-metal"], ("joint", number), partial(_joint, number, new), f"{entry} {new}")
            elif sides < cut:
                yield Edit(price["joint-insulated"], ("joint", number), partial(_joint, number, new), f"{entry} {new}")
    yield from _feeds(data, layout, price)
    yield from _contacts(data, layout, price)
    for name, piece in data["track"].items():
        if piece.get("kind") == "insulated-frog":
            value = "false" if piece.get("jumpers") == "true" else "true"
            yield Edit(
                price["option"], ("piece", name), partial(_key, "track", name, "jumpers", value), f"jumpers {name}"
            )
        if piece.get("kind") == "live-frog-bonded" and piece.get("links") == "left-in":
            yield Edit(price["option"], ("piece", name), partial(_key, "track", name, "links", "cut"), f"links {name}")


def _feeds(data: Data, layout: Layout, price: dict[str, int]) -> Iterator[Edit]:
    fed: dict[str, set[str]] = {}
    for number, feed in enumerate(data.get("feeds", [])):
        piece = feed["to"].split(".")[0]
        sides = {letter: feed[letter] for letter in "AB" if letter in feed} or {"A": "left", "B": "right"}
        fed.setdefault(piece, set()).update(sides.values())
        yield Edit(price["feed-out"], ("feed", number), partial(_drop, number), f"no feed {feed}")
        if len(sides) > 1:
            turned = {"A": sides["B"], "B": sides["A"]}
            yield Edit(price["feed-swapped"], ("feed", number), partial(_feed, number, turned), f"swap {feed}")
        else:
            ((letter, rail),) = sides.items()
            other = {{"A": "B", "B": "A"}[letter]: rail}
            yield Edit(price["feed-pole"], ("feed", number), partial(_feed, number, other), f"other pole {feed}")
            if layout.is_section(piece):
                other = {letter: {"left": "right", "right": "left"}[rail]}
                yield Edit(price["feed-rail"], ("feed", number), partial(_feed, number, other), f"other rail {feed}")
    buses = list(data.get("buses") or data["supplies"])
    for name in data["track"]:
        if not layout.is_section(name) or name in fed:
            continue
        for bus in buses:
            for a, b in (("left", "right"), ("right", "left")):
                new = {"to": name, "from": bus, "A": a, "B": b}
                yield Edit(price["feed-missing"], ("fed", name), partial(_add, new), f"feed {new}")
                for letter, rail in (("A", a), ("B", b)):
                    one = {"to": name, "from": bus, letter: rail}
                    yield Edit(price["feed-one-wire"], ("fed", name), partial(_add, one), f"feed {one}")


def _contacts(data: Data, layout: Layout, price: dict[str, int]) -> Iterator[Edit]:
    served = {contact["common"] for _, contact in layout.contacts.values()}
    served |= {
        layout.terminal(unit["feeds"]) for unit in layout.units.values()
    }  # a unit is not given a contact beside it
    for section in ("machines", "switches"):
        for owner, values in (data.get(section) or {}).items():
            for name, contact in (values.get("contacts") or {}).items():
                throws = [key for key in contact if key not in {"common", "action"}]
                if len(throws) == 2 and len(layout.positions(owner)) == 2:
                    a, b = throws
                    make = partial(_throws, section, owner, name, {a: contact[b], b: contact[a]})
                    yield Edit(price["throws-swapped"], ("contact", owner, name), make, f"swap {owner}.{name}")
    for machine, values in (data.get("machines") or {}).items():
        throws = values.get("throws", [])
        for bar in throws if isinstance(throws, list) else [throws]:
            piece = data["track"].get(bar, {}) if isinstance(bar, str) else {}
            if piece.get("kind") not in FROGS or f"{bar}.frog" in served or values.get("positions"):
                continue
            leg = HANDS[piece["hand"]]
            new = {"common": f"{bar}.frog", leg["L"]: f"{bar}.stock-right", leg["R"]: f"{bar}.stock-left"}
            if set(leg.values()) <= set(layout.machine_positions(machine)):
                make = partial(_contact, machine, new)
                yield Edit(price["contact-missing"], ("contact", bar), make, f"contact {new}")


def _joint(number: int, how: str, data: Data) -> None:
    data["joints"][number]["insulate"] = how


def _feed(number: int, sides: dict[str, str], data: Data) -> None:
    entry = data["feeds"][number]
    for letter in "AB":
        entry.pop(letter, None)
    entry.update(sides)


def _drop(number: int, data: Data) -> None:
    data["feeds"][number] = None


def _add(feed: dict[str, str], data: Data) -> None:
    data.setdefault("feeds", []).append(dict(feed))


def _throws(section: str, owner: str, name: str, throws: dict[str, str], data: Data) -> None:
    data[section][owner]["contacts"][name].update(throws)


def _contact(machine: str, contact: dict[str, str], data: Data) -> None:
    data["machines"][machine].setdefault("contacts", {})["new"] = dict(contact)


def _key(section: str, name: str, key: str, value: str, data: Data) -> None:
    data[section][name][key] = value


def made(data: Data, chosen: tuple[Edit, ...]) -> Data:
    """The data after some edits."""
    data = copy.deepcopy(data)
    for edit in chosen:
        edit.make(data)
    data["feeds"] = [feed for feed in data.get("feeds", []) if feed is not None]
    return {key: value for key, value in data.items() if value}


def cheaper(data: Data) -> list[str] | None:
    """The sets of one and two edits that mend for less than `mend` does; None where the layout is not looked at."""
    data = parted(data)
    layout = Layout(data)
    if len(data["track"]) > MOST_PIECES or len(layout.all_states) > MOST_STATES or not layout.states:
        return None
    before = reference(data)
    if not before or len(before) > MOST_BROKEN:
        return None
    try:
        found = mend(netlister.read_text(dump(data)))
    except UnusableError:
        return None
    wrong = {(f.rule, f.subject) for f in found.before.findings if f.severity == Severity.ERROR}
    if not wrong or not wrong <= before.keys():
        return None  # right, or wrong by a rule that is not enumerated
    mild = [
        n
        for n in found.before.causes
        if not any(f.cause == n and f.severity == Severity.ERROR for f in found.before.findings)
    ]
    if mild:
        return None  # more is mended than what is wrong
    best = found.repairs[0].weight if found.repairs and not found.wrong else 5
    listed = list(edits(data))
    better = []
    for size in (1, 2):
        for chosen in itertools.combinations(listed, size):
            weight = sum(edit.weight for edit in chosen)
            if weight >= best or len({edit.at for edit in chosen}) < size:
                continue
            after = made(data, chosen)
            if _mends(before, reference(after), wrong) and not _breaks_other_rules(found, after):
                better.append(f"{weight} for {best}: " + "; ".join(edit.said for edit in chosen))
    return better


def _mends(before: dict[Key, set[State]], after: dict[Key, set[State]], wrong: set[Key]) -> bool:
    return all(key not in wrong and states <= before.get(key, set()) for key, states in after.items())


def _breaks_other_rules(found: Mended, after: Data) -> bool:
    """Whether rules that are not enumerated here, as those on districts, find more than after the tool's repair."""
    known = {(f.rule, f.subject) for f in found.before.findings}
    taken = known - {key for repair in found.repairs[:1] for key in repair.left} if found.repairs else set()
    taken = {key for key in taken if key[0] not in ENUMERATED}
    try:
        report = netlister.check_text(dump(after), causes=False)
    except UnusableError:
        return True
    left = {(f.rule, f.subject): f.severity for f in report.findings}
    return any(grade == Severity.ERROR or key not in known or key in taken for key, grade in left.items())


def candidates(seed: int) -> Iterator[tuple[str, Data]]:
    """Random layouts, and right ones with two mistakes, in turn, without end."""
    while True:
        for name, data, chosen in some(Random(seed), len(RIGHT), 2):
            yield f"{name}, {'; '.join(f'{m.about[1]} {m.said}' for m in chosen)}", damaged(data, chosen)
            seed += 1
            yield f"random {seed}", random_layout(Random(seed))


def main(number: int, seed: int) -> int:
    """Look at layouts until so many were looked at."""
    looked = bad = 0
    for name, data in candidates(seed):
        better = cheaper(data)
        if better is None:
            continue
        looked += 1
        if better:
            bad += 1
            print(f"--- {name}")
            print(dump(parted(data)))
            print("\n".join(better[:4]), flush=True)
        if looked >= number:
            break
    print(f"{looked} layouts, {bad} with something cheaper")
    return bad


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))

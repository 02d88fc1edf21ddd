"""Kinds from their files: the library's own, and a user's."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from netlister.kinds.find import files
from netlister.kinds.made import made_for
from netlister.kinds.measure import total
from netlister.kinds.model import (
    Bar,
    Blade,
    BladeWith,
    Bond,
    Count,
    Definition,
    Dimension,
    End,
    Kind,
    KindError,
    Made,
    MadeWith,
    Measure,
    Nose,
    Note,
    Options,
    Route,
    Row,
    Sealed,
    Setting,
    Shape,
)
from netlister.quantity import LENGTH, NUMBER, STATUSES, QuantityError, parse, shown
from netlister.source import Fault, Mapping, Reader, Scalar, Sequence, Source, UnusableError, compose, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from netlister import quantity
    from netlister.source import Node

HANDS = ("right", "left", "wye")
NOTES = ("why", "joiners", "feeders", "contact", "trouble", "test")
DEAD = "dead"
MOST = 60
"""The greatest number of anything that a kind may repeat."""
FORMER = {"published": "read", "worked out": "derived", "measured": "read"}
"""What a user's own file may still say: the words of version 0.1."""
FIELDS = ("kind", "hand", "length", "radius", "angle", "turn", "frog-number", "frog", "nose", "dead", "contacts", "set")
"""What an entry under `track` may have beside the options of its kind."""


class Takes(NamedTuple):
    """What an entry of a kind takes: hands (none: it takes no hand), options and their values.

    `number`: the option that is a number, with the least and the greatest.
    """

    hands: tuple[str, ...]
    options: dict[str, tuple[str, ...]]
    bars: int
    crossing: bool
    number: Count | None = None


class Library:
    """The kinds that a layout can use. Files are read when a kind is first asked for."""

    def __init__(self, extra: Iterable[Source] = (), folder: Path | None = None) -> None:
        self._files = files(folder)
        self._known: dict[str, Definition] = {}
        self._kinds: dict[tuple[str, str, Options], Kind] = {}
        faults: list[Fault] = []
        for source in extra:
            try:
                for definition in read_definitions(source, taken=(*self._files, *self._known)):
                    self._known[definition.name] = definition
            except UnusableError as error:
                faults += error.faults
        if faults:
            raise UnusableError(faults)

    def names(self) -> list[str]:
        """The names of all kinds, sorted."""
        return sorted({*self._files, *self._known})

    def definition(self, name: str) -> Definition:
        """A kind as written; raises KindError for one that there is not."""
        found = self._known.get(name)
        if found is None:
            path = self._files.get(name)
            if path is None:
                message = f"there is no kind '{name}'{suggest(name, self.names())}; 'netlister kinds' lists them"
                raise KindError(message)
            found = self._known[name] = _own(path)
        return found

    def takes(self, name: str) -> Takes:
        """What an entry of a kind takes; raises KindError for one that there is not."""
        found = self.definition(name)
        options = {option: values for option, (values, _) in found.options.items()}
        crossing = not found.bars and len(found.routes) > 1
        return Takes(tuple(found.hands), options, len(found.bars), crossing, found.count)

    def kind(self, name: str, hand: str = "", options: Options = ()) -> Kind:
        """A kind for one hand and set of options, the same object each time.

        Raises KindError for a kind, hand or option that there is not.
        """
        key = (name, hand, tuple(options))
        found = self._kinds.get(key)
        if found is None:
            definition = self.definition(name)
            found = self._kinds[key] = made_for(definition, hand, _renamed(definition, key[2]))
        return found


def library(folder: Path | None = None, extra: Iterable[Source] = ()) -> Library:
    """The library of kinds, with those of a user's files.

    `folder` takes the place of the kinds that every layout can use. Raises UnusableError for faults in `extra`.
    """
    return Library(extra, folder)


def _renamed(definition: Definition, options: Options) -> Options:
    """Options by the names that they have now."""
    count = definition.count
    if count is None or not count.was:
        return options
    return tuple((count.option if option == count.was else option, value) for option, value in options)


def _own(path: Path) -> Definition:
    """The kind in a file of the library. Raises UnusableError where it is not the one that the file is named after."""
    source = Source(path.name, path.read_text(encoding="utf-8"))
    found = read_definitions(source, own=True)
    if [d.name for d in found] != [path.stem]:
        raise UnusableError([Fault(source.start(), f"the file is named '{path.stem}' and must hold that one kind")])
    return found[0]


# -- reading

_KEYS = (
    "kind", "title", "summary", "plain", "floating", "hands", "rails", "ends", "bonds", "options", "bars", "contacts",
    "routes", "blades", "noses", "notes", "dimensions", "dead-lengths", "draw", "shapes", "count", "sealed",
)  # fmt: skip


def read_definitions(source: Source, taken: Iterable[str] = (), *, own: bool = False) -> list[Definition]:
    """The kinds of a file: one, or several in a list under `kinds`.

    Raises UnusableError with every fault of the file. `taken`: names that are not free. `own`: of the library itself.
    """
    root = compose(source)
    reader = Reader(source)
    nodes = [root]
    sections = [key.value for key, _ in root.value] if isinstance(root, Mapping) else []
    if sections == ["kinds"]:
        nodes = reader.entries(root.value[0][1], "a list of kinds")
        if not nodes and not reader.faults:
            reader.fault(root.value[0][0], "'kinds' is empty; add a kind, or write one without 'kinds'")
    elif "kinds" in sections:
        reader.fault(
            root.value[sections.index("kinds")][0], "'kinds' stands alone in its file; leave the other keys out"
        )
        raise UnusableError(reader.faults)
    known = set(taken)
    found = []
    for node in nodes:
        definition = _Reading(reader, node, known, own=own).read()
        if definition is not None:
            known.add(definition.name)
            found.append(definition)
    if reader.faults:
        raise UnusableError(reader.faults)
    return found


_Values = dict[str, tuple[tuple[str, ...], dict[str, tuple[tuple[str, str], ...]]]]
"""Options: per option its values and the rails that they bond."""


class _Reading:
    """Reads one kind."""

    def __init__(self, reader: Reader, node: Node, taken: set[str], *, own: bool) -> None:
        self.r = reader
        self.own = own
        self.node = node
        self.taken = taken
        self.fields: dict[str, Node] = {}
        self.usable = isinstance(node, Mapping)
        for name, key, value in reader.items(node, "a kind"):
            if name in _KEYS:
                self.fields[name] = value
            else:
                hint = suggest(name, _KEYS) or f"; the keys are {', '.join(_KEYS)}"
                reader.fault(key, f"a kind has no '{shown(name)}'{hint}")
        self.rails: tuple[str, ...] = ()
        self.ends: tuple[End, ...] = ()
        self.bars: tuple[Bar, ...] = ()
        self.sizes: dict[str, Dimension] = {}
        self.made: dict[tuple[Setting, frozenset[str]], list[Node]] = {}
        self.options: dict[str, tuple[str, ...]] = {}
        self.notes: dict[str, Note] = {}
        self.optional: list[Bond] = []
        self.made_with: list[MadeWith] = []
        self.blades_with: list[BladeWith] = []
        self.gaps: list[str] = []
        self.rows: dict[str, Row] = {}
        self.keys: dict[tuple[str, str], Node] = {}
        """Where each rail, end, hand, tie bar and route is written."""

    def read(self) -> Definition | None:
        """The kind, or None and faults."""
        before = len(self.r.faults)
        if not self.usable:
            if not before:
                self.r.fault(self.node, "a kind is due here, as 'name: value' pairs")
            return None
        name, title, summary = self._text("kind"), self._text("title"), self._text("summary")
        if name and name in self.taken:
            self.r.fault(self.fields["kind"], f"there is a kind '{name}' already; give yours another name")
        for needed in ("rails", "ends", "routes"):
            if needed not in self.fields:
                self.r.fault(self.node, f"the kind has no '{needed}'; add it")
        self.rails = tuple(self._words("rails"))
        hands = self._hands()
        options = self._options(hands)
        count = self._count(options)
        dimensions, dead = (self._dimensions(self.fields.get(name)) for name in ("dimensions", "dead-lengths"))
        self.sizes = {**dimensions, **dead}
        self.ends = self._ends()
        self.bars = self._bars()
        self._check_hands(hands)
        definition = Definition(
            name, title, summary,
            self._one_of("plain", ("true", "false"), "false") == "true",
            self._one_of("floating", ("error", "warning"), "error"),
            hands, self.rails, self.ends, tuple(self._bonds()), options, self.bars,
            tuple(self._made()), tuple(self._routes()), self._notes(), dimensions, dead,
            self._draw(self.fields.get("draw")), self.notes, tuple(self.optional), tuple(self.made_with),
            tuple(self._sealed()), tuple(self.gaps), tuple(self._shapes(hands)), self.rows, count,
            tuple(self._blades()), tuple(self._noses()), tuple(self.blades_with),
        )  # fmt: skip
        if len(self.r.faults) == before:
            self._check(definition)
        return definition if len(self.r.faults) == before else None

    def _check_hands(self, hands: dict[str, dict[str, str]]) -> None:
        """Each hand names the same exits, gives each an end of its own, and leaves the other ends alone."""
        first = next(iter(hands.values()), {})
        ends = [end.name for end in self.ends]
        for hand, exits in hands.items():
            key = self.keys["hand", hand]
            if not exits:
                self.r.fault(key, f"the hand '{hand}' needs names for its ends, as in '{{L: through}}'")
            for exit_ in exits:
                if exit_ not in ends:
                    self.r.fault(key, f"there is no end '{exit_}' for the hand '{hand}' to name{suggest(exit_, ends)}")
            if set(exits) != set(first):
                self.r.fault(key, "all hands must name the same ends")
            called = [exits.get(end, end) for end in ends]
            for twice in sorted({end for end in called if called.count(end) > 1}):
                self.r.fault(key, f"with the hand '{hand}' two ends are called '{twice}'; give each a name of its own")

    def _check(self, d: Definition) -> None:
        """What a kind without slips of the pen must be, to make sense as a piece of track."""
        used: set[str] = set()
        for end in d.ends:
            used |= {end.left, end.right}
            key = self.keys["end", end.name]
            if end.left == end.right:
                self.r.fault(key, f"the end '{end.name}' has '{end.left}' on both sides; write two rails")
            if len(d.ends) > 1 and not any(end.name in route.ends for route in d.routes):
                self.r.fault(key, f"no route leads to the end '{end.name}'; add one")
        if d.count is not None:
            if d.count.least == 1 and any(len(bar.positions) == 1 for bar in d.bars):
                self.r.fault(self.fields["count"], "a tie bar needs two positions or more; write 'least: 2'")
            self._check_repeats((*d.rails, *(end.name for end in d.ends)))
        if not d.ends:
            self.r.fault(self.node, "the kind has no ends; write at least one")
        for route in d.routes:
            self._check_route(route)
            for shape in (None, *d.shapes):
                self._check_places(
                    route, self.sizes if shape is None else {**self.sizes, **shape.dimensions, **shape.dead}
                )
            used |= {rail for rail in (*route.left, *route.right) if rail is not None}
        optional = [pair for _, bonds in d.options.values() for pairs in bonds.values() for pair in pairs]
        optional += [bond.rails for bond in d.optional]
        used.update(
            rail
            for pair in (*d.bonds, *optional, *(made.rails for made in (*d.made, *(m.made for m in d.made_with))))
            for rail in pair
        )
        for rail in d.rails:
            if rail not in used:
                self.r.fault(self.keys["rail", rail], f"nothing uses the rail '{rail}'; leave it out")
        self._check_bars(d)
        if d.plain and (d.bars or d.hands or len(d.routes) != 1 or [e.entering for e in d.ends] != [True, False]):
            message = "plain track has an entering end, then a leaving one, one route and no blades; leave 'plain' out"
            self.r.fault(self.fields["plain"], message)

    def _check_bars(self, d: Definition) -> None:
        """Blades choose: each bar is for something, and no two routes over one end are set at once."""
        bonded = {frozenset(pair) for pair in d.bonds}
        for (_, pair), nodes in self.made.items():
            if len(nodes) > 1:
                self.r.fault(nodes[1], "this contact is here a second time; leave it out")
            if pair in bonded:
                a, b = sorted(pair)
                self.r.fault(nodes[0], f"'{a}' and '{b}' are bonded, so no contact joins them; leave one out")
        asked = {
            bar
            for setting in (*(m.when for m in d.made), *(m.made.when for m in d.made_with), *(r.when for r in d.routes))
            for bar, _ in setting
        }
        for bar in d.bars:
            if bar.name not in asked:
                self.r.fault(self.keys["bar", bar.name], f"nothing depends on the tie bar '{bar.name}'; leave it out")
        for one, two in combinations(d.routes, 2):
            other = dict(two.when)
            both = all(other.get(bar, position) == position for bar, position in one.when)
            shared = sorted({*one.ends} & {*two.ends})
            if d.bars and both and shared:
                message = f"the routes '{one.name}' and '{two.name}' leave '{shared[0]}' and are set at the same time"
                self.r.fault(self.keys["route", two.name], f"{message}; say under 'when' which position sets each")

    def _check_repeats(self, names: tuple[str, ...]) -> None:
        """No name is one of those that a name with a `#` stands for."""
        for name in names:
            before, mark, after = name.partition("#")
            same = [n for n in names if n.startswith(before) and n.endswith(after) and n[len(before) :][:1].isdigit()]
            if mark and same:
                self.r.fault(self.node, f"'{same[0]}' is one of those that '{name}' stands for; give it another name")

    def _check_route(self, route: Route) -> None:
        """A route runs from an entering end to a leaving one, and its wheels begin and end on the rails there.

        A path of one conductor that is at no end is that of a collector: of an overhead wire or a third rail.
        """
        ends = {end.name: end for end in self.ends}
        key = self.keys["route", route.name]
        start, stop = (ends[end] for end in route.ends)
        if not start.entering or stop.entering:
            self.r.fault(key, f"the route '{route.name}' must run from an entering end to a leaving one")
            return
        for side, path, first, last in (
            ("left", route.left, start.left, stop.left),
            ("right", route.right, start.right, stop.right),
        ):
            collected = len(path) == 1 and all(path[0] not in (end.left, end.right) for end in self.ends)
            if (path[0], path[-1]) != (first, last) and not collected:
                ways = f"begins on '{first}' and ends on '{last}', the rails at '{start.name}' and '{stop.name}'"
                self.r.fault(key, f"on the route '{route.name}' the path of the {side} wheels {ways}; write it so")

    def _check_places(self, route: Route, sizes: dict[str, Dimension]) -> None:
        """The places of a route lie in order between its ends, for every frog number that a dimension names."""
        key = self.keys["route", route.name]
        if (route.left_at or route.right_at) and not route.length:
            self.r.fault(key, f"the route '{route.name}' says where its rails meet, but not its 'length'; add it")
            return
        numbers = {0.0, *(number for size in sizes.values() for number in size.by_number)}
        for number in sorted(numbers):
            end = total(route.length, sizes, number)
            for at in (route.left_at, route.right_at):
                places = [0.0, *(total(place, sizes, number) for place in at), end]
                if any(b < a - 1e-9 for a, b in pairwise(places)):
                    of = f" with frog number {number:g}" if number else ""
                    self.r.fault(key, f"on the route '{route.name}'{of} the places are out of order or beyond its ends")
                    return

    def _text(self, field: str) -> str:
        node = self.fields.get(field)
        if node is None:
            self.r.fault(self.node, f"the kind has no '{field}'; add it")
            return ""
        text = self.r.text(node, f"the text of '{field}'") or ""
        if field == "kind" and (not text or "." in text or not text.isprintable()):
            self.r.fault(node, "the name of a kind is a word without dots, as in 'live-frog'")
        return text

    def _one_of(self, field: str, known: tuple[str, ...], default: str) -> str:
        node = self.fields.get(field)
        return default if node is None else self._known(node, known, field, default)

    def _known(self, node: Node, known: Iterable[str], what: str, default: str = "") -> str:
        text = self.r.text(node, f"a {what}")
        listed = list(known)
        if text is None or text in listed:
            return text or default
        if not listed:
            if not self.r.faults:
                self.r.fault(node, f"there is no {what} '{shown(text)}'; none is named")
            return default  # where something is wrong already, that is what is wrong
        ways = ", ".join(f"'{k}'" for k in listed)
        self.r.fault(node, f"there is no {what} '{text}'{suggest(text, listed) or f'; write one of {ways}'}")
        return default

    def _words(self, field: str) -> list[str]:
        node = self.fields.get(field)
        if node is None:
            return []
        words: list[str] = []
        for entry in self.r.entries(node, "each of the rails"):
            word = self.r.text(entry, "a name")
            if word is None:
                continue
            if self._named(entry, word):
                if word in words:
                    self.r.fault(entry, f"'{word}' is here a second time")
                else:
                    words.append(word)
                    self.keys["rail", word] = entry
        return words

    def _named(self, node: Node, word: str) -> bool:
        """Whether a word is fit to be a name; a fault where not."""
        if word == DEAD:
            self.r.fault(node, f"'{DEAD}' stands for a dead length; give this another name")
            return False
        if word and "." not in word and word.isprintable() and word == word.strip():
            return True
        self.r.fault(node, f"'{shown(word)}' is no name; write a word without dots")
        return False

    def _hands(self) -> dict[str, dict[str, str]]:
        found: dict[str, dict[str, str]] = {}
        node = self.fields.get("hands")
        if node is None:
            return found
        for hand, key, value in self.r.items(node, "each hand with its exits"):
            if hand not in HANDS:
                self.r.fault(key, f"there is no hand '{hand}'; write one of {', '.join(HANDS)}")
                continue
            found[hand] = {}
            self.keys["hand", hand] = key
            for name, _, end in self.r.items(value, "exits and the names of their ends"):
                text = self.r.text(end, "the name of an end")
                if text is not None and self._named(end, text):
                    found[hand][name] = text
        return found

    def _ends(self) -> tuple[End, ...]:
        found = []
        node = self.fields.get("ends")
        if node is None:
            return ()
        for name, key, value in self.r.items(node, "each end with its rails"):
            self.keys["end", name] = key
            inner = self._inner(value, ("entering", "left", "right", "gap"), "an end")
            if not self._named(key, name):
                continue
            if "left" not in inner or "right" not in inner:
                self.r.fault(key, f"the end '{name}' needs its rails; write 'left: …, right: …'")
                continue
            entering = "entering" in inner and self._known(inner["entering"], ("true", "false"), "value") == "true"
            left, right = (self._known(inner[side], self.rails, "rail") for side in ("left", "right"))
            found.append(End(name, entering, left, right))
            if "gap" in inner and self._known(inner["gap"], ("true", "false"), "value") == "true":
                self.gaps.append(name)
        return tuple(found)

    def _inner(self, node: Node, known: tuple[str, ...], what: str) -> dict[str, Node]:
        found = {}
        for name, key, value in self.r.items(node, what):
            if name in known:
                found[name] = value
            else:
                hint = suggest(name, known) or f"; write one of {', '.join(known)}"
                self.r.fault(key, f"there is no '{name}' in {what}{hint}")
        return found

    def _bonds(self) -> Iterable[tuple[str, str]]:
        """The rails that are always joined; those that are so with some options only are noted apart."""
        node = self.fields.get("bonds")
        for entry in [] if node is None else self.r.entries(node, "pairs of rails"):
            if not isinstance(entry, Mapping):
                yield from self._pairs_of([entry])
                continue
            inner = self._inner(entry, ("join", "with"), "a bond")
            if not {"join", "with"} <= inner.keys():
                self.r.fault(entry, "a bond with options needs 'join' and 'with'; else write the two rails alone")
                continue
            for pair in self._pairs_of([inner["join"]]):
                self.optional.append(Bond(pair, self._given(inner["with"])))

    def _sealed(self) -> Iterable[Sealed]:
        """The rails that have no wire to them, and with which options."""
        node = self.fields.get("sealed")
        for entry in [] if node is None else self.r.entries(node, "rails without a wire"):
            inner = self._inner(entry, ("rail", "with"), "a rail without a wire")
            if not {"rail", "with"} <= inner.keys():
                self.r.fault(entry, "a rail without a wire needs 'rail' and 'with'")
                continue
            yield Sealed(self._known(inner["rail"], self.rails, "rail"), self._given(inner["with"]))

    def _given(self, node: Node) -> Options:
        """Options and the values that something is there with."""
        found = []
        for option, key, value in self.r.items(node, "options and their values"):
            if option not in self.options:
                self.r.fault(key, f"there is no option '{option}'{suggest(option, self.options)}")
                continue
            found.append((option, self._known(value, self.options[option], "value")))
        return tuple(found)

    def _pairs_of(self, nodes: Iterable[Node]) -> Iterable[tuple[str, str]]:
        for node in nodes:
            pair = self._pair(node)
            if pair:
                yield pair

    def _pairs(self, node: Node | None) -> Iterable[tuple[str, str]]:
        return self._pairs_of([] if node is None else self.r.entries(node, "pairs of rails"))

    def _pair(self, node: Node) -> tuple[str, str] | None:
        rails = node.value if isinstance(node, Sequence) else []
        if len(rails) != 2:  # noqa: PLR2004
            self.r.fault(node, "two rails are due here, as in '[frog, stock-left]'")
            return None
        a, b = (self._known(rail, self.rails, "rail") for rail in rails)
        if a and a == b:
            self.r.fault(node, f"'{a}' is joined to itself; name two rails")
        return a, b

    def _options(self, hands: Iterable[str]) -> _Values:
        found: _Values = {}
        node = self.fields.get("options")
        for name, key, value in [] if node is None else self.r.items(node, "each option with its values"):
            inner = self._inner(value, ("what", "values", "bonds", "default", "hands", "choice"), "an option")
            if name in FIELDS:
                self.r.fault(key, f"'{name}' is a field of every piece already; give the option another name")
            if "values" not in inner:
                self.r.fault(key, f"the option '{name}' needs its values, as in 'values: [\"true\", \"false\"]'")
            listed = self.r.entries(inner["values"], "its values") if "values" in inner else []
            values = tuple(v for v in (self.r.text(entry, "a value") for entry in listed) if v)
            bonds = {}
            for chosen, at, pairs in [] if "bonds" not in inner else self.r.items(inner["bonds"], "bonds by value"):
                if chosen not in values:
                    self.r.fault(at, f"the option has no value '{chosen}'{suggest(chosen, values)}")
                bonds[chosen] = tuple(self._pairs(pairs))
            found[name] = (values, bonds)
            self.options[name] = values
            what = self.r.text(inner["what"], "the text of 'what'") or "" if "what" in inner else ""
            default = self._known(inner["default"], values, "value") if "default" in inner else ""
            for_hands = self.r.entries(inner["hands"], "hands") if "hands" in inner else []
            choice = "choice" in inner and self._known(inner["choice"], ("true", "false"), "value") == "true"
            self.notes[name] = Note(what, default, tuple(self._known(h, hands, "hand") for h in for_hands), choice)
        return found

    def _count(
        self, options: dict[str, tuple[tuple[str, ...], dict[str, tuple[tuple[str, str], ...]]]]
    ) -> Count | None:
        """How often what has a `#` in its name is there: an option of its own, with numbers for values."""
        node = self.fields.get("count")
        if node is None:
            return None
        inner = self._inner(node, ("option", "was", "what", "least", "most", "default"), "the count")
        if not {"option", "least", "most", "default"} <= inner.keys():
            self.r.fault(node, "a count needs 'option', 'least', 'most' and 'default'")
            return None
        option = self.r.text(inner["option"], "the name of an option") or ""
        least, most, default = (self._whole(inner[field]) for field in ("least", "most", "default"))
        if option in options or option in FIELDS or not self._named(inner["option"], option):
            self.r.fault(inner["option"], f"'{shown(option)}' is taken; give the count a name of its own")
        if not 1 <= least <= default <= most <= MOST:
            self.r.fault(node, f"a count runs from 1 or more to {MOST} at most, and its default lies between")
            return None
        values = tuple(str(number) for number in range(least, most + 1))
        options[option] = (values, {})
        self.options[option] = values
        what = self.r.text(inner["what"], "the text of 'what'") or "" if "what" in inner else ""
        self.notes[option] = Note(what, str(default), choice=True)
        was = self.r.text(inner["was"], "the name that it had before") or "" if "was" in inner else ""
        return Count(option, least, most, was)

    def _whole(self, node: Node) -> int:
        text = self.r.text(node, "a whole number") or ""
        if text.isascii() and text.isdigit() and len(text) <= 4:  # noqa: PLR2004
            return int(text)
        self.r.fault(node, f"'{shown(text)}' is no whole number; write one, as in '6'")
        return 0

    def _bars(self) -> tuple[Bar, ...]:
        found = []
        node = self.fields.get("bars")
        for name, key, value in (
            [] if node is None else self.r.items(node, "each tie bar with its positions, as in '{\"\": [L, R]}',")
        ):
            positions = [self.r.text(entry, "a position") or "" for entry in self.r.entries(value, "the positions")]
            many = any("#" in position for position in positions) and "count" in self.fields
            if len(positions) < (1 if many else 2) or len(set(positions)) != len(positions):
                self.r.fault(key, "a tie bar needs two positions or more, each with a name of its own")
            for entry, position in zip(self.r.entries(value, "the positions"), positions, strict=True):
                self._named(entry, position)
            if name:
                self._named(key, name)
            found.append(Bar(name, tuple(positions)))
            self.keys["bar", name] = key
        if len(found) == 1 and found[0].name:
            self.r.fault(self.keys["bar", found[0].name], "a piece with one tie bar has no name for it; write '\"\"'")
        elif len(found) > 1 and not all(bar.name for bar in found):
            self.r.fault(self.keys["bar", ""], "where there are several tie bars each needs a name")
        return tuple(found)

    def _setting(self, node: Node) -> tuple[tuple[str, str], ...]:
        bars = {bar.name: bar.positions for bar in self.bars}
        found = []
        for name, key, value in self.r.items(node, "tie bars and positions"):
            if name not in bars:
                if bars or not self.r.faults:
                    named = ", ".join(f"'{bar}'" for bar in bars)
                    only = "; the only tie bar is written '\"\"'" if list(bars) == [""] else ""
                    ways = (
                        only or suggest(name, bars) or (f"; write one of {named}" if bars else "; name it under 'bars'")
                    )
                    self.r.fault(key, f"there is no tie bar '{shown(name)}'{ways}")
                continue
            found.append((name, self._known(value, bars[name], "position")))
        return tuple(found)

    def _made(self) -> Iterable[Made]:
        node = self.fields.get("contacts")
        for entry in [] if node is None else self.r.entries(node, "the contacts made"):
            inner = self._inner(entry, ("when", "join", "with"), "a contact")
            if "when" not in inner or "join" not in inner:
                self.r.fault(entry, "a contact needs 'when' and 'join'")
                continue
            pair = self._pair(inner["join"])
            when = self._setting(inner["when"])
            if not when and not self.r.faults:
                self.r.fault(inner["when"], "this contact is made in no position; write one, or a pair under 'bonds'")
            if pair:
                made = Made(when, pair)
                if "with" in inner:
                    self.made_with.append(MadeWith(made, self._given(inner["with"])))
                else:
                    self.made.setdefault((when, frozenset(pair)), []).append(entry)
                    yield made

    def _blades(self) -> Iterable[Blade]:
        """Which blade stands open beside which rail in each position."""
        node = self.fields.get("blades")
        for entry in [] if node is None else self.r.entries(node, "the open blades"):
            inner = self._inner(entry, ("when", "open", "stock", "with"), "an open blade")
            if not {"when", "open", "stock"} <= inner.keys():
                self.r.fault(entry, "an open blade needs 'when', 'open' (its rail) and 'stock' (the rail beside it)")
                continue
            rail, stock = (self._known(inner[field], self.rails, "rail") for field in ("open", "stock"))
            blade = Blade(self._setting(inner["when"]), rail, stock)
            if "with" in inner:
                self.blades_with.append(BladeWith(blade, self._given(inner["with"])))
            else:
                yield blade

    def _noses(self) -> Iterable[Nose]:
        """The insulated noses of the frogs."""
        node = self.fields.get("noses")
        for entry in [] if node is None else self.r.entries(node, "the insulated noses"):
            inner = self._inner(entry, ("rails", "beyond", "frog-number"), "a nose")
            if not {"rails", "beyond", "frog-number"} <= inner.keys():
                message = (
                    "a nose needs 'rails' (the two beside it), 'beyond' (how far past the point) and 'frog-number'"
                )
                self.r.fault(entry, message)
                continue
            pair = self._pair(inner["rails"])
            number = self._measure(inner["frog-number"], "frog-number", NUMBER)
            if pair:
                yield Nose(pair, self._sum(inner["beyond"]), number)

    def _routes(self) -> Iterable[Route]:
        node = self.fields.get("routes")
        ends = [end.name for end in self.ends]
        for name, key, value in [] if node is None else self.r.items(node, "the routes"):
            inner = self._inner(value, ("ends", "when", "left", "right", "length", "left-at", "right-at"), "a route")
            if not {"ends", "left", "right"} <= inner.keys():
                self.r.fault(key, f"the route '{name}' needs 'ends', 'left' and 'right'")
                continue
            listed = [self._known(e, ends, "end") for e in self.r.entries(inner["ends"], "two ends")]
            if len(listed) != 2:  # noqa: PLR2004
                self.r.fault(inner["ends"], "a route has two ends, as in '[toe, L]'")
                continue
            self.keys["route", name] = key
            when = self._setting(inner["when"]) if "when" in inner else ()
            left, right = (self._path(inner[side]) for side in ("left", "right"))
            length = self._sum(inner["length"]) if "length" in inner else ()
            left_at, right_at = (
                self._places(inner.get(f"{s}-at"), path) for s, path in (("left", left), ("right", right))
            )
            yield Route(name, (listed[0], listed[1]), when, left, right, length, left_at, right_at)

    def _places(self, node: Node | None, path: tuple[str | None, ...]) -> tuple[Measure, ...]:
        """Where the rails of a path meet: one place fewer than rails."""
        if node is None:
            return ()
        entries = self.r.entries(node, "places, as in '[0 mm, lead - frog-toe]'")
        if len(entries) != len(path) - 1:
            self.r.fault(node, f"{len(path)} lengths meet in {len(path) - 1} places, and {len(entries)} are given")
            return ()
        return tuple(self._sum(entry) for entry in entries)

    def _sum(self, node: Node) -> Measure:
        """A sum of dimensions and lengths, as in `lead + frog-heel - 3 mm`."""
        terms: list[tuple[float, str]] = []
        words = (self.r.text(node, "a sum of lengths") or "").split()
        factor, term = 1.0, list[str]()
        for word in [*words, "+"]:
            if word not in {"+", "-"}:
                term.append(word)
                continue
            text = " ".join(term)
            if text in self.sizes:
                terms.append((factor, text))
            else:
                try:
                    terms.append((factor * parse(text, LENGTH), ""))
                except QuantityError:
                    known = f"one of {', '.join(self.sizes)} or " if self.sizes else ""
                    self.r.fault(node, f"'{shown(text)}' is no length{suggest(text, self.sizes)}; write {known}'3 mm'")
            factor, term = (1.0 if word == "+" else -1.0), []
        return tuple(terms)

    def _path(self, node: Node) -> tuple[str | None, ...]:
        known = (*self.rails, DEAD) if self.rails else ()
        rails = [self._known(e, known, "rail") for e in self.r.entries(node, "rails in order")]
        if not any(rail != DEAD for rail in rails):
            self.r.fault(node, "a wheel path needs a rail")
        return tuple(None if rail == DEAD else rail for rail in rails)

    def _notes(self) -> dict[str, str]:
        node = self.fields.get("notes")
        inner = {} if node is None else self._inner(node, NOTES, "the notes")
        return {name: self.r.text(value, "a text") or "" for name, value in inner.items()}

    def _dimensions(self, node: Node | None) -> dict[str, Dimension]:
        found = {}
        for name, key, value in [] if node is None else self.r.items(node, "dimensions"):
            inner = self._inner(value, ("value", "what", "source", "status", "frog-numbers", "gauge"), "a dimension")
            if not {"value", "what", "source"} <= inner.keys():
                self.r.fault(key, f"'{name}' needs 'value' with a unit, 'what' it is of, and 'source'")
                continue
            what, source = (self.r.text(inner[k], f"the text of '{k}'") or "" for k in ("what", "source"))
            status = self._status(inner.get("status"))
            metres = self._measure(inner["value"], name, LENGTH)
            by_number = {}
            for number, place, length in (
                self.r.items(inner["frog-numbers"], "lengths by frog number") if "frog-numbers" in inner else ()
            ):
                try:
                    by_number[parse(number, NUMBER)] = self._measure(length, name, LENGTH)
                except QuantityError as error:
                    self.r.fault(place, f"a frog number is due here: {error}")
            text = str(inner["value"].value)
            gauge = self._measure(inner["gauge"], "gauge", LENGTH) if "gauge" in inner else 0.0
            found[name] = Dimension(metres, text, what, source, status, by_number, gauge)
        return found

    def _status(self, node: Node | None) -> str:
        """How far to trust a number, by its one name; a user's file may use the words of version 0.1."""
        if node is None:
            return ""
        former = None if self.own else FORMER.get(str(node.value))
        return former or self._known(node, STATUSES, "status")

    def _measure(self, node: Node, name: str, dimension: quantity.Dimension) -> float:
        """A quantity in SI units; zero and a fault where there is none."""
        try:
            return parse(self.r.text(node, dimension.name) or "", dimension)
        except QuantityError as error:
            self.r.fault(node, f"'{name}': {error}")
            return 0.0

    def _shapes(self, hands: dict[str, dict[str, str]]) -> Iterable[Shape]:
        """Dimensions and anchors of their own for a hand, or with options."""
        node = self.fields.get("shapes")
        for entry in [] if node is None else self.r.entries(node, "shapes"):
            inner = self._inner(entry, ("for", "dimensions", "dead-lengths", "draw"), "a shape")
            if "for" not in inner:
                self.r.fault(entry, "a shape needs 'for', as in 'for: {hand: wye}'")
                continue
            given = []
            for name, key, value in self.r.items(inner["for"], "a hand or options"):
                known = tuple(hands) if name == "hand" else self.options.get(name, ())
                if known:
                    given.append((name, self._known(value, known, "value")))
                else:
                    self.r.fault(key, f"there is no option '{name}'{suggest(name, self.options)}")
            sizes, dead = (self._dimensions(inner.get(field)) for field in ("dimensions", "dead-lengths"))
            yield Shape(tuple(given), sizes, dead, self._draw(inner.get("draw")))

    def _draw(self, node: Node | None) -> dict[str, tuple[float, float]]:
        found = {}
        for name, _, value in [] if node is None else self.r.items(node, "anchors"):
            if isinstance(value, Mapping):
                self._row(name, value)
                continue
            point = self._numbers(value, 2)
            if point is None:
                self.r.fault(value, "an anchor is two numbers, as in '[1, 0.2]'")
                continue
            found[name] = (point[0], point[1])
        return found

    def _row(self, name: str, node: Node) -> None:
        """Anchors that repeat: from one point to another, or along an arc between two angles in degrees."""
        inner = self._inner(node, ("from", "to", "centre", "radius"), "a row of anchors")
        arc = "centre" in inner or "radius" in inner
        needed = ("from", "to", "centre", "radius") if arc else ("from", "to")
        read = {f: self._numbers(inner[f], 2 if f == "centre" or not arc else 1) for f in needed if f in inner}
        values = [read.get(field) for field in needed]
        if "#" not in name or any(value is None for value in values):
            ways = "{from: [1, 0.4], to: [1, -0.4]}", "{centre: [0, 0], radius: 1, from: 90, to: -90}"
            self.r.fault(node, f"a row of anchors is for a name with '#' and is written '{ways[0]}' or '{ways[1]}'")
            return
        first, last, *rest = (value for value in values if value is not None)
        self.rows[name] = Row(first, last, (*rest[0], *rest[1]) if arc else None)  # type: ignore[arg-type]

    @staticmethod
    def _numbers(node: Node, count: int) -> tuple[float, ...] | None:
        nodes = node.value if isinstance(node, Sequence) else [node]
        try:
            found = tuple(float(n.value) for n in nodes if isinstance(n, Scalar))
        except ValueError:
            return None
        return found if len(found) == count and all(map(isfinite, found)) else None

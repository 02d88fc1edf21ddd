"""The parts of a kind, read from its file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.kinds._checks import check_hands, check_kind
from netlister.kinds._written import DEAD, Written
from netlister.kinds.model import (
    Bar,
    Blade,
    BladeWith,
    Bond,
    Count,
    Definition,
    End,
    Made,
    MadeWith,
    Measure,
    Nose,
    Note,
    OwnShape,
    Route,
    Sealed,
)
from netlister.quantity import NUMBER, shown
from netlister.source import Mapping, TextNode, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable

HANDS = ("right", "left", "wye")
NOTES = ("why", "joiners", "feeders", "contact", "trouble", "test")
MOST = 60
"""The greatest number of anything that a kind may repeat."""
FIELDS = ("kind", "hand", "length", "radius", "angle", "turn", "frog-number", "frog", "nose", "dead", "contacts", "set")
"""What an entry under `track` may have beside the options of its kind."""

_PlainValues = dict[str, tuple[tuple[str, ...], dict[str, tuple[tuple[str, str], ...]]]]
"""Options: per option its values and the rails that they bond."""


class KindReader(Written):
    """Reads one kind."""

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
        check_hands(self, hands)
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
            check_kind(self, definition)
        return definition if len(self.r.faults) == before else None

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

    def _options(self, hands: Iterable[str]) -> _PlainValues:
        found: _PlainValues = {}
        node = self.fields.get("options")
        for name, key, value in [] if node is None else self.r.items(node, "each option with its values"):
            inner = self._inner(value, ("what", "values", "bonds", "default", "hands", "choice", "fault"), "an option")
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
            known = tuple(self._known(h, hands, "hand") for h in for_hands)
            fault = self._known(inner["fault"], values, "value") if "fault" in inner else ""
            self.notes[name] = Note(what, default, known, choice, fault)
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

    def _places(self, node: TextNode | None, path: tuple[str | None, ...]) -> tuple[Measure, ...]:
        """Where the rails of a path meet: one place fewer than rails."""
        if node is None:
            return ()
        entries = self.r.entries(node, "places, as in '[0 mm, lead - frog-toe]'")
        if len(entries) != len(path) - 1:
            self.r.fault(node, f"{len(path)} lengths meet in {len(path) - 1} places, and {len(entries)} are given")
            return ()
        return tuple(self._sum(entry) for entry in entries)

    def _path(self, node: TextNode) -> tuple[str | None, ...]:
        known = (*self.rails, DEAD) if self.rails else ()
        rails = [self._known(e, known, "rail") for e in self.r.entries(node, "rails in order")]
        if not any(rail != DEAD for rail in rails):
            self.r.fault(node, "a wheel path needs a rail")
        return tuple(None if rail == DEAD else rail for rail in rails)

    def _notes(self) -> dict[str, str]:
        node = self.fields.get("notes")
        inner = {} if node is None else self._inner(node, NOTES, "the notes")
        return {name: self.r.text(value, "a text") or "" for name, value in inner.items()}

    def _shapes(self, hands: dict[str, dict[str, str]]) -> Iterable[OwnShape]:
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
            yield OwnShape(tuple(given), sizes, dead, self._draw(inner.get("draw")))

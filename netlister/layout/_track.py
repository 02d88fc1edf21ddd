"""Pieces of track."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister import quantity
from netlister.kinds import KindError
from netlister.layout._context import either
from netlister.layout.model import NO_SETS, Notice, Piece, Said
from netlister.layout.schema import PIECE, PLAIN
from netlister.lengths import Metres
from netlister.quantity import shown
from netlister.source import Mapping, Scalar, Sequence

if TYPE_CHECKING:
    from netlister.kinds import Takes
    from netlister.kinds.model import Count, Kind
    from netlister.layout._context import Fields, LayoutReader
    from netlister.layout.model import Cube
    from netlister.source import TextNode


USUAL = frozenset({"kind", "hand", "length"})


# -- pieces


def read_track(r: LayoutReader) -> None:
    """Read the section `track`; `set` and `contacts` are left for later, when all positions are known."""
    _Pieces(r).read()


class _Pieces:
    """Reads pieces; kinds are looked up once for each kind and hand."""

    def __init__(self, r: LayoutReader) -> None:
        self.r = r
        self.kinds: dict[tuple[str, str, tuple[tuple[str, str], ...]], Kind] = {}
        self.takes: dict[str, Takes] = {}

    def read(self) -> None:
        """Read all of them. Plain track and plain turnouts take the short way."""
        r, kinds = self.r, self.kinds
        pieces, place, length_of, bar_positions = r.layout.pieces, r.place, quantity.parse, r.bar_positions
        metre = quantity.LENGTH
        no_options: tuple[tuple[str, str], ...] = ()
        alike: dict[tuple[tuple[str, str], ...], dict[str, str]] = {}
        for name, key, value in r.entries_of["track"]:
            try:
                texts = {k.value: v.value for k, v in value.value}
                kind = kinds[texts.get("kind", PLAIN), texts.get("hand", ""), no_options]
                if len(texts) != len(value.value) or not texts.keys() <= USUAL:
                    raise KeyError  # noqa: TRY301
                length = Metres(length_of(texts["length"], metre)) if "length" in texts else None
            except (KeyError, TypeError, AttributeError, ValueError):
                self._slowly(name, key, value)
                continue
            bars = kind.bars
            if not bars:
                names: tuple[str, ...] = ()
            elif len(bars) == 1:
                names = (name,)
                bar_positions[name] = bars[0].positions
            else:
                names = self._bars(name, kind)
            texts.pop("kind", None)
            options = alike.setdefault(tuple(texts.items()), texts)
            pieces[name] = Piece(name, kind, options, False, length, names, NO_SETS, place(key))

    def _bars(self, name: str, kind: Kind) -> tuple[str, ...]:
        """The names of the tie bars of a piece; their positions are noted."""
        if len(kind.bars) == 1:
            names: tuple[str, ...] = (name,)
        else:
            names = tuple(f"{name}.{bar.name}" for bar in kind.bars)
        for full, bar in zip(names, kind.bars, strict=True):
            self.r.bar_positions[full] = bar.positions
        return names

    def _slowly(self, name: str, key: TextNode, value: TextNode) -> None:
        """Read any piece, saying what is wrong with it."""
        r = self.r
        fields: Fields = {n: v for n, _, v in r.items(value, "a piece of track")}
        keys: Fields = {k.value: k for k, _ in value.value if type(k) is Scalar} if type(value) is Mapping else {}
        self._renamed(name, fields, keys)
        kind = self._kind(name, key, fields)
        if kind is None:
            r.faulty.add(name)
            r.amount(fields, PIECE["length"])
            return
        self._check_fields(kind, fields, keys)
        options = {f: v.value for f, v in fields.items() if type(v) is Scalar and f != "kind"}
        length = r.length(fields, PIECE["length"])
        radius, angle = r.length(fields, PIECE["radius"]), r.amount(fields, PIECE["angle"])
        if kind.plain and ("radius" in fields or "angle" in fields):
            self._check_curve(fields)
            length = radius * angle if radius is not None and angle is not None else length
        number = r.amount(fields, PIECE["frog-number"])
        nose, plastic = (r.length(fields, PIECE[key]) for key in ("nose", "dead"))
        said = Said(number, radius, angle, nose, plastic)
        dead = "frog" in fields and r.word(fields["frog"], PIECE["frog"].words, "frog") == "dead"
        bars = self._bars(name, kind)
        r.layout.pieces[name] = Piece(name, kind, options, dead, length, bars, NO_SETS, r.place(key), said)

    def _renamed(self, name: str, fields: Fields, keys: Fields) -> None:
        """Take a field by the name that it had before, and say so."""
        r = self.r
        written = fields.get("kind")
        if type(written) is not Scalar or written.value not in r.library.names():
            return
        number = r.library.takes(written.value).number
        if number is None or number.was not in fields or number.option in fields:
            return
        was, now = number.was, number.option
        fields[now], keys[now] = fields.pop(was), keys.pop(was)
        message = f"'{was}' is called '{now}' now; it is read as that"
        r.layout.notices.append(Notice("old-word", name, message, f"write '{now}'", r.place(keys[now])))

    def _kind(self, name: str, key: TextNode, fields: Fields) -> Kind | None:
        """The kind of a piece, or None and a fault."""
        r = self.r
        written = fields.get("kind")
        text = PLAIN if written is None else r.text(written, "the kind of a piece")
        if text is None:
            return None
        takes = self._takes(written or key, text)
        if takes is None:
            return None
        hand = self._hand(name, key, text, takes, fields.get("hand"))
        options = []
        for option, allowed in takes.options.items():
            if option in fields:
                number = takes.number if takes.number and takes.number.option == option else None
                chosen = (
                    r.word(fields[option], allowed, option) if number is None else self._number(fields[option], number)
                )
                if chosen is not None:
                    options.append((option, chosen))
        if hand is None:
            return None
        found = self.kinds.get((text, hand, tuple(options)))
        if found is None:
            try:
                found = r.library.kind(text, hand, tuple(options))
            except KindError as error:
                r.fault(written or key, str(error))
                return None
            self.kinds[text, hand, tuple(options)] = found
        return found

    def _number(self, node: TextNode, number: Count) -> str | None:
        """How many roads or the like, or None and a fault."""
        text = self.r.text(node, "a whole number")
        if text is None:
            return None
        known = [str(k) for k in range(number.least, number.most + 1)]
        if text not in known:
            between = f"a whole number from {number.least} to {number.most}"
            self.r.fault(node, f"'{number.option}' cannot be '{shown(text)}'; write {between}")
            return None
        return text

    def _takes(self, node: TextNode, text: str) -> Takes | None:
        """What a kind takes, or None and a fault for one that does not exist."""
        r = self.r
        found = self.takes.get(text)
        if found is not None:
            return found
        names = r.library.names()
        if text not in names:
            if not text:
                r.fault(node, "no kind is written here; write one or leave 'kind' out for a rail-section")
                return None
            if r.kinds_missing:
                return None
            hint = r.suggest(text, list(names)) or f"; the kinds are {', '.join(sorted(names))}"
            r.fault(node, f"there is no kind '{shown(text)}'{hint}")
            return None
        found = self.takes[text] = r.library.takes(text)
        return found

    def _hand(self, name: str, key: TextNode, kind: str, takes: Takes, written: TextNode | None) -> str | None:
        r = self.r
        if not takes.hands:
            if written is not None:
                r.fault(written, f"'{kind}' has no hand; leave 'hand' out")
            return ""
        if written is None:
            ways = [f"hand: {hand}" for hand in sorted(takes.hands)]
            r.missing(key, name, f"has no hand, which '{kind}' needs; add {either(ways)}")
            return None
        return r.word(written, sorted(takes.hands), "hand")

    def _check_fields(self, kind: Kind, fields: Fields, keys: Fields) -> None:
        """Refuse the fields that a kind does not take."""
        r = self.r
        options = self.takes[kind.name].options
        for field in fields:
            message = ""
            if field in options or field in {"kind", "hand", "length"}:
                continue
            if field not in PIECE.keys:
                self._unknown(kind, field, keys[field], options)
            elif field in {"radius", "angle"}:
                continue
            elif field == "turn":
                r.word(fields[field], PIECE[field].words, field)
                if "radius" not in fields:
                    message = "'turn' is for a curve; add 'radius' and 'angle' or leave 'turn' out"
            elif field in {"frog-number", "frog"} and kind.plain:
                message = f"'{kind.name}' has no frog; leave '{field}' out"
            elif field == "nose" and not kind.noses:
                message = f"'{kind.name}' has no insulated nose between two rails; leave 'nose' out"
            elif field == "dead" and not kind.plastic:
                message = f"'{kind.name}' has no length of plastic under the wheels; leave 'dead' out"
            elif field == "set" and not kind.crossing:
                message = "'set' is for a crossing without blades; leave it out"
            elif field == "contacts" and len(kind.bars) != 1:
                message = self._no_contacts(kind)
            if message:
                r.fault(keys[field], message)

    def _unknown(self, kind: Kind, field: str, node: TextNode, options: dict[str, tuple[str, ...]]) -> None:
        r = self.r
        others = [name for name in r.library.names() if field in r.library.takes(name).options]
        if others:
            r.fault(node, f"'{kind.name}' takes no '{field}', only {either(others)}; leave it out")
            return
        hint = r.suggest(field, [*sorted(PIECE.keys), *options]) or f"; it takes {', '.join(self._taken(kind))}"
        r.fault(node, f"'{kind.name}' takes no '{shown(field)}'{hint}")

    def _taken(self, kind: Kind) -> list[str]:
        """The fields that a kind takes."""
        found = ["kind", *(["hand"] if self.takes[kind.name].hands else []), "length"]
        found += ["radius", "angle", "turn"] if kind.plain else ["frog-number", "frog"]
        found += ["nose"] if kind.noses else []
        found += ["dead"] if kind.plastic else []
        found += [*self.takes[kind.name].options, *(["contacts"] if len(kind.bars) == 1 else [])]
        return found + (["set"] if kind.crossing else [])

    @staticmethod
    def _no_contacts(kind: Kind) -> str:
        if kind.bars:
            return f"'{kind.name}' has several tie bars; write its contacts under the machine that throws one"
        return f"'{kind.name}' has no blades that could move contacts; write them under 'machines' or 'switches'"

    def _check_curve(self, fields: Fields) -> None:
        """A curve has a radius and an angle, and no other length than these give."""
        r = self.r
        for one, other, example in (("radius", "angle", "30 deg"), ("angle", "radius", "450 mm")):
            if other not in fields:
                r.fault(fields[one], f"a curve has a radius and an angle; add '{other}: {example}'")
        if "length" in fields:
            r.fault(fields["length"], "a curve's length follows from its radius and angle; leave 'length' out")


def read_sets(r: LayoutReader) -> None:
    """Read `set` of the crossings: the positions in which each of their tracks is set."""
    for name, _, value in r.entries_of["track"]:
        piece = r.layout.pieces.get(name)
        if piece is None or not piece.kind.crossing:
            continue
        for field, node in value.value if type(value) is Mapping else ():
            if field.value == "set":
                r.layout.pieces[name] = piece._replace(sets=_read_set(r, piece, node))


def _read_set(r: LayoutReader, piece: Piece, node: TextNode) -> dict[str, tuple[Cube, ...]]:
    tracks = [route.name for route in piece.kind.routes]
    found = {}
    for track, key, value in r.items(node, "a position for each track, as in '{1: {T5: through}}',"):
        if track in tracks:
            what = "the positions that set this track, as in '{T5: through}',"
            ways = value.value if type(value) is Sequence else [value]
            found[track] = tuple(cube for way in ways for cube in r.cubes(way, what))
        else:
            r.fault(key, f"'{shown(piece.name)}' has no track '{shown(track)}'; write {either(tracks)}")
    return found

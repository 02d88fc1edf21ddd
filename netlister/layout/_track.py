"""Pieces of track and the joints between them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister import quantity
from netlister.kinds import KindError
from netlister.layout._context import either
from netlister.layout.model import Joint, Notice, Piece, Said
from netlister.layout.schema import JOINT, PIECE, PLAIN
from netlister.quantity import shown
from netlister.source import Mapping, Scalar, Sequence

if TYPE_CHECKING:
    from netlister.kinds import Takes
    from netlister.kinds.model import Count, End, Kind
    from netlister.layout._context import Reading
    from netlister.source import Node

Fields = dict[str, "Node"]

USUAL = frozenset({"kind", "hand", "length"})
_JOINT_KEYS = JOINT.keys


# -- pieces


def read_track(r: Reading) -> None:
    """Read the section `track`; `set` and `contacts` are left for later, when all positions are known."""
    _Pieces(r).read()


class _Pieces:
    """Reads pieces; kinds are looked up once for each kind and hand."""

    def __init__(self, r: Reading) -> None:
        self.r = r
        self.kinds: dict[tuple[str, str, tuple[tuple[str, str], ...]], Kind] = {}
        self.takes: dict[str, Takes] = {}

    def read(self) -> None:
        """Read all of them. Plain track and plain turnouts take the short way."""
        r, kinds = self.r, self.kinds
        pieces, place, length_of, bar_positions = r.layout.pieces, r.place, quantity.parse, r.bar_positions
        metre = quantity.LENGTH
        no_options: tuple[tuple[str, str], ...] = ()
        for name, key, value in r.entries_of["track"]:
            try:
                texts = {k.value: v.value for k, v in value.value}
                kind = kinds[texts.get("kind", PLAIN), texts.get("hand", ""), no_options]
                if len(texts) != len(value.value) or not texts.keys() <= USUAL:
                    raise KeyError  # noqa: TRY301
                length = length_of(texts["length"], metre) if "length" in texts else None
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
            pieces[name] = Piece(name, kind, texts, False, length, names, {}, place(key))

    def _bars(self, name: str, kind: Kind) -> tuple[str, ...]:
        """The names of the tie bars of a piece; their positions are noted."""
        if len(kind.bars) == 1:
            names: tuple[str, ...] = (name,)
        else:
            names = tuple(f"{name}.{bar.name}" for bar in kind.bars)
        for full, bar in zip(names, kind.bars, strict=True):
            self.r.bar_positions[full] = bar.positions
        return names

    def _slowly(self, name: str, key: Node, value: Node) -> None:
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
        length = r.amount(fields, PIECE["length"])
        radius, angle = r.amount(fields, PIECE["radius"]), r.amount(fields, PIECE["angle"])
        if kind.plain and ("radius" in fields or "angle" in fields):
            self._check_curve(fields)
            length = radius * angle if radius is not None and angle is not None else length
        number, nose, plastic = (r.amount(fields, PIECE[key]) for key in ("frog-number", "nose", "dead"))
        said = Said(number, radius, angle, nose, plastic)
        dead = "frog" in fields and r.word(fields["frog"], PIECE["frog"].words, "frog") == "dead"
        bars = self._bars(name, kind)
        r.layout.pieces[name] = Piece(name, kind, options, dead, length, bars, {}, r.place(key), said)

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

    def _kind(self, name: str, key: Node, fields: Fields) -> Kind | None:
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

    def _number(self, node: Node, number: Count) -> str | None:
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

    def _takes(self, node: Node, text: str) -> Takes | None:
        """What a kind takes, or None and a fault for one that there is not."""
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

    def _hand(self, name: str, key: Node, kind: str, takes: Takes, written: Node | None) -> str | None:
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

    def _unknown(self, kind: Kind, field: str, node: Node, options: dict[str, tuple[str, ...]]) -> None:
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


def read_sets(r: Reading) -> None:
    """Read `set` of the crossings: the positions in which each of their tracks is set."""
    for name, _, value in r.entries_of["track"]:
        piece = r.layout.pieces.get(name)
        if piece is None or not piece.kind.crossing:
            continue
        for field, node in value.value if type(value) is Mapping else ():
            if field.value == "set":
                _read_set(r, piece, node)


def _read_set(r: Reading, piece: Piece, node: Node) -> None:
    tracks = [route.name for route in piece.kind.routes]
    for track, key, value in r.items(node, "a position for each track, as in '{1: {T5: through}}',"):
        if track in tracks:
            what = "the positions that set this track, as in '{T5: through}',"
            ways = value.value if type(value) is Sequence else [value]
            piece.sets[track] = tuple(cube for way in ways for cube in r.cubes(way, what))
        else:
            r.fault(key, f"'{shown(piece.name)}' has no track '{shown(track)}'; write {either(tracks)}")


# -- joints


def read_joints(r: Reading) -> None:
    """Read the section `joints`."""
    section = r.sections.get("joints")
    if section is not None:
        _Joints(r).read(r.entries(section[1], "a row of joints"))


class _Joints:
    """Reads joints; holds the ends that are joined already."""

    def __init__(self, r: Reading) -> None:
        self.r = r
        self.used: dict[tuple[str, str], Node] = {}

    def read(self, entries: list[Node]) -> None:
        """Read all of them. Joints of pieces known, without mistakes, take the short way."""
        r, used = self.r, self.used
        pieces, joints, place = r.layout.pieces, r.layout.joints, r.place
        for node in entries:
            try:
                texts = {key.value: value.value for key, value in node.value}
                if len(texts) != len(node.value) or not texts.keys() <= _JOINT_KEYS:
                    raise KeyError  # noqa: TRY301
                start_text, end_text = texts["from"], texts["to"]
                first, dot, end = start_text.partition(".")
                from_kind = pieces[first].kind
                if dot:
                    start = from_kind.ends[end]
                elif from_kind.plain or len(from_kind.ends) == 1:
                    start = _alone(from_kind, entering=False)
                else:
                    raise KeyError  # noqa: TRY301
                second, dot, end = end_text.partition(".")
                to_kind = pieces[second].kind
                if dot:
                    stop = to_kind.ends[end]
                elif to_kind.plain or len(to_kind.ends) == 1:
                    stop = _alone(to_kind, entering=True)
                else:
                    raise KeyError  # noqa: TRY301
                how = texts.get("insulate", "none")
                left, right = _INSULATED[how]
            except (KeyError, TypeError, AttributeError, ValueError):
                self._slowly(node)
                continue
            here, there = (first, start.name), (second, stop.name)
            if here in used or there in used or here == there:
                self._slowly(node)
                continue
            used[here] = used[there] = node
            other_left, other_right = stop.left, stop.right
            if start.entering == stop.entering:
                other_left, other_right = other_right, other_left
            if how == "vee":
                left = from_kind.is_changing(start.left) or to_kind.is_changing(other_left)
                right = from_kind.is_changing(start.right) or to_kind.is_changing(other_right)
                if not (left or right or start.name in from_kind.gaps or stop.name in to_kind.gaps):
                    self._nothing(node)
            if start.name in from_kind.gaps or stop.name in to_kind.gaps:
                left = right = True
            pairs = (
                (f"{first}.{start.left}", f"{second}.{other_left}", left),
                (f"{first}.{start.right}", f"{second}.{other_right}", right),
            )
            name = self._id(node) if "id" in texts else ""
            joints.append(Joint(name or f"{start_text}/{end_text}", here, there, pairs, how, place(node)))

    def _id(self, node: Node) -> str:
        return self.r.name_id(next(value for key, value in node.value if key.value == "id"))

    def _nothing(self, node: Node) -> None:
        """Warn of `insulate: vee` without anything to insulate."""
        r = self.r
        texts = {key.value: value.value for key, value in node.value}
        subject = texts.get("id") or f"{texts['from']}/{texts['to']}"
        message = (
            "'insulate: vee' insulates nothing here: no rail named frog… or closure-… meets at this joint, "
            "so both rails have metal joiners"
        )
        fix = "write 'insulate: left', 'right' or 'both', or leave it out"
        r.layout.notices.append(Notice("nothing-insulated", subject, message, fix, r.place(node)))

    def _slowly(self, node: Node) -> None:
        """Say what is wrong with a joint."""
        r = self.r
        fields = r.fields(node, _JOINT_KEYS, "a joint")
        ends = []
        for field, entering in (("from", False), ("to", True)):
            if field in fields:
                ends.append((fields[field], self._end(fields[field], entering=entering)))
            elif r.lacks(node, fields, field):
                r.fault(node, f"this joint has no '{field}'; add the end of a piece, as in '{field}: T1.toe'")
        if "insulate" in fields:
            r.word(fields["insulate"], JOINT["insulate"].words, "insulate")
        if "id" in fields:
            r.name_id(fields["id"])
        if len(ends) == 2 and ends[0][1] is not None and ends[0][1] == ends[1][1]:  # noqa: PLR2004
            name = f"'{shown(ends[0][1][0])}.{ends[0][1][1]}'"
            r.fault(ends[1][0], f"{name} is joined to itself; name the end of another piece")
            ends.pop()
        for place, end in ends:
            if end is not None:
                self._use(place, end)

    def _end(self, node: Node, *, entering: bool) -> tuple[str, str] | None:
        """The piece and end written at a node, or None and a fault."""
        r = self.r
        text = r.text(node, "the end of a piece, as in 'T1.toe',")
        if text is None:
            return None
        name, dot, end = text.partition(".")
        piece = r.layout.pieces.get(name)
        if piece is None:
            r.unknown_name(node, name, "a piece of track", r.layout.pieces)
            return None
        kind = piece.kind
        if not dot:
            if kind.plain or len(kind.ends) == 1:
                return name, _alone(kind, entering=entering).name
            ways = [f"{name}.{e}" for e in kind.ends]
            r.fault(node, f"'{shown(name)}' has several ends; write {either(ways)}")
            return None
        if end in kind.ends:
            return name, end
        near = r.suggest(end, list(kind.ends)) or f"; write {either(f'{name}.{e}' for e in kind.ends)}"
        r.fault(node, f"'{shown(name)}' has no end '{shown(end)}'{near}")
        return None

    def _use(self, node: Node, end: tuple[str, str]) -> None:
        """Note the use of an end; the second is a fault."""
        first = self.used.get(end)
        if first is None:
            self.used[end] = node
            return
        line = self.r.line(first)
        name = f"'{shown(end[0])}.{end[1]}'"
        self.r.fault(node, f"{name} is joined already, in line {line}; an end is joined once")


_INSULATED = {
    "none": (False, False),
    "left": (True, False),
    "right": (False, True),
    "both": (True, True),
    "vee": (False, False),
}


def _alone(kind: Kind, *, entering: bool) -> End:
    """The end meant where only the piece is named: as `from` its leaving end, as `to` its entering end."""
    ends = list(kind.ends.values())
    return next((end for end in ends if end.entering == entering), ends[0])

"""Joints between pieces of track."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout._context import either
from netlister.layout.model import Joint, Notice
from netlister.layout.schema import JOINT
from netlister.quantity import shown

if TYPE_CHECKING:
    from netlister.kinds.model import End, Kind
    from netlister.layout._context import LayoutReader
    from netlister.layout.model import Piece
    from netlister.source import TextNode


_JOINT_KEYS = JOINT.keys


def read_joints(r: LayoutReader) -> None:
    """Read the section `joints`."""
    section = r.sections.get("joints")
    if section is not None:
        _JointReader(r).read(r.entries(section[1], "a row of joints"))


class _JointReader:
    """Reads joints; holds the ends that are joined already."""

    def __init__(self, r: LayoutReader) -> None:
        self.r = r
        self.used: dict[tuple[str, str], TextNode] = {}

    def read(self, entries: list[TextNode]) -> None:
        """Read all of them. Joints of pieces known, without mistakes, take the short way."""
        r, used = self.r, self.used
        pieces, joints, place, share = r.layout.pieces, r.layout.joints, r.place, r.texts.setdefault
        for node in entries:
            try:
                texts = {key.value: value.value for key, value in node.value}
                if len(texts) != len(node.value) or not texts.keys() <= _JOINT_KEYS:
                    raise KeyError  # noqa: TRY301
                start_text, end_text = texts["from"], texts["to"]
                first, from_kind, start = _named(pieces, start_text, entering=False)
                second, to_kind, stop = _named(pieces, end_text, entering=True)
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
            a, b = f"{first}.{start.left}", f"{second}.{other_left}"
            c, d = f"{first}.{start.right}", f"{second}.{other_right}"
            pairs = ((share(a, a), share(b, b), left), (share(c, c), share(d, d), right))
            name = self._id(node) if "id" in texts else ""
            joints.append(Joint(name or f"{start_text}/{end_text}", here, there, pairs, how, place(node)))

    def _id(self, node: TextNode) -> str:
        return self.r.name_id(next(value for key, value in node.value if key.value == "id"))

    def _nothing(self, node: TextNode) -> None:
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

    def _slowly(self, node: TextNode) -> None:
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

    def _end(self, node: TextNode, *, entering: bool) -> tuple[str, str] | None:
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

    def _use(self, node: TextNode, end: tuple[str, str]) -> None:
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


def _named(pieces: dict[str, Piece], text: str, *, entering: bool) -> tuple[str, Kind, End]:
    """The piece that one side of a joint names, its kind and the end. Raises KeyError where that is not plain."""
    name, dot, end = text.partition(".")
    kind = pieces[name].kind
    if dot:
        return name, kind, kind.ends[end]
    if kind.plain or len(kind.ends) == 1:
        return name, kind, _alone(kind, entering=entering)
    raise KeyError(text)


def _alone(kind: Kind, *, entering: bool) -> End:
    """The end meant where only the piece is named: as `from` its leaving end, as `to` its entering end."""
    ends = list(kind.ends.values())
    return next((end for end in ends if end.entering == entering), ends[0])

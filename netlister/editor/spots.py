"""What stands where in the text of a layout: every key and every text in it, with what the schema says of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.layout import schema
from netlister.layout.forms import Either, EntrySchema, Rows, Under
from netlister.layout.schema import NAMED, TOP

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.edits.tree import TreeNode
    from netlister.layout.forms import Form, Key

Path = tuple["str | int", ...]
"""The keys and numbers of list entries that lead to something, from the top."""

POSITIONS = schema.TOP["never"].form
assert isinstance(POSITIONS, Rows)
CUBE = POSITIONS.of
"""The form of a partial position."""

TERMINAL = schema.CONTACT.others
"""The form of a terminal."""


class TextSpot(NamedTuple):
    """A key or a text of the file.

    `node`: where it stands. `path`: the keys that lead to it, itself included where it is a key. `key`: the key of the
    schema that it is, or under which it is written. `form`: of a text, what may be written there. `role`: "section";
    "name" (of an entry of a section, a contact, a pin, a pole); "key"; "variable" (of a partial position); "position"
    (of a contact); "text"; "unknown" (key) and "option" (its text). `entry`: the map in which it stands;
    `schema`: what that may hold.
    """

    node: TreeNode
    role: str
    path: Path
    key: Key | None = None
    form: Form | None = None
    entry: TreeNode | None = None
    schema: EntrySchema | None = None


def spots(root: TreeNode) -> Iterator[TextSpot]:
    """Every key and text of a file, in the order of the text; of what stands in several places the first."""
    if root.kind != "map":
        return
    for key, value in root.pairs:
        path: Path = (key.meant.text,)
        found = TOP.get(key.meant.text)
        yield TextSpot(key, "section", path, found, None, root)
        if found is not None:
            yield from _under(value, found.form, found, path, None)


def _under(
    node: TreeNode, form: Form, key: Key, path: Path, inside: tuple[TreeNode, EntrySchema] | None
) -> Iterator[TextSpot]:
    """What stands in the place of a form."""
    node = node.meant if node.kind == "alias" else node
    match form:
        case Under():
            yield from _map(node, form, key, path)
        case Rows(of, alone):
            if node.kind == "list":
                for number, item in enumerate(node.items):
                    yield from _under(item, of, key, (*path, number), inside)
            elif alone or node.kind == "map":
                yield from _under(node, of, key, path, inside)
            else:
                yield TextSpot(node, "text", path, key, of, *(inside or (None, None)))
        case Either(forms):
            yield from _under(node, _fitting(node, forms), key, path, inside)
        case EntrySchema():
            yield from _entry(node, form, key, path)
        case _:
            if node.kind == "scalar":
                yield TextSpot(node, "text", path, key, form, *(inside or (None, None)))


def _fitting(node: TreeNode, forms: tuple[Form, ...]) -> Form:
    """The form that something is written in."""
    kinds = {"map": (Under, EntrySchema), "list": (Rows,)}.get(node.kind)
    plain = [form for form in forms if not isinstance(form, Under | Rows | EntrySchema)]
    fits = [form for form in forms if isinstance(form, kinds)] if kinds else plain
    return (fits or list(forms))[0]


def _map(node: TreeNode, form: Under, key: Key, path: Path) -> Iterator[TextSpot]:
    for name, value in node.pairs:
        inner = (*path, name.meant.text)
        role = "variable" if form == CUBE else "name"
        yield TextSpot(name, role, inner, key, form, node)
        yield from _under(value, form.of, key, inner, None)


def _entry(node: TreeNode, form: EntrySchema, key: Key, path: Path) -> Iterator[TextSpot]:
    if node.kind == "scalar" and not node.empty:
        yield TextSpot(node, "text", path, key, form)
    for name, value in node.pairs:
        word = name.meant.text
        inner = (*path, word)
        if word in form.keys:
            yield TextSpot(name, "key", inner, form[word], None, node, form)
            yield from _under(value, form[word].form, form[word], inner, (node, form))
        elif form.others is not None:
            yield TextSpot(name, "position", inner, key, None, node, form)
            yield from _under(value, form.others, key, inner, (node, form))
        else:
            yield TextSpot(name, "unknown", inner, None, None, node, form)
            if value.kind == "scalar":
                yield TextSpot(value, "option", inner, None, None, node, form)


def spot_at(listed: Iterable[TextSpot], offset: int) -> TextSpot | None:
    """What stands at a place of the text: the smallest thing that reaches from before it to it."""
    found = [s for s in listed if s.node.start <= offset <= s.node.end and s.node.kind != "map"]
    return min(found, key=lambda s: s.node.end - s.node.start, default=None)


def is_entry(spot: TextSpot) -> bool:
    """Whether it is the name of an entry of a section."""
    return spot.role == "name" and len(spot.path) == 2 and spot.path[0] in NAMED  # noqa: PLR2004

"""What a schema is made of: forms of values, keys, kinds of entries.

An `EntrySchema` is one kind of entry (a supply, a joint, a train …) with its keys; a `Key` says what may be written
there, in one sentence what it means, and what its field in a netlist is called.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.quantity import Dimension


class Amount(NamedTuple):
    """A number and a unit."""

    dimension: Dimension


class Word(NamedTuple):
    """One of a few words."""

    words: tuple[str, ...]


class Truth(NamedTuple):
    """`true` or `false`."""


class Text(NamedTuple):
    """Any text: a name, a terminal, a title. `of`: what it names, or nothing.

    `refers`: what of the file it holds the name of: "entry" (of a section, up to a dot), "terminal", "joint" (its id
    or its two ends) or "kind"; nothing where it says nothing that could be named otherwise.
    """

    of: str = ""
    refers: str = ""


class WireSize(NamedTuple):
    """What a conductor is made of: a cross-section, a gauge number or a resistance per length."""


class Colour(NamedTuple):
    """The letters of a colour."""


class RailSection(NamedTuple):
    """A rail section, or the resistance of rail per length."""


class Rows(NamedTuple):
    """A list. `alone`: whether a single one may stand in its place."""

    of: Form
    alone: bool = False


class Under(NamedTuple):
    """A mapping of names to one form each. `names`: the only ones, if they are fixed."""

    of: Form
    names: tuple[str, ...] = ()


class Either(NamedTuple):
    """One form or another."""

    forms: tuple[Form, ...]


class Key(NamedTuple):
    """A key of an entry.

    `says`: its meaning in one sentence. `default`: what counts where it is left out, in words (nothing: it is
    just not known). `field`: what its field in a netlist is called; empty where nets or other fields say it.
    """

    name: str
    form: Form
    says: str
    default: str = ""
    field: str = ""
    required: bool = False

    @property
    def words(self) -> tuple[str, ...]:
        """The words that may stand here."""
        assert isinstance(self.form, Word)
        return self.form.words

    @property
    def dimension(self) -> Dimension:
        """The dimension of the quantity that may stand here."""
        assert isinstance(self.form, Amount)
        return self.form.dimension

    @property
    def attribute(self) -> str:
        """The name of its value in the layout as read."""
        return self.name.replace("-", "_")


class EntrySchema:
    """A kind of entry: what it is called with its article, its keys in the order of the netlist's fields."""

    def __init__(self, thing: str, says: str, *keys: Key, others: Form | None = None) -> None:
        self.thing = thing
        self.says = says
        self.row = keys
        self.keys = frozenset(key.name for key in keys)
        self.others = others  # what stands under any other key: of a contact, the positions of what moves it
        self._by_name = {key.name: key for key in keys}

    def __getitem__(self, name: str) -> Key:
        return self._by_name[name]


Form = Amount | Word | Truth | Text | WireSize | Colour | RailSection | Rows | Under | Either | EntrySchema

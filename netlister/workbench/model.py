"""What passes between the page and the desk."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.editor.naming import Renaming
    from netlister.edits.model import Edit
    from netlister.edits.patch import Patch
    from netlister.finding import Finding


class AskError(Exception):
    """A change that is not made; says why, and what to do instead."""


class SameError(AskError):
    """A change to what is there already."""


class StaleError(AskError):
    """A change of a text that is no longer the one in the file."""


class Asked(NamedTuple):
    """What an ask comes to: words, and changes, or a patch of the text, or the whole new text.

    `trouble`: why it must not be written, where it is only to be looked at. `renaming`: for what but a name the new
    text must be the same circuit.
    """

    say: str
    edit: Edit = ()
    patch: Patch | None = None
    text: str | None = None
    trouble: str = ""
    renaming: Renaming | None = None


class BeforeAfter(NamedTuple):
    """What a change does to the findings. `before`, `after`: how many errors, warnings and notes.

    `gone`, `new`: findings that go and come; `moved`: those that stay, in other positions. `unproved`: what could not
    be proved after the change.
    """

    before: tuple[int, int, int]
    after: tuple[int, int, int]
    gone: tuple[Finding, ...]
    new: tuple[Finding, ...]
    moved: tuple[Finding, ...]
    unproved: tuple[str, ...] = ()

"""What can be written at once to mend what is marked: repairs, and words that are near to those meant."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from netlister.editor.naming import Replaced, replaced
from netlister.source import Source, UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.editor.document import OpenDocument
    from netlister.editor.marks import Marking
    from netlister.edits.patch import TextEdit

_MEANT = re.compile(r"; did you mean '([^']+)'\?$")


class Fix(NamedTuple):
    """Edits that mend something. `title`: what is done, as an order. `only`: whether there is no other way known."""

    title: str
    edits: tuple[Replaced, ...]
    only: bool = False


def fixes(document: OpenDocument, mark: Marking) -> list[Fix]:
    """The edits of the text that mend what is marked. None for a netlist, and none where the text has changed since."""
    if document.faults:
        return list(_near(document, mark))
    return list(_repairs(document, mark))


def _repairs(document: OpenDocument, mark: Marking) -> Iterator[Fix]:
    """The repairs of a cause. What each writes is read again: it is the layout that was proved, or is not offered."""
    from netlister.edits.model import ImpossibleError
    from netlister.edits.text import EditError, text_edits

    now = document.current
    known = now.report.causes.get(mark.cause) if now is not None else None
    if now is None or known is None or now.layout.netlist:
        return
    for repair in known.repairs:
        try:
            edits = text_edits(now.layout, now.source, repair.edit, document.folder)
        except (EditError, ImpossibleError):
            continue
        if edits:
            yield Fix(repair.say, tuple(_by_offset(document.text, edits)), len(known.repairs) == 1)


def _by_offset(text: str, edits: list[TextEdit]) -> Iterator[Replaced]:
    starts = [0, *(match.end() for match in re.finditer(r"\r\n|\r|\n", text))]
    for edit in edits:
        start = starts[edit.line - 1] + edit.column - 1
        end = starts[edit.end_line - 1] + edit.end_column - 1
        yield Replaced(start, end, edit.text)


def _near(document: OpenDocument, mark: Marking) -> Iterator[Fix]:
    """The word that is near to an unknown one, if the text has a fault less with it."""
    meant = _MEANT.search(mark.message)
    if meant is None or mark.span.file != document.name:
        return
    start, end = offsets(document.text, mark)
    raw = document.text[start:end]
    quote = raw[:1] if raw[:1] in {"'", '"'} and raw[-1:] == raw[:1] and len(raw) > 1 else ""
    edit = Replaced(start, end, f"{quote}{meant[1]}{quote}")
    if _faults(document, replaced(document.text, [edit])) < len(document.faults):
        yield Fix(f"write '{meant[1]}'", (edit,), only=True)


def offsets(text: str, mark: Marking) -> tuple[int, int]:
    """Where a mark begins and ends in the text of its file."""
    return span_offsets(Source("", text), mark.span)


def span_offsets(source: Source, span: tuple[str, int, int, int, int]) -> tuple[int, int]:
    """Where a place of a file begins and ends in its text."""
    _, line, column, end_line, end_column = span
    starts = source.line_starts
    last = len(source.text)

    def at(number: int, col: int) -> int:
        return min(starts[number - 1] + col - 1, last) if number <= len(starts) else last

    start = at(line, column)
    return start, max(start, at(end_line, end_column))


def _faults(document: OpenDocument, text: str) -> int:
    from netlister.layout.read import read_layout

    try:
        read_layout(Source(document.name, text), document.folder)
    except UnusableError as error:
        return len(error.faults)
    return 0

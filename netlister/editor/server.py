"""The language server: what `netlister.editor` knows of a text, offered to any editor that speaks the protocol.

Language Server Protocol 3.17. It reads and answers on standard input and output, opens no port and writes no file;
every edit is offered to the editor, which makes it. Texts are looked at in a thread of their own, one at a time, a
moment after the last key.
"""

from __future__ import annotations

import asyncio
import logging
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

import netlister
from netlister.editor.document import OpenDocument, is_layout, looked_at
from netlister.editor.marks import Marking, failure_mark, fault_marks, marks
from netlister.editor.naming import names_in
from netlister.editor.places import TextPlaces
from netlister.finding import Severity
from netlister.source import UnusableError, read_source

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.editor.naming import Replaced

DELAY = 0.25
"""Seconds after the last key until a text is looked at."""

_SEVERITIES = {
    Severity.ERROR: lsp.DiagnosticSeverity.Error,
    Severity.WARNING: lsp.DiagnosticSeverity.Warning,
    Severity.NOTE: lsp.DiagnosticSeverity.Information,
}
_LOG = logging.getLogger(__name__)


@dataclass(slots=True)
class Opened:
    """A document that the editor has open. `turn`: how often its text was to be looked at."""

    uri: str
    version: int | None
    document: OpenDocument
    turn: int = 0
    marks: tuple[Marking, ...] = ()
    published: set[str] = field(default_factory=set)


class LayoutServer(LanguageServer):
    """A server with the documents that are open."""

    def __init__(self, delay: float = DELAY) -> None:
        super().__init__("netlister", netlister.__version__, lsp.TextDocumentSyncKind.Full)
        self.delay = delay
        self.opened: dict[str, Opened] = {}
        self.tasks: set[asyncio.Task[None]] = set()
        self.one_at_a_time = asyncio.Lock()

    # -- documents

    async def answer(self, answer: Callable[[Opened, Any], Any], params: Any) -> Any:
        """Answer in a thread, from a copy of the document, which no later change touches; None where it is not open."""
        one = self.opened.get(params.text_document.uri)
        if one is None:
            return None
        return await asyncio.to_thread(answer, replace(one, document=replace(one.document)), params)

    def take(self, uri: str, version: int | None, text: str) -> None:
        """Take in the text of a document as it is now, and look at it in a moment."""
        one = self.opened.get(uri)
        if one is None:
            path = to_fs_path(uri) if uri.startswith("file:") else None
            folder = Path(path).resolve().parent if path else None
            name = Path(path).name if path else uri.rpartition("/")[2] or "layout.yaml"
            one = self.opened[uri] = Opened(uri, version, OpenDocument(name, folder, text))
        one.version, one.document.text = version, text
        self.look_later(one)

    def look_later(self, one: Opened) -> None:
        """Look at a text when nothing was typed for a moment."""
        one.turn += 1
        task = asyncio.get_running_loop().create_task(self._look(one, one.turn))
        self.tasks.add(task)
        task.add_done_callback(self.tasks.discard)

    async def _look(self, one: Opened, turn: int) -> None:
        await asyncio.sleep(self.delay)
        async with self.one_at_a_time:
            document = one.document
            if one.turn != turn or one.uri not in self.opened:
                return
            text, version = document.text, one.version
            if not is_layout(text):
                document.checked, document.looked_at = None, None
                self.publish(one, (), version)
                return
            try:
                found = await asyncio.to_thread(looked_at, document.name, document.folder, text)
            except Exception as error:  # noqa: BLE001 - what is unexpected must not look like a text without faults
                _LOG.exception("a text could not be looked at")
                if one.turn == turn and one.uri in self.opened:
                    document.checked, document.looked_at = None, None
                    self.publish(one, (failure_mark(document.name, error),), version)
                return
            if one.uri not in self.opened:
                return
            document.settle(text, found)
            if one.turn == turn:
                told = fault_marks(found) if isinstance(found, tuple) else marks(found)
                self.publish(one, tuple(told), version)
                await asyncio.to_thread(names_in, replace(document))  # whoever asks for a name first need not wait

    def publish(self, one: Opened, told: tuple[Marking, ...], version: int | None) -> None:
        """Tell the editor what is marked; also in files of kinds that the layout uses."""
        one.marks = told
        by_uri: dict[str, list[lsp.Diagnostic]] = {one.uri: []}
        for mark in told:
            uri, places = self._place(one, mark.span.file)
            by_uri.setdefault(uri, []).append(self.diagnostic(one, mark, places))
        for uri in one.published - by_uri.keys():
            by_uri[uri] = []
        one.published = {uri for uri, listed in by_uri.items() if listed}
        for uri, listed in reversed(by_uri.items()):  # the document itself last
            number = version if uri == one.uri else None
            self.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri, listed, number))

    def diagnostic(self, one: Opened, mark: Marking, places: TextPlaces) -> lsp.Diagnostic:
        """A mark as the editor shows it."""
        related = []
        for other in mark.related:
            uri, there = self._place(one, other.span.file)
            related.append(
                lsp.DiagnosticRelatedInformation(lsp.Location(uri, there.of_span(other.span)), other.message)
            )
        return lsp.Diagnostic(
            range=places.of_span(mark.span),
            message=mark.message,
            severity=_SEVERITIES[mark.severity],
            code=mark.code,
            source="netlister",
            related_information=related or None,
        )

    def _place(self, one: Opened, file: str) -> tuple[str, TextPlaces]:
        """The document that a file's name stands for, and the places in it: itself, or a file of kinds."""
        folder = one.document.folder
        if file == one.document.name or folder is None:
            return one.uri, self.places(one)
        path = folder / file
        try:
            source = read_source(str(path))
        except UnusableError:
            return one.uri, self.places(one)
        return from_fs_path(str(path)) or one.uri, TextPlaces(source.text, self._codec)

    def places(self, one: Opened) -> TextPlaces:
        """The places in a document's text."""
        return TextPlaces(one.document.text, self._codec)

    @property
    def _codec(self) -> Any:
        return self.workspace.position_codec

    def close(self, uri: str) -> None:
        """Forget a document, and unmark what it marked."""
        one = self.opened.pop(uri, None)
        for marked in {uri, *(one.published if one is not None else ())}:
            self.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(marked, []))

    def look_again(self, uris: list[str]) -> None:
        """Look again at the layouts that use one of these files."""
        changed = {Path(path).resolve() for uri in uris if (path := to_fs_path(uri))}
        for one in self.opened.values():
            folder = one.document.folder
            use = one.document.checked.layout.use if one.document.checked is not None else ()
            marked = {Path(path).resolve() for uri in one.published if (path := to_fs_path(uri)) and uri != one.uri}
            if folder is not None and changed & ({(folder / file).resolve() for file in use} | marked):
                self.look_later(one)

    # -- edits

    def edit(self, one: Opened, edits: tuple[Replaced, ...] | list[Replaced]) -> lsp.WorkspaceEdit:
        """Edits of a document's text as it is now, for the editor to make."""
        places = self.places(one)
        listed = [lsp.TextEdit(places.range(e.start, e.end), e.text) for e in edits]
        able = self.client_capabilities.workspace
        if able is not None and able.workspace_edit is not None and able.workspace_edit.document_changes:
            document = lsp.OptionalVersionedTextDocumentIdentifier(one.uri, one.version)
            return lsp.WorkspaceEdit(document_changes=[lsp.TextDocumentEdit(document, [*listed])])
        return lsp.WorkspaceEdit(changes={one.uri: listed})

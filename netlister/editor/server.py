"""The language server: what `netlister.editor` knows of a text, told to any editor that speaks the protocol.

Language Server Protocol 3.17. It reads and answers on standard input and output, opens no port and writes no file;
every edit is offered to the editor, which makes it. Texts are looked at in a thread of their own, one at a time, a
moment after the last key.
"""

from __future__ import annotations

import asyncio
import logging
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcInvalidParams
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

import netlister
from netlister.editor import completion, outline
from netlister.editor.document import OpenDocument, is_layout, looked_at
from netlister.editor.fixes import fixes
from netlister.editor.hover import hover, rule_summary
from netlister.editor.marks import Marking, failure_mark, fault_marks, marks
from netlister.editor.naming import KIND, NamingError, definition_in_kinds, names_in, rename
from netlister.editor.places import Places
from netlister.finding import Severity
from netlister.source import UnusableError, read_source

if TYPE_CHECKING:
    from netlister.editor.naming import Names, Replaced, Use
    from netlister.editor.outline import Outlined

DELAY = 0.25
"""Seconds after the last key until a text is looked at."""

_SEVERITIES = {
    Severity.ERROR: lsp.DiagnosticSeverity.Error,
    Severity.WARNING: lsp.DiagnosticSeverity.Warning,
    Severity.NOTE: lsp.DiagnosticSeverity.Information,
}
_ITEMS = {
    completion.KEY: lsp.CompletionItemKind.Property,
    completion.NAME: lsp.CompletionItemKind.Reference,
    completion.WORD: lsp.CompletionItemKind.EnumMember,
    completion.VALUE: lsp.CompletionItemKind.Unit,
    completion.PAGE: lsp.CompletionItemKind.Text,
}
_SYMBOLS = {
    outline.SECTION: lsp.SymbolKind.Namespace,
    outline.PART: lsp.SymbolKind.Object,
    outline.CONTACT: lsp.SymbolKind.Interface,
    outline.ENTRY: lsp.SymbolKind.Array,
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

    def publish(self, one: Opened, told: tuple[Marking, ...], version: int | None) -> None:
        """Tell the editor what is marked; also in files of kinds that the layout uses."""
        one.marks = told
        by_uri: dict[str, list[lsp.Diagnostic]] = {one.uri: []}
        for mark in told:
            uri, places = self._place(one, mark.span.file)
            by_uri.setdefault(uri, []).append(self._diagnostic(one, mark, places))
        for uri in one.published - by_uri.keys():
            by_uri[uri] = []
        one.published = {uri for uri, listed in by_uri.items() if listed}
        for uri, listed in reversed(by_uri.items()):  # the document itself last
            number = version if uri == one.uri else None
            self.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri, listed, number))

    def _diagnostic(self, one: Opened, mark: Marking, places: Places) -> lsp.Diagnostic:
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

    def _place(self, one: Opened, file: str) -> tuple[str, Places]:
        """The document that a file's name stands for, and the places in it: itself, or a file of kinds."""
        folder = one.document.folder
        if file == one.document.name or folder is None:
            return one.uri, self.places(one)
        path = folder / file
        try:
            source = read_source(str(path))
        except UnusableError:
            return one.uri, self.places(one)
        return from_fs_path(str(path)) or one.uri, Places(source.text, self._codec)

    def places(self, one: Opened) -> Places:
        """The places in a document's text."""
        return Places(one.document.text, self._codec)

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


def make(delay: float = DELAY) -> LayoutServer:  # noqa: C901, PLR0915 - one answer after the other
    """A server, ready to be started. `delay`: seconds from the last key until a text is looked at."""
    server = LayoutServer(delay)

    @server.feature(lsp.TEXT_DOCUMENT_DID_OPEN)
    def did_open(params: lsp.DidOpenTextDocumentParams) -> None:
        server.take(params.text_document.uri, params.text_document.version, params.text_document.text)

    @server.feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def did_change(params: lsp.DidChangeTextDocumentParams) -> None:
        uri = params.text_document.uri
        server.take(uri, params.text_document.version, server.workspace.get_text_document(uri).source)

    @server.feature(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def did_close(params: lsp.DidCloseTextDocumentParams) -> None:
        server.close(params.text_document.uri)

    @server.feature(lsp.TEXT_DOCUMENT_DID_SAVE)
    def did_save(params: lsp.DidSaveTextDocumentParams) -> None:
        server.look_again([params.text_document.uri])

    @server.feature(lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES)
    def files_changed(params: lsp.DidChangeWatchedFilesParams) -> None:
        server.look_again([change.uri for change in params.changes])

    def opened(uri: str) -> Opened | None:
        return server.opened.get(uri)

    def named_at(one: Opened, position: lsp.Position, *, exactly: bool = False) -> tuple[Names, Use] | None:
        names = names_in(one.document)
        if names is None:
            return None
        use = names.at(server.places(one).offset(position), exactly=exactly)
        return None if use is None else (names, use)

    @server.feature(lsp.TEXT_DOCUMENT_HOVER)
    def on_hover(params: lsp.HoverParams) -> lsp.Hover | None:
        one = opened(params.text_document.uri)
        if one is None or not is_layout(one.document.text):
            return None
        places = server.places(one)
        offset = places.offset(params.position)
        found = hover(one.document, offset)
        told = [found.markdown] if found is not None else []
        if one.document.settled:
            here = [m for m in one.marks if m.span.file == one.document.name and places.holds(m.span, offset)]
            told += [page for code in dict.fromkeys(m.code for m in here) if (page := rule_summary(code))]
        if not told:
            return None
        where = places.range(found.start, found.end) if found is not None else None
        return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, "\n\n---\n\n".join(told)), where)

    @server.feature(lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=[".", " ", "{", "[", ","]))
    def on_completion(params: lsp.CompletionParams) -> lsp.CompletionList | None:
        one = opened(params.text_document.uri)
        if one is None or (one.document.text.strip() and not is_layout(one.document.text)):
            return None
        places = server.places(one)
        offer = completion.complete(one.document, places.offset(params.position))
        where = places.range(offer.start, offer.end)
        items = [
            lsp.CompletionItem(
                label=item.label,
                kind=_ITEMS[item.kind],
                detail=item.detail or None,
                documentation=lsp.MarkupContent(lsp.MarkupKind.Markdown, item.says) if item.says else None,
                sort_text=f"{number:05}",
                filter_text=item.label,
                text_edit=lsp.TextEdit(where, item.text),
            )
            for number, item in enumerate(offer.items)
        ]
        return lsp.CompletionList(is_incomplete=False, items=items)

    @server.feature(lsp.TEXT_DOCUMENT_DEFINITION)
    def on_definition(params: lsp.DefinitionParams) -> list[lsp.Location] | None:
        one = opened(params.text_document.uri)
        found = named_at(one, params.position) if one is not None else None
        if one is None or found is None:
            return None
        names, use = found
        if use.what == KIND:
            return _kind_places(server, one, use.name)
        places = server.places(one)
        return [lsp.Location(one.uri, places.range(u.start, u.end)) for u in names.given(use.what, use.name)]

    @server.feature(lsp.TEXT_DOCUMENT_REFERENCES)
    def on_references(params: lsp.ReferenceParams) -> list[lsp.Location] | None:
        one = opened(params.text_document.uri)
        found = named_at(one, params.position) if one is not None else None
        if one is None or found is None:
            return None
        names, use = found
        places = server.places(one)
        uses = [u for u in names.of(use) if params.context.include_declaration or not u.given]
        return [lsp.Location(one.uri, places.range(u.start, u.end)) for u in uses]

    @server.feature(lsp.TEXT_DOCUMENT_DOCUMENT_HIGHLIGHT)
    def on_highlight(params: lsp.DocumentHighlightParams) -> list[lsp.DocumentHighlight] | None:
        one = opened(params.text_document.uri)
        found = named_at(one, params.position) if one is not None else None
        if one is None or found is None:
            return None
        places = server.places(one)
        return [lsp.DocumentHighlight(places.range(u.start, u.end)) for u in found[0].of(found[1])]

    @server.feature(lsp.TEXT_DOCUMENT_PREPARE_RENAME)
    def on_prepare(params: lsp.PrepareRenameParams) -> lsp.PrepareRenamePlaceholder | None:
        one = opened(params.text_document.uri)
        found = named_at(one, params.position, exactly=True) if one is not None else None
        if one is None or found is None or found[1].what == KIND:
            return None
        use = found[1]
        text = one.document.text[use.start : use.end]
        return lsp.PrepareRenamePlaceholder(server.places(one).range(use.start, use.end), text)

    @server.feature(lsp.TEXT_DOCUMENT_RENAME, lsp.RenameOptions(prepare_provider=True))
    def on_rename(params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
        one = opened(params.text_document.uri)
        if one is None:
            return None
        document = one.document
        if not document.settled and is_layout(document.text):
            document.look()
        try:
            return server.edit(one, rename(document, server.places(one).offset(params.position), params.new_name))
        except NamingError as error:
            raise JsonRpcInvalidParams(str(error)) from None

    @server.feature(
        lsp.TEXT_DOCUMENT_CODE_ACTION, lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix])
    )
    def on_action(params: lsp.CodeActionParams) -> list[lsp.CodeAction] | None:
        one = opened(params.text_document.uri)
        only = params.context.only
        if one is None or not one.document.settled or (only and lsp.CodeActionKind.QuickFix not in only):
            return None
        places = server.places(one)
        start, end = places.offset(params.range.start), places.offset(params.range.end)
        found = []
        seen = set()
        for mark in one.marks:
            low, high = places.offsets(mark.span)
            if mark.span.file != one.document.name or high < start or low > end:
                continue
            for fix in fixes(one.document, mark):
                if fix.edits not in seen:
                    seen.add(fix.edits)
                    found.append(
                        lsp.CodeAction(
                            title=fix.title,
                            kind=lsp.CodeActionKind.QuickFix,
                            diagnostics=[server._diagnostic(one, mark, places)],  # noqa: SLF001
                            is_preferred=fix.only or None,
                            edit=server.edit(one, fix.edits),
                        )
                    )
        return found

    @server.feature(lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
    def on_symbols(params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol] | None:
        one = opened(params.text_document.uri)
        if one is None or one.document.tree is None or not is_layout(one.document.text):
            return None
        places = server.places(one)
        return [_symbol(entry, places) for entry in outline.outline(one.document.tree)]

    return server


def _symbol(entry: Outlined, places: Places) -> lsp.DocumentSymbol:
    return lsp.DocumentSymbol(
        name=entry.name,
        detail=entry.detail or None,
        kind=_SYMBOLS[entry.what],
        range=places.range(entry.start, entry.end),
        selection_range=places.range(entry.name_start, entry.name_end),
        children=[_symbol(inner, places) for inner in entry.inner] or None,
    )


def _kind_places(server: LayoutServer, one: Opened, name: str) -> list[lsp.Location]:
    """Where a kind is described: in a file that the layout uses, or in the library's own."""
    from netlister.kinds.find import files

    folder = one.document.folder
    checked = one.document.checked
    own = [folder / file for file in checked.layout.use] if checked is not None and folder is not None else []
    listed = files(None)
    for path in (*own, *([listed[name]] if name in listed else ())):
        try:
            source = read_source(str(path))
        except UnusableError:
            continue
        at = definition_in_kinds(source.text, name)
        uri = from_fs_path(str(path))
        if at is not None and uri is not None:
            where = Places(source.text, server.workspace.position_codec).range(at, at + len(name))
            return [lsp.Location(uri, where)]
    return []


__all__ = ["DELAY", "LayoutServer", "make"]

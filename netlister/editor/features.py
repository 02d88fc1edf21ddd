"""What the language server answers: one function for each request of the protocol."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcInvalidParams
from pygls.uris import from_fs_path

from netlister.editor import completion, outline
from netlister.editor.document import is_layout
from netlister.editor.fixes import fixes
from netlister.editor.hover import hover, rule_summary
from netlister.editor.naming import KIND, NamingError, definition_in_kinds, names_in, rename
from netlister.editor.places import TextPlaces
from netlister.editor.server import DELAY, LayoutServer
from netlister.source import UnusableError, read_source

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.editor.naming import Names, Use
    from netlister.editor.outline import Outlined
    from netlister.editor.server import Opened

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


class PlaceAsked(Protocol):
    """What the editor sends with a request about a place of a document."""

    text_document: lsp.TextDocumentIdentifier
    position: lsp.Position


class Named(NamedTuple):
    """The name at a place that the editor asks about."""

    one: Opened
    names: Names
    use: Use
    places: TextPlaces

    def locations(self, uses: list[Use]) -> list[lsp.Location]:
        """Places of names in the document."""
        return [lsp.Location(self.one.uri, self.places.range(use.start, use.end)) for use in uses]


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

    def answers(feature: str, *options: Any) -> Callable[[Callable[[Opened, Any], Any]], Callable[[Opened, Any], Any]]:
        """Registers what answers in a thread, from a document as it was when it was asked; others come in meanwhile."""

        def register(answer: Callable[[Opened, Any], Any]) -> Callable[[Opened, Any], Any]:
            @server.feature(feature, *options)
            async def asked(params: Any) -> Any:
                return await server.answer(answer, params)

            return answer

        return register

    def named_at(one: Opened, params: PlaceAsked, *, exactly: bool = False) -> Named | None:
        names = names_in(one.document)
        if names is None:
            return None
        places = server.places(one)
        use = names.at(places.offset(params.position), exactly=exactly)
        return None if use is None else Named(one, names, use, places)

    @answers(lsp.TEXT_DOCUMENT_HOVER)
    def on_hover(one: Opened, params: lsp.HoverParams) -> lsp.Hover | None:
        if not is_layout(one.document.text):
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

    @answers(lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=[".", " ", "{", "[", ","]))
    def on_completion(one: Opened, params: lsp.CompletionParams) -> lsp.CompletionList | None:
        if one.document.text.strip() and not is_layout(one.document.text):
            return None
        places = server.places(one)
        offset = places.offset(params.position)
        offer = completion.complete(one.document, offset)
        where = places.range(offer.start, offer.end)
        nearest, whole = offer.nearest(one.document.text[offer.start : offset])
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
            for number, item in enumerate(nearest)
        ]
        return lsp.CompletionList(is_incomplete=not whole, items=items)

    @answers(lsp.TEXT_DOCUMENT_DEFINITION)
    def on_definition(one: Opened, params: lsp.DefinitionParams) -> list[lsp.Location] | None:
        found = named_at(one, params)
        if found is None:
            return None
        use = found.use
        if use.what == KIND:
            return _kind_places(server, found.one, use.name)
        return found.locations(found.names.given(use.what, use.name))

    @answers(lsp.TEXT_DOCUMENT_REFERENCES)
    def on_references(one: Opened, params: lsp.ReferenceParams) -> list[lsp.Location] | None:
        found = named_at(one, params)
        if found is None:
            return None
        uses = found.names.of(found.use)
        return found.locations([u for u in uses if params.context.include_declaration or not u.given])

    @answers(lsp.TEXT_DOCUMENT_DOCUMENT_HIGHLIGHT)
    def on_highlight(one: Opened, params: lsp.DocumentHighlightParams) -> list[lsp.DocumentHighlight] | None:
        found = named_at(one, params)
        if found is None:
            return None
        return [lsp.DocumentHighlight(place.range) for place in found.locations(found.names.of(found.use))]

    @answers(lsp.TEXT_DOCUMENT_PREPARE_RENAME)
    def on_prepare(one: Opened, params: lsp.PrepareRenameParams) -> lsp.PrepareRenamePlaceholder | None:
        found = named_at(one, params, exactly=True)
        if found is None or found.use.what == KIND:
            return None
        use = found.use
        text = found.one.document.text[use.start : use.end]
        return lsp.PrepareRenamePlaceholder(found.places.range(use.start, use.end), text)

    @answers(lsp.TEXT_DOCUMENT_RENAME, lsp.RenameOptions(prepare_provider=True))
    def on_rename(one: Opened, params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
        document = one.document
        if not document.settled and is_layout(document.text):
            document.look()
        try:
            return server.edit(one, rename(document, server.places(one).offset(params.position), params.new_name))
        except NamingError as error:
            raise JsonRpcInvalidParams(str(error)) from None

    @answers(lsp.TEXT_DOCUMENT_CODE_ACTION, lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix]))
    def on_action(one: Opened, params: lsp.CodeActionParams) -> list[lsp.CodeAction] | None:
        only = params.context.only
        if not one.document.settled or (only and lsp.CodeActionKind.QuickFix not in only):
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
                            diagnostics=[server.diagnostic(one, mark, places)],
                            is_preferred=fix.only or None,
                            edit=server.edit(one, fix.edits),
                        )
                    )
        return found

    @answers(lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
    def on_symbols(one: Opened, _: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol] | None:
        if one.document.tree is None or not is_layout(one.document.text):
            return None
        places = server.places(one)
        return [_symbol(entry, places) for entry in outline.outline(one.document.tree)]

    return server


def _symbol(entry: Outlined, places: TextPlaces) -> lsp.DocumentSymbol:
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
            where = TextPlaces(source.text, server.workspace.position_codec).range(at, at + len(name))
            return [lsp.Location(uri, where)]
    return []

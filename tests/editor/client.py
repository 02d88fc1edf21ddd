"""A real client of the protocol (pygls' own) that starts the command as an editor does."""

from __future__ import annotations

import asyncio
import os
import sys
from contextlib import asynccontextmanager
from pathlib import Path

from lsprotocol import types as lsp
from pygls.lsp.client import BaseLanguageClient

WAIT = 60
"""Seconds after which an answer is missing; none of the tests needs a hundredth of it."""


class Editor:
    """A client with the diagnostics that were told to it, and the texts as it would show them."""

    def __init__(self, client, encoding):
        self.client = client
        self.encoding = encoding
        self.told = {}
        self.news = asyncio.Event()
        self.versions = {}
        self.texts = {}

    async def open(self, path, text):
        uri = Path(path).as_uri()
        self.versions[uri], self.texts[uri] = 1, text
        self.client.text_document_did_open(lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(uri, "yaml", 1, text)))
        return uri

    def change(self, uri, text):
        self.versions[uri] += 1
        self.texts[uri] = text
        self.client.text_document_did_change(
            lsp.DidChangeTextDocumentParams(
                lsp.VersionedTextDocumentIdentifier(self.versions[uri], uri),
                [lsp.TextDocumentContentChangeWholeDocument(text)],
            )
        )

    async def diagnostics(self, uri):
        """What is told of the text as it is now."""

        async def wait():
            while uri not in self.told or self.told[uri].version != self.versions.get(uri):
                self.news.clear()
                await self.news.wait()
            return list(self.told[uri].diagnostics)

        return await asyncio.wait_for(wait(), WAIT)

    def units(self, text):
        if self.encoding == "utf-8":
            return len(text.encode())
        return len(text) if self.encoding == "utf-32" else len(text.encode("utf-16-le")) // 2

    def at(self, uri, mark, more=0, nth=0):
        """The position of the nth place where a text stands, so many characters into it."""
        text = self.texts[uri]
        start = -1
        for _ in range(nth + 1):
            start = text.index(mark, start + 1)
        start += more
        line = text.count("\n", 0, start)
        return lsp.Position(line, self.units(text[text.rfind("\n", 0, start) + 1 : start]))

    def under(self, uri, where):
        """The text of a range, worked out without the project's own code."""
        lines = self.texts[uri].split("\n")
        offsets = []
        for position in (where.start, where.end):
            line, at = lines[position.line], 0
            while self.units(line[:at]) < position.character:
                at += 1
            assert self.units(line[:at]) == position.character
            offsets.append(sum(len(one) + 1 for one in lines[: position.line]) + at)
        return self.texts[uri][offsets[0] : offsets[1]]

    def applied(self, edit):
        """The texts after a workspace edit; the version must be the one shown."""
        found = dict(self.texts)
        for change in edit.document_changes:
            uri = change.text_document.uri
            assert change.text_document.version == self.versions[uri]
            lines = found[uri].split("\n")

            def offset(position, lines=lines):
                line, at = lines[position.line], 0
                while self.units(line[:at]) < position.character:
                    at += 1
                return sum(len(one) + 1 for one in lines[: position.line]) + at

            text = found[uri]
            spans = [(offset(e.range.start), offset(e.range.end), e.new_text) for e in change.edits]
            for start, end, new in sorted(spans, reverse=True):
                text = text[:start] + new + text[end:]
            found[uri] = text
        return found

    def place(self, uri):
        return lsp.TextDocumentIdentifier(uri)


@asynccontextmanager
async def editor(encoding="utf-16", delay=0.01):
    """A client that has said hello, asking for one encoding."""
    client = BaseLanguageClient("an-editor", "1")
    this = Editor(client, encoding)

    @client.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def told(params):
        this.told[params.uri] = params
        this.news.set()

    environment = {**os.environ, "PYTHONWARNINGS": "ignore"}
    await client.start_io(sys.executable, "-m", "netlister", "serve", "--delay", str(delay), env=environment)
    capabilities = lsp.ClientCapabilities(
        general=lsp.GeneralClientCapabilities(position_encodings=[encoding]),
        workspace=lsp.WorkspaceClientCapabilities(
            workspace_edit=lsp.WorkspaceEditClientCapabilities(document_changes=True)
        ),
    )
    answer = await client.initialize_async(lsp.InitializeParams(capabilities=capabilities, process_id=os.getpid()))
    this.agreed = answer.capabilities.position_encoding
    this.capabilities = answer.capabilities
    client.initialized(lsp.InitializedParams())
    try:
        yield this
    finally:
        await asyncio.wait_for(client.shutdown_async(None), WAIT)
        client.exit(None)
        await asyncio.wait_for(client.stop(), WAIT)

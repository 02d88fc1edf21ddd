"""The language server, asked by a client that shares no code with it but the protocol's types.

What the protocol wants is in the Language Server Protocol Specification 3.17: positions count lines from 0 and, in a
line, the code units of the encoding that was agreed on.
"""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from lsprotocol import types as lsp

import netlister
from netlister.rules import BY_NAME
from tests.benchmarks.layouts import branch_line
from tests.editor.client import WAIT, editor

LIME = """\
format: netlister/1
title: Kalkofen 🚂 drüben
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}
track:
  from-town: {length: 900 mm}   # 🚂 the shelf
  to-summit: {length: 1200 mm}
  kiln: {length: 500 mm}
  T1: {kind: live-frog, hand: left}
machines:
  M1:
    throws: [T1]
    contacts: {'🚂 frog': {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}
joints:
  - {from: from-town, to: T1.toe}
  - {from: T1.through, to: to-summit, insulate: vee}   # keep this comment
  - {from: T1.diverging, to: kiln, insulate: vee}
feeds:
  - {to: [from-town, to-summit, kiln], A: left, B: right}
"""
ENCODINGS = ("utf-8", "utf-16", "utf-32")


def run(work):
    """Run what a test does in a thread of its own: in the main one a browser's loop may be running since another test."""
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(asyncio.run, asyncio.wait_for(work, 2 * WAIT)).result()


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_a_finding_stands_at_its_cause_and_its_cure_mends_it(tmp_path, encoding):
    async def work():
        async with editor(encoding) as one:
            assert one.agreed == encoding
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            (told,) = await one.diagnostics(uri)
            assert told.code == "pole-short"
            assert told.severity == lsp.DiagnosticSeverity.Error
            assert told.source == "netlister"
            assert one.under(uri, told.range) == "'🚂 frog'"
            assert "are the wrong way round" in told.message
            path = [r for r in told.related_information if r.message.startswith("path")]
            assert {r.message.rpartition(": ")[2] for r in path} >= {"main.A", "main.B", "T1.frog"}
            words = {one.under(uri, r.location.range) for r in path}
            assert {"main", "T1", "from-town"} <= words
            actions = await one.client.text_document_code_action_async(
                lsp.CodeActionParams(one.place(uri), told.range, lsp.CodeActionContext([told]))
            )
            swap = next(a for a in actions if a.title.startswith("swap the two throws"))
            assert swap.kind == lsp.CodeActionKind.QuickFix
            text = one.applied(swap.edit)[uri]
            assert text.count("\n") == LIME.count("\n")
            assert "# keep this comment" in text
            one.change(uri, text)
            assert await one.diagnostics(uri) == []
            return text

    assert netlister.check_text(run(work())).findings == ()


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_a_piece_is_renamed_everywhere(tmp_path, encoding):
    async def work():
        async with editor(encoding) as one:
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            await one.diagnostics(uri)
            where = one.at(uri, "T1.frog", 1)
            ready = await one.client.text_document_prepare_rename_async(lsp.PrepareRenameParams(one.place(uri), where))
            assert one.under(uri, ready.range) == ready.placeholder == "T1"
            edit = await one.client.text_document_rename_async(lsp.RenameParams(one.place(uri), where, "W7"))
            assert one.applied(edit)[uri] == LIME.replace("T1", "W7")

    run(work())


def test_names_that_cannot_be_are_refused_with_a_reason(tmp_path):
    async def work():
        said = []
        async with editor() as one:
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            await one.diagnostics(uri)
            for name in ("kiln", "a.b", "", "x\ny", "T1/x"):
                params = lsp.RenameParams(one.place(uri), one.at(uri, "T1: {"), name)
                with pytest.raises(Exception, match="name") as error:
                    await one.client.text_document_rename_async(params)
                said.append(str(error.value))
        return said

    assert "taken" in run(work())[0]


def test_text_that_does_not_parse_keeps_what_was_known(tmp_path):
    async def work():
        async with editor() as one:
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            await one.diagnostics(uri)
            broken = LIME.replace("feeds:\n", "  - {from: T1.\nfeeds:\n")
            one.change(uri, broken)
            (told,) = await one.diagnostics(uri)
            assert told.code == "unusable-file"
            offered = await one.client.text_document_completion_async(
                lsp.CompletionParams(one.place(uri), one.at(uri, "{from: T1.\n", len("{from: T1.")))
            )
            labels = [item.label for item in offered.items]
            assert "T1.toe" not in labels  # joined already
            # still hovers over what was last known, and says so, as soon as the text is YAML again
            one.change(uri, LIME.replace("to: kiln,", "to: kil,"))
            (told,) = await one.diagnostics(uri)
            assert "did you mean 'kiln'" in told.message
            hover = await one.client.text_document_hover_async(lsp.HoverParams(one.place(uri), one.at(uri, "kiln: {")))
            assert "as it last could be checked" in hover.contents.value
            actions = await one.client.text_document_code_action_async(
                lsp.CodeActionParams(one.place(uri), told.range, lsp.CodeActionContext([told]))
            )
            assert [a.title for a in actions] == ["write 'kiln'"]
            assert one.applied(actions[0].edit)[uri] == LIME

    run(work())


def test_hover_tells_poles_kinds_keys_and_rules(tmp_path):
    right = LIME.replace(
        "through: T1.stock-right, diverging: T1.stock-left", "through: T1.stock-left, diverging: T1.stock-right"
    )

    async def work():
        async with editor("utf-8") as one:
            uri = await one.open(tmp_path / "lime.yaml", right + "# netlister: allow dead-track: a siding\n")

            async def hover(mark, more=0, nth=0):
                place = lsp.HoverParams(one.place(uri), one.at(uri, mark, more, nth))
                found = await one.client.text_document_hover_async(place)
                return found and found.contents.value

            await one.diagnostics(uri)
            # by hand: a left-hand turnout set through has its frog on the pole of its left stock rail, A
            assert "| `T1.frog` | main.A with M1 through; main.B with M1 diverging |" in await hover("T1.frog", 4)
            assert "| `kiln.left` | main.A always |" in await hover("kiln: {")
            assert "positions: through, diverging" in await hover("M1:")
            assert "Turnout with a live frog" in await hover("live-frog")
            assert "The rails that are insulated, as seen along `from`." in await hover("insulate")
            assert "a voltage, as in `15 V`" in await hover("15 V")
            assert BY_NAME["dead-track"].document.splitlines()[0] in await hover("dead-track", 2)
            assert await hover("Kalkofen") == "**title**: What the layout is called."

    run(work())


def test_definition_references_highlights_and_outline(tmp_path):
    async def work():
        async with editor("utf-32") as one:
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            there = await one.client.text_document_definition_async(
                lsp.DefinitionParams(one.place(uri), one.at(uri, "kiln]"))
            )
            assert [(place.range.start, one.under(uri, place.range)) for place in there] == [
                (one.at(uri, "kiln: {"), "kiln")
            ]
            uses = await one.client.text_document_references_async(
                lsp.ReferenceParams(lsp.ReferenceContext(True), one.place(uri), one.at(uri, "T1.toe"))
            )
            assert len(uses) == LIME.count("T1")
            assert {one.under(uri, use.range) for use in uses} == {"T1"}
            marked = await one.client.text_document_document_highlight_async(
                lsp.DocumentHighlightParams(one.place(uri), one.at(uri, "T1.toe"))
            )
            assert len(marked) == len(uses)
            kind = await one.client.text_document_definition_async(
                lsp.DefinitionParams(one.place(uri), one.at(uri, "live-frog"))
            )
            assert kind[0].uri.endswith("live-frog.yaml")
            symbols = await one.client.text_document_document_symbol_async(lsp.DocumentSymbolParams(one.place(uri)))
            assert [s.name for s in symbols] == ["format", "title", "supplies", "track", "machines", "joints", "feeds"]
            track = next(s for s in symbols if s.name == "track")
            assert [(s.name, s.detail) for s in track.children][-1] == ("T1", "live-frog")

    run(work())


def test_faults_of_a_file_of_kinds_are_marked_there(tmp_path):
    (tmp_path / "own.yaml").write_text("kind: own-piece\ntitle: Own\n", encoding="utf-8")
    text = LIME + "use: own.yaml\n"

    async def work():
        async with editor() as one:
            own = (tmp_path / "own.yaml").as_uri()
            uri = await one.open(tmp_path / "lime.yaml", text)
            await one.diagnostics(uri)
            assert one.told[own].diagnostics
            whole = Path(netlister.__file__).parents[1] / "parts/track/rerailer.yaml"
            mended = whole.read_text(encoding="utf-8").replace("kind: rerailer", "kind: own-piece")
            (tmp_path / "own.yaml").write_text(mended, encoding="utf-8")
            one.told.clear()
            one.client.text_document_did_save(lsp.DidSaveTextDocumentParams(one.place(own)))
            (told,) = await one.diagnostics(uri)
            assert told.code == "pole-short"
            assert not one.told[own].diagnostics

    run(work())


def test_other_yaml_is_left_alone_and_a_closed_file_is_unmarked(tmp_path):
    async def work():
        async with editor() as one:
            other = await one.open(tmp_path / "other.yaml", "name: workflow\non: push\n")
            assert await one.diagnostics(other) == []
            place = lsp.HoverParams(one.place(other), lsp.Position(0, 2))
            assert await one.client.text_document_hover_async(place) is None
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            assert await one.diagnostics(uri)
            one.told.clear()
            del one.versions[uri]
            one.client.text_document_did_close(lsp.DidCloseTextDocumentParams(one.place(uri)))
            assert await one.diagnostics(uri) == []

    run(work())


def test_what_takes_long_keeps_no_one_waiting(tmp_path):
    """A question about a small text is answered before one about a large one that was asked first."""

    async def work():
        async with editor() as one:
            large = branch_line(300)
            uri = await one.open(tmp_path / "long.yaml", large)
            small = await one.open(tmp_path / "lime.yaml", LIME)
            await one.diagnostics(uri)
            await one.diagnostics(small)
            half = large.replace("feeds:\n", "feeds:\n  - {to: line-\n", 1)
            one.change(uri, half)
            done = []

            async def ask(request, name):
                assert await request is not None
                done.append(name)

            client = one.client
            slow = client.text_document_completion_async(
                lsp.CompletionParams(one.place(uri), one.at(uri, "{to: line-\n", 10))
            )
            quick = client.text_document_hover_async(lsp.HoverParams(one.place(small), one.at(small, "T1")))
            await asyncio.gather(ask(slow, "completion"), ask(quick, "hover"))
            assert done == ["hover", "completion"]

    run(work())


def test_of_many_changes_the_last_counts(tmp_path):
    async def work():
        async with editor(delay=0.1) as one:
            uri = await one.open(tmp_path / "lime.yaml", LIME)
            for length in range(100, 140):
                one.change(uri, LIME.replace("500 mm", f"{length} mm"))
            one.change(uri, LIME.replace("hand: left", "hand: right"))
            assert await one.diagnostics(uri) == []

    run(work())

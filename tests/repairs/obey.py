"""Repairs obeyed on the text, by the edits that the tool gives as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from netlister.check import check
from netlister.cli.common import edits_finder
from netlister.formats.json import render
from netlister.layout.read import read_layout
from netlister.source import Source

if TYPE_CHECKING:
    from netlister.check import Report


def told(text: str) -> tuple[Report, dict[str, Any]]:
    """What a check says of a text: the report, and the JSON object with the edits."""
    source = Source("yard.yaml", text)
    layout = read_layout(source)
    report = check(layout)
    return report, json.loads(render(report, edits_finder(source, layout, None)))


def edits_of(*repairs: dict[str, Any]) -> list[dict[str, Any]]:
    """The edits of some repairs, each once."""
    found: list[dict[str, Any]] = []
    for repair in repairs:
        for change in repair["changes"]:
            found += [edit for edit in change["edits"] if edit not in found]
    return found


def obeyed(text: str, edits: list[dict[str, Any]]) -> str:
    """The text with edits made in it, as a program beside the tool would make them."""
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))

    def at(place: dict[str, int]) -> int:
        return starts[place["line"] - 1] + place["column"] - 1

    places = sorted(((at(e["start"]), at(e["end"]), e["text"]) for e in edits), reverse=True)
    for start, end, new in places:
        text = text[:start] + new + text[end:]
    return text

"""Edits of the text: what is read afterwards is the layout with the changes in it, and all else stays as written."""

from __future__ import annotations

import re
from collections import Counter
from random import Random

import pytest

from netlister.edits.model import AddContact, AddFeed, Insulate, Refeed, Rewire, SetOption, TakeOut, apply
from netlister.edits.patch import apply_edits
from netlister.edits.same import differences
from netlister.edits.text import EditError, text_edits
from netlister.layout.model import Contact, Feed, Wire
from netlister.layout.read import read_layout
from netlister.source import Source, UnusableError
from tests.edits.changes import random_edit
from tests.edits.restyle import Restyle
from tests.properties.gear import random_gear
from tests.properties.layouts import random_layout

SEEDS = range(400)
REFUSED = Counter()


def read(text):
    return read_layout(Source("layout.yaml", text))


@pytest.mark.parametrize("seed", SEEDS)
def test_random_layouts_in_random_styles(seed):
    rng = Random(seed)
    data = random_gear(rng) if seed % 4 == 0 else random_layout(rng)
    text = Restyle(rng).text(data)
    layout = read(text)
    edit = random_edit(layout, rng)
    if not edit:
        return
    new = check(text, layout, edit)
    if new is not None:
        comments = Counter(re.findall(r"# (?:line|note) \d+", text))
        lost = comments - Counter(re.findall(r"# (?:line|note) \d+", new))
        if not any(isinstance(change, (TakeOut, Refeed, Rewire)) for change in edit):
            assert not lost


def check(text, layout, edit):
    """Make the edits; they must do what is meant, or the changed layout must be one that cannot be read."""
    edits = text_edits(layout, Source("layout.yaml", text), edit)
    new = apply_edits(text, edits)
    assert not differences(apply(edit, layout), read(new)) or any(f.name for f in layout.feeds)
    return new

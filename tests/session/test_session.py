"""A session says of every layout, after every kind of edit, what is found when all is judged from the start.

Longer runs: `NETLISTER_LONG=1` with pytest, or `python -m tests.session.long NUMBER SEED`.
"""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

import pytest

import netlister
from netlister.edits.model import Insulate, Refeed, TakeOut
from netlister.session import Session
from netlister.source import UnusableError
from tests.properties.gear import with_gear
from tests.properties.layouts import dump, random_layout
from tests.session.compare import DEFAULT, LOCAL, facts, try_edits
from tests.session.edits import KINDS, edits

EXAMPLES = sorted(Path("examples").glob("*/layout.yaml"))
SEEDS = 300 if os.environ.get("NETLISTER_LONG") else 30


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_examples(path: Path) -> None:
    """Every kind of edit, one upon the other, and undone."""
    layout = netlister.read_file(path)
    for seed in range(3):
        tried, found = try_edits(layout, Random(seed))
        assert not found, "\n".join(found)
        assert tried >= 5


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_examples_with_all_rules(path: Path) -> None:
    """The same with the rules that are judged whole each time."""
    _, found = try_edits(netlister.read_file(path), Random(9), DEFAULT)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("seed", range(SEEDS))
def test_random_layouts(seed: int) -> None:
    """Small layouts, most of them full of mistakes."""
    _, found = try_edits(netlister.read_text(dump(random_layout(Random(seed)))), Random(seed))
    assert not found, "\n".join(found)

"""Many mistakes at once: each is told under its own heading, with its own cure."""

from __future__ import annotations

import sys
from pathlib import Path

import netlister
from netlister.check import check
from netlister.edits.model import apply

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
import layouts


def test_every_mistake_has_a_heading_of_its_own() -> None:
    """Shorts at several places join the same two poles: one is not the cause of the others."""
    layout = netlister.read_text(layouts.with_mistakes(15))
    report = check(layout)
    assert len(report.causes) == 15
    kinds = sorted(cause.repairs[0].choices[0].kind for cause in report.causes.values())
    assert kinds == sorted(["throws-swapped", "feed-swapped", "feed-missing", "joint-metal", "joint-metal"] * 3)
    for number, cause in report.causes.items():
        own = [f for f in report.findings if f.cause == number]
        after = check(apply(cause.repairs[0].edit, layout), causes=False)
        assert len(report.findings) - len(after.findings) == len(own), cause.repairs[0].say


def test_all_cures_together_mend_it() -> None:
    layout = netlister.read_text(layouts.with_mistakes(15))
    causes = check(layout).causes.values()
    edit = tuple(change for cause in causes for change in cause.repairs[0].edit)
    assert check(apply(edit, layout)).findings == ()

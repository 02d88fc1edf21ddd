"""What the limit leaves open: it is not passed, shorts are named first, and none is missed that a short look finds."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner

import netlister
from netlister.check import SHORTS
from netlister.cli.main import group
from tests.unit.poles.test_large import tangle

FORMS = ("text", "json", "sarif", "junit", "github")
LIMIT = ["--limit", "50000"]

ALTER = re.compile(r"insulat|\bgap\b|\bcut\b|contact|\bfeed\b|split|simpl|fewer|remov|take out|joiner|rewire|shorten")
"""Words by which a person would be told to alter a railway."""


@pytest.fixture(scope="module")
def open_yaml(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A layout with nothing wrong in `apart`, and a tangle that a proof does not get through."""
    path = tmp_path_factory.mktemp("open") / "tangle.yaml"
    path.write_text(tangle(40, 110).replace("A: left, B: left", "A: left, B: right"), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("form", FORMS)
def test_exit_code_1_where_something_is_not_proved_whatever_the_form(open_yaml: str, form: str) -> None:
    only = ["check", *LIMIT, "--select", "dead-track", "--format", form, open_yaml]
    assert CliRunner().invoke(group, only).exit_code == 1
    assert CliRunner().invoke(group, [*only, "--allow-unproved"]).exit_code == 0


def test_shorts_are_first_in_the_list_of_what_is_open() -> None:
    rules = [one.rule for one in netlister.check_text(tangle(40, 110), limit=50_000, causes=False).unproved]
    ranks = [SHORTS.index(rule) if rule in SHORTS else len(SHORTS) for rule in rules]
    assert rules[0] == "pole-short"
    assert ranks == sorted(ranks)
    assert len(set(rules)) > 2


@pytest.mark.parametrize("form", FORMS)
def test_nothing_advises_to_alter_the_railway_so_that_a_proof_gets_easier(open_yaml: str, form: str) -> None:
    """Of a rule that finds nothing there, so that every word printed is about what was not proved."""
    done = CliRunner().invoke(group, ["check", *LIMIT, "--select", "dead-track", "--format", form, open_yaml])
    said = done.output.replace("dead-track", "").replace("tangle.yaml", "")
    if form == "sarif":  # which says of each rule what it is
        said = " ".join(re.findall(r'"text": "(not proved[^"]*)"', said))
        assert said
    assert ALTER.findall(said.lower()) == []


def test_a_state_with_a_short_is_found_before_a_region_is_given_up() -> None:
    """Small tangles, so that a high limit proves whether there is one; where it says so, the look at 40 steps finds it."""
    looked = 0
    for seed in range(12):
        text = tangle(9, 10 + seed % 4, seed)
        high, low = (netlister.check_text(text, ("pole-short",), limit=limit, causes=False) for limit in (0, 40))
        shorts = [
            [f for f in report.findings if f.rule == "pole-short" and "apart" not in f.parts] for report in (high, low)
        ]
        assert high.proved
        if ("pole-short" in {one.rule for one in low.unproved}) and shorts[0]:
            looked += 1
            assert shorts[1], seed
        assert shorts[0] or not shorts[1], seed
    assert looked > 6

"""Every rule's page: its headings, its example that fails and its example that passes."""

from __future__ import annotations

import re

import pytest

import netlister
from netlister.rules import BY_NAME, RULES

HEADINGS = ["What it finds", "Why it matters", "Fails", "Passes", "How to mend it", "When it is meant"]


def everything_of(rule, text):
    """What a plain check finds, and what the rule itself says where it is selected by name."""
    plain = netlister.check_text(text)
    named = netlister.check_text(text, select={rule.name})
    return {f.rule for f in (*plain.findings, *named.findings)}


def block(document, heading):
    return re.search(rf"## {heading}\n\n```yaml\n(.*?)```", document, re.DOTALL).group(1)


def test_names_are_unique_and_lower_case():
    assert len(BY_NAME) == len(RULES)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.name) for rule in RULES)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_headings(rule):
    assert re.findall(r"^## (.*)$", rule.document, re.MULTILINE) == HEADINGS
    assert rule.title


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_the_failing_example_breaks_this_rule_and_no_other(rule):
    assert everything_of(rule, block(rule.document, "Fails")) == {rule.name}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_the_passing_example_breaks_nothing(rule):
    assert everything_of(rule, block(rule.document, "Passes")) == set()

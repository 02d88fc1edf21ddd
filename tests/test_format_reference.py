"""The layouts and the kind in the reference of the file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import netlister
from netlister.kinds.load import read_definitions
from netlister.layout.read import TOP
from netlister.rules import RULES
from netlister.source import Source

REFERENCE = (Path(__file__).parents[1] / "examples" / "format.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```yaml\n(.*?)```", REFERENCE, re.DOTALL)


@pytest.mark.parametrize("text", BLOCKS)
def test_every_layout_is_right(text):
    assert netlister.check_text(text).findings == ()


def test_there_are_three_of_them():
    assert len(BLOCKS) == 3


def test_the_kind_can_be_read():
    (text,) = re.findall(r"```text\n(kind:.*?)```", REFERENCE, re.DOTALL)
    (kind,) = read_definitions(Source("spring.yaml", text))
    assert kind.name == "spring-switch"


def test_every_section_and_the_rules_of_the_proof_are_in_it():
    for section in TOP:
        assert f"`{section}`" in REFERENCE, section
    for rule in RULES[:5]:
        assert f"| `{rule.name}` |" in REFERENCE

"""Every complete layout of the file's reference is right, and the kind shown in it can be used."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import netlister

REFERENCE = (Path(__file__).parents[1] / "netlister" / "manual" / "format.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```yaml\n(.*?)^```$", REFERENCE, re.DOTALL | re.MULTILINE)
LAYOUTS = [block for block in BLOCKS if block.startswith("format:")]
KINDS = [block for block in BLOCKS if block.startswith("kind:")]

USING = """\
format: netlister/1
use: wharf.yaml
supplies: {main: {type: dcc, voltage: 15 V}}
track: {quay: {length: 1 m}, T1: {kind: wharf-stub, hand: left}, inner: , outer: }
joints:
  - {from: quay, to: T1.toe}
  - {from: T1.through, to: inner}
  - {from: T1.diverging, to: outer}
feeds: [{to: [quay, inner, outer]}]
"""


def test_the_reference_has_layouts_and_a_kind():
    assert len(LAYOUTS) >= 4
    assert len(KINDS) == 2
    workflows = [block for block in BLOCKS if block.startswith("name:")]
    assert len(LAYOUTS) + len(KINDS) + len(workflows) == len(BLOCKS)


@pytest.mark.parametrize("text", LAYOUTS)
def test_a_complete_layout_is_right(text):
    report = netlister.check_text(text)
    assert report.proved
    assert report.findings == ()


def use_the_kind(folder, kind):
    (folder / "wharf.yaml").write_text(kind, encoding="utf-8")
    (folder / "layout.yaml").write_text(USING, encoding="utf-8")
    return netlister.check_file(str(folder / "layout.yaml"))


def test_the_kind_can_be_used(tmp_path):
    assert use_the_kind(tmp_path, KINDS[0]).findings == ()


def test_its_rails_swapped_are_found(tmp_path):
    wrong = KINDS[0].replace("join: [swing-left, l-left]", "join: [swing-left, l-right]")
    assert wrong != KINDS[0]
    assert "pole-short" in {finding.rule for finding in use_the_kind(tmp_path, wrong).findings}

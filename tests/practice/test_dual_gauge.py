"""Dual gauge with a common rail, by the kind that the reference gives. Source: common practice, no published source."""

from __future__ import annotations

import pytest

import netlister
from tests.test_format_reference import KINDS

(KIND,) = (kind for kind in KINDS if "dual-gauge" in kind)
LAYOUT = """\
format: netlister/1
use: dual.yaml
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {broad: {}, slim: {}, west: {kind: dual-gauge}, east: {kind: dual-gauge}, beyond: {}}
joints:
  - {from: broad, to: west.a1}
  - {from: slim, to: west.a2}
  - {from: west.b1, to: east.a1}
  - {from: west.b2, to: east.a2, insulate: right}
  - {from: east.b2, to: beyond}
feeds: [{to: broad}, {to: slim}, {to: beyond}]
"""


def found(tmp_path, text):
    (tmp_path / "dual.yaml").write_text(KIND)
    (tmp_path / "layout.yaml").write_text(text)
    report = netlister.check_file(str(tmp_path / "layout.yaml"))
    assert report.proved
    return sorted((f.rule, f.severity.label, f.subject) for f in report.findings)


def test_it_is_right(tmp_path):
    assert found(tmp_path, LAYOUT) == []


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("{to: slim}", "{to: slim, A: right, B: left}", [("pole-short", "error", "main.A/main.B")] * 2),
        (", {to: beyond}", "", [("dead-track", "error", "beyond"), ("dead-track", "error", "east"),
                                ("floating-net", "error", "beyond.right")]),
        ("{to: beyond}", "{to: beyond, B: left}", [("pole-short", "error", "main.A/main.B")]),
    ],
)  # fmt: skip
def test_its_mistakes_are_found(tmp_path, old, new, wanted):
    assert LAYOUT.count(old) == 1
    said = found(tmp_path, LAYOUT.replace(old, new))
    assert [one for one in wanted if one not in said] == []

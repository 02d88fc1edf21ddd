"""Plans and a card of some examples as expected, byte for byte.

`pytest --update-expected tests/draw/test_expected.py` writes them again; look at the pictures before you keep them.
"""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from netlister.cli.main import group
from tests.draw.support import ROOT

FILES = [
    ("ferry", "plan.svg", ("draw", "layout.yaml")),
    ("ferry", "T1.svg", ("card", "layout.yaml", "T1")),
    ("junction", "plan.svg", ("draw", "layout.yaml", "--set", "M2=diverging")),
    ("peat-railway", "plan.svg", ("draw", "layout.yaml")),
    ("peat-railway", "R1.svg", ("card", "layout.yaml", "R1")),
]


@pytest.mark.parametrize(("name", "file", "arguments"), FILES)
def test_expected(name, file, arguments, monkeypatch, request):
    example = ROOT / "examples" / name
    monkeypatch.chdir(example)
    done = CliRunner().invoke(group, list(arguments))
    assert done.exit_code == 0
    path = example / "expected" / file
    if request.config.getoption("--update-expected"):
        path.write_bytes(done.stdout_bytes)
    assert path.read_bytes() == done.stdout_bytes

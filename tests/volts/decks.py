"""Running decks: what ngspice prints of one."""

from __future__ import annotations

import os
import re
import shutil
import subprocess

import pytest

NGSPICE = shutil.which("ngspice")
needs_ngspice = pytest.mark.skipif(
    NGSPICE is None and "NETLISTER_CI" not in os.environ, reason="ngspice is not installed; apt-get install ngspice"
)


def run(deck, folder):
    """The output of ngspice; it must say nothing of errors and end well."""
    path = folder / "deck.cir"
    path.write_text(deck, encoding="utf-8")
    done = subprocess.run(
        [NGSPICE, "-b", "deck.cir"], capture_output=True, text=True, check=False, timeout=120, cwd=folder
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert not re.search(r"(?i)error|singular|unknown|warning", done.stdout + done.stderr), done.stdout + done.stderr
    return done.stdout


def steps(output):
    """Per operating point, in order: what is printed, by what it is."""
    found = []
    for block in re.split(r"(?m)^No\. of Data Rows.*$", output)[1:]:
        pairs = re.findall(r"^(p\d+) is (.*)\n\1 = (\S+)$", block, re.MULTILINE)
        found.append({what: float(value) for _, what, value in pairs})
    return found


def waveforms(output):
    """The columns of a transient: time, then the probes in order."""
    rows = [line.split() for line in output.splitlines() if re.match(r"^\d+\t", line)]
    return [[float(cell) for cell in row[1:]] for row in rows]

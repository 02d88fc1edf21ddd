"""A layout, and the layout read back from its netlist, must give the same findings.

Run as `python -m tests.properties.netlists 2000 1` for many random layouts.
"""

from __future__ import annotations

import itertools
import sys
from random import Random
from typing import TYPE_CHECKING

import netlister
from netlister.check import check
from netlister.circuit.build import build
from netlister.netlists.any import read_any
from netlister.skidl.netlist import kicad_netlist
from netlister.source import Source
from tests.properties.layouts import dump, random_layout

if TYPE_CHECKING:
    from pathlib import Path

    from netlister.check import Report
    from netlister.finding import Finding
    from netlister.layout.model import Layout

MOST_STATES = 4096
RULES = ("throw-short", "wheel-back", "run-through", "blade-fed", "nose-bridge")
"""Rules that say more, or anything, only when they are named."""


def findings(report: Report) -> dict[tuple[str, str, str, tuple[str, ...]], list[object]]:
    """Rule, severity, subject and terminals of each finding, with its states."""
    variables = {v.name: v.positions for v in report.layout.variables.values()}
    found: dict[tuple[str, str, str, tuple[str, ...]], list[object]] = {}
    for finding in report.findings:
        key = (finding.rule, finding.severity.label, finding.subject, tuple(sorted(finding.terminals)))
        found.setdefault(key, []).append(states(finding, variables))
    return {key: sorted(values, key=repr) for key, values in found.items()}


def states(finding: Finding, variables: dict[str, tuple[str, ...]]) -> object:
    """The states of a finding: one by one where they are not too many, else as they are written."""
    names = sorted({name for entry in finding.when for name, _ in entry})
    count = 1
    for name in names:
        count *= len(variables[name])
    if count > MOST_STATES or not finding.when_complete:
        return finding.states or sorted(finding.when)
    covered = set()
    for state in itertools.product(*(variables[name] for name in names)):
        at = dict(zip(names, state, strict=True))
        if any(all(at[name] == position for name, position in entry) for entry in finding.when):
            covered.add(state)
    return names, sorted(covered)


def round_trip(layout: Layout, folder: Path | None = None) -> tuple[Layout, str]:
    """A layout written as a netlist and read again, with the netlist."""
    text = kicad_netlist(build(layout))
    return read_any(Source("layout.net", text), folder), text


def differences(layout: Layout, select: tuple[str, ...] = (), folder: Path | None = None) -> list[str]:
    """What is found in one of the two and not in the other."""
    back, _ = round_trip(layout, folder)
    one, other = (findings(check(each, select, causes=False)) for each in (layout, back))
    missing = [f"only in the layout: {key} {value}" for key, value in one.items() if other.get(key) != value]
    return missing + [f"only in the netlist: {key} {value}" for key, value in other.items() if one.get(key) != value]


def main() -> None:
    """Compare many random layouts; print what was compared."""
    count, first = (int(argument) for argument in (*sys.argv[1:], "200", "1")[:2])
    total = failed = 0
    for seed in range(first, first + count):
        text = dump(random_layout(Random(seed)))
        layout = netlister.read_text(text)
        for select in ((), RULES):
            wrong = differences(layout, select)
            if wrong:
                print(text, f"seed {seed}", *wrong, sep="\n")
                failed += 1
        total += len(check(layout, causes=False).findings)
    print(
        f"{count} random layouts from seed {first}: {total} findings; {failed} differ after the way through a netlist"
    )
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()

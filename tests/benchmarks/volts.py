"""Measure volts: `python tests/benchmarks/volts.py`. Ratios within one run, since machines differ; needs ngspice."""

from __future__ import annotations

import gc
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parent))
import layouts
from run import run

import netlister
from netlister.circuit.build import build
from netlister.circuit.model import holds
from netlister.volts.network_build import build_network
from netlister.volts.operating import potentials
from netlister.volts.solver import Solver
from netlister.volts.worst import profiles, worst_of


def on_a_bus(turnouts: int) -> str:
    """The branch line on one long bus, tapped for every feed, so that all of it hangs together."""
    text = layouts.branch_line(turnouts)
    text = text.replace("track:", f"buses: {{main: {{wire: 2.5 mm2, length: {turnouts + 1} m}}}}\ntrack:", 1)
    taps = (f"tap: {n / 2:g} m, wire: 0.5" for n in range(1, 2 * turnouts + 1))
    return re.sub(r"wire: 0\.5", lambda _: next(taps), text)


def deck(network) -> str:
    """All turnouts at their first position, every resistor of it for ngspice."""
    lines = ["* first positions"]
    state = tuple(0 for _ in network.variables)
    for number, e in enumerate(network.elements):
        if holds(e.when, state):
            lines.append(f"r{number} n{e.a} n{e.b} {max(e.ohm.high, 1e-9):.12g}")
    lines += [f"v{node} n{node} 0 {volts:g}" for node, volts in potentials(network).items()]
    lines += [f"rleak{node} n{node} 0 1e9" for node in range(len(network.names))]
    return "\n".join([*lines, ".op", ".end", ""])


def solve(network) -> int:
    """All worst places of all pieces."""
    return len(worst_of(profiles(Solver(network))))


def main() -> None:
    """Measure and print."""
    gc.disable()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "thousand.yaml"
        path.write_text(on_a_bus(1000), encoding="utf-8")
        seconds, memory, _ = run(sys.executable, "-m", "netlister", "drop", "--format", "json", str(path), times=3)
        print(f"1,000 turnouts on a bus: drop {seconds:.2f} s, {memory:.0f} MiB")
        network = build_network(build(netlister.read_file(str(path))))
        best = min(_timed(lambda: solve(network)) for _ in range(3))
        ngspice = shutil.which("ngspice")
        if ngspice is None:
            sys.exit("ngspice is not installed")
        file = Path(folder) / "deck.cir"
        file.write_text(deck(network), encoding="utf-8")
        theirs = min(
            _timed(lambda: subprocess.run([ngspice, "-b", str(file)], capture_output=True, check=False))
            for _ in range(2)
        )
        print(
            f"{len(network.names)} nodes: all worst places of all pieces in all states {best:.2f} s; "
            f"one operating point by ngspice {theirs:.2f} s; ratio {best / theirs:.2f}"
        )


def _timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    main()

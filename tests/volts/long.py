"""Compare random layouts with a plain solution of every state: `python -m tests.volts.long NUMBER SEED`."""

from __future__ import annotations

import sys
import time

from tests.properties.layouts import dump
from tests.volts.compare import differences, sound_layout


def main(number: int, seed: int) -> int:
    """Compare so many layouts from a seed on; returns the number that differ."""
    start = time.perf_counter()
    differing = 0
    for n in range(seed, seed + number):
        data = sound_layout(n)
        lines = differences(data)
        if lines:
            differing += 1
            print(f"seed {n}:", *lines, dump(data), sep="\n")
    print(
        f"{number} layouts with resistances from seed {seed}: {differing} differ, {time.perf_counter() - start:.0f} s"
    )
    return differing


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2])) else 0)

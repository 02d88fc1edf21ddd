"""Many random layouts, sessions against whole checks: `python -m tests.session.long NUMBER SEED [SECONDS]`."""

from __future__ import annotations

import sys
import time
from random import Random

import netlister
from netlister.source import UnusableError
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout
from tests.session.compare import DEFAULT, LOCAL, try_edits


def main(number: int, seed: int, patience: float = float("inf")) -> int:
    """Try edits on layouts made from the seeds from `seed` on, and print what differs, and counts."""
    start = time.monotonic()
    tried = failed = looked = 0
    for one in range(seed, seed + number):
        if time.monotonic() - start > patience:
            break
        make = random_gear if one % 4 == 3 else random_layout
        try:
            layout = netlister.read_text(dump(make(Random(one))))
        except UnusableError:
            continue
        looked += 1
        count, found = try_edits(layout, Random(one), DEFAULT if one % 10 == 0 else LOCAL)
        tried += count
        if found:
            failed += 1
            print(f"--- seed {one}", *found[:8], sep="\n", flush=True)
    print(f"{looked} layouts, {tried} edits in {time.monotonic() - start:.0f} s, {failed} differ")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:])))

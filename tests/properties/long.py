"""Many random layouts, the tool against plain enumeration: `python -m tests.properties.long NUMBER SEED`."""

from __future__ import annotations

import sys
import time
import traceback
from collections import Counter
from random import Random

from tests.properties.compare import differences, smaller
from tests.properties.layouts import dump, random_layout
from tests.properties.reference import Data, Layout, reference

MOST_SHOWN = 5


def main(number: int, seed: int) -> int:
    """Compare layouts made from the seeds from `seed` on; print what differs, smallest form, and counts."""
    counts: Counter[str] = Counter()
    failed = 0
    start = time.monotonic()
    for one in range(seed, seed + number):
        data = random_layout(Random(one))
        layout = Layout(data)
        broken = reference(data)
        counts["states"] += len(layout.states)
        counts["without findings"] += not broken
        counts.update({f"layouts with {rule}" for rule, _ in broken})
        if faults(data):
            failed += 1
            less = smaller(data, faults)
            show(one, dump(less), faults(less))
        if failed >= MOST_SHOWN:
            break
    print(f"{one - seed + 1} layouts in {time.monotonic() - start:.0f} s, {failed} differ")
    for name, count in sorted(counts.items()):
        print(f"  {name}: {count}")
    return 1 if failed else 0


def faults(data: Data) -> list[str]:
    """What differs, or what the tool dies of."""
    try:
        return differences(data)
    except Exception:  # noqa: BLE001  (whatever it is, it is to be shown with its layout)
        return ["crash", *traceback.format_exc().splitlines()[-12:]]


def show(seed: int, text: str, lines: list[str]) -> None:
    """Print one layout and what is wrong with it."""
    print(f"--- seed {seed}")
    print(text)
    print("\n".join(lines), flush=True)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))

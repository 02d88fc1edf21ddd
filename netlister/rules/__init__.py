"""The rules: one file each, listed here and nowhere else."""

from __future__ import annotations

from netlister.rules import (
    allowing,
    dead_track,
    expectation,
    floating_net,
    gap_clash,
    parked,
    pole_short,
    reading,
    reversing_length,
    reversing_route,
    stall,
)

RULES = (
    pole_short.RULE,
    floating_net.RULE,
    dead_track.RULE,
    gap_clash.RULE,
    expectation.RULE,
    reversing_route.RULE,
    reversing_length.RULE,
    stall.RULE,
    parked.RULE,
    *reading.RULES,
    *allowing.RULES,
)
"""Every rule, in the order in which they run and are listed."""

BY_NAME = {rule.name: rule for rule in RULES}

"""The rules: one file each, listed here and nowhere else."""

from __future__ import annotations

from netlister.rules import (
    allowing,
    dead_track,
    detectors_apart,
    districts_joined,
    expectation,
    floating_net,
    frog_outside_section,
    gap_clash,
    pole_short,
    reading,
    reverser_fed_by_blades,
    reversers_abut,
)

RULES = (
    pole_short.RULE,
    floating_net.RULE,
    dead_track.RULE,
    gap_clash.RULE,
    expectation.RULE,
    districts_joined.RULE,
    reversers_abut.RULE,
    frog_outside_section.RULE,
    reverser_fed_by_blades.RULE,
    detectors_apart.RULE,
    *reading.RULES,
    *allowing.RULES,
)
"""Every rule, in the order in which they run and are listed."""

BY_NAME = {rule.name: rule for rule in RULES}

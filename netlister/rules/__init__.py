"""The rules: one file each, listed here and nowhere else."""

from __future__ import annotations

from netlister.rules import (
    allowing,
    blade_fed,
    dead_track,
    expectation,
    floating_net,
    gap_clash,
    nose_bridge,
    pole_short,
    reading,
    run_through,
    throw_short,
    unit_race,
    wheel_back,
)

RULES = (
    pole_short.RULE,
    floating_net.RULE,
    dead_track.RULE,
    gap_clash.RULE,
    expectation.RULE,
    throw_short.RULE,
    wheel_back.RULE,
    nose_bridge.RULE,
    run_through.RULE,
    blade_fed.RULE,
    unit_race.RULE,
    *reading.RULES,
    *allowing.RULES,
)
"""Every rule, in the order in which they run and are listed."""

BY_NAME = {rule.name: rule for rule in RULES}

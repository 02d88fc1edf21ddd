"""The rules: one file each, listed here and nowhere else."""

from __future__ import annotations

from netlister.rules import (
    allowing,
    dead_track,
    expectation,
    feeder_spacing,
    floating_net,
    gap_clash,
    joiner_chain,
    pole_short,
    reading,
    shared_return,
    voltage_drop,
    weak_short,
    wire_load,
)

VOLTS = (
    weak_short.RULE,
    voltage_drop.RULE,
    wire_load.RULE,
    joiner_chain.RULE,
    feeder_spacing.RULE,
    shared_return.RULE,
)
"""The rules on volts and amps, in the order in which they run."""

RULES = (
    pole_short.RULE,
    floating_net.RULE,
    dead_track.RULE,
    gap_clash.RULE,
    expectation.RULE,
    *VOLTS,
    *reading.RULES,
    *allowing.RULES,
)
"""Every rule, in the order in which they run and are listed."""

BY_NAME = {rule.name: rule for rule in RULES}

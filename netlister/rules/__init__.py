"""The rules: one file each, listed here and nowhere else."""

from __future__ import annotations

from netlister.rules import (
    allowing,
    blade_fed,
    dead_track,
    detectors_apart,
    districts_joined,
    expectation,
    feeder_spacing,
    floating_net,
    frog_outside_section,
    gap_clash,
    joiner_chain,
    nose_bridge,
    parked,
    pole_short,
    reading,
    reverser_fed_by_blades,
    reversers_abut,
    reversing_length,
    reversing_route,
    run_through,
    shared_return,
    stall,
    throw_short,
    unit_race,
    voltage_drop,
    weak_short,
    wheel_back,
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
    districts_joined.RULE,
    reversers_abut.RULE,
    frog_outside_section.RULE,
    reverser_fed_by_blades.RULE,
    detectors_apart.RULE,
    throw_short.RULE,
    wheel_back.RULE,
    nose_bridge.RULE,
    run_through.RULE,
    blade_fed.RULE,
    unit_race.RULE,
    reversing_route.RULE,
    reversing_length.RULE,
    stall.RULE,
    parked.RULE,
    *VOLTS,
    *reading.RULES,
    *allowing.RULES,
)
"""Every rule, in the order in which they run and are listed."""

BY_NAME = {rule.name: rule for rule in RULES}

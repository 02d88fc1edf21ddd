"""Cautions that stand in more than one place."""

SUPPLIES = (
    "Never connect two supplies in parallel or in series. A common return ('common') is only for controllers whose "
    "outputs are isolated from each other, each on a transformer winding of its own."
)
"""NEM 609:2010, 6.1, for the first sentence."""

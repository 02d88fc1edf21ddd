"""Measuring what was built: faults, test sheets, and which fault explains the readings."""

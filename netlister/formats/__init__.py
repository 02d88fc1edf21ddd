"""Findings in each of the formats."""

"""The least repairs of a layout: what was likely done wrong, and what mends it, found exactly and proved."""

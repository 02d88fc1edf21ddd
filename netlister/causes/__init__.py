"""The one mistake behind several findings: found by mending the layout on paper and checking it again."""

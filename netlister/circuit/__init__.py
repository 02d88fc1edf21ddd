"""The circuit: nets, conductors with their conditions, variables."""

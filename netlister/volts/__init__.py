"""Resistances and the network's solution: volts and amps at every place of the track. Imports numpy; imported late."""

"""Drawings: a plan of the layout and a wiring card for each piece that changes, as SVG."""

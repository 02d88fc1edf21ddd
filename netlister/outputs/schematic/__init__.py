"""The netlist as a schematic: symbols as data, sheets, places, and the files that hold them."""

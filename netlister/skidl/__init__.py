"""Wire a layout in a script: parts from here, joined with skidl's ``+=``, checked like a layout file.

    from netlister.skidl import attach, check, circuit, part

    design = circuit()
    supply = part("supply", ref="G1", voltage="15 V", circuit=design)
    line = part("rail-section", ref="line", circuit=design)
    supply["A"] += line["left"]
    supply["B"] += line["right"]
    print(check(design).to_text())

`mend` and `propose` tell what to change, with the lines; the script itself is never written to.

skidl itself is imported when the first part is made: quietly, and without leaving files behind.
"""

from netlister.skidl.changes import mend, propose
from netlister.skidl.front import attach, check, circuit, net, part, read_circuit

__all__ = ["attach", "check", "circuit", "mend", "net", "part", "propose", "read_circuit"]

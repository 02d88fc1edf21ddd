"""The netlist in the format of KiCad, written by skidl: its parts with their pins, and the nets that join them.

`netlister.outputs.netlist_parts` says which parts and nets there are. skidl is imported late and quietly.
"""

from __future__ import annotations

import io
import re
from functools import partial
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from netlister.expressions import escaped, string
from netlister.outputs.netlist_parts import parts
from netlister.skidl.quiet import plain_lists, quiet, skidl_module

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit
    from netlister.layout.model import Layout
    from netlister.outputs.netlist_draft import NetlistPart


def kicad_netlist(circuit: Circuit) -> str:
    r"""The netlist of a circuit, in the newest version of KiCad's format that skidl writes.

    The same circuit gives the same text: there is no date, no path and no version of a program in it. Every text of
    the layout stands in it as a string with `\\`, `\"`, `\n`, `\r` and `\t` for the characters that need it.
    While it works the current folder of the process is a temporary one for a moment (when skidl is first imported).
    """
    with quiet(skidl_module()) as skidl, plain_lists():
        design = _design(skidl, parts(circuit))
        text: str = design.generate_netlist(
            file_=io.StringIO(), tool=skidl.KICAD, do_backup=False, track_src=False, track_abs_path=False
        )
    return _plain(text, circuit.layout)


def _design(skidl: Any, listed: list[NetlistPart]) -> Any:
    """The parts and their nets as a circuit of skidl, which escapes quotation marks itself and nothing else."""
    kinds = _kinds(skidl)
    design = kinds.circuit()
    design.nets.clear()  # the net of open pins, whose name a layout may use
    nets: dict[str, list[Any]] = {}
    for part in listed:
        pins = [kinds.pin(num=escaped(name), func=skidl.Pin.types.PASSIVE) for name, _ in part.pins]
        made = kinds.part(
            tool=skidl.SKIDL,
            name=escaped(part.kind),
            circuit=design,
            ref_prefix=part.reference.rstrip("0123456789"),
            tag=escaped(part.tag),
            pins=pins,
            value=escaped(part.value),
            footprint="",
            datasheet="",
            lib=None,
        )
        if made.ref != part.reference:  # skidl counts as we do
            message = f"skidl names {part.reference} {made.ref}"
            raise AssertionError(message)
        made.lib = kinds.library(part.library)
        made.fields.update({name: escaped(value) for name, value in part.fields})
        for pin, (_, net) in zip(pins, part.pins, strict=True):
            nets.setdefault(net, []).append(pin)
    for net, joined in nets.items():  # all pins at once: one by one, each would look at all before it
        skidl.Net(escaped(net), circuit=design).connect(*joined)
    return design


class _LibraryName:
    """What skidl asks of a library when it writes: its name."""

    def __init__(self, filename: str) -> None:
        self.filename = filename


def _kinds(skidl: Any) -> Any:
    """Variants of skidl's own types.

    A pin is itself and no other: skidl holds those that differ in case or in leading zeros alone for one. A part
    has no attributes but its own: skidl would find a pin named `footprint` in place of the footprint. The nets of a
    circuit are distinct, which skidl would find out pair by pair.
    """

    class Kinds:
        library = _LibraryName

        class pin(skidl.Pin):  # noqa: N801
            __eq__ = object.__eq__
            __hash__ = object.__hash__
            __setattr__ = object.__setattr__  # a pin has no fields, among which skidl looks each time

            def __str__(self) -> str:
                """Sort by part and number, then by the name of the pin."""
                letters = self.part.ref.rstrip("0123456789")
                return f"{letters} {self.part.ref[len(letters) :]:>9} {self.num}"

        class part(skidl.Part):  # noqa: N801
            def __getattr__(self, name: str) -> Any:
                raise AttributeError(name)

        class circuit(skidl.Circuit):  # noqa: N801
            def get_nets(self) -> list[Any]:
                """Every net that has a pin."""
                return [net for net in self.nets if net is not self.NC and net.pins]

    return Kinds


# ---- the text


def _valued(value: str, entry: re.Match[str]) -> str:
    return f"{entry[1]} {value})"


def _plain(text: str, layout: Layout) -> str:
    """Put the layout's name and title in place of paths, date and version, and leave empty lists of classes out.

    A line that is nothing but such an entry is one: texts of the layout have no line ends here.
    """
    head, components, rest = text.partition("\n  (components")
    source = string(PurePath(layout.name).name)
    for entry, value in (("source", source), ("date", '""'), ("tool", '"SKiDL"')):
        head = re.sub(rf'(?m)^( +\({entry}) "[^\n]*"\)', partial(_valued, value), head)
    if layout.title:
        head = re.sub(r"(?m)^( +\(title)\)$", lambda m: f"{m[1]} {string(layout.title)})", head)
    rest = rest.replace("\n      (component_classes)", "")
    return f"{head}{components}{rest}\n"

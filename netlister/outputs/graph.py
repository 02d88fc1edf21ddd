"""The circuit as a graph for other programs: GraphML, DOT and a table (CSV) of its nets.

A node is a terminal: a pole, a rail, a terminal of a contact, a junction. An edge is something that conducts, with its
owner, its resistance in ohm and the positions in which it does so: JSON, a list of pairs of variable and positions, all
of which must hold; `[]`: always. What an automatic reverser or a frog unit chooses has `chooses` true; the checks take
its outputs as poles and do not count these edges.
"""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, NamedTuple, cast
from xml.sax.saxutils import escape, quoteattr

from netlister.layout.model import Feed, Link
from netlister.layout.terminal import Terminal
from netlister.outputs.netlist_nets import net_names
from netlister.poles.nets import contract
from netlister.volts.values import NOTHING, Band, Values

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit, Conductor, When

FORMATS = ("graphml", "dot", "csv")
FORMULA = "=+-@\t\r"


class GraphNode(NamedTuple):
    """A terminal. `what`: pole, rail, contact or junction; `pole`: the poles that always feed it, by name."""

    number: int
    name: str
    what: str
    piece: str
    rail: str
    net: str
    pole: str


class GraphEdge(NamedTuple):
    """Something that conducts between two nodes, by number; `ohm` between what the sources say, in ohm."""

    a: int
    b: int
    what: str
    owner: str
    when: tuple[tuple[str, tuple[str, ...]], ...]
    ohm: Band
    chooses: bool


def graph(circuit: Circuit, form: str) -> str:
    """The circuit in one of FORMATS."""
    return {"graphml": graphml, "dot": dot, "csv": nets_table}[form](circuit)


def nodes(circuit: Circuit) -> Iterator[GraphNode]:
    """Every terminal, in the order of the circuit."""
    names = net_names(circuit)
    nets = contract(circuit)
    rails, commons = set(circuit.rails), set()
    for contact in circuit.layout.contacts:
        for place in ("common", *(position for position, _ in contact.throws)):
            commons.add(circuit.node[contact.terminal(place)])
    poles = len(circuit.poles)
    for number, name in enumerate(circuit.names):
        fed = nets.fed[nets.of[number]]
        always = "/".join(circuit.poles[p].name for p in range(poles) if fed >> p & 1)
        piece, rail = Terminal.of(name) if number in rails else ("", "")
        what = "pole" if number < poles else "rail" if rail else "contact" if number in commons else "junction"
        yield GraphNode(number, name, what, piece, rail, names[number], always)


def edges(circuit: Circuit) -> Iterator[GraphEdge]:
    """Everything that conducts, then what automatic devices choose."""
    values = Values(circuit.layout)
    variables = circuit.variables

    def said(when: When) -> tuple[tuple[str, tuple[str, ...]], ...]:
        return tuple((variables[v].name, tuple(dict.fromkeys(variables[v].positions[i] for i in at))) for v, at in when)

    for c in circuit.conductors:
        yield GraphEdge(c.a, c.b, c.what, c.owner, said(c.when), _ohm(circuit, values, c), chooses=False)
    for device in circuit.devices:
        ohm = values.part("contact")
        a, b = device.inputs
        if device.kind == "unit":
            for source, position in ((a, "A"), (b, "B")):
                when = ((device.name, (position,)),)
                yield GraphEdge(source, device.node, "unit", device.name, when, ohm, chooses=True)
            continue
        for position, inputs in (("straight", (a, b)), ("crossed", (b, a))):
            for source, output in zip(inputs, device.outputs, strict=True):
                yield GraphEdge(
                    source, output, "reverser", device.name, ((device.name, (position,)),), ohm, chooses=True
                )


def _ohm(circuit: Circuit, values: Values, c: Conductor) -> Band:
    layout = circuit.layout
    if c.what == "feed":
        return values.wire(cast(Feed, c.entry).wire, "feed")
    if c.what == "wire":
        return values.wire(cast(Link, c.entry).wire, "other")
    if c.what == "component":
        ohm = layout.components[c.owner].resistance or 0.0
        return Band(ohm, ohm)
    if c.what in {"joiner", "blade", "contact"}:
        return values.part(c.what)
    return values.part("contact") if c.what == "reverser" else NOTHING


def _json(when: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    return json.dumps(when, ensure_ascii=False, separators=(",", ":"))


# ---- GraphML

_KEYS = (
    ("name", "node", "string"), ("what", "node", "string"), ("piece", "node", "string"), ("rail", "node", "string"),
    ("net", "node", "string"), ("pole", "node", "string"), ("conductor", "edge", "string"), ("owner", "edge", "string"),
    ("when", "edge", "string"), ("ohm_low", "edge", "double"), ("ohm_high", "edge", "double"),
    ("chooses", "edge", "boolean"),
)  # fmt: skip


def graphml(circuit: Circuit) -> str:
    """The circuit as GraphML; of several edges between two nodes each stands by itself."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<graphml xmlns="http://graphml.graphdrawing.org/xmlns">']
    for name, of, kind in _KEYS:
        lines.append(f'  <key id="{of}-{name}" for="{of}" attr.name="{name}" attr.type="{kind}"/>')
    lines.append('  <graph id="circuit" edgedefault="undirected">')
    for node in nodes(circuit):
        data = zip([k for k, of, _ in _KEYS if of == "node"], node[1:], strict=True)
        lines.append(f'    <node id="t{node.number}">{_data("node", data)}</node>')
    for number, e in enumerate(edges(circuit)):
        said = (e.what, e.owner, _json(e.when), f"{e.ohm.low:.9g}", f"{e.ohm.high:.9g}", str(e.chooses).lower())
        data = zip([k for k, of, _ in _KEYS if of == "edge"], said, strict=True)
        lines.append(f'    <edge id="c{number}" source="t{e.a}" target="t{e.b}">{_data("edge", data)}</edge>')
    lines += ["  </graph>", "</graphml>", ""]
    return "\n".join(lines)


def _data(of: str, data: Iterator[tuple[str, str]] | zip[tuple[str, str]]) -> str:
    return "".join(f"<data key={quoteattr(f'{of}-{key}')}>{escape(_xml(text))}</data>" for key, text in data)


def _xml(text: str) -> str:
    r"""A text without the characters that XML cannot have, which become `\x..`; line ends stay."""
    ends = "\t\n\r"
    return "".join(
        c
        if c in ends or (c >= " " and not "\ud800" <= c <= "\udfff" and c not in "\ufffe\uffff")
        else f"\\x{ord(c):02x}"
        for c in text
    )


# ---- DOT


def dot(circuit: Circuit) -> str:
    """The circuit in the DOT language: what conducts sometimes is dashed, what a device chooses dotted."""
    lines = ["graph circuit {", '  node [shape=box, fontname="sans-serif"];']
    shapes = {"pole": "doublecircle", "rail": "box", "contact": "ellipse", "junction": "point"}
    for node in nodes(circuit):
        said = (("label", node.name), ("shape", shapes[node.what]), ("net", node.net), ("pole", node.pole))
        lines.append(f"  t{node.number} [{_attributes(said)}];")
    for e in edges(circuit):
        style = "dotted" if e.chooses else "dashed" if e.when else "solid"
        label = " ".join(filter(None, (e.what, e.owner)))
        about = (
            ("label", label), ("style", style), ("when", _json(e.when)),
            ("ohm_low", f"{e.ohm.low:.9g}"), ("ohm_high", f"{e.ohm.high:.9g}"),
        )  # fmt: skip
        lines.append(f"  t{e.a} -- t{e.b} [{_attributes(about)}];")
    return "\n".join([*lines, "}", ""])


def _attributes(said: tuple[tuple[str, str], ...]) -> str:
    return ", ".join(f"{name}={_quoted(text)}" for name, text in said)


def _quoted(text: str) -> str:
    r"""A string of the DOT language.

    In it only `\"` is an escape; in labels `\N`, `\n` and the like are, so a backslash is written twice.
    """
    text = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\\\x{ord(c):02x}" for c in text) + '"'


# ---- nets as a table


def nets_table(circuit: Circuit) -> str:
    """The nets of the netlist as CSV (RFC 4180), a terminal a row.

    A text that a spreadsheet would take for a formula has an apostrophe in front.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(("net", "terminal", "what", "piece", "rail", "pole"))
    for node in sorted(nodes(circuit), key=lambda n: (n.net, n.name)):
        writer.writerow([_cell(t) for t in (node.net, node.name, node.what, node.piece, node.rail, node.pole)])
    return text.getvalue()


def _cell(text: str) -> str:
    return f"'{text}" if text[:1] and text[0] in FORMULA else text

"""The tables of the page: rails, volts, joints, feeds, contacts, what is thrown, plugs, wires."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.style import pole_class
from netlister.layout.terminal import Terminal
from netlister.lengths import in_mm
from netlister.papers.schedule import HEADS as WIRE_HEADS
from netlister.papers.schedule import line_cells, remarks, schedule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Layout
    from netlister.report.volts import Volts

MOST_WIRES = 1500
"""Wires up to which they are listed on the page; of larger layouts they are in the wire schedule alone."""

UNFOLDED = 40
"""Rows up to which a table stands open."""


LATER = 400
"""Rows beyond which the page's script reads a table only when it is opened; without the script it is there at once."""


class Column(NamedTuple):
    """What one table says of a column: its head, and whether it is sorted as a number."""

    head: str
    number: bool = False


def tables(circuit: Circuit, poles: Mapping[str, list[str]], volts: Volts) -> str:
    """All tables that have rows, as HTML. `poles`: of every rail, in the position that the page opens with."""
    layout = circuit.layout
    parts = [
        _rails(circuit, poles),
        _volts(volts),
        _of("joints", "Joints", ("joint", "from", "to", "insulated, seen along the first"), _joints(layout)),
        _of("feeds", "Feeds", ("feed", "wires", "mm from end a"), _feeds(layout)),
        _of("contacts", "Contacts", ("contact", "moved by", "common", "made with"), _contacts(layout)),
        _of("throws", "What is thrown", ("name", "what it is", "positions", "moves"), _thrown(layout)),
        _of("plugs", "Plugs", ("plug", "pin", "one half", "other half", "can be out"), _plugs(layout)),
        _wires(layout),
    ]
    return "\n".join(filter(None, parts))


def _of(key: str, title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    listed = [f"<tr><th>{escape(row[0])}{''.join(f'<td>{escape(cell)}' for cell in row[1:])}" for row in rows]
    columns = [Column(head, head.startswith("mm ")) for head in heads]
    return _table(key, title, columns, listed, len(listed)) if listed else ""


def _rails(circuit: Circuit, poles: Mapping[str, list[str]]) -> str:
    def rows() -> Iterator[str]:
        for node in circuit.rails:
            name = circuit.names[node]
            piece, rail = Terminal.of(name)
            found = poles[name]
            yield (
                f"<tr><th>{escape(piece)}<td>{escape(rail)}"
                f"<td class={pole_class(circuit, found)}>{escape('+'.join(found) or 'none')}"
            )

    heads = (Column("piece"), Column("rail"), Column("pole, as the turnouts stand"))
    return _table("rails", "Poles of every rail", heads, rows(), len(circuit.rails))


def _volts(volts: Volts) -> str:
    if not volts.rows:
        return f'<p class="hint">{escape(volts.why)}</p>' if volts.why else ""
    rows = (f"<tr><th>{escape(row[0])}{''.join(f'<td>{escape(cell)}' for cell in row[1:])}" for row in volts.rows)
    heads = (
        Column("piece"),
        Column("loop, mohm", number=True),
        Column("at, mm", number=True),
        Column("lost, V", number=True),
        Column("lost, %", number=True),
        Column("a short draws, A", number=True),
        Column("when"),
    )
    return _table("volts", "Volts lost at the worst place of each piece", heads, rows, len(volts.rows))


def _joints(layout: Layout) -> Iterator[tuple[str, ...]]:
    said = {(False, False): "no", (True, False): "left", (False, True): "right", (True, True): "both"}
    for joint in layout.joints:
        yield joint.name, ".".join(joint.start), ".".join(joint.end), said[joint.pairs[0][2], joint.pairs[1][2]]


def _feeds(layout: Layout) -> Iterator[tuple[str, ...]]:
    for number, feed in enumerate(layout.feeds, 1):
        wires = ", ".join(f"{source} to {rail}" for source, rail in feed.wires)
        yield feed.name or f"feed {number}", wires, "" if feed.at is None else f"{in_mm(feed.at):g}"


def _contacts(layout: Layout) -> Iterator[tuple[str, ...]]:
    for contact in layout.contacts:
        made = ", ".join(f"{position}: {terminal or 'nothing'}" for position, terminal in contact.throws)
        yield contact.full, contact.variable, contact.common or "nothing", made


def _thrown(layout: Layout) -> Iterator[tuple[str, ...]]:
    moves: dict[str, list[str]] = {}
    for bar in layout.bars.values():
        moves.setdefault(bar.variable, []).append(f"blades {bar.bar}")
    for contact in layout.contacts:
        moves.setdefault(contact.variable, []).append(f"contact {contact.full}")
    for reverser in layout.reversers.values():
        if reverser.variable:
            moves.setdefault(reverser.variable, []).append(f"reverser {reverser.name}")
    for variable in layout.variables.values():
        if variable.kind != "plug":
            yield variable.name, variable.kind, ", ".join(variable.positions), ", ".join(moves.get(variable.name, ()))


def _plugs(layout: Layout) -> Iterator[tuple[str, ...]]:
    for pin in layout.pins:
        yield pin.plug, pin.pin, *pin.ends, "yes" if pin.variable else "no"


def _wires(layout: Layout) -> str:
    lines = schedule(layout)
    if len(lines) > MOST_WIRES:
        return f'<p class="hint">{len(lines):,} wires: see the wire schedule, <code>netlister schedule</code>.</p>'
    table = _of("wires", "Wires", WIRE_HEADS[:-1], (line_cells(line)[:-1] for line in lines))
    return table + "".join(f'<p class="hint">{escape(text)}</p>' for text in remarks(lines))


def _table(key: str, title: str, heads: Sequence[Column], rows: Iterable[str], count: int) -> str:
    """A table that the script makes sortable and searchable; folded where it is long, unfolded on paper.

    Ends of cells and rows are left out, as HTML allows: a thousand turnouts have ten thousand rows.
    """
    cells = "".join(f"<th{' data-number' if head.number else ''}>{escape(head.head)}</th>" for head in heads)
    body = "".join(rows)  # a line's end would be part of the last cell
    unfolded = " open" if count <= UNFOLDED else ""
    table = f'<table id="table-{key}"><thead><tr>{cells}</tr></thead>\n<tbody>{body}</tbody></table>'
    if count > LATER:
        table = f"<noscript>{table}</noscript>"
    return (
        f'<details class="table"{unfolded}><summary>{escape(title)} ({count:,})</summary>\n'
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(title)}" data-table="{key}">{table}'
        "</div></details>"
    )

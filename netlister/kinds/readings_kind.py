"""Writes the kind of track piece that conducts as a meter said."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from netlister.kinds.model import Role, role_of
from netlister.kinds.readings_model import bonds, contacts, reading_remarks

if TYPE_CHECKING:
    from netlister.kinds.readings_model import ReadEnd, Readings, ReadRoute


def kind_text(readings: Readings, of: str = "") -> str:
    """The file of the kind, in YAML. `of`: the name of the readings' file, for the first line."""
    q = _quoted
    lines = [f"# Written from the readings of a meter{f' in {of}' if of.isprintable() and of else ''}."]
    lines += [f"# {remark[0].upper()}{remark[1:]}." for remark in reading_remarks(readings)]
    lines += [f"kind: {q(readings.kind)}", f"title: {q(readings.title)}", f"summary: {q(readings.summary)}"]
    lines.append(f"rails: [{', '.join(map(q, readings.rails))}]")
    lines.append("ends:")
    for end in readings.ends:
        entering = "true" if end.entering else "false"
        lines.append(f"  {q(end.name)}: {{entering: {entering}, left: {q(end.left)}, right: {q(end.right)}}}")
    joined = bonds(readings)
    if joined:
        lines.append(f"bonds: [{', '.join(f'[{q(a)}, {q(b)}]' for a, b in joined)}]")
    if readings.positions:
        lines.append(f'bars: {{"": [{", ".join(map(q, readings.positions))}]}}')
        made = contacts(readings)
        lines += ["contacts:"] if made else []
        lines += [f'  - {{when: {{"": {q(position)}}}, join: [{q(a)}, {q(b)}]}}' for position, (a, b) in made]
    lines.append("routes:")
    for route in readings.routes:
        when = f'when: {{"": {q(route.position)}}}, ' if route.position else ""
        left, right = (", ".join(map(q, rails)) for rails in (route.left, route.right))
        ends = ", ".join(map(q, route.ends))
        length = f", length: {_dimension(readings, route)}" if route.length else ""
        lines.append(f"  {q(route.name)}: {{ends: [{ends}], {when}left: [{left}], right: [{right}]{length}}}")
    lines += ["notes:", f"  test: {q(_test(readings))}"]
    lengths = {_dimension(readings, r): r for r in readings.routes if r.length}
    lines += ["dimensions:"] if lengths else []
    for name, route in lengths.items():
        what = "from end to end" if name == "length" else f"of the route {route.name}"
        lines.append(
            f"  {name}: {{value: {q(route.length)}, what: {q(what)}, source: measured with a rule, status: read}}"
        )
    lines.append("draw:")
    lines += [f"  {q(name)}: [{x:g}, {y:g}]" for name, (x, y) in anchors(readings).items()]
    return "\n".join(lines) + "\n"


def _dimension(readings: Readings, route: ReadRoute) -> str:
    """The name of the dimension that is the length of a route: one for all where all are alike."""
    if len({r.length for r in readings.routes}) == 1:
        return "length"
    return f"length-{[r.name for r in readings.routes].index(route.name) + 1}"


SPREAD = 0.2
"""How far apart, in lengths of the piece, ends on one side are drawn."""


def anchors(readings: Readings) -> dict[str, tuple[float, float]]:
    """Where a drawing puts the ends, the frogs and the tie bar: x forward from 0 to 1, y to the left.

    Ends on one side are ranged by their outer rails: the leg that keeps the left rail of the only end opposite is the
    left one, else as written. A frog lies towards the ends that it belongs to.
    """
    found: dict[str, tuple[float, float]] = {}
    sides = [[end for end in readings.ends if end.entering is entering] for entering in (True, False)]
    for x, (own, others) in enumerate((sides, sides[::-1])):
        ranged = sorted(own, key=lambda end: _place(end, others[0])) if len(others) == 1 else own
        middle = (len(ranged) - 1) / 2
        shift = {"left": SPREAD / 2, "right": -SPREAD / 2}.get(readings.hand, 0.0) if len(ranged) > 1 else 0.0
        for number, end in enumerate(ranged):
            found[end.name] = (float(x), round((middle - number) * SPREAD + shift, 3) + 0.0)
    for rail in readings.rails:
        if role_of(rail) is Role.FROG:
            at = [found[end.name] for end in readings.ends if rail in (end.left, end.right)]
            count = max(len(at), 1)
            along = 0.5 + 0.4 * (sum(p[0] - 0.5 for p in at) / count)
            found[rail] = (round(along, 3), round(sum(p[1] for p in at) / count / 2, 3) + 0.0)
    if readings.positions:
        found["bar"] = (0.03, 0.0)
    return found


def _place(end: ReadEnd, opposite: ReadEnd) -> int:
    """Left, middle or right, by the rail that an end shares with the only one opposite."""
    return (end.right == opposite.right) - (end.left == opposite.left)


def _test(readings: Readings) -> str:
    """What a meter must say of another piece of the kind."""
    said = []
    for position, groups in readings.groups.items():
        listed = "; ".join(", ".join(group) for group in groups if len(group) > 1) or "nothing"
        where = f"In position {position} these beep to each other" if position else "These beep to each other"
        said.append(f"{where}: {listed}.")
    rest = "is silent or was not measured" if any(readings.unknown.values()) else "is silent"
    return f"Supply disconnected, track empty. {' '.join(said)} Everything else {rest}."


_PLAIN = re.compile(r"[A-Za-z0-9_…](?:[A-Za-z0-9_ …-]*[A-Za-z0-9_…-])?")


def _quoted(text: str) -> str:
    """A text as YAML has it, in quotes where it needs them."""
    return text if _PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)

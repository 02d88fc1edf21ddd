"""Repairs in the words of a drawing: parts by reference, wires from pin to pin, fields by name."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from netlister.repairs.drawing_work import NoWordsError
from netlister.repairs.orders import Orders

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.edits.model import Edit
    from netlister.layout.model import Layout
    from netlister.repairs.model import Choice


def told(layout: Layout, choice: Choice) -> Choice:
    """A choice with what to do said in the words of the drawing, where the layout comes from one that has them."""
    order = ordered(layout, choice.edit)
    return choice._replace(say=_around(choice.say, order, layout.drawn)) if order else choice


def ordered(layout: Layout, edit: Edit) -> str:
    """What an edit asks for in the words of the drawing, or nothing where it has none."""
    if layout.drawing is None:
        return ""
    orders = Orders(layout, layout.drawing)
    try:
        for change in edit:
            orders.take(change)
    except NoWordsError:
        return ""
    return orders.text()


def each_ordered(layout: Layout, edit: Edit) -> list[str]:
    """What each change of an edit asks for, one after the other; nothing where the drawing has no words for it."""
    if layout.drawing is None:
        return ["" for _ in edit]
    found = []
    before = Orders(layout, layout.drawing)
    for change in edit:
        orders = Orders(layout, layout.drawing)
        orders.new, orders.positions = before.new, before.positions
        try:
            orders.take(change)
        except NoWordsError:
            found.append("")
        else:
            found.append(orders.text())
    return found


_BEFORE = re.compile(
    r"(look at the turnout; if it is so, |if the outputs are isolated from each other, |"
    r"(?:cut|solder|fit|take off|bond)\b.*?, then |change the wiring; or, if it is what you want, |"
    r"turn it round, with the supply unplugged, and )"
)
_AFTER = re.compile(r"(, once the piece itself is so|; the longest train must fit between.*)$")


def _around(say: str, order: str, names: Mapping[str, str]) -> str:
    """What is said beside the order itself, as of the railway and not of the file, stays."""
    before, after = _BEFORE.match(say), _AFTER.search(say)
    head = re.sub(r"'([^']*)'", lambda m: names.get(m[1], m[0]), before[1]) if before else ""
    return f"{head}{order}{after[1] if after else ''}"

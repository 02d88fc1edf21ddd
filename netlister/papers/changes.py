"""What changed since the last print: wires to add, to change and to take out, and cards to replace."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.papers.schedule import COLUMNS, ScheduleLine, end_said, mm_text
from netlister.papers.table import Table

if TYPE_CHECKING:
    from netlister.papers.card import Cards

HEADS = ("do", "wire", "what", "done")


def changes(old: Cards, new: Cards) -> list[Table]:
    """The wires by id, then the cards whose sheets are no longer the same. Both empty: nothing to do."""
    return [t for t in (wires(old.lines, new.lines), cards_to_change(old, new)) if t.rows]


def wires(old: list[ScheduleLine], new: list[ScheduleLine]) -> Table:
    """Wires to take out, to change and to add, in the order of work: first out, then change, then in."""
    before, after = {line.id: line for line in old}, {line.id: line for line in new}
    rows = [("take out", name, _ends(line), "[ ]") for name, line in before.items() if name not in after]
    for name, line in after.items():
        if name in before:
            said = _difference(before[name], line)
            moved = {before[name].start, before[name].end} != {line.start, line.end}
            if said:
                rows.append(("move" if moved else "change", name, said, "[ ]"))
    rows += [("add", name, _ends(line), "[ ]") for name, line in after.items() if name not in before]
    return Table("Wires", HEADS, tuple(rows))


def _ends(line: ScheduleLine) -> str:
    length = f"{line.length_mm} mm" if line.length_mm else ""
    tap = f"tap at {line.tap_mm} mm" if line.tap_mm else ""
    made = ", ".join(t for t in (line.colour, line.size, length, tap) if t)
    return f"{end_said(line.run, 0)} to {end_said(line.run, 1)}" + (f" ({made})" if made else "")


def _difference(old: ScheduleLine, new: ScheduleLine) -> str:
    """Which columns differ, each with what was and what is."""
    pairs = zip(COLUMNS[1:], old.columns()[1:], new.columns()[1:], strict=True)
    said = [f"{name}: {was or '-'} > {now or '-'}" for name, was, now in pairs if was != now]
    was, now = old.run.at, new.run.at
    if was != now:
        said.append(f"mm from end a of the rail: {mm_text(was) or '-'} > {mm_text(now) or '-'}")
    return "; ".join(said)


def cards_to_change(old: Cards, new: Cards) -> Table:
    """Cards to take down, to replace and to put up. The version at the foot of a sheet does not count."""
    rows = [("take down", name, "its card", "[ ]") for name in old.known if name not in new.known]
    for name in new.known:
        if name not in old.known:
            rows.append(("put up", name, f"its card, {len(new.bodies(name))} sheets", "[ ]"))
            continue
        before, after = old.plain_bodies(name), new.plain_bodies(name)
        if before != after:
            same = len(before) == len(after)
            sheets = [str(k) for k, (a, b) in enumerate(zip(before, after, strict=False), 1) if a != b]
            which = f"sheet{'s' * (len(sheets) > 1)} {', '.join(sheets)}" if same else f"all {len(after)} sheets"
            rows.append(("replace", name, f"{which} of its card", "[ ]"))
    return Table("Cards", ("do", "card", "what", "done"), tuple(rows))

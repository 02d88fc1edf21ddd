"""The rule `board-crossing`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.circuit.runs import boards_of, head, runs
from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import WHOLE, Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.runs import Run
    from netlister.rules.analysis import Analysis

DOCUMENT = """A wire crosses from one baseboard to another without a plug.

## What it finds

Where the layout says what stands on which baseboard (`boards`): a wire whose ends are on two of them and that goes
through no plug. A block such as `TB1` stands where its wires come from; if that is two boards, it is named itself.
Buses and supplies run everywhere and are not counted.

## Why it matters

Boards that are taken apart tear such a wire out, mostly at the solder joint under a rail that nobody sees.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  quarry: {length: 900 mm}
  wharf: {length: 900 mm}
feeds:
  - {to: [quarry, wharf]}
wires:
  - {from: quarry.left, to: wharf.left}
boards:
  north: [quarry]
  south: [wharf]
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  quarry: {length: 900 mm}
  wharf: {length: 900 mm}
feeds:
  - {to: [quarry, wharf]}
plugs:
  J1: {pins: {1: [quarry.left, wharf.left]}}
boards:
  north: [quarry]
  south: [wharf]
```

## How to mend it

Lead it through a plug (`plugs`), or feed the piece from a bus of its own board.

## When it is meant

Boards that are never taken apart: name them as one, or allow it with a comment.
"""


def subjects(analysis: Analysis) -> tuple[str, ...]:
    """The whole layout, where it has boards: where a block stands depends on all its wires."""
    return WHOLE if len(analysis.layout.boards) > 1 else ()


def judge(analysis: Analysis, _: str) -> Iterator[Breach[tuple[Run, tuple[str, ...]]]]:
    """Every wire with its ends on two boards."""
    found = runs(analysis.layout)
    boards = boards_of(analysis.layout, found)
    for run in found:
        ends = (boards[run.id, 0], boards[run.id, 1])
        if all(ends) and ends[0] != ends[1]:
            yield Breach("board-crossing", run.id, ALWAYS, (run, ends))
    for block, there in _between(found, boards).items():
        if len(there) > 1:
            yield Breach("board-crossing", block, ALWAYS, (next(iter(there.values())), tuple(there)))


def _between(found: list[Run], boards: dict[tuple[str, int], str]) -> dict[str, dict[str, Run]]:
    """Per block that stands on no board that is known, the boards that its wires lead to, each with a wire."""
    result: dict[str, dict[str, Run]] = {}
    for run in found:
        if run.kind == "plug":
            continue
        for place, other in ((0, 1), (1, 0)):
            if not boards[run.id, place] and boards[run.id, other] and not run.buses[place]:
                result.setdefault(head(run.ends[place]), {}).setdefault(boards[run.id, other], run)
    return result


def tell(analysis: Analysis, broken: Breach[tuple[Run, tuple[str, ...]]]) -> Told:
    """Say between which boards the wire runs."""
    run: Run = broken.about[0]
    one, other, *_ = broken.about[1]
    if broken.subject != run.id:
        message = f"'{broken.subject}' has wires to board {one} and to board {other}, and no plug is between them"
        fix = f"put {broken.subject} on one of them, and lead its wires from the other through a plug"
        return Told(Severity.WARNING, message, fix, (), (), (run.span,))
    message = f"the wire '{run.id}' from {run.ends[0]} on board {one} to {run.ends[1]} on board {other} has no plug"
    fix = "lead it through a plug, or feed its far end from a bus on that board"
    parts = tuple(dict.fromkeys(head(end) for end in run.ends if head(end) in analysis.layout.pieces))
    return Told(Severity.WARNING, message, fix, parts, (), (run.span,))


RULE = rule("board-crossing", DOCUMENT, subjects, judge, tell)

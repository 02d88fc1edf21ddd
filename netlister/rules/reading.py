"""Rules that are decided while the file is read: each is a warning about something written that has no effect."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import Breach, Told, rule

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.layout.model import Notice
    from netlister.rules.analysis import Analysis

LONE_JUNCTION = """A free junction is named only once.

## What it finds

A name in a wire or contact that is no rail, pole or contact terminal, and stands nowhere else in the file.

## Why it matters

A wire that ends at such a name ends nowhere. Most often the name is a misspelling of another.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
wires:
  - {from: line.left, to: TB1.1}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
feeds:
  - {to: line}
  - {to: spur, B: right}
wires:
  - {from: line.left, to: TB1.1}
  - {from: TB1.1, to: spur.left}
```

## How to mend it

Correct the name, or wire the other end.

## When it is meant

A terminal kept free for later: `# netlister: allow lone-junction: kept free` on its line.
"""

JOINS_NOTHING = """A wire leads from a terminal to the same terminal.

## What it finds

A wire, a component, a pin of a plug or a throw of a contact whose two ends are written as one and the same terminal. A
wire between two ends of one rail (`line.a.left` and `line.b.left`) is a strap along it, and no such mistake.

## Why it matters

It joins nothing, and what it was to join stays apart: most often one of the two names is a slip of the pen.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
feeds:
  - {to: [line, spur]}
wires:
  - {from: spur.left, to: spur.left}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
feeds:
  - {to: [line, spur]}
wires:
  - {from: line.left, to: spur.left}
```

## How to mend it

Write the terminal that the other end is really wired to, or leave the entry out.

## When it is meant

Never; a comment on the line allows it all the same.
"""

NOTHING_INSULATED = """A joint says `insulate: vee` where there is nothing to insulate.

## What it finds

`insulate: vee` insulates every rail of the joint that is a `frog…` or `closure-…` rail at that end. Here there is none.

## Why it matters

The joint is metal on both rails, which is not what whoever wrote it thought.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
joints:
  - {from: line, to: spur, insulate: vee}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  spur: {length: 300 mm}
joints:
  - {from: line, to: spur}
feeds:
  - {to: line}
```

## How to mend it

Write `insulate: left`, `right` or `both` for the rails that are to be insulated, or leave it out.

## When it is meant

Never; a comment on the line allows it all the same.
"""

FEED_WITHOUT_TAP = """A feed does not say where along its bus it is tapped.

## What it finds

A feed without `tap` from a bus that has a length.

## Why it matters

The volts at the far end depend on how much of the bus the current runs through. Without `tap` the feed counts as tapped
at the supply, which flatters the layout.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
buses: {ring: {supply: main, wire: 2.5 mm2, length: 6 m}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
buses: {ring: {supply: main, wire: 2.5 mm2, length: 6 m}}
track:
  line: {length: 900 mm}
feeds:
  - {to: line, tap: 4 m}
```

## How to mend it

Write `tap:` with the length of bus from its supply to the feed.

## When it is meant

A feed right at the supply says `tap: 0 m`.
"""

REVERSER_ON_DC = """An automatic reverser is fed by a direct-current supply.

## What it finds

A reverser of `mode: automatic` whose bus belongs to a supply of type dc.

## Why it matters

On direct current the poles of the rails decide which way a train runs. A reverser that swaps them under the train
sends the train back; what should be swapped is the main line.

## Fails

```yaml
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V}}
track:
  line: {length: 900 mm}
reversers:
  R1: {from: cab, mode: automatic}
feeds:
  - {to: line, from: R1}
```

## Passes

```yaml
format: netlister/1
supplies: {cab: {type: dcc, voltage: 12 V}}
track:
  line: {length: 900 mm}
reversers:
  R1: {from: cab, mode: automatic}
feeds:
  - {to: line, from: R1}
```

## How to mend it

Use a reverser that follows the turnout (`follows: T1`), stop in the loop and throw the controller over for the main
line.

## When it is meant

Where the train is always stopped before the section: allow it with a comment that says so.
"""


OLD_WORD = """A key is written by the name that it had in version 0.1.

## What it finds

`stalls` of a turntable, which is now `roads`: a stall is what a train does on dead track.

## Why it matters

It does not yet; the old name is read as the new one.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  pit: {kind: turntable, stalls: 1}
feeds:
  - {to: pit.s1}
reversers: {R1: {from: main, mode: automatic}}
wires:
  - {from: R1.A, to: pit.bridge-left}
  - {from: R1.B, to: pit.bridge-right}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  pit: {kind: turntable, roads: 1}
feeds:
  - {to: pit.s1}
reversers: {R1: {from: main, mode: automatic}}
wires:
  - {from: R1.A, to: pit.bridge-left}
  - {from: R1.B, to: pit.bridge-right}
```

## How to mend it

Write the new name.

## When it is meant

Where the file is to be read by version 0.1, too.
"""


def _subjects(name: str) -> Callable[[Analysis], list[Notice]]:
    return lambda analysis: [notice for notice in analysis.layout.notices if notice.rule == name]


def _judge(_: Analysis, notice: Notice) -> Iterator[Breach[Notice]]:
    yield Breach(notice.rule, notice.subject, ALWAYS, notice, str(notice.span))


def _tell(analysis: Analysis, broken: Breach[Notice]) -> Told:
    notice: Notice = broken.about
    parts = (notice.subject,) if notice.subject in analysis.layout.pieces else ()
    severity = Severity.NOTE if notice.rule == "old-word" else Severity.WARNING
    return Told(severity, notice.message, notice.fix, parts, (), (notice.span,))


RULES = tuple(
    rule(name, document, _subjects(name), _judge, _tell)
    for name, document in (
        ("lone-junction", LONE_JUNCTION),
        ("joins-nothing", JOINS_NOTHING),
        ("nothing-insulated", NOTHING_INSULATED),
        ("feed-without-tap", FEED_WITHOUT_TAP),
        ("reverser-on-dc", REVERSER_ON_DC),
        ("old-word", OLD_WORD),
    )
)

OF_TEXT = frozenset(one.name for one in RULES)
"""Their names: what is said of the text alone, and may change with it while the circuit stays."""

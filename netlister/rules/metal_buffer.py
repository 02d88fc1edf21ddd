"""The rule `metal-buffer`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.poles.diagram import ALWAYS
from netlister.rules.electric import clash
from netlister.rules.gap_clash import is_insulated
from netlister.rules.model import Breach, Local, Told, rule
from netlister.rules.telling import told_sides

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Joint
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis

DOCUMENT = """A wheel over the cut in front of a metal buffer joins both poles through its frame.

## What it finds

A buffer whose frame joins its two rails, with a cut in front of it whose two sides have different poles. That is so
where only one rail is cut: the frame then has the pole of the other. With both rails cut it has no pole and needs none.

## Why it matters

The meter shows no short, and the first train that is set back against the buffer makes one as a wheel rolls over the
cut.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  siding: {length: 450 mm}
  stop: {kind: buffer-metal}
joints:
  - {from: siding, to: stop, insulate: left}
feeds:
  - {to: siding}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  siding: {length: 450 mm}
  stop: {kind: buffer-metal}
joints:
  - {from: siding, to: stop, insulate: both}
feeds:
  - {to: siding}
```

## How to mend it

Cut the other rail in front of the buffer, too, and leave the buffer without a feed.

## When it is meant

Where no metal wheel can reach the cut, as with a stop of plastic in front of it: allow it with a comment.
"""


class About(NamedTuple):
    """A joint, the buffer there, and its insulated pairs of rails."""

    joint: Joint
    buffer: str
    pairs: tuple[tuple[str, str, Function], ...]


def subjects(analysis: Analysis) -> Iterator[EndOf]:
    """Every insulated joint in front of a buffer whose frame joins its rails, by the end that it begins at."""
    for joint in analysis.layout.joints:
        if any(insulated for _, _, insulated in joint.pairs) and _is_framed(analysis, joint):
            yield joint.start


def _is_framed(analysis: Analysis, joint: Joint) -> bool:
    """Whether one of the two pieces at a joint is a buffer whose frame joins its rails."""
    return any(analysis.layout.pieces[piece].kind.framed for piece, _ in (joint.start, joint.end))


def near(_: Analysis, change: Reached) -> set[EndOf]:
    """The joints that a change touches."""
    return change.joints


def there(analysis: Analysis, at: EndOf) -> bool:
    """Whether an insulated joint in front of such a buffer begins at an end."""
    return is_insulated(analysis, at) and _is_framed(analysis, analysis.joint(at))


def judge(analysis: Analysis, subject: EndOf) -> Iterator[Breach[About]]:
    """When a wheel over the cut joins poles."""
    joint = analysis.joint(subject)
    pairs = tuple((a, b, ALWAYS) for a, b, insulated in joint.pairs if insulated)
    function = clash(analysis, [(analysis.net(a), analysis.net(b), counts) for a, b, counts in pairs])
    buffer = next(p for p, _ in (joint.start, joint.end) if analysis.piece(p).kind.framed)
    yield Breach("metal-buffer", joint.name, function, About(joint, buffer, pairs))


def called(analysis: Analysis, subject: EndOf) -> str:
    """The name of a joint."""
    return analysis.joint(subject).name


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say what a wheel joins."""
    about: About = broken.about
    names, rails, path = told_sides(analysis, about.pairs, analysis.partly_in(broken.function))
    return Told(
        Severity.WARNING,
        f"a wheel over the cut '{about.joint.name}' joins {names[0]} on {rails[0]} with {names[1]} on {rails[1]} "
        f"through the frame of '{about.buffer}'",
        "cut both rails in front of the buffer; it then has no pole and needs none",
        tuple(sorted({*about.joint.pieces})),
        path,
        (about.joint.span, analysis.layout.pieces[about.buffer].span),
    )


RULE = rule("metal-buffer", DOCUMENT, subjects, judge, tell, called=called, local=Local(near, there))

"""The rule `nose-bridge`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.kinds import wheels
from netlister.kinds.measure import total
from netlister.lengths import Metres, in_mm
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.rules.electric import clash
from netlister.rules.model import Breach, Told, rule
from netlister.rules.telling import told_sides

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Layout, Piece
    from netlister.poles.diagram import Function
    from netlister.rules.analysis import Analysis

DOCUMENT = """A wide tread joins the two V rails just past an insulated nose.

## What it finds

A frog with an insulated nose whose two V rails have different poles, and whose insulation ends where the widest tread
that runs there still touches both rails. With N the number of the frog, W the width of the tread and H that of the rail
head a tread touches both up to N x (W + H) past the theoretical point. W is the widest `wheel` under `trains`, else the
widest that the standards allow for `gauge`; H follows from `rail: code-83` and the like; N from `frog-number` and the
end of the insulation from `nose` of the piece, else from its kind. Where W, H or the end of the insulation is not known
(no `nose` in the layout: its kind's is only assumed) nothing is said; `--select nose-bridge` names those frogs.

## Why it matters

A blink of a short as each wide wheel passes, on both routes: a quick breaker trips, or the sound starts anew.

## Fails

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
gauge: 16.5 mm
rail: code-83
track:
  tannery: {length: 600 mm}
  T1: {kind: insulated-frog, hand: right, jumpers: true, frog-number: 6, nose: 10 mm}
joints:
  - {from: tannery, to: T1.toe}
feeds:
  - {to: tannery}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
gauge: 16.5 mm
rail: code-83
track:
  tannery: {length: 600 mm}
  T1: {kind: insulated-frog, hand: right, jumpers: true, frog-number: 6, nose: 20 mm}
joints:
  - {from: tannery, to: T1.toe}
feeds:
  - {to: tannery}
```

## How to mend it

Lacquer the tops of the two rails past the nose, as far as the finding says, or file a gap there so that the insulation
reaches farther; or use narrower wheels.

## When it is meant

Never. If the track that you have works, measure it and write its `nose`.
"""


class Sizes(NamedTuple):
    """What decides at a nose: None where the layout does not say."""

    number: float
    tread: wheels.Tread | None
    head: Metres | None


class About(NamedTuple):
    """The noses of a piece that a tread can bridge, each with how far it reaches in m, and whether that is certain."""

    piece: Piece
    noses: tuple[tuple[tuple[str, str], Metres], ...]
    sizes: Sizes


def subjects(analysis: Analysis) -> list[str]:
    """Every piece with an insulated nose."""
    return [piece.name for piece in analysis.layout.pieces.values() if piece.kind.noses]


def judge(analysis: Analysis, name: str) -> Iterator[Breach[About]]:
    """When a tread joins two poles at a nose of a piece."""
    piece = analysis.piece(name)
    sizes, noses = _noses(analysis.layout, piece)
    if noses and ("nose-bridge" in analysis.named or (sizes.tread and sizes.head)):
        about = About(piece, noses, sizes)
        function = _clash(analysis, about)
        if function:
            yield Breach("nose-bridge", name, function, about)


def _noses(layout: Layout, piece: Piece) -> tuple[Sizes, tuple[tuple[tuple[str, str], Metres], ...]]:
    """The sizes at the noses of a piece, and the noses that may be too short."""
    found = []
    sizes = Sizes(0.0, _tread(layout), _head(layout))
    for nose in piece.kind.noses:
        number = nose.number if piece.said.frog_number is None else piece.said.frog_number
        own = piece.said.nose
        gauge = layout.gauge
        reach = own if own is not None else total(nose.beyond, piece.kind.dimensions, number, gauge)
        sizes = sizes._replace(number=number)
        a, b = nose.rails
        if sizes.tread is None or sizes.head is None:
            found.append(((a, b), reach))
            continue
        start, stop = wheels.bridged(number, sizes.tread.width, sizes.head)
        if stop > start and reach < stop:
            found.append(((a, b), reach))
    return sizes, tuple(found)


def _tread(layout: Layout) -> wheels.Tread | None:
    """The widest tread of the trains, else of the standards for the gauge."""
    given = [(train.wheel, name) for name, train in layout.trains.items() if train.wheel is not None]
    if given:
        width, name = max(given)
        return wheels.Tread(width, f"the train '{name}'")
    return wheels.widest_tread(layout.gauge) if layout.gauge else None


def _head(layout: Layout) -> Metres | None:
    code = layout.rail.removeprefix("code-").removesuffix("-brass")
    return wheels.head_width(int(code)) if layout.rail.startswith("code-") else None


def _clash(analysis: Analysis, about: About) -> Function:
    result = NEVER
    for a, b, when in _pairs(about):
        result = analysis.poles.diagrams.either(result, clash(analysis, [(analysis.net(a), analysis.net(b), when)]))
    return result


def _pairs(about: About) -> Iterator[tuple[str, str, Function]]:
    for (a, b), _ in about.noses:
        yield about.piece.terminal(a), about.piece.terminal(b), ALWAYS


def tell(analysis: Analysis, broken: Breach[About]) -> Told:
    """Say which rails meet under the tread, and how long the nose would have to be."""
    about: About = broken.about
    number, tread, head = about.sizes
    names, rails, path = told_sides(analysis, _pairs(about), analysis.partly_in(broken.function))
    reach = min(length for _, length in about.noses)
    sides = f"{names[0]} on {rails[0]} with {names[1]} on {rails[1]}"
    parts, where = (about.piece.name,), (about.piece.span,)
    if tread is None or head is None:
        lacking = [
            *(["'gauge' or the 'wheel' of a train"] if tread is None else []),
            *(["'rail'"] if head is None else []),
        ]
        unknown = f"how wide cannot be told without {' and '.join(lacking)}"
        message = f"a wide tread may join {sides} past the nose; {unknown}"
        fix = "add what is missing, as in 'gauge: 16.5 mm' and 'rail: code-83', and measure the 'nose' of the piece"
        return Told(Severity.NOTE, message, fix, parts, path, where)
    safe = wheels.bridged(number, tread.width, head)[1]
    message = (
        f"a tread of {_mm(tread.width)} joins {sides} past the nose: it touches both up to {_mm(safe)} beyond the "
        f"point of a No. {number:g} frog, and the insulation ends at {_mm(reach)} (tread: {tread.source})"
    )
    fix = f"lacquer the rail tops up to {_mm(safe)} beyond the point, or file a gap there; or use narrower wheels"
    return Told(Severity.WARNING, message, fix, parts, path, where)


def _mm(metres: Metres) -> str:
    return f"{in_mm(metres):.1f} mm"


RULE = rule("nose-bridge", DOCUMENT, subjects, judge, tell, more=True)

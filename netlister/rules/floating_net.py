"""The rule `floating-net`."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Severity
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS
from netlister.rules.model import Breach, Local, Told, rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.numbers import Net, Node
    from netlister.layout.model import Piece
    from netlister.poles.diagram import Function
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

DOCUMENT = """A rail has no pole in any position.

## What it finds

A net of rails and commons of contacts that nothing ever feeds: no feed, no joiner, no contact leads to a pole,
whatever way the turnouts stand. A metal buffer needs no pole.

## Why it matters

A wheel on such a rail picks up nothing. A short dead frog stops small locomotives; a longer piece stops all.

## Fails

```yaml
# The frog has no contact. No train can run over it either (dead-track); that is allowed here, to show one thing alone.
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  T1: {kind: live-frog-bonded, hand: left}  # netlister: allow dead-track: the same frog
joints:
  - {from: line, to: T1.toe}
feeds:
  - {to: line}
```

## Passes

```yaml
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  line: {length: 900 mm}
  T1: {kind: live-frog-bonded, hand: left}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
joints:
  - {from: line, to: T1.toe}
feeds:
  - {to: line}
```

## How to mend it

Give the rail a feed, or the frog a changeover contact: its common to the frog, its throws to the two stock rails.

## When it is meant

A frog that is left dead on purpose says `frog: dead`; a track that is dead on purpose is named under `expect`.
"""


class Floating(NamedTuple):
    """The nodes of a net without a pole: its rails, then its commons."""

    nodes: list[Node]


def subjects(analysis: Analysis) -> list[Net]:
    """Every net of rails and commons that nothing always feeds."""
    of = analysis.poles.nets.of
    fed = analysis.poles.nets.fed
    nets = {of[node] for node in (*analysis.circuit.rails, *analysis.circuit.commons)}
    return sorted(net for net in nets if not fed[net])


def judge(analysis: Analysis, net: Net) -> Iterator[Breach[Floating]]:
    """Whether a net has no pole in any state."""
    if not any(analysis.poles.possible(f) for _, f in analysis.has(net)):
        terminals = _terminals(analysis, net)
        function = _unmeant(analysis, terminals)
        yield Breach("floating-net", analysis.circuit.names[terminals[0]], function, Floating(terminals))


def near(_: Analysis, change: Reached) -> set[Net]:
    """The nets that a change touches."""
    return change.nets


def there(analysis: Analysis, net: Net) -> bool:
    """Whether a net has rails or commons, and nothing always feeds it."""
    nets, rails, commons = analysis.poles.nets, analysis.rails, analysis.commons
    return net < nets.count and not nets.fed[net] and any(n in rails or n in commons for n in nets.members[net])


def called(analysis: Analysis, net: Net) -> str:
    """The first of its terminals, rails before commons."""
    return analysis.circuit.names[_terminals(analysis, net)[0]]


def _terminals(analysis: Analysis, net: Net) -> list[Node]:
    """The rails of a net, then the commons, each sorted by name."""
    names, rails, commons = analysis.circuit.names, analysis.rails, analysis.commons
    nodes = [n for n in analysis.nodes_of(net) if n in rails or n in commons]
    return sorted(nodes, key=lambda n: (n in commons, names[n]))


def _unmeant(analysis: Analysis, nodes: list[Node]) -> Function:
    """The states in which not every piece with a rail among the nodes is meant to be dead."""
    diagrams = analysis.poles.diagrams
    commons = analysis.commons
    pieces = {Terminal.of(analysis.circuit.names[n]).owner for n in nodes if n not in commons}
    if not pieces:
        return ALWAYS
    pieces = {piece for piece in pieces if not analysis.piece(piece).kind.framed}
    return diagrams.any_of([diagrams.negate(analysis.meant(piece)) for piece in pieces])


def rail_severity(piece: Piece, rail: str) -> Severity:
    """How bad it is that a rail never has a pole."""
    if piece.kind.is_frog(rail):
        if piece.dead_frog:
            return Severity.NOTE
        if piece.kind.floating == "warning":
            return Severity.WARNING
    return Severity.ERROR


def severity(analysis: Analysis, nodes: list[Node]) -> Severity:
    """How bad it is that a net never has a pole: as bad as for the worst of its rails."""
    pieces = analysis.layout.pieces
    commons = analysis.commons
    found = []
    for node in nodes:
        if node not in commons:
            piece, rail = Terminal.of(analysis.circuit.names[node])
            found.append(rail_severity(pieces[piece], rail))
    return max(found, default=Severity.ERROR)


def tell(analysis: Analysis, broken: Breach[Floating]) -> Told:
    """Say which rails and commons never have a pole."""
    nodes = broken.about.nodes
    names = tuple(analysis.circuit.names[n] for n in nodes)
    layout = analysis.layout
    commons = analysis.commons
    pieces = dict.fromkeys(Terminal.of(names[i]).owner for i, n in enumerate(nodes) if n not in commons)
    where: list[Span] = [layout.pieces[p].span for p in pieces]
    if not pieces:
        owners = {c.terminal("common"): c.span for c in layout.contacts}
        where = [owners[name] for name in names]
    others = f" (nor {', '.join(names[1:])})" if len(names) > 1 else ""
    fix = f"give '{next(iter(pieces), names[0])}' a feed"
    if all(layout.is_frog(name) for i, name in enumerate(names) if nodes[i] not in commons):
        fix = "give the frog a changeover contact, or a frog unit"
    return Told(
        severity(analysis, nodes),
        f"{names[0]} has no pole in any position{others}",
        fix,
        tuple(sorted(pieces)),
        (),
        tuple(dict.fromkeys(where)),
        names,
    )


RULE = rule("floating-net", DOCUMENT, subjects, judge, tell, called=called, local=Local(near, there))

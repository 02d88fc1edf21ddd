"""The nets of a circuit after a change: only those at its ends are looked at.

Where conductors went, a net may fall apart; where they came, nets grow together. From every end of what changed the
metal is walked, all walks in step. Walks that meet are one; one that comes to its end is a net of its own. The last
one of those that belong together need not be walked to its end: it is what is left, and keeps its number.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net, Node, PoleNumber
from netlister.poles.nets import Nets
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.model import Circuit, Conductor, Near


class Renetted(NamedTuple):
    """Nets after a change, and what differs from before.

    `moved`: the nodes that belong to another net, new ones among them. `regrouped`: nets, old and new, with other nodes
    than before. `refed`: nets that other poles always feed.
    """

    nets: Nets
    moved: set[Node]
    regrouped: set[Net]
    refed: set[Net]


def renet(old: Nets, circuit: Circuit, gone: Iterable[Conductor], came: Iterable[Conductor]) -> Renetted:
    """The nets of a circuit that some conductors went from and others came to."""
    poles, near = len(circuit.poles), circuit.near
    nets = Nets(poles, list(old.of), list(old.members), list(old.fed), dict(old.taps), list(old.bridges))
    of = nets.of
    moved, regrouped, refed = set(map(Node, range(len(of), len(circuit.names)))), set[Net](), set[Net]()
    for node in sorted(moved):
        fresh = _fresh(nets)
        nets.members[fresh].append(node)
        regrouped.add(fresh)
        of.append(fresh)
    found = Renetted(nets, moved, regrouped, refed)
    tapped: set[Net] = set()
    seeds: set[Node] = set()
    grown: list[tuple[Net, Net]] = []
    for conductors, sign in ((gone, -1), (came, 1)):
        for conductor in conductors:
            if conductor.when or conductor.a == conductor.b:
                continue
            a, b = sorted((conductor.a, conductor.b))
            if b < poles:
                nets.bridges.remove(conductor) if sign < 0 else nets.bridges.append(conductor)
            elif a < poles:
                taps = dict(nets.taps.get(of[b], ()))
                pole = PoleNumber(Net(a))
                taps[pole] = taps.get(pole, 0) + sign
                nets.taps[of[b]] = taps
                tapped.add(of[b])
            else:
                seeds |= {a, b}
                if sign > 0:
                    grown.append((of[a], of[b]))
    for together in _groups(seeds, grown, of):
        walked = _walked(near, poles, together)
        tapped |= _regroup(found, near, together, walked)
    for net in tapped:
        mask = sum(1 << pole for pole, count in nets.taps.get(net, {}).items() if count)
        if mask != nets.fed[net]:
            nets.fed[net] = mask
            refed.add(net)
    return found


def _groups(seeds: set[Node], grown: Iterable[tuple[Net, Net]], of: list[Net]) -> list[list[Node]]:
    """The seeds, put together where they lie in one net or in nets that are to be joined."""
    head: dict[Net, Net] = {of[seed]: of[seed] for seed in seeds}
    for a, b in grown:
        join(head, a, b)
    groups: dict[Net, list[Node]] = defaultdict(list)
    for seed in sorted(seeds):
        groups[find(head, of[seed])].append(seed)
    return list(groups.values())


def _regroup(found: Renetted, near: Near, seeds: list[Node], walked: list[list[Node]]) -> set[Net]:
    """Put the nodes of the nets of some seeds into the nets that they make up now: one per walk, and one of the rest.

    Returns the nets that other poles than before may always feed.
    """
    nets, moved, regrouped, _ = found
    poles = nets.poles
    of, members = nets.of, nets.members
    olds = sorted({of[seed] for seed in seeds})
    if not walked and len(olds) == 1:
        return set()
    overlaps = [Counter(of[node] for node in nodes) for nodes in walked]
    rest = {net: len(members[net]) - sum(overlap[net] for overlap in overlaps) for net in olds}
    number = _numbers(overlaps, rest)  # walk -> net; len(walked) stands for the rest
    if len(walked) not in number:
        number[len(walked)] = _fresh(nets)
    left = {net: set(members[net]) for net in olds if net != number[len(walked)] and rest[net]}
    taken: set[Node] = {node for nodes in walked for node in nodes}
    taps: Counter[PoleNumber] = Counter()
    for net in olds:
        taps.update(nets.taps.pop(net, {}))
    for place, nodes in enumerate(walked):
        if place not in number:
            number[place] = _fresh(nets)
        net = number[place]
        if overlaps[place].keys() != {net} or len(members[net]) != len(nodes):
            regrouped.add(net)
        moved.update(node for node in nodes if of[node] != net)
        own = Counter(
            PoleNumber(Net(other)) for node in nodes for other, c in near[node] if other < poles and not c.when
        )
        nets.taps[net] = dict(own)
        taps.subtract(own)
    kept = number[len(walked)]
    joined = [node for net in left for node in sorted(left[net] - taken)]
    remaining = members[kept]
    if overlaps and any(overlap[kept] for overlap in overlaps):
        remaining = [node for node in remaining if node not in taken]
    if joined or len(remaining) != len(members[kept]):
        regrouped.add(kept)
        remaining = sorted([*remaining, *joined]) if joined else remaining
    moved.update(joined)
    nets.taps[kept] = {pole: count for pole, count in taps.items() if count}
    for net in olds:
        if net not in number.values():
            members[net] = []
            regrouped.add(net)
    members[kept] = remaining
    for place, nodes in enumerate(walked):
        members[number[place]] = sorted(nodes)
        for node in nodes:
            of[node] = number[place]
    for node in joined:
        of[node] = kept
    return {*olds, *number.values()}


def _numbers(overlaps: list[Counter[Net]], rest: dict[Net, int]) -> dict[int, Net]:
    """Which net's number each walk keeps: that of the net which it holds most nodes of, so that little is renumbered.

    `overlaps`: per walk how many nodes of each net it holds. `rest`: per net how many nodes were not walked; they count
    as one more walk, after the last. Of two that want one number the larger share gets it; a walk for which none is
    left is missing in the answer.
    """
    claims = [(count, net, place) for place, overlap in enumerate(overlaps) for net, count in overlap.items()]
    claims += [(count, net, len(overlaps)) for net, count in rest.items() if count]
    number: dict[int, Net] = {}
    for _, net, place in sorted(claims, key=lambda claim: (-claim[0], claim[1:])):
        if place not in number and net not in number.values():
            number[place] = net
    return number


def _fresh(nets: Nets) -> Net:
    """A net more, without a node as yet."""
    nets.members.append([])
    nets.fed.append(0)
    return Net(nets.count - 1)


def _walked(near: Near, poles: int, seeds: list[Node]) -> list[list[Node]]:
    """The nodes connected to each of some seeds, one list for all seeds that are connected.

    The walk that would end last is given up once the others have ended, and is missing.
    """
    group = {seed: seed for seed in seeds}  # node -> seed; seeds that met point to each other
    head = {seed: seed for seed in seeds}
    waiting = {seed: [seed] for seed in seeds}
    nodes = {seed: [seed] for seed in seeds}

    done: list[list[Node]] = []
    while len(waiting) > 1:
        for seed in list(waiting):
            if seed not in waiting:
                continue  # it met another
            if len(waiting) == 1:
                break
            here = seed
            if not waiting[here]:
                del waiting[here]
                done.append(nodes.pop(here))
                continue
            node = waiting[here].pop()
            for other, conductor in near[node]:
                if conductor.when or other < poles:
                    continue
                known = group.get(other)
                if known is None:
                    group[other] = here
                    waiting[here].append(other)
                    nodes[here].append(other)
                    continue
                there = find(head, known)
                if there != here:
                    if len(nodes[there]) > len(nodes[here]):
                        here, there = there, here
                    head[there] = here
                    waiting[here] += waiting.pop(there)
                    nodes[here] += nodes.pop(there)
    return done

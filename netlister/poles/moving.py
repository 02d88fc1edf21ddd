"""What is joined while something moves: its contacts and blades out of step.

While a machine moves from one position to another, each of its contacts and each tie bar that it throws is in the old
position, in the new one or, where it breaks before it makes, in between; all pairings can come about. Fewer conductors
never join more, so being in between need not be looked at: what counts is which of the two positions each stands in,
and a spare variable of the diagrams says so. A contact that makes before it breaks holds both of its throws at once.

Where diodes face each other (`DiodePoles`) two poles are joined at a net if current can come to it from the one and go
from it to the other; a connected component over diodes is solved at once.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations, pairwise, permutations
from operator import attrgetter
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.numbers import Net
from netlister.circuit.paths import drives
from netlister.layout.model import Value
from netlister.poles.changeovers import moved_conductors
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.diodes import DiodePoles
from netlister.poles.flow import flow

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from netlister.circuit.numbers import PoleNumber, Var
    from netlister.poles.changeovers import Changeover, MovedConductor
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Poles, Region


class Joined(NamedTuple):
    """Two poles joined at a net while a variable moves between two values.

    `poles`: with diodes the one from which the current comes, then the one to which it goes. `function`: the states
    that begin or end such a throw. `witness`: the same, with the values of the spares that tell where the changeovers
    stand.
    """

    values: tuple[Value, Value]
    poles: tuple[PoleNumber, PoleNumber]
    net: Net
    function: Function
    witness: Function
    spares: dict[Changeover, Var]


ByPole = dict["PoleNumber", "Function"]
"""The poles of a net, and when it has them."""
Reach = dict[Net, ByPole]
"""Per net the poles that reach it, and when."""


class Moving:
    """Finds what moving things join that is joined in neither of the positions between which they move."""

    def __init__(self, poles: Poles) -> None:
        self.poles = poles
        self.diodes = poles if isinstance(poles, DiodePoles) else None
        self._spares: list[Var] = []
        self._links = list(poles.links())
        self._hub_links: dict[Net, list[int]] = {}
        self._by_variable = moved_conductors(poles.circuit)

    def variables(self) -> Iterator[Var]:
        """The variables with two changeovers or more, or with one that makes before it breaks."""
        for variable, parts in sorted(self._by_variable.items()):
            if len({changeover for part in parts for changeover, _ in part.changeovers}) > 1 or self.overlaps(variable):
                yield variable

    def overlaps(self, variable: Var) -> bool:
        """Whether some contact of a variable makes before it breaks."""
        return any(changeover.make_first for part in self._by_variable[variable] for changeover, _ in part.changeovers)

    def parts(self, variable: Var) -> list[MovedConductor]:
        """What conducts only sometimes as a variable stands."""
        return self._by_variable[variable]

    # -- what they join

    def joined(self, variable: Var, *, in_step: bool = False) -> list[Joined]:
        """Every place where moving a variable joins two poles.

        `in_step`: only what is joined though all that breaks before it makes changes over at the same moment.
        Raises LimitError or UnprovedError beyond the limit.
        """
        return [
            joined
            for parts in self._clusters(self._by_variable[variable])
            for joined in self._joined_by(variable, parts, in_step=in_step)
        ]

    def _clusters(self, parts: list[MovedConductor]) -> list[list[MovedConductor]]:
        """The parts of a variable, in groups that are solved one by one.

        Where all hubs around are sound (one pole each in every state), two poles can meet only within one region, or
        in two that a part joins: parts that touch the same region make a group. Else all parts are one group. A group
        with a single changeover that breaks before it makes joins nothing on its way, and is left out.
        """
        fed = self.poles.nets.fed
        regions = self.poles.region_of
        if self.diodes is not None:
            return [parts]
        hubs = {hub for part in parts for region in self._regions([part]) for _, hub, _ in region.outer}
        hubs.update(net for part in parts for net in self._ends(part) if net not in regions)
        if any(self._is_unsound(hub) for hub in hubs):
            return [parts]
        groups: list[tuple[set[int], list[MovedConductor]]] = []
        for part in parts:
            ends = self._ends(part)
            apart_from_hubs = [net for net in ends if not fed[net]] or [min(ends)]
            keys = {id(regions[net]) if net in regions else -1 - net for net in apart_from_hubs}
            together = [part]
            apart = []
            for group in groups:
                if group[0] & keys:
                    keys |= group[0]
                    together = group[1] + together
                else:
                    apart.append(group)
            groups = [*apart, (keys, together)]
        found = []
        for _, group_parts in groups:
            changeovers = {changeover for part in group_parts for changeover, _ in part.changeovers}
            if len(changeovers) > 1 or any(changeover.make_first for changeover in changeovers):
                found.append(group_parts)
        return found

    def _ends(self, part: MovedConductor) -> tuple[Net, Net]:
        of = self.poles.nets.of
        return of[part.conductor.a], of[part.conductor.b]

    def _regions(self, parts: Iterable[MovedConductor]) -> list[Region]:
        found = {id(r): r for p in parts for n in self._ends(p) if (r := self.poles.region_of.get(n)) is not None}
        return list(found.values())

    def _is_unsound(self, hub: Net) -> bool:
        """Whether a net that is always fed ever has more than one pole, or is a pole itself.

        Two poles that touch a region directly (over a plug, a reverser) may meet there, and no hub around it shows it.
        """
        has = self.poles.hub if self.diodes is None else self.poles.has
        return hub < self.poles.count or len(has(hub)) > 1

    def _joined_by(self, variable: Var, parts: list[MovedConductor], *, in_step: bool) -> Iterator[Joined]:
        """What a group of parts joins on the way between two values, though it is joined at neither of them."""
        poles, diagrams = self.poles, self.poles.diagrams
        changeovers = list(dict.fromkeys(changeover for part in parts for changeover, _ in part.changeovers))
        while len(self._spares) < len(changeovers):
            self._spares.append(diagrams.spare())
        spares = dict(zip(changeovers, self._spares, strict=False))
        nets = sorted({net for part in parts for net in self._ends(part)} - set(map(Net, range(poles.count))))
        static = {net: self._static(net) for net in nets}
        for p, q in self._moves(variable):
            into, out = self._reach(variable, parts, spares, (p, q))
            standing = diagrams.both(diagrams.literal(variable, (p, q)), self._free(variable, p, q))
            for net in nets:
                before = dict(self._meeting(*static[net]))
                for (a, b), meeting in self._meeting(into[net], out[net]):
                    witness = self._in_step(meeting, spares) if in_step else meeting
                    if witness == NEVER:
                        continue
                    known = diagrams.either(before.get((a, b), NEVER), before.get((b, a), NEVER))
                    for value in (p, q):
                        witness = diagrams.without(witness, diagrams.fixed(known, variable, value))
                    witness = diagrams.both(witness, standing)
                    function = witness
                    for spare in spares.values():
                        function = diagrams.exists(function, spare)
                    if function != NEVER:
                        yield Joined((p, q), (a, b), net, function, witness, spares)

    def _static(self, net: Net) -> tuple[ByPole, ByPole]:
        """The poles from which current can come to a net, and those to which it can go, with nothing moving."""
        if self.diodes is not None:
            return self.diodes.ways(net)
        has = dict(self.poles.has(net))
        return has, has

    def _meeting(self, into: ByPole, out: ByPole) -> Iterator[tuple[tuple[PoleNumber, PoleNumber], Function]]:
        """The pairs of poles that meet at a net, and when."""
        poles = self.poles
        real = sorted(pole for pole in {*into, *out} if pole < poles.count)
        for p, q in combinations(real, 2) if self.diodes is None else permutations(real, 2):
            if self.diodes is None or drives(poles.circuit, p, q):
                yield (p, q), poles.diagrams.both(into.get(p, NEVER), out.get(q, NEVER))

    def _moves(self, variable: Var) -> list[tuple[Value, Value]]:
        """The pairs of positions between which a variable moves. A hand switch or relay passes those in between."""
        moved = self.poles.circuit.variables[variable]
        numbers = [Value(number) for number in range(len(moved.positions))]
        return list(pairwise(numbers) if moved.kind == "switch" else combinations(numbers, 2))

    def _in_step(self, function: Function, spares: dict[Changeover, Var]) -> Function:
        """The states of a function in which all changeovers stand at the old value, or all at the new one."""
        diagrams = self.poles.diagrams
        result = NEVER
        for value in (Value(0), Value(1)):
            alike = diagrams.cube((spare, value) for spare in spares.values())
            result = diagrams.either(result, diagrams.both(function, alike))
        return result

    def _free(self, variable: Var, p: Value, q: Value) -> Function:
        """The states in which `never` allows the variable both at p and at q: else it does not move between them."""
        diagrams = self.poles.diagrams
        result = ALWAYS
        for variables, free in self.poles.never_groups:
            if variable in variables:
                for value in (p, q):
                    result = diagrams.both(result, diagrams.fixed(free, variable, value))
        return result

    def _there(self, part: MovedConductor, spares: dict[Changeover, Var], values: tuple[Value, Value]) -> Function:
        """When a part conducts while its variable moves between two values.

        Of each changeover the spare variable says where it stands: 0 at the old value, 1 at the new one.
        """
        diagrams = self.poles.diagrams
        result = diagrams.condition(part.rest)
        for changeover, at in part.changeovers:
            old, new = (value in at for value in values)
            if not old and not new:
                return NEVER
            if old != new and not changeover.make_first:
                result = diagrams.both(result, diagrams.literal(spares[changeover], (Value(int(new)),)))
        return result

    def _reach(
        self, variable: Var, parts: list[MovedConductor], spares: dict[Changeover, Var], values: tuple[Value, Value]
    ) -> tuple[Reach, Reach]:
        """Per net in the regions of the parts, and per hub around them, the poles that reach it while these move.

        A pair: the poles from which current can come, and those to which it can go; without diodes they are the same.

        Where the hubs are sound nothing has to be let into them from a region: if their poles meet, they meet at a
        net of the region that a part touches.
        """
        poles, diagrams = self.poles, self.poles.diagrams
        if self.diodes is not None:
            return self._reach_over_diodes(self.diodes, variable, parts, spares, values)
        fed = poles.nets.fed
        regions = self._regions(parts)
        hubs = {other for region in regions for _, other, _ in region.outer}
        hubs |= {net for part in parts for net in self._ends(part) if net not in poles.region_of}
        sound = not any(self._is_unsound(hub) for hub in hubs)
        links: dict[Net, dict[Net, Function]] = defaultdict(dict)

        def link(a: Net, b: Net, when: Function) -> None:
            for here, there in ((a, b), (b, a)):
                takes = there >= poles.count  # nothing flows into a pole, so that nothing passes through it
                if takes and not (sound and fed[there] and not fed[here]):
                    links[here][there] = diagrams.either(links[here].get(there, NEVER), when)
                links.setdefault(there, {})

        for part in parts:
            link(*self._ends(part), self._there(part, spares, values))
        for region in regions:
            for net, other, conductor in (*region.outer, *region.inner):
                if all(v != variable for v, _ in conductor.when):
                    link(net, other, poles.condition(conductor.when))
            for net in region.nets:
                links.setdefault(net, {})
        if not sound:
            self._link_hubs(variable, list(hubs), {id(region) for region in regions}, link)
        reach = {net: dict.fromkeys(poles.in_mask(fed[net]), ALWAYS) for net in links}
        flow(diagrams, links, reach)
        return reach, reach

    def _reach_over_diodes(
        self,
        poles: DiodePoles,
        variable: Var,
        parts: list[MovedConductor],
        spares: dict[Changeover, Var],
        values: tuple[Value, Value],
    ) -> tuple[Reach, Reach]:
        """The same where diodes conduct one way: the connected component of the parts is solved at once."""
        diagrams, fed = poles.diagrams, poles.nets.fed
        ends = {net for part in parts for net in self._ends(part)}
        nets = poles.connected_to(ends, over_hubs=False)
        around = nets | ends | {other for net in nets if not fed[net] for other in poles.near.get(net, ())}
        sound = not any(fed[net] and self._is_unsound(net) for net in around)
        if not sound:
            nets = poles.connected_to(ends, over_hubs=True)
        links: dict[Net, dict[Net, Function]] = {net: {} for net in (*map(Net, range(poles.count)), *nets)}

        def link(to: dict[Net, dict[Net, Function]], a: Net, b: Net, when: Function) -> None:
            if a not in to or b not in to or b < poles.count:
                return
            if fed[a] or not (sound and fed[b]):  # a sound hub takes nothing in, as above
                to[a][b] = diagrams.either(to[a].get(b, NEVER), when)

        for part in parts:
            a, b = self._ends(part)
            there = self._there(part, spares, values)
            link(links, a, b, there)
            link(links, b, a, there)
        for a, b, conductor in poles.sometimes:
            if (a in nets or b in nets) and all(v != variable for v, _ in conductor.when):
                when = poles.condition(conductor.when)
                link(links, a, b, when)
                link(links, b, a, when)
        found = []
        for ends_of in (attrgetter("a", "b"), attrgetter("b", "a")):
            directed = {net: dict(to) for net, to in links.items()}
            for one, other in map(ends_of, poles.diodes):
                a, b = poles.nets.of[one], poles.nets.of[other]
                if a != b:
                    link(directed, a, b, ALWAYS)
            reach = {net: dict.fromkeys(poles.in_mask(fed[net]), ALWAYS) for net in links}
            flow(diagrams, directed, reach)
            found.append(reach)
        return found[0], found[1]

    def _link_hubs(
        self, variable: Var, hubs: list[Net], known: set[int], link: Callable[[Net, Net, Function], None]
    ) -> None:
        """Link the hubs to all others that regions elsewhere, and what joins hubs directly, let them reach."""
        poles = self.poles
        if not self._hub_links:
            for number, (_, pairs) in enumerate(self._links):
                for hub in {hub for pair in pairs for hub in pair}:
                    self._hub_links.setdefault(hub, []).append(number)
        waiting = [hub for hub in hubs if hub >= poles.count]
        seen = set(hubs)
        used = set()
        while waiting:
            for number in self._hub_links.get(waiting.pop(), ()):
                region, pairs = self._links[number]
                if number in used or (region is not None and id(region) in known):
                    continue
                used.add(number)
                for (a, b), when in pairs.items():
                    link(a, b, poles.direct(a, b, variable) if region is None else when)
                    for hub in {a, b} - seen:
                        if hub >= poles.count:
                            seen.add(hub)
                            waiting.append(hub)

"""Decision diagrams over variables of two or more values.

A function of the positions is a whole number: 0 is never, 1 is always, any other is a node of a shared, ordered
and reduced diagram, so that equal functions have equal numbers. After R. E. Bryant, "Graph-based algorithms for
Boolean function manipulation" (1986), with as many branches at a node as its variable has values. Covers after
S. Minato, "Fast generation of prime-irredundant covers from binary decision diagrams" (1993), the algorithm of
E. Morreale (1970), carried over to several values.
"""

from __future__ import annotations

import sys
from math import prod
from typing import TYPE_CHECKING, NewType, TypeAlias

from netlister.circuit.numbers import Var
from netlister.layout.model import Value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Function = NewType("Function", int)
"""A set of states: its node in the diagrams. Equal sets have equal numbers."""

NEVER = Function(0)
ALWAYS = Function(1)

MOST_KNOWN = 1_000_000
"""Results that each table of combined functions may hold; a table is emptied some time after it holds more."""

MOST_NODES = 4_000_000
"""Nodes of one family, about a gigabyte: where a task would make more, it ends as if its steps were spent."""

Literals: TypeAlias = "tuple[tuple[Var, Value], ...]"
"""A cube: pairs of variable and value."""

_Levels: TypeAlias = "tuple[tuple[int, Value], ...]"
"""A cube inside the diagrams: pairs of level and value."""


class LimitError(Exception):
    """The proof needs more steps than it was given."""


class Diagrams:
    """A family of functions of the same variables.

    `arities`: how many values each variable has. `order`: the variables from the top of the diagrams down;
    it decides the size, not the meaning. `limit`: how many steps one task may take before LimitError, 0: any number.
    `most`: how many nodes there may be, where there is a limit.

    `level[f]`: the level of the variable that f looks at, `kids[f]` the functions that it is for each of its values.
    The two constants stand below all levels.
    """

    def __init__(
        self, arities: Sequence[int], order: Sequence[Var] | None = None, limit: int = 0, most: int = MOST_NODES
    ) -> None:
        count = len(arities)
        self.variable = list(order) if order is not None else [Var(number) for number in range(count)]
        self.level_of = {variable: level for level, variable in enumerate(self.variable)}
        self.arity = [arities[v] for v in self.variable]
        self.level = [count, count]
        self.kids: list[tuple[Function, ...]] = [(), ()]
        self.nodes: dict[tuple[int, tuple[Function, ...]], Function] = {}
        self._and: dict[tuple[Function, Function], Function] = {}
        self._or: dict[tuple[Function, Function], Function] = {}
        self._not: dict[Function, Function] = {NEVER: ALWAYS, ALWAYS: NEVER}
        self._covers: dict[tuple[Function, Function], tuple[list[_Levels], Function]] = {}
        self.limit = limit
        self.most = most
        self.steps = 0
        self._spares = 0
        self._first = 0  # the first step of all tasks
        self._last = sys.maxsize  # the last step of the task
        self._pause = MOST_KNOWN  # when to look how large the tables are, or to stop
        self._make_room()

    def _make_room(self) -> None:
        needed = 6 * len(self.variable) + 2000
        if sys.getrecursionlimit() < needed:
            sys.setrecursionlimit(needed)

    def spare(self) -> Var:
        """Add a variable of two values below all others, which is no position: `count` does not count it.

        Its number is less than 0.
        """
        self._spares += 1
        spare = Var(-self._spares)
        self._below(spare, 2)
        return spare

    def extend(self, arities: Sequence[int]) -> None:
        """Add variables below all others, with the next numbers."""
        count = len(self.variable) - self._spares
        for number, arity in enumerate(arities, count):
            self._below(Var(number), arity)
        self._make_room()

    def _below(self, variable: Var, arity: int) -> None:
        self.level_of[variable] = len(self.variable)
        self.variable.append(variable)
        self.arity.append(arity)
        self.level[0] = self.level[1] = len(self.variable)

    # -- limits

    def afresh(self) -> None:
        """Forget how much was spent on tasks so far, before another layout is looked at."""
        self._first = self.steps

    def begin(self) -> None:
        """Begin a task with a fresh allowance of steps.

        All tasks together have four allowances; one that begins after these are spent gets a hundredth of one. A step
        makes one node at the most, so no task gets more steps than there is room for nodes.
        """
        if self.limit:
            steps = max(self.limit // 100, min(self.limit, 4 * self.limit - (self.steps - self._first)))
            self._last = self.steps + max(0, min(steps, self.most - len(self.level)))
            self._pause = min(self._last, self.steps + MOST_KNOWN)

    # -- making

    def make(self, level: int, kids: tuple[Function, ...]) -> Function:
        """The function that is `kids[value]` where the variable at `level` has that value."""
        first = kids[0]
        for kid in kids:
            if kid != first:
                break
        else:
            return first
        key = (level, kids)
        node = self.nodes.get(key)
        if node is None:
            node = self.nodes[key] = Function(len(self.level))
            self.level.append(level)
            self.kids.append(kids)
        return node

    def literal(self, variable: Var, values: Iterable[Value]) -> Function:
        """The function that is true where the variable has one of the values."""
        level = self.level_of[variable]
        branches = [NEVER] * self.arity[level]
        for value in values:
            branches[value] = ALWAYS
        return self.make(level, tuple(branches))

    def cube(self, literals: Iterable[tuple[Var, Value]]) -> Function:
        """The function that is true where every variable named has the value named."""
        result = ALWAYS
        for variable, value in literals:
            result = self.both(result, self.literal(variable, (value,)))
        return result

    def condition(self, when: Iterable[tuple[Var, tuple[Value, ...]]]) -> Function:
        """The function that is true where every variable named has one of its values."""
        result = ALWAYS
        for variable, values in when:
            result = self.both(result, self.literal(variable, values))
        return result

    # -- combining

    def both(self, f: Function, g: Function) -> Function:
        """Where f and g both are true."""
        if f == g or g == 1:
            return f
        if f == 1:
            return g
        if f == 0 or g == 0:
            return NEVER
        if f > g:
            f, g = g, f
        key = (f, g)
        result = self._and.get(key)
        if result is None:
            self._step()
            level = self.level
            lf, lg = level[f], level[g]
            both = self.both
            if lf == lg:
                kids = tuple([both(a, b) for a, b in zip(self.kids[f], self.kids[g], strict=True)])
            elif lf < lg:
                kids = tuple([both(a, g) for a in self.kids[f]])
            else:
                kids = tuple([both(f, b) for b in self.kids[g]])
                lf = lg
            result = self._and[key] = self.make(lf, kids)
        return result

    def either(self, f: Function, g: Function) -> Function:
        """Where f or g is true."""
        if f == g or g == 0:
            return f
        if f == 0:
            return g
        if f == 1 or g == 1:
            return ALWAYS
        if f > g:
            f, g = g, f
        key = (f, g)
        result = self._or.get(key)
        if result is None:
            self._step()
            level = self.level
            lf, lg = level[f], level[g]
            either = self.either
            if lf == lg:
                kids = tuple([either(a, b) for a, b in zip(self.kids[f], self.kids[g], strict=True)])
            elif lf < lg:
                kids = tuple([either(a, g) for a in self.kids[f]])
            else:
                kids = tuple([either(f, b) for b in self.kids[g]])
                lf = lg
            result = self._or[key] = self.make(lf, kids)
        return result

    def negate(self, f: Function) -> Function:
        """Where f is not true."""
        result = self._not.get(f)
        if result is None:
            self._step()
            result = self.make(self.level[f], tuple([self.negate(kid) for kid in self.kids[f]]))
            self._not[f] = result
            self._not[result] = f
        return result

    def without(self, f: Function, g: Function) -> Function:
        """Where f is true and g is not."""
        if g == 0 or f == 0:
            return f
        return self.both(f, self.negate(g))

    def any_of(self, functions: Iterable[Function]) -> Function:
        """True where one of the functions is; combined from the bottom of the diagrams up, which is quickest."""
        result = NEVER
        for f in sorted(set(functions), key=lambda f: -self.level[f]):
            result = self.either(result, f)
        return result

    def _step(self) -> None:
        self.steps += 1
        if self.steps > self._pause:
            if self.steps > self._last:
                raise LimitError
            self._forget()

    def _forget(self) -> None:
        """Empty the tables of what has been combined already where they are large: it would be worked out again."""
        for table in (self._and, self._or, self._covers):
            if len(table) > MOST_KNOWN:
                table.clear()
        if len(self._not) > MOST_KNOWN:
            self._not = {NEVER: ALWAYS, ALWAYS: NEVER}
        self._pause = min(self._last, self.steps + MOST_KNOWN)

    # -- asking

    def exists(self, f: Function, variable: Var) -> Function:
        """True where f is for some value of the variable."""
        return self._without_variable(f, variable, None)

    def fixed(self, f: Function, variable: Var, value: Value) -> Function:
        """True where f would be if the variable had the value, whichever it has."""
        return self._without_variable(f, variable, value)

    def _without_variable(self, f: Function, variable: Var, value: Value | None) -> Function:
        """True where f is with the variable at a value or, where that is None, at some of its values."""
        at = self.level_of[variable]
        memo: dict[Function, Function] = {}

        def walk(g: Function) -> Function:
            level = self.level[g]
            if level > at:
                return g
            found = memo.get(g)
            if found is None:
                self._step()
                if level == at and value is not None:
                    found = self.kids[g][value]
                elif level == at:
                    found = NEVER
                    for kid in self.kids[g]:
                        found = self.either(found, kid)
                else:
                    found = self.make(level, tuple([walk(kid) for kid in self.kids[g]]))
                memo[g] = found
            return found

        return walk(f)

    def support(self, f: Function) -> set[Var]:
        """The variables that f depends on."""
        seen: set[Function] = set()
        levels: set[int] = set()
        stack = [f]
        while stack:
            g = stack.pop()
            if g > 1 and g not in seen:
                seen.add(g)
                levels.add(self.level[g])
                stack += self.kids[g]
        return {self.variable[level] for level in levels}

    def value(self, f: Function, state: Sequence[Value] | Mapping[Var, Value]) -> bool:
        """The value of f in a state (a value for each variable)."""
        while f > 1:
            f = self.kids[f][state[self.variable[self.level[f]]]]
        return f == 1

    def count(self, f: Function) -> int:
        """The number of states in which f is true."""
        memo: dict[Function, int] = {NEVER: 0, ALWAYS: 1}
        order: list[Function] = []
        seen: set[Function] = set()
        stack = [f]
        while stack:
            g = stack.pop()
            if g > 1 and g not in seen:
                seen.add(g)
                order.append(g)
                stack += self.kids[g]
        weight = self._combinations({self.level[g] for g in order})
        for g in sorted(order, key=lambda g: -self.level[g]):
            here = self.level[g]
            below = weight[here] // (self.arity[here] if self.variable[here] >= 0 else 1)
            memo[g] = sum(memo[kid] * (below // weight[self.level[kid]]) for kid in self.kids[g])
        return memo[f] * (weight[0] // weight[self.level[f]])

    def _combinations(self, levels: set[int]) -> dict[int, int]:
        """The number of combinations from each of some levels, the top and the bottom down; see `spare`.

        Of these levels alone: the numbers have as many bits as there are variables.
        """
        below = len(self.variable)
        found = {below: 1}
        for level in sorted({0, *levels} - {below}, reverse=True):
            between = (self.arity[n] for n in range(level, below) if self.variable[n] >= 0)
            found[level] = found[below] * prod(between)
            below = level
        return found

    def pick(self, f: Function) -> dict[Var, Value]:
        """Some partial position in which f (not never) is true: the first values that will do."""
        found: dict[Var, Value] = {}
        while f > 1:
            value = Value(next(i for i, kid in enumerate(self.kids[f]) if kid))
            found[self.variable[self.level[f]]] = value
            f = self.kids[f][value]
        return found

    # -- covers

    def cover(self, lower: Function, upper: Function) -> list[Literals]:
        """An irredundant list of cubes, each a prime of `upper`, that together cover `lower` and stay in `upper`."""
        cubes, _ = self._cover(lower, upper)
        return [tuple((self.variable[level], value) for level, value in cube) for cube in cubes]

    def _cover(self, lower: Function, upper: Function) -> tuple[list[_Levels], Function]:
        """The cubes of `cover`, and the function that they make together.

        For each value of the topmost variable first what only cubes with that value can cover (`shared`: where `upper`
        holds whatever the value); then all that is left by cubes without the variable.
        """
        if lower == 0:
            return [], NEVER
        if upper == 1:
            return [()], ALWAYS
        key = (lower, upper)
        known = self._covers.get(key)
        if known is not None:
            return known
        self._step()
        level = min(self.level[lower], self.level[upper])
        arity = self.arity[level]
        low = self.kids[lower] if self.level[lower] == level else (lower,) * arity
        up = self.kids[upper] if self.level[upper] == level else (upper,) * arity
        shared = up[0]
        for branch in up[1:]:
            shared = self.both(shared, branch)
        cubes: list[_Levels] = []
        parts: list[Function] = []
        rest = NEVER
        for value in map(Value, range(arity)):
            inner, part = self._cover(self.without(low[value], shared), up[value])
            literal = (level, value)
            cubes += [(literal, *cube) for cube in inner]
            self.steps += len(inner)
            parts.append(part)
            rest = self.either(rest, self.without(low[value], part))
        inner, part = self._cover(rest, shared)
        cubes += inner
        result = cubes, self.make(level, tuple([self.either(p, part) for p in parts]))
        self._covers[key] = result
        return result

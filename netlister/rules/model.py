"""What a rule is: of what it speaks, what it says of that, and how it is judged again after a change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, NamedTuple, TypeVar, cast

from netlister.poles.diagram import LimitError
from netlister.poles.reach import UnprovedError

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator

    from netlister.finding import Severity
    from netlister.poles.diagram import Function
    from netlister.rules.after import Reached
    from netlister.rules.analysis import Analysis
    from netlister.source import Span


A = TypeVar("A")
"""What a rule itself needs to tell what breaks it, and the same where it is only read:"""

A_co = TypeVar("A_co", covariant=True)

S = TypeVar("S", bound="Hashable")
"""What a rule speaks of: a subject of its own type."""


class Breach(NamedTuple, Generic[A_co]):
    """A rule broken by a subject in the states of `function`; `about` is what the rule itself needs to tell of it.

    `mark` tells places of one subject apart: the name of a terminal there. `all_states`: whether it is broken in no
    other states; where that is not proved they are some of them.
    """

    rule: str
    subject: str
    function: Function
    about: A_co
    mark: str = ""
    all_states: bool = True

    @property
    def key(self) -> tuple[str, str, str]:
        """What stays the same when the layout is mended elsewhere."""
        return (self.rule, self.subject, self.mark)


Broken = Breach[object]
"""What breaks some rule, where it does not matter which."""


class Unproved(NamedTuple):
    """A rule and a subject of which the limit left open whether it is broken."""

    rule: str
    subject: str


class Verdict(NamedTuple):
    """The judgement of a rule on a subject: what breaks it, and what could not be proved of it."""

    broken: tuple[Broken, ...] = ()
    unproved: tuple[Unproved, ...] = ()


SOUND = Verdict()
"""Nothing is broken, and all is proved."""

WHOLE = ("",)
"""The one subject of a rule that looks at the whole layout at once."""


class Told(NamedTuple):
    """What a rule says of a subject that breaks it."""

    severity: Severity
    message: str
    fix: str
    parts: tuple[str, ...]
    path: tuple[str, ...]
    where: tuple[Span, ...]
    terminals: tuple[str, ...] = ()


def whole(analysis: Analysis) -> tuple[str, ...]:  # noqa: ARG001
    """The subjects of a rule that looks at the whole layout at once."""
    return WHOLE


def by_name(analysis: Analysis, subject: object) -> str:  # noqa: ARG001
    """How a subject is called that is a name."""
    return str(subject)


class Local(NamedTuple, Generic[S]):
    """How a rule is judged again after a change: where the change is, and where its subjects have read.

    `near`: the subjects that a change may have made, whether they are there or not. `there`: whether a value is a
    subject. All else that a judgement depends on it must ask of `Analysis` and its `settings`, which note it.
    """

    near: Callable[[Analysis, Reached], Iterable[S]]
    there: Callable[[Analysis, S], bool]


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: `subjects` are what it speaks of, `judge` says of one how it breaks the rule and in which states.

    Made by `rule`, which holds the types of its functions together; here each gets what another of them has made.
    A subject is any value that stays the same while the layout is mended elsewhere; `called` is how one is spoken of
    where it is left unproved. `judge` may raise LimitError or UnprovedError, which leaves its subject unproved; where
    only a part of it is, it yields `Unproved` and goes on. It reads nothing but what `Analysis` hands out.
    `tell` says to a person what breaks the rule.

    `document` is its manual page. `default`: whether a plain `check` runs it. `more`: whether it says more where it is
    selected by name (see `Analysis.named`), so that only then an unused comment that allows it is one. `local`: how to
    judge again after a change only what it touches; without it all subjects are judged again.
    """

    name: str
    document: str
    subjects: Callable[[Analysis], Iterable[Hashable]]
    judge: Callable[[Analysis, Hashable], Iterable[Broken | Unproved]]
    tell: Callable[[Analysis, Broken], Told]
    default: bool = True
    more: bool = False
    local: Local[Hashable] | None = None
    called: Callable[[Analysis, Hashable], str] = by_name

    def verdict(self, analysis: Analysis, subject: Hashable) -> Verdict:
        """The judgement on a subject within the limit."""
        broken: list[Broken] = []
        unproved: list[Unproved] = []
        poles = analysis.poles
        poles.diagrams.begin()
        try:
            for found in self.judge(analysis, subject):
                if isinstance(found, Unproved):
                    unproved.append(found)
                elif poles.possible(found.function):
                    broken.append(found)
        except (LimitError, UnprovedError):
            unproved.append(Unproved(self.name, self.called(analysis, subject)))
        return Verdict(tuple(broken), tuple(unproved)) if broken or unproved else SOUND

    def verdicts(self, analysis: Analysis) -> Iterator[tuple[Hashable, Verdict]]:
        """Every subject with the judgement on it."""
        for subject in self.subjects(analysis):
            yield subject, self.verdict(analysis, subject)

    def find(self, analysis: Analysis) -> list[Broken]:
        """All that breaks the rule, as far as it is proved."""
        return [broken for _, verdict in self.verdicts(analysis) for broken in verdict.broken]

    @property
    def title(self) -> str:
        """The first line of its page."""
        return self.document.strip().splitlines()[0].rstrip(".")


def rule(  # noqa: PLR0913
    name: str,
    document: str,
    subjects: Callable[[Analysis], Iterable[S]],
    judge: Callable[[Analysis, S], Iterable[Breach[A] | Unproved]],
    tell: Callable[[Analysis, Breach[A]], Told],
    *,
    default: bool = True,
    more: bool = False,
    local: Local[S] | None = None,
    called: Callable[[Analysis, S], str] = by_name,
) -> Rule:
    """A rule of functions that agree on the type of its subjects, and on what it tells of one that breaks it."""
    return Rule(
        name,
        document,
        subjects,
        cast("Callable[[Analysis, Hashable], Iterable[Broken | Unproved]]", judge),
        cast("Callable[[Analysis, Broken], Told]", tell),
        default,
        more,
        cast("Local[Hashable] | None", local),
        cast("Callable[[Analysis, Hashable], str]", called),
    )

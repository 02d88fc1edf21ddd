"""What is marked in the text: faults of the file, or findings with their cause, their path and their cure."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Mistake, Severity
from netlister.formats.outcome import on_one_line
from netlister.layout.terminal import Terminal, named
from netlister.source import Span

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.editor.document import Checked
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.source import FileFault

MOST_EFFECTS = 5
"""Findings of one cause that its mark tells; the rest is counted."""

MOST_RELATED = 40
UNPROVED, UNUSABLE = "not-proved", "unusable-file"


class Related(NamedTuple):
    """Another place that a mark speaks of."""

    span: Span
    message: str


class Marking(NamedTuple):
    """What is wrong at a place. `code`: the rule; `cause`: of a finding, the number of its cause, else 0."""

    span: Span
    severity: Severity
    code: str
    message: str
    related: tuple[Related, ...] = ()
    cause: int = 0


def fault_marks(faults: Iterable[FileFault]) -> list[Marking]:
    """The marks of a file that cannot be used."""
    return [Marking(f.span, Severity.ERROR, UNUSABLE, f.message) for f in faults]


def failure_mark(file: str, error: Exception) -> Marking:
    """The mark of a text that could not be looked at, through no fault of its own."""
    message = f"NOT checked: {type(error).__name__}: {error}; this is a fault of netlister, please report it"
    return Marking(Span(file, 1, 1, 1, 1), Severity.ERROR, UNUSABLE, message)


def marks(checked: Checked) -> list[Marking]:
    """The marks of a check: one for each cause, at the mistake where it is known; and one for what is not proved."""
    report = checked.report
    places = _PartPlaces(report.layout)
    found: list[Marking] = []
    for cause, group in groupby(report.findings, key=lambda f: f.cause):
        found += _of_cause(list(group), cause, checked, places)
    if not report.proved:
        what = ", ".join(f"{rule} of {subject}" for rule, subject in report.unproved[:MOST_EFFECTS])
        more = len(report.unproved) - MOST_EFFECTS
        message = f"NOT proved within the limit of steps: {what}" + (f" and {more} more" if more > 0 else "")
        found.append(Marking(checked.source.start(), Severity.WARNING, UNPROVED, message))
    return found


def _of_cause(findings: list[Finding], cause: int, checked: Checked, places: _PartPlaces) -> Iterator[Marking]:
    first = findings[0]
    worst = max(f.severity for f in findings)
    known = checked.report.causes.get(cause)
    others = [repair.say for repair in known.repairs[1:]] if known is not None else []
    start = checked.source.start()
    mistakes = first.mistakes
    if not mistakes:
        for one in findings:
            span = one.where[0] if one.where else start
            yield Marking(
                span, one.severity, one.rule, _told(on_one_line(one), [one.fix], others), places.of(one, span), cause
            )
        return
    effects = [f"{f.rule}: {on_one_line(f)}" for f in findings[:MOST_EFFECTS]]
    if len(findings) > MOST_EFFECTS:
        effects.append(f"and {len(findings) - MOST_EFFECTS} more of the same cause")
    fixes = list(dict.fromkeys(m.fix for m in mistakes))
    for number, mistake in enumerate(mistakes):
        assert isinstance(mistake, Mistake)
        text = "\n".join([mistake.headline, *effects]) if not number else f"and {mistake.headline}"
        related = [r for f in findings for r in places.of(f, mistake.span)]
        related += [Related(other.span, other.headline) for other in mistakes if other is not mistake]
        yield Marking(
            mistake.span,
            worst,
            first.rule,
            _told(text, fixes, others),
            tuple(dict.fromkeys(related))[:MOST_RELATED],
            cause,
        )


def _told(text: str, fixes: list[str], others: list[str]) -> str:
    lines = [text, *(f"help: {fix}" for fix in fixes if fix), *(f"or: {other}" for other in others[:3])]
    return "\n".join(lines)


class _PartPlaces:
    """Where the parts of a layout are written."""

    def __init__(self, layout: Layout) -> None:
        entries = (
            *(layout.pieces, layout.supplies, layout.buses, layout.reversers, layout.units, layout.components),
            layout.variables,
        )
        self.of_name: dict[str, Span] = {}
        for listed in entries:
            for name, entry in listed.items():
                self.of_name.setdefault(name, entry.span)
        for contact in layout.contacts:
            self.of_name.setdefault(contact.full, contact.span)

    def of(self, finding: Finding, first: Span) -> tuple[Related, ...]:
        """The places of a finding but for the one where its mark stands: its entries, then its path in order."""
        found = [Related(span, f"{finding.rule}: {finding.subject}") for span in finding.where if span != first]
        found += [
            Related(span, f"path, step {number}: {terminal}")
            for number, terminal in enumerate(finding.path, 1)
            if (span := self._span(terminal)) is not None
        ]
        return tuple(found[:MOST_RELATED])

    def _span(self, terminal: str) -> Span | None:
        owner, own = Terminal.of(terminal)
        contact = named(owner, Terminal.of(own).owner)
        return self.of_name.get(contact) or self.of_name.get(owner)

"""Findings that no repair is looked for, put under one number where they belong together."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.edits.patch import as_yaml
from netlister.finding import Mistake, Severity
from netlister.layout.terminal import named, owner_of
from netlister.repairs.words import list_in_words

if TYPE_CHECKING:
    from netlister.finding import Finding
    from netlister.rules.analysis import Analysis
    from netlister.source import Span

CauseKey = tuple[str, str, str]
MOST_NAMED = 4


def grouped(analysis: Analysis, findings: list[Finding], left: dict[CauseKey, int]) -> list[Finding]:
    """Give findings without a number one where they belong together. `left`: those that no repair explains."""
    return _by_place(_by_net(_by_design(analysis, findings, left)))


def _by_place(findings: list[Finding]) -> list[Finding]:
    """Put all locomotives that stop at one place under one number."""
    cause = max((f.cause for f in findings), default=0)
    numbers: dict[Span, int] = {}
    for number, finding in enumerate(findings):
        if finding.rule == "stall" and not finding.cause:
            cause += finding.where[0] not in numbers
            findings[number] = replace(finding, cause=numbers.setdefault(finding.where[0], cause))
    return findings


def _by_net(findings: list[Finding]) -> list[Finding]:
    """Put a net without a pole, and the track that is dead for it, under one number where no repair did so."""
    cause = max((f.cause for f in findings), default=0)
    numbers: dict[str, int] = {}
    for number, finding in enumerate(findings):
        if finding.rule == "floating-net" and not finding.cause:
            known = next((numbers[part] for part in finding.parts if part in numbers), 0)
            cause += not known
            findings[number] = replace(finding, cause=known or cause)
            numbers.update(dict.fromkeys(finding.parts, known or cause))
    for number, finding in enumerate(findings):
        if finding.rule == "dead-track" and not finding.cause and finding.subject in numbers:
            findings[number] = replace(finding, cause=numbers[finding.subject])
    return findings


def _by_design(analysis: Analysis, findings: list[Finding], left: dict[CauseKey, int]) -> list[Finding]:
    """Put track that is dead by the same turnouts or switches under one number."""
    cause = max((f.cause for f in findings), default=0)
    numbers: dict[int, int] = {}
    groups: dict[int, list[int]] = {}
    for number in left.values():
        finding = findings[number]
        mild = finding.rule == "dead-track" and finding.severity < Severity.ERROR and not finding.cause
        region = _region(analysis, finding.subject) if mild else None
        if region is not None:
            groups.setdefault(numbers.setdefault(region, number), []).append(number)
    for members in groups.values():
        cause += 1
        first = findings[members[0]]
        mistake = Mistake(*_dead_by_design(analysis, [findings[n] for n in members]), first.where[0])
        for number in members:
            findings[number] = replace(findings[number], cause=cause, fix=mistake.fix, mistakes=(mistake,))
    return findings


def _dead_by_design(analysis: Analysis, members: list[Finding]) -> tuple[str, str]:
    """What is said of track that is dead in some positions, and what to do."""
    variables = analysis.layout.variables
    names = [f"'{f.subject}'" for f in members]
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    said = list_in_words(names[:MOST_NAMED]) + more
    named = list(dict.fromkeys(name for f in members for entry in f.when for name, _ in entry))
    of = list_in_words([f"'{n}'" for n in named[:MOST_NAMED]]) if named else "turnouts and switches"
    if len(named) > MOST_NAMED:
        of += f" and {len(named) - MOST_NAMED} more"
    headline = f"{said} {'is' if len(names) == 1 else 'are'} dead in some positions of {of}"
    first = members[0]
    entry = next(iter(first.when), ())
    when = ", ".join(f"{as_yaml(name)}: {as_yaml(position)}" for name, position in entry)
    example = f"{{track: {as_yaml(first.subject)}, is: dead, when: {{{when}}}}}"
    kinds = {variables[n].kind for n in named if n in variables}
    plain = [n for n in named if _is_plastic(analysis, n)]
    fix = f"if you mean to switch it off, add {example} under 'expect'; if not, feed it past "
    if kinds and kinds <= {"switch", "plug"}:
        fix += "the switch"
    elif plain and len(plain) == len([n for n in named if n not in variables or variables[n].kind != "switch"]):
        which = list_in_words([f"'{n}'" for n in plain[:MOST_NAMED]])
        fix += f"the turnout, or fit the jumpers of {which} ('jumpers: true')"
    else:
        fix += "the frog, its frog rail insulated"
    return headline, fix


def _is_plastic(analysis: Analysis, variable: str) -> bool:
    """Whether what stands so is only turnouts whose frog is plastic and whose jumpers are not fitted."""
    pieces = [owner_of(bar.bar) for bar in analysis.layout.bars.values() if bar.variable == variable]
    kinds = [analysis.layout.pieces[name].kind for name in pieces]
    return bool(kinds) and all(k.name == "insulated-frog" and dict(k.options).get("jumpers") != "true" for k in kinds)


def _region(analysis: Analysis, piece: str) -> int | None:
    """A number for the region that a rail of the piece is in, or None where all are always fed or never."""
    for rail in analysis.layout.pieces[piece].kind.rails:
        region = analysis.poles.region_of.get(analysis.net(named(piece, rail)))
        if region is not None:
            return min(region.nets)
    return None

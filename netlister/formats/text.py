"""Findings as text for a person: one mistake after the other, worst first."""

from __future__ import annotations

import re
from collections import Counter
from itertools import groupby
from math import prod
from textwrap import wrap
from typing import TYPE_CHECKING

from netlister.finding import Mistake, Severity
from netlister.quantity import count_said

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from netlister.check import Report
    from netlister.finding import Finding, Positions
    from netlister.source import Source, Span, UnusableError

WIDTH = 110
MOST_SHOWN = 6
"""Findings of one cause, and partial positions of one finding, that are shown; the rest is only counted."""

MOST_CAUSES = 20
"""Causes shown before the rest is only counted."""

MOST_OTHERS = 3
"""Other repairs of the same weight that are shown."""

MOST_POSITIONS = 10
"""Positions of one entry shown before the rest is only counted."""

MOST_ON_PATH = 20
"""Terminals of a path shown; of longer ones the middle is left out."""

_IN_A_DRAWING = (
    "In the drawing, a key that a help names is the field of that name, and a comment '# netlister: allow …' the field "
    "'Allow'."
)
TO_DRAW = (
    "nothing is written into a drawing or a script: make the changes there, export a drawing again, and check what "
    "came of it"
)
"""What is told below changes of a layout that comes from a netlist or a script."""

_COLOURS = {Severity.ERROR: "1;31", Severity.WARNING: "1;33", Severity.NOTE: "1;36"}


def _plain(text: str, code: str) -> str:  # noqa: ARG001
    return text


def _coloured(text: str, code: str) -> str:
    return f"\x1b[{code}m{text}\x1b[0m"


def render(
    report: Report, source: Source | None = None, *, colour: bool = False, quiet: bool = False, every: bool = False
) -> str:
    """The report as text.

    `source`: the layout's text, for the lines that are shown. `quiet`: no summary where nothing was found.
    `every`: all causes, not the first MOST_CAUSES alone.
    """
    paint = _coloured if colour else _plain
    lines = source.lines() if source is not None and report.findings else []
    blocks = []
    groups = [list(group) for _, group in groupby(report.findings, key=lambda f: f.cause)]
    shown = groups if every else groups[:MOST_CAUSES]
    for group in shown:
        alike = report.causes.get(group[0].cause)
        others = [] if alike is None else [[one.mistake for one in r.choices] for r in alike.repairs[1:]]
        name = source.name if source else ""
        blocks.append("\n".join(_cause(group, others, lines, name, paint, report.layout.drawn)))
    if len(groups) > len(shown):
        blocks.append("\n".join(_more(groups[len(shown) :])))
    text = "\n\n".join(blocks)
    if report.layout.netlist and any(not finding.mistakes and "'" in finding.fix for finding in report.findings):
        text += f"\n\n{_IN_A_DRAWING}"
    if not quiet or not report.proved:
        text += ("\n\n" if text else "") + "\n".join(_summary(report, paint))
    return text + "\n" if text else ""


def _more(groups: list[list[Finding]]) -> Iterator[str]:
    """The causes that are not shown, counted by the rule and the severity of their worst finding."""
    counts = Counter((group[0].rule, group[0].severity) for group in groups)
    yield f"and {len(groups)} more causes (--all shows them):"
    for (rule, severity), count in sorted(counts.items(), key=lambda item: (-item[0][1], -item[1], item[0][0])):
        yield f"  {count:>6}  {rule} ({severity.label})"


def _cause(  # noqa: PLR0913, PLR0917 - what is told, and how
    findings: list[Finding],
    others: list[list[Mistake]],
    lines: list[str],
    file: str,
    paint: Callable[[str, str], str],
    drawn: dict[str, str],
) -> Iterator[str]:
    first = findings[0]
    worst = max(f.severity for f in findings)
    label = paint(worst.label, _COLOURS[worst])
    mistakes = first.mistakes or tuple(Mistake(first.message, first.fix, span) for span in first.where[:1])
    for number, mistake in enumerate(mistakes):
        yield f"{mistake.span}: {label}: {'and ' if number else ''}{mistake.headline}"
        if mistake.span.file == file:
            yield from excerpt(lines, mistake.span, lambda text: paint(text, _COLOURS[worst]))
    shown = findings[:MOST_SHOWN]
    for number, finding in enumerate(shown):
        yield from _effect(finding, told=bool(first.mistakes) or number > 0, paint=paint)
        yield from _drawn(finding, drawn)
    if len(findings) > len(shown):
        yield f"  … and {len(findings) - len(shown)} more of the same cause (all of them with --format json)"
    for fix in dict.fromkeys(mistake.fix for mistake in mistakes):
        yield from _filled(f"  {paint('help', '1;32')}: ", fix, len("  help: "))
    for other in others[:MOST_OTHERS]:
        said = " and ".join(_in_one(m) for m in other)
        yield from _filled(f"  {paint('or', '1;32')}: ", said, len("  or: "))
    if len(others) > MOST_OTHERS:
        more = len(others) - MOST_OTHERS
        yield f"  … or {'one other way' if more == 1 else f'one of {more} other ways'} (all of them with --format json)"


def _in_one(mistake: Mistake) -> str:
    """A mistake and its cure in one sentence: the cure alone where it names all that the mistake names."""
    headline, fix = mistake.headline, mistake.fix
    if headline.endswith("?"):
        return f"{headline} {fix}"
    names = re.findall(r"'[^']*'", headline)
    return fix if names and all(name in fix for name in names) else f"{headline}: {fix}"


def _drawn(finding: Finding, drawn: dict[str, str]) -> Iterator[str]:
    """The references and nets of a drawing that have other names than the parts and terminals of a finding."""
    said = [f"{name} is {drawn[name]}" for name in _named(finding) if name in drawn]
    if said:
        shown, more = said[:MOST_POSITIONS], len(said) - MOST_POSITIONS
        text = ", ".join(shown) + (f" and {more} more" if more > 0 else "")
        head = "    in the drawing: "
        yield from _filled(head, text, len(head))


def in_drawing(texts: Iterable[str], drawn: dict[str, str]) -> str:
    """The references and nets of a drawing for what some texts name; nothing where none has another name there."""
    words = [w for text in texts for w in (*re.findall(r"'([^']+)'", text), *re.findall(r"[\w.-]+", text))]
    said = [f"{name} is {drawn[name]}" for name in dict.fromkeys(words) if name in drawn]
    return "in the drawing: " + ", ".join(said) if said else ""


def _named(finding: Finding) -> list[str]:
    """The things and terminals that a finding names, each once; first what its mistakes name."""
    quoted = [name for mistake in finding.mistakes for name in re.findall(r"'([^']+)'", mistake.headline)]
    return list(dict.fromkeys([*quoted, finding.subject, *finding.parts, *finding.path, *finding.terminals]))


def _filled(head: str, text: str, indent: int) -> Iterator[str]:
    """Text after a head, folded at WIDTH, further lines indented."""
    lines = wrap(text, WIDTH - indent, break_long_words=False, break_on_hyphens=False)
    yield head + lines[0]
    yield from (" " * indent + line for line in lines[1:])


def _effect(finding: Finding, *, told: bool, paint: Callable[[str, str], str]) -> Iterator[str]:
    name = paint(finding.rule, "1")
    if told:
        yield f"  {name} ({finding.severity.label}): {finding.message}"
        yield from _filled("    ", when_text(finding), len("    "))
    else:
        yield from _filled(f"  {name}: ", when_text(finding), len("    "))
    if finding.path:
        yield from _wrapped("    path: ", list(finding.path))


def when_text(finding: Finding) -> str:
    """The states of a finding in words."""
    if finding.when == ((),):
        return "in every position of turnouts and switches"
    shown = finding.when[:MOST_SHOWN]
    text = "when " + "; or when ".join(_entry_text(entry) for entry in shown)
    more = len(finding.when) - len(shown)
    if not finding.when_complete:
        if not finding.states:
            return f"{text}; whether in others too was not proved"
        return f"{text}; and so on, in {_number(finding.states)}"
    return text + (f"; or in {more} more ways" if more else "")


def _entry_text(entry: Positions) -> str:
    said = [f"{name} is at {position}" for name, position in entry[:MOST_POSITIONS]]
    if len(entry) > MOST_POSITIONS:
        said.append(f"{len(entry) - MOST_POSITIONS} others stand as --format json says")
    return " and ".join(said)


def _wrapped(head: str, terminals: list[str]) -> Iterator[str]:
    if len(terminals) > MOST_ON_PATH:
        half = MOST_ON_PATH // 2
        left_out = len(terminals) - 2 * half
        terminals = [*terminals[:half], f"(… {left_out} more …)", *terminals[-half:]]
    line = head + terminals[0]
    for terminal in terminals[1:]:
        if len(line) + len(terminal) + 3 > WIDTH:
            yield line + " -"
            line = " " * len(head) + terminal
        else:
            line += f" - {terminal}"
    yield line


def excerpt(lines: list[str], span: Span, mark: Callable[[str], str]) -> Iterator[str]:
    """The source line with the place marked."""
    if not 1 <= span.line <= len(lines):
        return
    line = lines[span.line - 1].replace("\t", " ")
    number = str(span.line)
    end = span.end_column if span.end_line == span.line else len(line) + 1
    start, cut = span.column - 1, ""
    width = WIDTH - len(number) - 4
    if len(line) > width:
        line, cut = line[:width], "…"
    length = max(1, min(end, len(line) + 1) - span.column)
    yield f" {number} | {line}{cut}"
    if start <= len(line):
        yield f" {' ' * len(number)} | {' ' * start}{mark('^' * length)}"


def _summary(report: Report, paint: Callable[[str, str], str]) -> Iterator[str]:
    variables = report.layout.variables
    count = prod(len(v.positions) for v in variables.values())
    positions = _number(count)
    name = report.layout.name
    if report.findings:
        causes = len({f.cause for f in report.findings})
        listed = [(report.count(s), s.label) for s in sorted(Severity, reverse=True)]
        counted = ", ".join(f"{n} {label}{'' if n == 1 else 's'}" for n, label in listed if n)
        found = len(report.findings)
        said = f"{causes} cause{'' if causes == 1 else 's'}, {found} finding{'' if found == 1 else 's'}"
        yield f"{name}: {said}: {counted}"
    pieces = len(report.layout.pieces)
    things = f"{pieces} piece{'' if pieces == 1 else 's'} of track, {positions}"
    if report.proved:
        verdict = "checked over every one of them" if count > 1 else "checked"
        yield f"{name}: {things}, {verdict}" + ("" if report.findings else _nothing(report, paint))
    else:
        yield f"{name}: {things}; {paint('not everything was proved', '1;33')} within the limit of the proof:"
        open_questions = [f"  {rule} of {subject}" for rule, subject in report.unproved]
        yield from open_questions[:20]
        if len(open_questions) > 20:  # noqa: PLR2004
            yield f"  … and {len(open_questions) - 20} more (all of them with --format json)"
        yield "  whether anything is wrong there is not known: check again with '--limit 0', which may take long"


def _nothing(report: Report, paint: Callable[[str, str], str]) -> str:
    """That nothing was found; nothing is wrong only where all rules of a plain check were run."""
    if report.left_out:
        return paint(f": nothing found, but not looked at: {report.unseen}", "1;33")
    return paint(": nothing wrong", "1;32")


def _number(count: int) -> str:
    if count == 1:
        return "one combination of positions"
    return f"{count_said(count)} combinations of positions"


def unusable(error: UnusableError) -> str:
    """One line per fault of a file that cannot be used."""
    return "".join(f"{fault.span}: {fault.message}\n" for fault in error.faults)


def listing(items: Iterable[tuple[str, str]]) -> str:
    """Names and what they mean, aligned."""
    pairs = list(items)
    width = max(len(name) for name, _ in pairs)
    return "".join(f"{name:<{width}}  {text}\n" for name, text in pairs)

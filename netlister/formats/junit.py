"""Findings as a test report in JUnit's XML: a suite per layout, a case per rule.

No standard; elements and attributes are those of a schema that a CI server's plugin publishes (junit-10.xsd), which
knows no `skipped` for the whole.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from xml.etree import ElementTree as ET

from netlister.finding import Severity
from netlister.formats.outcome import posix, said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.formats.outcome import Outcome


class Suite(NamedTuple):
    """A suite as XML, and how many cases, failures and errors it has."""

    xml: str
    counts: tuple[int, int, int]


def part(outcome: Outcome, rules: Sequence[str], failing: Severity | None = Severity.ERROR) -> Suite:
    """The suite of one layout: `rules` are those that ran; a finding of `failing` or worse is a failure."""
    name = _clean(posix(outcome.name))
    suite = ET.Element("testsuite", name=name)
    if outcome.error is not None:
        case = ET.SubElement(suite, "testcase", classname=name, name="file")
        error = ET.SubElement(case, "error", message="the file cannot be used", type="unusable")
        error.text = _clean("\n".join(f"{f.span}: {f.message}" for f in outcome.error.faults))
        return _counted(suite, (1, 0, 1))
    report = outcome.report
    assert report is not None
    found: dict[str, list[str]] = {}
    told: dict[str, list[str]] = {}
    for finding in report.findings:
        place = f"{finding.where[0]}: " if finding.where else ""
        text = f"{place}{finding.severity.label}: {said(finding)}"
        text += f"\n  path: {' - '.join(finding.path)}" if finding.path else ""
        text += f"\n  help: {finding.fix}" if finding.fix else ""
        fails = failing is not None and finding.severity >= failing
        (found if fails else told).setdefault(finding.rule, []).append(text)
    unproved: dict[str, list[str]] = {}
    for rule, subject in report.unproved:
        unproved.setdefault(rule, []).append(subject)
    every = list(dict.fromkeys((*rules, *found, *told, *unproved)))
    for rule in every:
        case = ET.SubElement(suite, "testcase", classname=name, name=rule)
        if rule in found:
            count = len(found[rule])
            failure = ET.SubElement(case, "failure", message=f"{count} finding{'s' * (count > 1)}", type=rule)
            failure.text = _clean("\n".join(found[rule]))
        elif rule in unproved:
            failure = ET.SubElement(case, "failure", message="not proved", type="unproved")
            failure.text = _clean("\n".join(unproved[rule]))
        if rule in told:
            ET.SubElement(case, "system-out").text = _clean("\n".join(told[rule]))
    failures = len({*found, *unproved})
    return _counted(suite, (len(every), failures, 0))


def whole(parts: list[Suite]) -> str:
    """All suites in one document."""
    tests, failures, errors = (sum(p.counts[k] for p in parts) for k in range(3))
    head = f'<testsuites tests="{tests}" failures="{failures}" errors="{errors}">'
    return "\n".join(['<?xml version="1.0" encoding="UTF-8"?>', head, *(p.xml for p in parts), "</testsuites>", ""])


def _counted(suite: ET.Element, counts: tuple[int, int, int]) -> Suite:
    for key, count in zip(("tests", "failures", "errors"), counts, strict=True):
        suite.set(key, str(count))
    ET.indent(suite)
    return Suite(ET.tostring(suite, encoding="unicode"), counts)


def _clean(text: str) -> str:
    """Text without what XML 1.0 does not allow."""
    return "".join(
        c if c in "\t\n" or " " <= c < "\ud800" or "\ue000" <= c < "\ufffe" or c > "\uffff" else "?" for c in text
    )

"""The findings of the tool beside those of the plain enumeration."""

from __future__ import annotations

import copy
import itertools
import re
from typing import TYPE_CHECKING, Any

import netlister
from netlister.source import UnusableError
from tests.properties.layouts import dump
from tests.properties.reference import RULES, Data, Key, Layout, State, expand, floating_nets, reference

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

Finding = dict[str, Any]

MOST_ENTRIES = 200
STATES_SHOWN = 4


def tool_findings(text: str) -> dict[str, Any]:
    """What the tool says of a layout, as the JSON object that it writes."""
    try:
        report: dict[str, Any] = netlister.check_text(text, name="layout.yaml", causes=False).to_json()
    except UnusableError as error:
        return {"unusable": [{"message": str(fault.message)} for fault in error.faults]}
    return report


def covered(when: list[Mapping[str, str]], states: list[State]) -> set[State]:
    """The states, out of some, that any of some partial positions covers."""
    return {state for entry in when for state in expand(entry, states)}


def tool_states(result: Mapping[str, Any], states: list[State]) -> dict[Key, set[State]]:
    """For every rule checked here and subject the states that the tool's findings cover."""
    found: dict[Key, set[State]] = {}
    for finding in result["findings"]:
        if finding["rule"] in RULES:
            key = finding["rule"], finding["subject"]
            found.setdefault(key, set()).update(covered(finding["when"], states))
    return found


def differences(data: Data) -> list[str]:
    """Everything in which the tool and the enumeration differ, one line each, rule and subject first."""
    layout = Layout(data)
    result = tool_findings(dump(data))
    if "unusable" in result:
        return [f"unusable: {fault['message']}" for fault in result["unusable"]]
    lines = []
    if not result["proved"]:
        lines.append("proved: false")
    wanted_variables = {name: list(positions) for name, positions in layout.variables.items()}
    if result["variables"] != wanted_variables:
        lines.append(f"variables: {result['variables']} instead of {wanted_variables}")
        return lines
    findings = [one for one in result["findings"] if one["rule"] in RULES]
    lines += compare_states(layout, result, {(one["rule"], one["subject"]) for one in findings if is_cut(one)})
    for finding in findings:
        lines += cover_faults(layout, finding)
    lines += compare_keys(data, findings)
    lines += compare_poles(layout)
    return lines


def compare_poles(layout: Layout) -> Iterator[str]:
    """The poles of every rail in some states, as the command that shows them has them."""
    read = netlister.read_text(dump(layout.data))
    states = layout.states
    for state in states[:: max(1, len(states) // STATES_SHOWN)]:
        shown = {rail: list(has) for rail, has in netlister.poles_of(read, dict(state)).items()}
        for rail in layout.rails:
            picture = layout.pictures[state]
            wanted = sorted(picture.poles[rail] or picture.units[rail])
            if shown[rail] != wanted:
                yield f"poles {rail}: {shown[rail]} instead of {wanted} in {show({state})}"


def is_cut(finding: Finding) -> bool:
    """Whether a cover was too long to be given whole."""
    return finding.get("when_complete") is False


def compare_states(layout: Layout, result: Mapping[str, Any], cut: set[Key]) -> Iterator[str]:
    """Rules and subjects whose states differ."""
    mine, theirs = reference(layout.data), tool_states(result, layout.states)
    for key in sorted({*mine, *theirs}):
        missing = mine.get(key, set()) - theirs.get(key, set())
        invented = theirs.get(key, set()) - mine.get(key, set())
        if missing and key not in cut:
            yield f"{' '.join(key)}: not found in {show(missing)}"
        if invented:
            yield f"{' '.join(key)}: found, but not so in {show(invented)}"


def show(states: set[State]) -> str:
    """Some states, the first few written out."""
    some = sorted(sorted(state) for state in states)
    return f"{len(some)} states, as {'; '.join(' '.join('='.join(pair) for pair in one) or 'all' for one in some[:2])}"


def cover_faults(layout: Layout, finding: Finding) -> Iterator[str]:
    """What is wrong with the list of partial positions of one finding: entries or literals that can be dropped."""
    title = f"{finding['rule']} {finding['subject']}"
    when: list[Mapping[str, str]] = finding["when"]
    for entry in when:
        for name, position in entry.items():
            if position not in layout.variables.get(name, ()):
                yield f"{title}: {name}={position} is no position of a variable"
    if is_cut(finding):
        if len(when) != MOST_ENTRIES:
            yield f"{title}: cut to {len(when)} entries"
        return
    whole = covered(when, layout.states)
    for entry in when:
        rest = covered([other for other in when if other is not entry], layout.states)
        if rest == whole:
            yield f"{title}: the entry {entry} can be dropped"
        for name in entry:
            shorter = {key: position for key, position in entry.items() if key != name}
            if expand(shorter, layout.states) <= whole:
                yield f"{title}: {name} can be dropped from {entry}"


def compare_keys(data: Data, findings: list[Finding]) -> Iterator[str]:
    """One finding per rule and subject (but for shorts), and all the terminals of a net without a pole."""
    keys = [(one["rule"], one["subject"]) for one in findings if one["rule"] != "pole-short"]
    for key in sorted({key for key in keys if keys.count(key) > 1}):
        yield f"{' '.join(key)}: {keys.count(key)} findings"
    nets = floating_nets(data)
    for finding in findings:
        if finding["rule"] == "floating-net" and finding["subject"] in nets:
            wanted = nets[finding["subject"]]
            if sorted(finding["terminals"]) != sorted(wanted):
                yield f"floating-net {finding['subject']}: terminals {finding['terminals']} instead of {wanted}"


# --------------------------------------------------------------------------------------------------------------
# Making a failing layout smaller
# --------------------------------------------------------------------------------------------------------------


def subject_matter(lines: list[str]) -> str:
    """What the first difference is about: the rule, or the complaint about an unusable file without its names."""
    if not lines:
        return ""
    if lines[0].startswith("unusable"):
        return re.sub(r"'[^']*'|\d", "", lines[0])
    return lines[-1] if lines[0] == "crash" else lines[0].split()[0]


def smaller(data: Data, failing: Callable[[Data], list[str]] = differences) -> Data:
    """Take things out of a layout as long as the tool and the enumeration differ in the same way."""
    about = subject_matter(failing(data))

    def still_fails(candidate: Data) -> bool:
        if not {"format", "supplies", "track"} <= set(candidate):
            return False
        try:
            reference(candidate)
        except (KeyError, ValueError, IndexError, AttributeError, TypeError):
            return False  # it does not hang together any more
        return subject_matter(failing(candidate)) == about

    changed = True
    while changed:
        changed = False
        for candidate in candidates(data):
            if still_fails(candidate):
                data, changed = candidate, True
                break
    return data


def candidates(data: Data) -> Iterator[Data]:
    """The layout with one thing left out."""
    for piece in data["track"]:
        less = without(data, piece)
        if less.get("track"):
            yield less
    for path in paths(data):
        less = copy.deepcopy(data)
        inner: Any = less
        for step in path[:-1]:
            inner = inner[step]
        del inner[path[-1]]
        yield {key: value for key, value in less.items() if value}


def without(data: Data, name: str) -> Data:
    """The layout without a piece and all entries that speak of it."""

    def speaks(value: Any) -> bool:
        if isinstance(value, dict):
            return any(speaks(one) for one in itertools.chain(value, value.values()))
        if isinstance(value, list):
            return any(speaks(one) for one in value)
        return str(value).split(".")[0] == name

    less: Data = {}
    for section, entries in data.items():
        if isinstance(entries, list):
            less[section] = [one for one in entries if not speaks(one)]
        elif isinstance(entries, dict):
            less[section] = {key: one for key, one in entries.items() if key != name and not speaks(one)}
        else:
            less[section] = entries
    return {key: copy.deepcopy(value) for key, value in less.items() if value}


def paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every entry of nested data, outer ones first."""
    steps: list[Any] = list(value) if isinstance(value, dict) else list(range(len(value)))
    inner = [step for step in steps if isinstance(value[step], (dict, list))]
    if len(path) > 0:
        yield from ((*path, step) for step in steps)
    for step in inner:
        yield from paths(value[step], (*path, step))

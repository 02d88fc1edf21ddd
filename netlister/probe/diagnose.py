"""What the meter said, read from a file, and what it leads to, told."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from netlister.circuit.states import StateError, state_of
from netlister.probe.because import assumptions, because
from netlister.probe.explain import Meter
from netlister.probe.local import allowed
from netlister.probe.scene import BUS_OFF, FEED_OFF, FEEDS_OFF, LEAD_OFF, PAPER, Acts, Scene
from netlister.probe.sheet import Reading, usual_states
from netlister.probe.symptoms import Symptom, SymptomError, volts
from netlister.probe.text import done, fault_object, set_of
from netlister.source import suggest

if TYPE_CHECKING:
    from netlister.circuit.model import State
    from netlister.probe.detail import Detail
    from netlister.probe.explain import Diagnosis
    from netlister.probe.faults import Fault

MOST_WRITTEN = 3
"""Explanations of which the text says how the file would read."""
MOST_TOLD = 20
"""Explanations that are told at the most."""

CURES = {
    "joint-bridged": "clear the gap: filings, a metal joiner in place of an insulated one, rail ends that touch",
    "joint-open": "clean or replace the joiner, or solder a wire across it",
    "feed-open": "follow the feed wire from its screw to the rail: screw, tap, joint at the rail",
    "feed-swapped": "swap the two feed wires at their screws",
    "feed-misplaced": "move the feed wires to the side of the gap that the layout says",
    "contact-open": "look at the lead of the common, then clean or replace the contact",
    "contact-swapped": "swap the two outer leads of the contact",
    "contact-stuck": "free, adjust or replace the contact",
    "machine-reversed": "swap the leads of the machine's coil or motor, or its positions on the panel",
    "blade-open": "clean the blade where it touches the stock rail",
    "bond-open": "renew the wire or link under the piece",
    "link-left": "cut it, as the layout says",
    "wire-open": "follow the wire from end to end: screws, solder, breaks",
    "plug-open": "look at the pin and the wires behind it",
    "plug-swapped": "swap the wires of the two pins",
    "bus-swapped": "swap the two wires of the bus where it starts",
    "rails-bridged": "take off what lies across the rails; look at rail ends, sleepers and solder beneath",
}


class ReadingsError(Exception):
    """A file of readings that cannot be used. The message says where and what to write instead."""


# -- the file of readings


def read_meter(made: Detail, text: str, name: str) -> tuple[list[Meter | Symptom], list[int]]:
    """The readings of a CSV file, and the rows with the supply on that are neither full volts nor none.

    Rows without a reading are left out. Columns may be apart by semicolons or tabs, too. Raises ReadingsError.
    """
    head = text.partition("\n")[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=max(",;\t", key=head.count))
    wanted = ["supply", "acts", "set", "probe-1", "probe-2", "reading"]
    missing = [w for w in wanted if w not in (rows.fieldnames or ())]
    if missing:
        msg = f"{name}:1:1: the first line must name the columns {','.join(wanted)}; '{missing[0]}' is missing"
        raise ReadingsError(msg)
    first, _ = usual_states(made)
    found: list[Meter | Symptom] = []
    ignored: list[int] = []
    scenes: dict[tuple[tuple[str, ...], State], Scene] = {}
    for number, row in enumerate(rows, 1):
        where = f"{name}:{rows.line_num}:1"
        supply, value = _meter_said(row, len(rows.fieldnames or ()), where)
        if not value:
            continue
        acts = tuple(row["acts"].split())
        _check_acts(made, acts, where)
        state = _state(made, row["set"], first, where)
        probes = tuple(_probe(made, row[key].strip(), where) for key in ("probe-1", "probe-2"))
        if probes[0] == probes[1]:
            msg = f"{where}: both leads are at {made.names[probes[0]]}; write the two points that were measured between"
            raise ReadingsError(msg)
        if supply == "on":
            try:
                power = volts(made, number, value, (acts, state), (probes[0], probes[1]))
            except SymptomError as error:
                msg = f"{where}: {error}"
                raise ReadingsError(msg) from None
            if power is None:
                ignored.append(number)
            else:
                found.append(power)
            continue
        if (acts, state) not in scenes:
            scenes[acts, state] = Scene(made, Acts(made, acts), state)
        x, y = probes
        good = scenes[acts, state].beeps(x, y)
        found.append(Meter(number, Reading(acts, state, (x, y), good), value == "beep"))
    return found, ignored


def _meter_said(row: dict[str, str], columns: int, where: str) -> tuple[str, str]:
    """Whether the supply was on or off, and the reading, empty if there is none."""
    if None in row or None in row.values():
        msg = f"{where}: this row has not as many columns as the first line, which has {columns}; leave them empty"
        raise ReadingsError(msg)
    supply, value = row["supply"].strip().lower(), row["reading"].strip()
    if value and supply not in {"on", "off"}:
        msg = f"{where}: 'supply' is 'on' or 'off', not '{row['supply']}'"
        raise ReadingsError(msg)
    if supply == "on" or not value:
        return supply, value
    if value.lower() not in {"beep", "silent"}:
        msg = f"{where}: with the supply off a reading is 'beep' or 'silent', not '{value}'"
        raise ReadingsError(msg)
    return supply, value.lower()


def _check_acts(made: Detail, acts: tuple[str, ...], where: str) -> None:
    for act in acts:
        known = (
            act == FEEDS_OFF
            or (act.startswith(BUS_OFF) and act.removeprefix(BUS_OFF) in made.buses)
            or (act.startswith(FEED_OFF) and act.removeprefix(FEED_OFF) in made.fed)
            or (act.startswith(PAPER) and act.removeprefix(PAPER) in made.blades)
            or (act.startswith(LEAD_OFF) and act.removeprefix(LEAD_OFF) in made.commons)
        )
        if not known:
            choices = [
                FEEDS_OFF,
                *(FEED_OFF + p for p in made.fed),
                *(PAPER + p for p in made.blades),
                *(LEAD_OFF + c for c in made.commons),
            ]
            msg = f"{where}: there is nothing to do called '{act}'{suggest(act, choices)}"
            raise ReadingsError(msg)


def _state(made: Detail, text: str, first: State, where: str) -> State:
    circuit = made.circuit
    given: dict[str, str] = {}
    for pair in text.split():
        name, sign, position = pair.partition("=")
        if not sign or given.get(name, position) != position:
            what = "is a second position of it" if sign else "is no position"
            msg = f"{where}: '{pair}' {what}; write NAME=POSITION for each machine, as in M1=through M2=diverging"
            raise ReadingsError(msg)
        given[name] = position
    try:
        said = state_of(circuit, given)
    except StateError as error:
        msg = f"{where}: {error}"
        raise ReadingsError(msg) from None
    bars = circuit.layout.bars
    named = {circuit.variable[name if name in circuit.variable else bars[name].variable] for name in given}
    state = allowed(made, tuple((v, said[v]) for v in sorted(named)), first)
    if state is None:
        msg = f"{where}: 'never' rules these positions out; set others"
        raise ReadingsError(msg)
    return state


def _probe(made: Detail, name: str, where: str) -> int:
    number = made.node.get(name)
    if number is None or name.startswith("bus:"):
        msg = f"{where}: there is no terminal '{name}'{suggest(name, made.node)}"
        raise ReadingsError(msg)
    return number


# -- telling


InFile = Callable[["Fault"], tuple[dict[str, Any], list[str]] | None]
"""How the file would say what a fault has done: the change as plain values, and the lines that it makes new."""


def diagnosis_object(
    made: Detail, found: Diagnosis, in_file: InFile = lambda _: None, symptoms: Sequence[Symptom] = ()
) -> dict[str, Any]:
    """A diagnosis as the plain values of `--format json`. `symptoms`: those said in words."""

    def fault_of(f: Fault) -> dict[str, Any]:
        change = in_file(f)
        return {**fault_object(f), "do": CURES[f.kind], **({"file": change[0]} if change else {})}

    following = None
    if found.next is not None:
        n = found.next
        following = {
            "supply": "off",
            "acts": list(n.acts),
            "set": set_of(made, n.state),
            "probes": [made.names[p] for p in n.probes],
        }
    return {
        "format": "netlister-diagnosis/1",
        "layout": made.layout.name,
        "wrong": [row for row in found.wrong if row > 0],
        "explanations": [
            {
                "faults": [fault_of(f) for f in e.faults],
                "weight": round(e.weight, 3),
                **({"how": how} if (how := because(symptoms, e)) else {}),
            }
            for e in (found.explanations if found.wrong else [])[:MOST_TOLD]
        ],
        "next": following,
        "contradictory": found.contradictory,
        "complete": found.tried_all,
        "take_again": found.but_one,
    }


def asked(made: Detail, n: Reading) -> str:
    """A reading to take, in words: what to do first, how to set the turnouts, where to hold the leads."""
    acts = " ".join(done(list(n.acts))) or "All feed wires on."
    where = " ".join(f"{k}={v}" for k, v in set_of(made, n.state).items())
    return f"{acts} {'With ' + where + ': ' if where else ''}{made.names[n.probes[0]]} to {made.names[n.probes[1]]}"


def told(made: Detail, found: Diagnosis, in_file: InFile = lambda _: None, symptoms: Sequence[Symptom] = ()) -> str:
    """A diagnosis as text. `symptoms`: those said in words."""
    out = assumptions(symptoms)
    for some in found.contradictory:
        which = ", ".join(map(str, some))
        out.append(
            f"Readings {which} contradict one another: what beeps step by step cannot be silent. Take them again."
        )
    if found.ignored:
        rows = ", ".join(map(str, found.ignored))
        out.append(f"Not used: readings {rows} are neither the supply's volts nor none, as behind a bad contact.")
    if not found.wrong and not found.taken:
        out.append("No reading was given yet.")
    elif not found.wrong:
        count = len({f.key() for e in found.explanations for f in e.faults})
        rest = f"; {count} single {'fault' if count == 1 else 'faults'} would show in none of them" if count else ""
        out.append(f"Every reading is as it should be{rest}.")
    elif found.contradictory:
        pass
    elif not found.explanations:
        out.append("No single fault explains the readings, and no pair that was tried either.")
        if not found.tried_all:
            out.append("Not all pairs were tried.")
        if found.but_one:
            again = ", ".join(map(str, found.but_one))
            out.append(f"All readings but one fit a single fault. Take again: {again}.")
    else:
        rows = ", ".join(str(row) for row in found.wrong if row > 0)
        out.append((f"Wrong: readings {rows}. " if rows else "") + "What explains all that was seen, likeliest first:")
        for number, e in enumerate(found.explanations[:MOST_TOLD], 1):
            out.append(f"{number:3}. {'; and '.join(f.name for f in e.faults)}")
            if number <= MOST_WRITTEN:
                out += [f"       so: {how}" for how in because(symptoms, e)]
            for f in e.faults:
                out.append(f"       do: {CURES[f.kind]} ({f.span})")
                if number <= MOST_WRITTEN and (change := in_file(f)):
                    out.append("       or, if it is meant so, the file is to read as follows; check it again:")
                    out += [f"         {line.strip()}" for line in change[1]]
        if len(found.explanations) > MOST_TOLD:
            out.append(f"     and {len(found.explanations) - MOST_TOLD} more")
        out.append("If the railway is right as it is, the file is not: write there what was found, and check it again.")
    if found.next is not None:
        n = found.next
        out.append(f"Next, supply unplugged. {asked(made, n)}.")
    return "\n".join(out) + "\n"

"""Repairs in the words of a drawing, obeyed word by word in the drawing, which is then checked again.

What obeys knows parts, nets and sentences alone, and shares nothing with what wrote them.
"""

from __future__ import annotations

import copy
import re
from collections import Counter
from random import Random

import pytest

import netlister
from netlister.check import check
from netlister.edits.model import apply
from tests.properties.layouts import dump
from tests.properties.netlists import round_trip
from tests.properties.reference import load
from tests.repairs.damage import mistakes, parted
from tests.repairs.right import RIGHT
from tests.unit.netlists.drawn import drawn, siding

PIN = r"([\w-]+) pin ([\w-]+)"
TARGET = r"(?:[\w-]+ pin [\w-]+|net .+?)"
RAILWAY = (
    "look at the turnout; if it is so, ", "if the outputs are isolated from each other, ",
    "change the wiring; or, if it is what you want, ", "turn it round, with the supply unplugged, and ",
)  # fmt: skip


def nested(text):
    """A netlist as nested lists."""
    stack = [[]]
    for bracket, quoted, word in re.findall(r'([()])|"((?:[^"\\]|\\.)*)"|([^\s()"]+)', text):
        if bracket == "(":
            stack.append([])
        elif bracket == ")":
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(word or re.sub(r"\\(.)", r"\1", quoted))
    return stack[0][0]


def taken_apart(text):
    """The parts and the nets of a netlist."""
    lists = {part[0]: part[1:] for part in nested(text)[1:] if isinstance(part, list)}
    parts = {}
    for comp in lists["components"]:
        inner = [e for e in comp[1:] if isinstance(e, list)]
        of = {e[0]: e[1] for e in inner if len(e) > 1}
        source = next(e for e in inner if e[0] == "libsource")
        fields = next((e[1:] for e in inner if e[0] == "fields"), [])
        parts[of["ref"]] = (
            next(e[1] for e in source[1:] if e[0] == "part"),
            {next(x[1] for x in f if isinstance(x, list) and x[0] == "name"): f[-1] for f in fields if len(f) > 2},
        )
    nets = {}
    for net in lists["nets"]:
        of = {e[0]: e[1] for e in net[1:] if isinstance(e, list) and e[0] != "node"}
        nodes = [{e[0]: e[1] for e in node[1:]} for node in net[1:] if isinstance(node, list) and node[0] == "node"]
        nets[of["name"]] = [f"{n['ref']}.{n['pin']}" for n in nodes]
    return parts, nets


def obeyed(order, parts, nets):
    """Parts and nets after an order in words."""
    parts, nets = copy.deepcopy(parts), copy.deepcopy(nets)
    before = {pin: name for name, pins in nets.items() for pin in pins}

    def net_of(target):
        """The net of a target, as everything was before the order."""
        if target.startswith("net "):
            return target[4:]
        pin = ".".join(re.fullmatch(PIN, target).groups())
        return before.get(pin) or f"net of {pin}"

    def put(pin, target):
        for pins in nets.values():
            if pin in pins:
                pins.remove(pin)
        name = net_of(target)
        nets.setdefault(name, []).append(pin)
        other = "" if target.startswith("net ") else ".".join(re.fullmatch(PIN, target).groups())
        if other and other not in before:
            before[other] = name
            nets[name].append(other)

    for beginning in RAILWAY:
        order = order.replace(beginning, "")
    order = re.sub(r"(^|; )(?:cut|solder|fit|take off|bond)[^;]*?, then (?=write )", r"\1", order)
    order = re.sub(r", once the piece itself is so$|; the longest train must fit between.*$", "", order)
    for said in order.split("; "):
        if match := re.fullmatch(r"exchange (.+) for (?:an? )?(metal|insulated) joiners?", said):
            for reference in re.split(r", | and ", match[1]):
                assert (
                    parts[reference][0].replace(" ", "-")
                    == {"metal": "insulated-joiner", "insulated": "metal-joiner"}[match[2]]
                )
                parts[reference] = (f"{match[2]}-joiner", parts[reference][1])
        elif match := re.fullmatch(r"take out (.+)", said):
            for reference in re.split(r", | and ", match[1]):
                del parts[reference]
                for pins in nets.values():
                    pins[:] = [pin for pin in pins if pin.partition(".")[0] != reference]
        elif match := re.fullmatch(r"draw an? '([\w-]+)'(?: with (.+?))?(?:, (pin .+))?", said):
            symbol, fields, pins = match[1], match[2] or "", match[3] or ""
            own = dict(re.findall(r"'([\w ]+)' (.+?)(?= and '|, '|$)", fields))
            reference = own.get("Name", "").replace(".", "-") or f"NEW{len(parts)}"
            parts[reference] = (symbol, own)
            for pin, target in re.findall(rf"pin ([\w-]+) to ({TARGET})(?=, pin | and pin |$)", pins):
                put(f"{reference}.{pin}", target)
        elif match := re.fullmatch(r"wire (.+)", said):
            moves = re.findall(rf"{PIN} to ({TARGET})(?=, [\w-]+ pin | and [\w-]+ pin |$)", match[1])
            assert moves, said
            for reference, pin, target in moves:
                assert reference in parts, said
                put(f"{reference}.{pin}", target)
        elif match := re.fullmatch(rf"join the nets of {PIN} and {PIN}", said):
            one, two = f"{match[1]}.{match[2]}", f"{match[3]}.{match[4]}"
            nets[net_of(f"{match[3]} pin {match[4]}")] += nets.pop(before[one], [one])
            assert two in before
        elif match := re.fullmatch(r"leave (.+) open", said):
            for reference, pin in re.findall(PIN, match[1]):
                for pins in nets.values():
                    pins[:] = [p for p in pins if p != f"{reference}.{pin}"]
        else:
            match = re.fullmatch(r"write '(.*)' into the field '([\w ]+)' of ([\w-]+)", said)
            assert match, order
            value, field, reference = match.groups()
            parts[reference] = (parts[reference][0], {**parts[reference][1], field: value})
    return parts, {name: pins for name, pins in nets.items() if pins}


def keys(report):
    """What is wrong, but for what is found while reading and so not told of a change that is not read again."""
    return sorted((f.rule, f.subject) for f in report.findings if f.rule != "lone-junction")


def obeyed_all(text):
    """Obey each repair that a check of a netlist tells; gives how many there were, and those that went otherwise.

    What the repair was proved to leave must be just what is left.
    """
    layout = netlister.read_text(text, "drawing.net")
    report = check(layout)
    count, otherwise = 0, []
    parts, nets = taken_apart(text)
    for cause in report.causes.values():
        for repair in cause.repairs[:3]:
            if "which lie on one net" in repair.say:
                continue  # which wires go to which of two pins is for a person to say
            count += 1
            wanted = keys(check(apply(repair.edit, layout), causes=False))
            found = keys(
                check(netlister.read_text(drawn(*obeyed(repair.say, parts, nets)), "drawing.net"), causes=False)
            )
            if wanted != found:
                otherwise.append((repair.say, wanted, found))
    return count, otherwise


@pytest.mark.parametrize(
    ("change", "order"),
    [
        (lambda p, n: p.update(U1=("metal-joiner", {})), "exchange U1 for an insulated joiner"),
        (
            lambda p, n: (n["LEFT"].__setitem__(1, "Q1.through"), n["RIGHT"].__setitem__(1, "Q1.diverging")),
            "wire Q1 pin through to Y1 pin stock-right and Q1 pin diverging to Y1 pin stock-left",
        ),
        (
            lambda p, n: (n["A"].__setitem__(1, "W2.1"), n["B"].__setitem__(1, "W1.1")),
            "wire W1 pin 2 to L1 pin right; wire W2 pin 2 to L1 pin left",
        ),
    ],
)  # fmt: skip
def test_a_drawing_by_hand_is_told_its_own_references_and_pins(change, order):
    parts, nets = siding()
    change(parts, nets)
    report = netlister.check_text(drawn(parts, nets), "drawing.net")
    (cause,) = report.causes.values()
    assert cause.repairs[0].say == order
    said = " ".join(report.to_text().split())
    assert all(f"help: {one}" in said for one in order.split("; "))
    assert netlister.check_text(drawn(*obeyed(order, parts, nets)), "drawing.net").findings == ()


def test_what_is_said_in_the_words_of_a_drawing_does_what_was_proved():
    seen, count = Counter(), 0
    for name, text in RIGHT.items():
        data = parted(load(text))
        tried = [m for m in mistakes(data) if m.kind != "feed-out"]
        Random(name).shuffle(tried)
        for mistake in [m for m in tried if not seen[m.kind]][:2]:
            wrong = copy.deepcopy(data)
            mistake.make(wrong)
            wrong["feeds"] = [feed for feed in wrong["feeds"] if feed]
            _, netlist = round_trip(netlister.read_text(dump(wrong)))
            told, otherwise = obeyed_all(netlist)
            assert not otherwise, (name, mistake.kind, mistake.about)
            seen[mistake.kind] += 1
            count += told
    assert count >= 15

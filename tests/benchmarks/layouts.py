"""Large layouts for measuring, as text. Invented; nothing here is a real place."""

from __future__ import annotations

HEAD = "format: netlister/1\nsupplies:\n  main: {type: dcc, voltage: 15 V, trip: 5 A, resistance: 50 mohm}\n"


def branch_line(turnouts: int) -> str:
    """A long line with a siding off it at each of so many turnouts, right as it stands.

    Three pieces, three joints, a switch machine with a contact, and two feeds per turnout.
    """
    lines = [HEAD, "track:"]
    numbers = range(1, turnouts + 1)
    for n in numbers:
        lines += [
            f"  line-{n}: {{length: 900 mm}}",
            f"  siding-{n}: {{length: 450 mm}}",
            f"  T{n}: {{kind: live-frog, hand: {'right' if n % 2 else 'left'}}}",
        ]
    lines.append("machines:")
    for n in numbers:
        through, diverging = ("stock-right", "stock-left") if n % 2 else ("stock-left", "stock-right")
        contact = f"{{common: T{n}.frog, through: T{n}.{through}, diverging: T{n}.{diverging}}}"
        lines.append(f"  M{n}: {{throws: [T{n}], contacts: {{frog: {contact}}}}}")
    lines.append("joints:")
    for n in numbers:
        lines.append(f"  - {{from: line-{n}, to: T{n}.toe}}")
        if n < turnouts:
            lines.append(f"  - {{from: T{n}.through, to: line-{n + 1}, insulate: vee}}")
        lines.append(f"  - {{from: T{n}.diverging, to: siding-{n}, insulate: vee}}")
    lines.append("feeds:")
    for n in numbers:
        lines.append(f"  - {{to: line-{n}, A: left, B: right, at: 450 mm, wire: 0.5 mm2, length: 250 mm}}")
        lines.append(f"  - {{to: siding-{n}, A: left, B: right, wire: 0.5 mm2, length: 250 mm}}")
    return "\n".join(lines) + "\n"


def ladder(turnouts: int) -> str:
    """A single-ended yard: a ladder of live-frog turnouts without contacts or gaps, fed at its throat alone."""
    lines = [HEAD, "track:", "  throat: {length: 600 mm}"]
    lines += [f"  T{n}: {{kind: live-frog, hand: right}}" for n in range(1, turnouts + 1)]
    lines += [f"  road-{n}: {{length: 900 mm}}" for n in range(1, turnouts + 2)]
    lines += ["joints:", "  - {from: throat, to: T1.toe}"]
    for n in range(1, turnouts + 1):
        lines.append(f"  - {{from: T{n}.diverging, to: road-{n}}}")
        beyond = f"T{n + 1}.toe" if n < turnouts else f"road-{n + 1}"
        lines.append(f"  - {{from: T{n}.through, to: {beyond}}}")
    return "\n".join([*lines, "feeds:", "  - {to: throat}"]) + "\n"


def double_ended_yard(roads: int, hands: tuple[str, str] = ("right", "left")) -> str:
    """A yard with a ladder at both ends, live-frog turnouts without contacts or gaps, fed at one throat.

    With ladders of opposite hand the first road off one ladder is the first off the other; with ladders of the same
    hand it is the last.
    """
    same = hands[0] == hands[1]
    lines = [HEAD, "track:", "  west: {length: 600 mm}", "  east: {length: 600 mm}"]
    lines += [f"  W{n}: {{kind: live-frog, hand: {hands[0]}}}" for n in range(1, roads)]
    lines += [f"  E{n}: {{kind: live-frog, hand: {hands[1]}}}" for n in range(1, roads)]
    lines += [f"  road-{n}: {{length: 900 mm}}" for n in range(1, roads + 1)]
    lines += ["joints:", "  - {from: west, to: W1.toe}", "  - {from: E1.toe, to: east.a}"]
    for n in range(1, roads):
        last = n == roads - 1
        east = roads + 1 - n if same else n
        lines.append(f"  - {{from: W{n}.diverging, to: road-{n}}}")
        lines.append(f"  - {{from: W{n}.through, to: {f'road-{roads}' if last else f'W{n + 1}.toe'}}}")
        lines.append(f"  - {{from: road-{east}, to: E{n}.diverging}}")
        if last:
            lines.append(f"  - {{from: road-{1 if same else roads}, to: E{n}.through}}")
        else:
            lines.append(f"  - {{from: E{n + 1}.toe, to: E{n}.through}}")
    return "\n".join([*lines, "feeds:", "  - {to: west}"]) + "\n"


def one_turnout() -> str:
    """The smallest layout worth checking."""
    return branch_line(1)


TRAINS = """trains:
  shunter: {axles: [0 mm, 20 mm], current: 200 mA}
  tank-engine: {axles: [0 mm, 24 mm, 48 mm]}
  tender-engine: {axles: [0 mm, 25 mm, 50 mm, 110 mm, 135 mm, 160 mm], left: [1, 2, 3], right: [4, 5, 6]}
  diesel: {axles: [0 mm, 30 mm, 120 mm, 150 mm]}
  railcar: {axles: [0 mm, 30 mm, 540 mm, 570 mm], conducting: [1, 2, 3, 4]}
"""
"""Five locomotives."""


def branch_line_with_trains(turnouts: int) -> str:
    """The same with five locomotives, and every tenth turnout with a plastic frog."""
    text = branch_line(turnouts)
    for n in range(10, turnouts + 1, 10):
        start = text.index(f"  T{n}: {{kind: live-frog")
        text = text[:start] + text[start:].replace("kind: live-frog", "kind: insulated-frog, jumpers: true", 1)
        machine = text.index(f"  M{n}: ")
        text = f"{text[:machine]}  M{n}: {{throws: [T{n}]}}{text[text.index(chr(10), machine) :]}"
    return text + TRAINS


MISTAKES = ("thrown", "swapped", "unfed", "siding-metal", "line-metal")
"""What `with_mistakes` does wrong."""


def with_mistakes(mistakes: int, kinds: tuple[str, ...] = MISTAKES, every: int = 4) -> str:
    """A branch line of `every` turnouts for each mistake: the kinds one after the other, each at its own turnout."""
    lines = branch_line(mistakes * every).splitlines()
    at = {line.split("{", 1)[0] + line.split("{", 1)[-1].split(",", 1)[0]: n for n, line in enumerate(lines)}

    def alter(key: str, old: str, new: str) -> None:
        number = at[key]
        assert old in lines[number], lines[number]
        lines[number] = lines[number].replace(old, new)

    for count in range(mistakes):
        n, kind = 1 + count * every, kinds[count % len(kinds)]
        if kind == "thrown":
            key = f"  M{n}: throws: [T{n}]"
            alter(key, "through:", "other:")
            alter(key, "diverging:", "through:")
            alter(key, "other:", "diverging:")
        elif kind == "swapped":
            alter(f"  - to: siding-{n}", "A: left, B: right", "A: right, B: left")
        elif kind == "unfed":
            lines[at[f"  - to: siding-{n}"]] = ""
        elif kind == "siding-metal":
            alter(f"  - from: T{n}.diverging", ", insulate: vee", "")
        else:
            alter(f"  - from: T{n}.through", ", insulate: vee", "")
    return "\n".join(lines) + "\n"

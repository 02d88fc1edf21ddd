"""Measure: `python tests/benchmarks/run.py`. Prints ratios within this one run, since machines differ.

Seconds are of the processor, so that other work on the machine does not count.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).parent))
import layouts

if TYPE_CHECKING:
    from collections.abc import Callable

PROBE = """
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:], capture_output=True)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_utime + used.ru_stime, used.ru_maxrss, done.returncode)
sys.stdout.flush()
sys.stdout.buffer.write(done.stdout)
"""


def run(*command: str, times: int = 5) -> tuple[float, float, str]:
    """The least processor time in seconds of so many runs, the peak memory in MiB, and what was printed."""
    best, peak, printed = float("inf"), 0.0, ""
    for _ in range(times):
        done = subprocess.run([sys.executable, "-c", PROBE, *command], capture_output=True, text=True, check=True)
        head, _, printed = done.stdout.partition("\n")
        seconds, memory, code = head.split()
        if int(code) not in (0, 1):
            sys.exit(f"{' '.join(command)} failed: {printed[:500]}")
        best, peak = min(best, float(seconds)), max(peak, int(memory) / 1024)
    return best, peak, printed


FIRST = "pole-short,floating-net,dead-track,gap-clash"
MOVING = "throw-short,wheel-back,nose-bridge,run-through,blade-fed,unit-race"


def command(path: Path, rules: str) -> list[str]:
    """The command that checks one layout for some rules."""
    return [sys.executable, "-m", "netlister", "check", "--format", "json", "--select", rules, str(path)]


def check(path: Path, times: int = 5) -> tuple[float, float, str]:
    """Check one layout as a user would."""
    return run(sys.executable, "-m", "netlister", "check", "--format", "json", str(path), times=times)


TRAINS = """
import gc, sys, time, netlister
from netlister.rules import BY_NAME
from netlister.rules.analysis import Analysis
analysis = Analysis.of(netlister.read_file(sys.argv[1]))
for names in (("pole-short", "floating-net", "dead-track", "gap-clash"),
              ("reversing-route", "reversing-length", "stall", "parked")):
    gc.collect()
    start = time.process_time()
    analysis.poles
    found = [broken for name in names for broken in BY_NAME[name].find(analysis)]
    print(time.process_time() - start, len(found))
"""
"""Times the rules about trains beside the four that prove the circuit, in one process."""


EDITS = """
import gc, sys, time, netlister
from netlister.edits.gear import SetOption
from netlister.edits.model import Insulate, Refeed, Rewire, TakeOut
from netlister.rules import RULES
from netlister.session import Session
gc.disable()
layout = netlister.read_file(sys.argv[1])
rules = [rule for rule in RULES if rule.local is not None or rule.name == "districts-joined"]
start = time.process_time()
session = Session.of(layout, rules)
print(time.process_time() - start)
feed, contact = layout.feeds[500], layout.contacts[400]
swapped = tuple(zip([pole for pole, _ in reversed(feed.wires)], [rail for _, rail in feed.wires]))
for change in (
    Insulate(300, 0, not layout.joints[300].pairs[0][2]),
    Refeed(500, feed.source, swapped),
    TakeOut("feeds", 500),
    Rewire(400, ((contact.throws[0][0], None), *contact.throws[1:]), ("",) * len(contact.throws)),
    SetOption("T300", "hand", "left"),
):
    best = float("inf")
    for _ in range(20):
        start = time.process_time()
        session.attempt((change,))
        best = min(best, time.process_time() - start)
    print(best, type(change).__name__)
"""
"""Times a session from the start, then one edit of several kinds."""


QUESTIONS = """
import sys, time, netlister
from netlister.probe.explain import Explainer, Meter
from netlister.probe.question import Questions
from netlister.probe.sheet import make_sheet, prepare
made, faults = prepare(netlister.read_file(sys.argv[1]))
start = time.process_time()
sheet = make_sheet(made, faults)
print(time.process_time() - start)
explainer = Explainer(made, faults)
questions = Questions(explainer)
seen = [e for e, some in enumerate(sheet.seen_each) if some]
told, asked = [], []
for e in seen[:: max(1, len(seen) // 30)]:
    def meter(row, reading):
        good = Meter(row, reading, beeped=False)
        return good._replace(beeped=explainer.outcome(good, (explainer.damages[e],)))
    taken = [meter(n, r) for n, r in enumerate(sheet.readings, 1)]
    start = time.process_time()
    found = explainer.explain(taken)
    told.append(time.process_time() - start)
    for _ in range(5):
        start = time.process_time()
        following = questions.next(found, taken)
        if following is None:
            break
        taken.append(meter(len(taken) + 1, following))
        found = explainer.explain(taken)
        asked.append(time.process_time() - start)
print(max(told), max(asked), sum(asked) / len(asked))
"""
"""Times in one process: the sheet, the explanation of a filled sheet, and what lies between an answer and a question."""


def probe(write: Callable[[str, str], Path], thousand: Path) -> None:
    """Measure sheets, questions and a campaign, and print them."""
    terminus = Path(__file__).parents[2] / "examples/terminus/layout.yaml"
    for name, path in (("100 turnouts", write("hundred", layouts.branch_line(100))), ("terminus", terminus)):
        _, _, printed = run(sys.executable, "-c", QUESTIONS, str(path), times=1)
        (sheet,), (told, worst, mean) = (list(map(float, line.split())) for line in printed.splitlines())
        print(
            f"{name}: test sheet {sheet:.2f} s; a filled sheet explained {told:.2f} s; next question at the most "
            f"{worst * 1000:.0f} ms, {mean * 1000:.0f} ms on average; ratio to the sheet {worst / sheet:.2f}"
        )
    seconds, _, printed = run(sys.executable, "-m", "netlister", "campaign", str(thousand), times=1)
    print(f"1,000 turnouts: campaign of all single faults {seconds:.1f} s: {printed.partition('; ')[2].strip()}")


def with_mistakes(write: Callable[[str, str], Path], thousand: Path) -> None:
    """Measure checks of layouts with mistakes, and print them. `thousand`: the layout of 1,000 turnouts, right."""
    right, _, _ = check(thousand, 3)
    for name, text in (
        ("one mistake", layouts.with_mistakes(1, ("swapped",), 1000)),
        ("500 unfed sidings", layouts.with_mistakes(500, ("unfed",), 2)),
    ):
        seconds, memory, printed = check(write(name.replace(" ", "-"), text), 3)
        causes = len({f["cause"] for f in json.loads(printed)["findings"]})
        print(
            f"1,000 turnouts, {name}: {seconds:.2f} s, {memory:.0f} MiB, {causes} causes; "
            f"ratio to the same without {seconds / right:.2f}"
        )
    before = 0.0
    for count in (100, 200, 400, 800):
        seconds, memory, printed = check(write(f"mixed-{count}", layouts.with_mistakes(count)), 1)
        causes = len({f["cause"] for f in json.loads(printed)["findings"]})
        said = f"; ratio to half as many {seconds / before:.2f}" if before else ""
        print(f"{count} mistakes of five kinds: {seconds:.2f} s, {memory:.0f} MiB, {causes} causes{said}")
        before = seconds
    many = Path(__file__).parents[2] / "examples/every-piece-mistakes/layout.yaml"
    seconds, _, printed = check(many, 1)
    causes = len({f["cause"] for f in json.loads(printed)["findings"]})
    print(
        f"every-piece-mistakes: {seconds:.2f} s, {causes} causes; ratio to 1,000 right turnouts {seconds / right:.2f}"
    )


def main() -> None:
    """Measure everything and print it."""
    with tempfile.TemporaryDirectory() as folder:

        def write(name: str, text: str) -> Path:
            path = Path(folder) / f"{name}.yaml"
            path.write_text(text, encoding="utf-8")
            return path

        code = "import sys, yaml; yaml.load(open(sys.argv[1]), Loader=yaml.CSafeLoader)"
        thousand = write("thousand", layouts.branch_line(1000))
        loaded, _, _ = run(sys.executable, "-c", code, str(thousand))
        ours, memory, printed = check(thousand)
        assert json.loads(printed)["findings"] == []
        print(
            f"1,000 turnouts: check {ours:.3f} s, {memory:.0f} MiB; yaml.load {loaded:.3f} s; ratio {ours / loaded:.2f}"
        )
        _, _, printed = run(sys.executable, "-c", EDITS, str(thousand), times=1)
        whole, *single = (line.split() for line in printed.splitlines())
        said = ", ".join(f"{name} {float(best) * 1000:.1f} ms" for best, name in single)
        slowest = max(float(best) for best, _ in single)
        print(f"1,000 turnouts, one edit: {said}; ratio of the slowest to all of it {slowest / float(whole[0]):.4f}")
        telling, _, _ = run(*command(thousand, FIRST), times=3)
        moving, memory, printed = run(*command(thousand, MOVING), times=3)
        print(
            f"1,000 turnouts: the first four rules {telling:.3f} s; the six of moving trains and blades {moving:.3f} s, "
            f"{memory:.0f} MiB, {len(json.loads(printed)['findings'])} findings; ratio {moving / telling:.2f}"
        )
        four, memory, _ = check(write("four", layouts.branch_line(4000)), 2)
        print(f"4,000 turnouts: check {four:.3f} s, {memory:.0f} MiB; ratio to 1,000 turnouts {four / ours:.2f}")
        ten, memory, _ = check(write("ten", layouts.branch_line(10000)), 1)
        print(f"10,000 turnouts: check {ten:.3f} s, {memory:.0f} MiB")
        thirty, memory, _ = check(write("thirty", layouts.branch_line(30000)), 1)
        print(f"30,000 turnouts: check {thirty:.3f} s, {memory:.0f} MiB; ratio to 10,000 {thirty / ten:.2f}")
        for name, text in (
            ("live frogs", layouts.branch_line(1000) + layouts.TRAINS),
            ("every tenth plastic", layouts.branch_line_with_trains(1000)),
        ):
            path, best = write(name.replace(" ", "-"), text), [float("inf")] * 2
            for _ in range(3):
                _, _, printed = run(sys.executable, "-c", TRAINS, str(path), times=1)
                times = [float(line.split()[0]) for line in printed.splitlines()]
                best = [min(pair) for pair in zip(best, times, strict=True)]
            stops = int(printed.splitlines()[1].split()[1])
            print(
                f"1,000 turnouts, {name}, 5 locomotives: the rules about trains {best[1]:.3f} s, {stops} findings; "
                f"the four of the circuit {best[0]:.3f} s; ratio {best[1] / best[0]:.2f}"
            )
        with_mistakes(write, thousand)
        probe(write, thousand)
        importing, _, _ = run(sys.executable, "-c", "import yaml", times=20)
        small, _, _ = check(write("one", layouts.one_turnout()), 20)
        print(f"1 turnout: check {small:.3f} s; import yaml {importing:.3f} s; ratio {small / importing:.2f}")
        for name, text in (
            ("ladder of 120", layouts.ladder(120)),
            ("double-ended yard of 61, opposite hands", layouts.double_ended_yard(61)),
            ("double-ended yard of 61, same hand", layouts.double_ended_yard(61, ("right", "right"))),
        ):
            seconds, memory, printed = check(write(name.replace(" ", "-"), text), 1)
            report = json.loads(printed)
            entries = max((len(f["when"]) for f in report["findings"]), default=0)
            print(
                f"{name}: {seconds:.2f} s, {memory:.0f} MiB, proved {report['proved']}, "
                f"{len(report['findings'])} findings, at most {entries} entries given"
            )


if __name__ == "__main__":
    main()

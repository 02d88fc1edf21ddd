"""Many faults put into many layouts: what the sheet sees of them, and how well a diagnosis finds them.

Cases run in chunks, each in a process of its own or on a cluster, and come out in the order in which they were listed,
so that the results do not hang on who worked them out. Chunks that are done are kept in a file, if one is given.
"""

from __future__ import annotations

import hashlib
import json
import os
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.probe.explain import Explainer
    from netlister.probe.question import Questions
    from netlister.probe.sheet import Reading, Sheet

CHUNK, CHUNK_ASKED = 5_000, 25
"""Cases of one chunk: of single faults after the sheet alone, and where further questions are asked."""
FIRST = 3
"""A fault is found if it is among so many explanations."""


class CampaignPlan(NamedTuple):
    """What is tried: `pairs` of faults drawn at random (0: all single faults), so many `questions` at the most."""

    pairs: int
    questions: int


class Task(NamedTuple):
    """A chunk: the cases `first` to `end` of a layout."""

    path: str
    digest: str
    plan: CampaignPlan
    first: int
    end: int

    @property
    def key(self) -> str:
        """What tells it from others, in a file of results."""
        return f"{self.digest}/{self.plan.pairs}/{self.plan.questions}/{self.first}"


class _Ready(NamedTuple):
    sheet: Sheet
    explainer: Explainer
    questions: Questions
    cases: list[tuple[int, ...]]
    ranks: dict[int, int]  # per damage its rank after the sheet among single faults


@lru_cache(maxsize=2)
def _ready(path: str, digest: str, plan: CampaignPlan) -> _Ready:
    """A layout with its sheet and all cases, made once in a process. `digest` is a part of the key only."""
    del digest
    from netlister import read_file
    from netlister.probe.explain import Explainer
    from netlister.probe.question import Questions
    from netlister.probe.sheet import make_sheet, prepare

    made, faults = prepare(read_file(path))
    sheet = make_sheet(made, faults)
    explainer = Explainer(made, faults)
    seen = [e for e, some in enumerate(sheet.seen_each) if some]
    cases: list[tuple[int, ...]] = [(e,) for e in seen]
    if plan.pairs:
        rng = Random(0)  # noqa: S311
        cases = []
        while len(cases) < plan.pairs and len({explainer.owner[e] for e in seen}) > 1:
            e, f = sorted(rng.sample(seen, 2))
            if explainer.owner[e] != explainer.owner[f] and not explainer.out[e] & explainer.out[f]:
                cases.append((e, f))
    groups: dict[tuple[int, ...], list[int]] = {}
    for e in seen:
        groups.setdefault(tuple(sheet.seen_each[e]), []).append(e)
    ranks: dict[int, int] = {}
    for group in groups.values():
        order = sorted(
            {explainer.owner[e] for e in group},
            key=lambda k: (explainer.weight[faults[k].kind], faults[k].key()),
        )
        ranks.update((e, 1 + order.index(explainer.owner[e])) for e in group)
    return _Ready(sheet, explainer, Questions(explainer), cases, ranks)


def tasks(path: str, plan: CampaignPlan) -> list[Task]:
    """The chunks of a layout."""
    digest = hashlib.sha256(Path(path).read_bytes()).hexdigest()[:16]
    count = len(_ready(path, digest, plan).cases)
    size = CHUNK_ASKED if plan.pairs or plan.questions else CHUNK
    return [Task(path, digest, plan, k, min(k + size, count)) for k in range(0, count, size)]


def run(task: Task) -> list[dict[str, Any]]:
    """The results of a chunk, a dictionary for each case."""
    ready = _ready(task.path, task.digest, task.plan)
    return [_case(ready, case, task.plan) for case in ready.cases[task.first : task.end]]


def _case(ready: _Ready, case: tuple[int, ...], plan: CampaignPlan) -> dict[str, Any]:
    from netlister.probe.explain import Meter

    explainer = ready.explainer
    faults = [explainer.faults[explainer.owner[e]] for e in case]
    result: dict[str, Any] = {"faults": [{"kind": f.kind, "parts": list(f.parts)} for f in faults]}
    if len(case) == 1 and not plan.questions:
        return {**result, "after_sheet": ready.ranks[case[0]]}
    damages = tuple(explainer.damages[e] for e in case)
    keys = {f.key() for f in faults}

    def meter(row: int, reading: Reading) -> Meter:
        good = Meter(row, reading, beeped=False)
        return good._replace(beeped=explainer.outcome(good, damages))

    def rank() -> int | None:
        ranked = enumerate(found.explanations, 1)
        return next((n for n, e in ranked if {f.key() for f in e.faults} == keys), None)

    taken = [meter(n, r) for n, r in enumerate(ready.sheet.readings, 1)]
    found = explainer.explain(taken)
    result["after_sheet"] = rank()
    asked = 0
    while asked < plan.questions and (following := ready.questions.next(found, taken)) is not None:
        asked += 1
        taken.append(meter(len(taken) + 1, following))
        found = explainer.explain(taken)
    return {**result, "after_questions": rank(), "asked": asked}


# -- many at once


def results(
    todo: list[Task],
    *,
    jobs: int = 0,
    scheduler: str = "",
    resume: str = "",
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> list[list[dict[str, Any]]]:
    """The results of all chunks, in their order.

    `jobs`: processes, 0 for as many as cores. `scheduler`: the address of a dask scheduler, used in their place.
    `resume`: a file to which each chunk is added as a line as soon as it is done; what stands in it is not run again.
    """
    known = _kept(resume)
    left = [task for task in todo if task.key not in known]
    progress(len(todo) - len(left), len(todo))
    work = _on_cluster(left, scheduler) if scheduler else _here(left, jobs)
    for done, (task, found) in enumerate(work, len(todo) - len(left) + 1):
        known[task.key] = found
        if resume:
            with Path(resume).open("a", encoding="utf-8") as file:
                file.write(json.dumps({"key": task.key, "results": found}) + "\n")
        progress(done, len(todo))
    return [known[task.key] for task in todo]


def _here(left: list[Task], jobs: int) -> Iterator[tuple[Task, list[dict[str, Any]]]]:
    jobs = jobs or os.cpu_count() or 1
    if jobs == 1 or len(left) < 2:  # noqa: PLR2004
        for task in left:
            yield task, run(task)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from zip(left, pool.map(run, left), strict=True)


def _on_cluster(left: list[Task], scheduler: str) -> Iterator[tuple[Task, list[dict[str, Any]]]]:
    import distributed

    connect: Any = distributed.Client
    with connect(scheduler) as client:
        futures = client.map(run, left, pure=False)
        for task, future in zip(left, futures, strict=True):
            yield task, future.result()


def _kept(resume: str) -> dict[str, list[dict[str, Any]]]:
    """The chunks that a file of results holds; a last line that was cut short is left out."""
    found: dict[str, list[dict[str, Any]]] = {}
    if resume and Path(resume).exists():
        text = Path(resume).read_text("utf-8")
        lines = text.splitlines()
        for number, line in enumerate(lines, 1):
            try:
                entry = json.loads(line)
                found[entry["key"]] = entry["results"]
            except (ValueError, KeyError, TypeError):
                if number < len(lines) or text.endswith("\n"):
                    message = f"{resume}:{number}:1: this is no line of a campaign; name another file with --resume"
                    raise ValueError(message) from None
        if text and not text.endswith("\n"):
            Path(resume).write_text("".join(f"{line}\n" for line in lines if _whole(line)), "utf-8")
    return found


def _whole(line: str) -> bool:
    try:
        json.loads(line)
    except ValueError:
        return False
    return True


def summary(layout: str, path: str, plan: CampaignPlan, cases: list[dict[str, Any]]) -> dict[str, Any]:
    """What came out for a layout, as plain values; shares are of the cases."""
    digest = hashlib.sha256(Path(path).read_bytes()).hexdigest()[:16]
    sheet = _ready(path, digest, plan).sheet

    def share(what: str) -> float | None:
        if not cases or what not in cases[0]:
            return None
        found = sum(bool(c[what] is not None and c[what] <= FIRST) for c in cases)
        return round(found / len(cases), 4)

    asked = [c["asked"] for c in cases if "asked" in c]
    return {
        "layout": layout,
        "readings": len(sheet.readings),
        "faults": len(sheet.faults) + len(sheet.unseen),
        "unseen": len(sheet.unseen),
        "cases": len(cases),
        "first_three_after_sheet": share("after_sheet"),
        "first_three": share("after_questions"),
        "asked": round(sum(asked) / len(asked), 2) if asked else None,
    }

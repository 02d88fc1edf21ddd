"""Checks of several layouts at once, or in one of the forms for CI."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from netlister.cli.common import edits_finder, folder_of, read_input, shown_name, write
from netlister.finding import Severity
from netlister.formats.outcome import Outcome
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterator

FORMS = ("text", "json", "sarif", "junit", "github")
_LAYOUT = re.compile(rb"""^[\s{]*["']?format["']?\s*:\s*["']?netlister/""", re.MULTILINE)


class CheckOptions(NamedTuple):
    """How one layout is checked and told."""

    style: str
    select: tuple[str, ...]
    ignore: tuple[str, ...]
    fail_on: str
    limit: int
    allow_unproved: bool
    quiet: bool
    every: bool
    colour: bool


class ToldLayout(NamedTuple):
    """What is reported of one layout, in its form, and the exit code that it calls for."""

    told: Any
    code: int


def layouts_of(paths: tuple[str, ...]) -> list[str]:
    """The layouts meant by files and folders: of a folder all below it whose `format` is ours, hidden ones left out."""
    found: list[str] = []
    for path in paths:
        if path != "-" and Path(path).is_dir():
            below = sorted(_below(Path(path)))
            if not below:
                message = f"there is no layout in '{path}'; a layout is a file .yaml or .yml with 'format: netlister/1'"
                raise click.BadParameter(message, param_hint="LAYOUT")
            found += below
        else:
            found.append(path)
    return list(dict.fromkeys(found))


def _below(folder: Path) -> Iterator[str]:
    for here, folders, files in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in files:
            path = Path(here) / name
            if path.suffix.lower() in {".yaml", ".yml"} and not name.startswith(".") and path.is_file():
                with path.open("rb") as file:
                    if _LAYOUT.search(file.read(1 << 16)):
                        yield str(path)


def judge(path: str, options: CheckOptions) -> ToldLayout:
    """Check one layout and tell it. Never leaves the program: what is wrong with a file is a part of what is told."""
    from netlister.check import check, chosen
    from netlister.netlists.any import read_any

    name = shown_name(path)
    source = None
    try:
        source = read_input(path, name)
        layout = read_any(source, folder_of(path))
        report = check(layout, options.select, options.ignore, options.limit)
        outcome = Outcome(name, report, None, edits_finder(source, layout, folder_of(path)))
    except UnusableError as error:
        outcome = Outcome(name, None, error)
    code = exit_code(outcome, options)
    if options.style == "text":
        from netlister.formats import text

        if outcome.error is not None:
            return ToldLayout(text.unusable(outcome.error), code)
        assert outcome.report is not None
        told = text.render(outcome.report, source, colour=options.colour, quiet=options.quiet, every=options.every)
        return ToldLayout(told, code)
    if options.style == "json":
        from netlister.formats import json

        if outcome.error is not None:
            return ToldLayout(json.unusable_object(name, outcome.error), code)
        assert outcome.report is not None
        return ToldLayout(json.report_object(outcome.report, outcome.edits_of), code)
    if options.style == "junit":
        from netlister.formats import junit

        rules = [rule.name for rule in chosen(options.select, options.ignore)]
        failing = None if options.fail_on == "never" else Severity[options.fail_on.upper()]
        return ToldLayout(junit.part(outcome, rules, failing), code)
    if options.style == "sarif":
        from netlister.formats import sarif

        return ToldLayout(sarif.part(outcome), code)
    from netlister.formats import github

    return ToldLayout(github.part(outcome), code)


def exit_code(outcome: Outcome, options: CheckOptions) -> int:
    """0, 1 or 2, the same for every form."""
    if outcome.report is None:
        return 2
    failing = options.fail_on != "never" and any(
        finding.severity >= Severity[options.fail_on.upper()] for finding in outcome.report.findings
    )
    return 1 if failing or not (outcome.report.proved or options.allow_unproved) else 0


def run(jobs: list[tuple[str, CheckOptions]], style: str, *, alone: bool) -> int:
    """Check them all, on all cores, tell them in the order given, and give the exit code: the worst of them.

    `alone`: where there is one, it was named itself, and its JSON is its own object and no set of one.
    """
    if len(jobs) == 1 or "-" in {path for path, _ in jobs}:
        parts = [judge(*job) for job in jobs]
    else:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        workers = min(
            len(jobs), len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        )
        with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
            parts = list(pool.map(judge, *zip(*jobs, strict=True)))
    told = [part.told for part in parts]
    if style == "text":
        write("\n".join(text for text in told if text))
    elif style == "json":
        from netlister.formats import json

        several = {"format": "netlister-findings-set/1", "layouts": told}
        write(json.dump(told[0] if alone and len(told) == 1 else several))
    else:
        from importlib import import_module

        write(import_module(f"netlister.formats.{style}").whole(told))
    sys.stdout.flush()
    return max(part.code for part in parts)

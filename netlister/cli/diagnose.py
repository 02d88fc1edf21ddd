"""`netlister diagnose`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from netlister.cli.common import FORMAT, LAYOUT, open_layout, write

EXAMPLES = "'trips when T1 is thrown', 'siding is dead with T2 through', 'stops at T3', 'runs the wrong way beyond J4'"

if TYPE_CHECKING:
    from netlister.probe.detail import Detail
    from netlister.probe.diagnose import InFile
    from netlister.probe.explain import Diagnosis, Meter
    from netlister.probe.faults import Fault
    from netlister.probe.question import Questions
    from netlister.probe.symptoms import Symptom
    from netlister.source import Source


@click.command("diagnose")
@LAYOUT
@click.option("--readings", metavar="FILE", help="What the meter said: CSV as 'testsheet --format csv' writes it.")
@click.option(
    "--symptom",
    "words",
    multiple=True,
    metavar="WORDS",
    help=f"What the railway does: {EXAMPLES}. A train of the file, by its name, is reckoned with its wheels.",
)
@click.option("--ask", is_flag=True, help="Ask for symptoms and readings on the terminal, one after the other.")
@FORMAT
def command(layout: str, readings: str | None, words: tuple[str, ...], ask: bool, style: str) -> None:
    """Find the faults of LAYOUT as built that explain what the meter said, and the next thing to measure.

    Beep tests with every supply unplugged. Exit code 1 where a reading is wrong.
    """
    from netlister.cli.testsheet import refuse
    from netlister.formats import json
    from netlister.probe import diagnose
    from netlister.probe.explain import Explainer
    from netlister.probe.question import Questions
    from netlister.probe.sheet import make_sheet, prepare
    from netlister.probe.symptoms import Symptom, SymptomError, read_symptom

    if readings is None and not words and not ask:
        raise click.UsageError("give --readings FILE, --symptom WORDS, or --ask to be asked")
    source, read = open_layout(layout, style)
    refuse(source, read, style)
    made, faults = prepare(read)
    taken: list[Meter | Symptom] = []
    ignored: list[int] = []
    if readings is not None:
        try:
            taken, ignored = diagnose.read_meter(made, Path(readings).read_text("utf-8-sig"), readings)
        except (OSError, UnicodeDecodeError) as error:
            message = f"'{readings}' cannot be read: {error}"
            raise click.BadParameter(message, param_hint="--readings") from None
        except diagnose.ReadingsError as error:
            click.echo(str(error), err=True)
            sys.exit(2)
    for text in words:
        try:
            taken.append(read_symptom(made, text, -1 - len(taken)))
        except SymptomError as error:
            raise click.BadParameter(str(error), param_hint="--symptom") from None
    if ask:
        click.echo("Unplug every supply and every automatic device. Clear the track.", err=True)
        taken += _told(made, len(taken))
    explainer = Explainer(made, faults)
    questions = Questions(explainer, make_sheet(made, faults) if ask else None)
    found = explainer.explain(taken)
    found.next = questions.next(found, taken)
    if ask:
        found = _asked(questions, found, taken)
    found.ignored = ignored
    words_said = [m for m in taken if isinstance(m, Symptom)]
    if style == "json":
        write(json.dump(diagnose.diagnosis_object(made, found, _in_file(source, made, layout), words_said)))
    else:
        write(diagnose.told(made, found, _in_file(source, made, layout), words_said))
    sys.exit(1 if found.wrong or found.contradictory else 0)


def _in_file(source: Source, made: Detail, layout: str) -> InFile:
    """Finds how the file would say what a fault has done."""

    def found(fault: Fault) -> tuple[dict[str, Any], list[str]] | None:
        from netlister.cli.common import folder_of
        from netlister.edits.model import ImpossibleError
        from netlister.edits.text import EditError, new_text, text_edits
        from netlister.formats.json import edit_object, place
        from netlister.probe.built import as_built

        edit = as_built(made, fault)
        if edit is None:
            return None
        try:
            edits = text_edits(made.layout, source, edit, folder_of(layout))
        except (EditError, ImpossibleError):
            return None
        old, new = source.text.splitlines(), new_text(source, edits).splitlines()
        lines = [line for line in new if line not in old]
        change = {"say": f"if this is meant: {fault.name}", "edits": [edit_object(one) for one in edits]}
        return {**change, "where": place(fault.span)} if fault.span else change, lines

    return found


def _told(made: Detail, count: int) -> list[Symptom]:
    """Ask for symptoms in words until there are no more."""
    from netlister.probe.symptoms import SymptomError, read_symptom

    found: list[Symptom] = []
    click.echo(f"What does the railway do, in words? As in {EXAMPLES}. Enter for nothing more.", err=True)
    while text := click.prompt("It", default="", show_default=False, err=True).strip():
        try:
            found.append(read_symptom(made, text, -1 - count - len(found)))
        except SymptomError as error:
            click.echo(str(error), err=True)
    return found


def _asked(questions: Questions, found: Diagnosis, taken: list[Meter | Symptom]) -> Diagnosis:
    from netlister.probe.diagnose import asked
    from netlister.probe.explain import Meter

    explainer = questions.explainer
    while found.next is not None:
        answer = click.prompt(
            asked(explainer.made, found.next), type=click.Choice(["beep", "silent", "stop"]), err=True
        )
        if answer == "stop":
            break
        taken.append(Meter(len(taken) + 1, found.next, answer == "beep"))
        found = explainer.explain(taken)
        found.next = questions.next(found, taken)
    return found

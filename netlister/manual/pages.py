"""The pages of the manual: those written by hand in this folder, and those made of rules, kinds, commands and names."""

from __future__ import annotations

import inspect
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import netlister
from netlister.kinds import library
from netlister.outputs.kind_sheet import SheetTable, sheet
from netlister.rules import RULES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    import click

    from netlister.outputs.kind_sheet import KindSheet

FOLDER = Path(__file__).parent
FIRST = ("tutorial", "complaints", "turnouts", "format", "netlists", "glossary")
"""Pages by hand in the order in which one reads them; others, by name, come after."""


WIDE = 72
"""Letters of a line of code that fit beside the list of pages."""


class ManualPage(NamedTuple):
    """A page: its name, as `tutorial` or `rules/dead-track`, its title, and its text in Markdown."""

    name: str
    title: str
    text: str


class ManualSection(NamedTuple):
    """A heading of a page with what stands under it."""

    page: ManualPage
    heading: str
    text: str


def every_page(commands: click.Group) -> list[ManualPage]:
    """All pages; the commands are those of this group."""
    known = library(None)
    by_hand = sorted(FOLDER.glob("*.md"), key=lambda path: (*_place(path.stem), path.stem))
    texts = [(path.stem, path.read_text(encoding="utf-8")) for path in by_hand]
    texts += [("commands", commands_text(commands)), ("functions", functions_text())]
    texts += [(f"rules/{rule.name}", f"# {rule.name}: {rule.document}") for rule in RULES]
    texts += [(f"kinds/{name}", kind_text(sheet(known, name))) for name in known.names()]
    return [ManualPage(name, text.split("\n", 1)[0].removeprefix("# "), text) for name, text in texts]


def sections(page: ManualPage) -> list[ManualSection]:
    """A page cut at its headings; its own title is the heading of the first."""
    found: list[ManualSection] = []
    lines: list[str] = []
    heading, fenced = page.title, False
    for line in page.text.splitlines()[1:]:
        fenced ^= line.startswith("```")
        if not fenced and re.match(r"#{2,4} ", line):
            found.append(ManualSection(page, heading, "\n".join(lines).strip()))
            heading, lines = line.lstrip("# "), []
        else:
            lines.append(line)
    return [*found, ManualSection(page, heading, "\n".join(lines).strip())]


def search(pages: Iterable[ManualPage], words: Iterable[str]) -> list[ManualSection]:
    """Sections that hold all words, whatever their case; first those with most of the words in a heading or title."""
    wanted = [word.casefold() for word in words]
    found: list[tuple[int, int, ManualSection]] = []
    for page in pages:
        for section in sections(page):
            head = f"{page.name} {page.title} {section.heading}".casefold()
            if all(word in head or word in section.text.casefold() for word in wanted):
                found.append((-sum(word in head for word in wanted), len(found), section))
    return [section for _, _, section in sorted(found, key=lambda row: row[:2])]


def _place(name: str) -> tuple[int]:
    return (FIRST.index(name) if name in FIRST else len(FIRST),)


# ---- pages made of their source


def commands_text(commands: click.Group) -> str:
    """The page of all commands: what each one says with `--help`."""
    import click

    lines = ["# Commands", "", "What `netlister COMMAND --help` says of each.", ""]
    with click.Context(commands, info_name="netlister") as context:
        for name in commands.list_commands(context):
            command = commands.get_command(context, name)
            if command is None:
                continue
            with click.Context(command, info_name=name, parent=context, terminal_width=96) as inner:
                lines += [f"## netlister {name}", "", "```text", command.get_help(inner), "```", ""]
    return "\n".join(lines)


class _AsWritten(str):
    """An annotation as it is written."""

    __slots__ = ()
    __repr__ = str.__str__


def functions_text() -> str:
    """The page of everything that is meant to be called from Python: types and docstrings."""
    lines = ["# Functions for Python", "", "What `help(netlister.NAME)` says of each public name.", ""]
    for name in netlister.__all__:
        told = getattr(netlister, name)
        lines += [f"## netlister.{name}", ""]
        if not inspect.isclass(told):
            called = f"{name}{_signature(told)}"
            if len(called) > WIDE:
                called = (
                    re.sub(r", (?=\w+: |\*)", ",\n    ", called).replace("(", "(\n    ", 1).replace(") ->", ",\n) ->")
                )
            lines += ["```python", called, "```", ""]
        lines += [inspect.getdoc(told) or "", ""]
        members = vars(told).items() if inspect.isclass(told) else ()
        for key, member in members:
            if not key.startswith("_") and (inspect.isfunction(member) or isinstance(member, property)):
                called = _signature(member) if inspect.isfunction(member) else ""
                lines += [f"- `{key}{called}`: {' '.join((inspect.getdoc(member) or '').split())}"]
        lines += [""]
    return "\n".join(lines)


def _signature(told: Callable[..., Any]) -> str:
    """Parameters with their types, as they are written in the source, without `self`."""
    found = inspect.signature(told)
    parameters = [
        p.replace(annotation=_as_written(p.annotation)) for p in found.parameters.values() if p.name != "self"
    ]
    return str(found.replace(parameters=parameters, return_annotation=_as_written(found.return_annotation)))


def _as_written(annotation: object) -> object:
    return _AsWritten(annotation) if isinstance(annotation, str) else annotation


def kind_text(kind: KindSheet) -> str:
    """The page of a kind of track piece."""
    lines = [f"# {kind.name}: {kind.title}", "", kind.summary, ""]
    lines += [f"Shown here for `{kind.asked}`.", ""] if kind.asked else []
    for section in kind.sections:
        lines += [f"## {section.heading}", ""]
        for block in section.blocks:
            if isinstance(block, SheetTable):
                lines += [*_table(block), ""]
            elif isinstance(block, str):
                lines += [_plain(block), ""]
            else:
                lines += [*(f"- {_plain(line)}" for line in block), ""]
    return "\n".join(lines)


def _table(table: SheetTable) -> Iterator[str]:
    rows = (table.heads, ("---",) * len(table.heads), *table.rows)
    yield from (f"| {' | '.join(cell if cell == '---' else _plain(cell) for cell in row)} |" for row in rows)


def _plain(text: str) -> str:
    """A text in which Markdown finds nothing of its own."""
    return re.sub(r"([\\`*_{}\[\]<>|#])", r"\\\1", text).replace("\n", " ")

"""The layout on the desk: its text, what is judged of it, and what was done to it.

A change is tried first: the session says which findings go and come, and the difference of the text is shown. Only
when it is asked for again is it made: the new text is read back, checked in full by itself, compared with what was
shown, and written in one step; a file that was changed by anyone else meanwhile is left as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from hashlib import sha256
from threading import Lock
from time import monotonic
from typing import TYPE_CHECKING, Any

from netlister.check import Report, chosen, examine
from netlister.circuit.build import build
from netlister.editor.naming import names_of, same_but_for
from netlister.edits.model import ImpossibleError
from netlister.edits.patch import CannotPatchError, apply_edits
from netlister.edits.text import EditError, new_text, text_edits
from netlister.edits.tree import tree_of
from netlister.edits.write import WriteError, unified, write_layout
from netlister.edits.writer import patched, patched_spelled_out
from netlister.layout.read import read_layout
from netlister.mend import mend
from netlister.rules.analysis import Analysis
from netlister.session import Session
from netlister.source import Source, UnusableError, read_source
from netlister.workbench.asks import asked
from netlister.workbench.judge import compared, keys_of, told_after, verdict_object
from netlister.workbench.model import Asked, AskError, StaleError
from netlister.workbench.offers import offers
from netlister.workbench.values import text_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from netlister.editor.naming import Renaming
    from netlister.edits.patch import Patch, TextEdit
    from netlister.layout.model import Layout
    from netlister.workbench.judge import FindingKey
    from netlister.workbench.model import BeforeAfter
    from netlister.workbench.values import GivenValues

MOST_STEPS = 200
"""Changes that can be taken back."""

SEARCH = 20.0
"""Seconds after which the search for a wiring gives the best so far."""

NETLIST = (
    "This layout was exported from a drawing or a script, so it cannot be changed here: the next export would undo it. "
    "Change it there, export it again, and this page follows. What each finding names, and how it is mended, stands "
    "with the finding."
)


@dataclass(slots=True)
class Stated:
    """A text that is fit to be worked on, and what a check says of it."""

    source: Source
    layout: Layout
    report: Report


@dataclass
class TriedChange:
    """A change as it was shown: its text and its verdict. `keys`: what is broken after it."""

    asked: Asked
    text: str
    verdict: BeforeAfter
    keys: frozenset[FindingKey]


@dataclass
class Desk:
    """A layout that can be changed. Everything here may be called from several threads.

    `path`, `folder`: of the file. `select`, `ignore`: names of rules, as for `check`. `told`: called after a write.
    """

    path: str
    folder: Path
    select: tuple[str, ...] = ()
    ignore: tuple[str, ...] = ()
    told: Callable[[], None] = lambda: None
    now: Stated | None = None
    lost: str = "The file has not been read yet."
    done: list[str] = field(default_factory=list)
    undone: list[str] = field(default_factory=list)
    _lock: Lock = field(default_factory=Lock, repr=False)
    _searching: Lock = field(default_factory=Lock, repr=False)
    _found: dict[str, Asked] = field(default_factory=dict, repr=False)

    # -- what the file holds

    def take(self, source: Source, layout: Layout, report: Report) -> None:
        """Put a layout on the desk, as it was read from the file. Where others changed it, the history begins anew.

        One that is no longer what the file holds is left out: a newer one follows.
        """
        with self._lock:
            if not self._in_file(source):
                return
            if self.now is None or self.now.source.text != source.text:
                self.done, self.undone = [], []
            self._put(Stated(source, layout, report))

    def _in_file(self, source: Source) -> bool:
        try:
            return read_source(self.path, source.name).text == source.text
        except UnusableError:
            return False

    def lose(self, why: str) -> None:
        """Say that the file cannot be used as it is; nothing can be changed until it can."""
        with self._lock:
            self.now, self.lost = None, why

    @property
    def version(self) -> str:
        """What tells the text from all others; empty where there is none."""
        return "" if self.now is None else version_of(self.now.source.text)

    def offers(self) -> dict[str, Any]:
        """What the page needs to offer changes."""
        with self._lock:
            return self._offers()

    def _offers(self) -> dict[str, Any]:
        some = bool(self.select or self.ignore)
        base = {"version": self.version, "undo": len(self.done), "redo": len(self.undone), "some": some}
        if self.now is None:
            return base | {"refused": self.lost}
        if self.now.layout.netlist:
            return base | {"refused": NETLIST}
        text = self.now.source.text
        return base | offers(self.now.layout, self.now.report, names_of(text, tree_of(text)).all())

    def _put(self, stated: Stated) -> None:
        self.now = stated
        self._found.clear()
        self.__dict__.pop("session", None)

    @cached_property
    def session(self) -> Session:
        """The layout with its proof, to try changes on."""
        assert self.now is not None
        rules = chosen(self.select, self.ignore)
        return Session.of(self.now.layout, rules, named=self.select)

    def warm(self) -> None:
        """Prove what changes are tried on, and take the text apart, before the first change is asked for."""
        with self._lock:
            if self.now is not None and not self.now.layout.netlist:
                _ = self.session
                tree_of(self.now.source.text)

    # -- what the page asks

    def answer(self, fields: GivenValues) -> dict[str, Any]:
        """The answer to what a page asks, as plain values. Raises AskError, and StaleError for another text."""
        what, ask = text_of(fields, "what"), fields.get("ask")
        with self._lock:
            stated = self._stated(fields)
        if isinstance(ask, dict) and what in {"try", "make"}:
            self._search(stated, ask)
        with self._lock:
            stated = self._stated(fields)
            if what == "undo":
                return self._step(stated, self.done, self.undone)
            if what == "redo":
                return self._step(stated, self.undone, self.done)
            if what not in {"try", "make"} or not isinstance(ask, dict):
                raise AskError("the page asked for something that is not known; load it again")
            tried = self._tried(stated, ask)
            return self._make(stated, tried) if what == "make" else self._shown(stated, tried)

    def _stated(self, fields: GivenValues) -> Stated:
        """What is on the desk, where that is what the page speaks of."""
        if self.now is None:
            raise StaleError(self.lost)
        if self.now.layout.netlist:
            raise AskError(NETLIST)
        if fields.get("version") != self.version:
            raise StaleError("The file was changed meanwhile, in another window or by an editor. Nothing was written.")
        return self.now

    def _tried(self, stated: Stated, ask: GivenValues) -> TriedChange:
        made = self._asked(stated, ask)
        try:
            if made.edit:
                text = new_text(stated.source, self._edits(stated, made, read_back="*" in stated.source.text))
                if not stated.layout.allows:
                    delta = self.session.attempt(made.edit)
                    told = told_after(delta)
                    verdict = compared(stated.report.findings, told, delta.after.unproved)
                    return TriedChange(made, text, verdict, keys_of(told))
            else:
                text = made.text if made.text is not None else _patched(stated.source, made.patch)
            after = self._read(stated, text, made.renaming)
            if made.renaming is not None:  # the same circuit, so the same findings
                found = stated.report.findings
                return TriedChange(
                    made, text, compared(found, found, stated.report.unproved), keys_of(found, named=False)
                )
        except UnusableError as error:
            raise AskError(error.faults[0].message) from None
        except (EditError, ImpossibleError) as error:
            raise AskError(str(error)) from None
        except CannotPatchError as error:
            message = f"the file is written in a way that cannot be edited here ({error}); make the change by hand"
            raise AskError(message) from None
        report = self._checked(after)
        return TriedChange(made, text, _compared(stated.report, report), keys_of(report.findings))

    def _asked(self, stated: Stated, ask: GivenValues) -> Asked:
        """What an ask comes to."""
        found = self._found.get(_key(stated, ask))
        return asked(stated.layout, stated.source, ask) if found is None else found

    def _search(self, stated: Stated, ask: GivenValues) -> None:
        """Look for what is searched for, one at a time; it is kept as long as the text is the same."""
        searches = {"mend": self._mend, "mend-all": self._mend_all, "propose": self._propose}
        search, key = searches.get(text_of(ask, "do")), _key(stated, ask)
        if search is None or key in self._found:
            return
        if not self._searching.acquire(blocking=False):
            raise AskError("another search is still going on; wait a moment and ask again")
        try:
            self._found[key] = search(stated, ask)
        except (EditError, ImpossibleError) as error:
            raise AskError(str(error)) from None
        finally:
            self._searching.release()

    def _edits(self, stated: Stated, made: Asked, *, read_back: bool) -> list[TextEdit]:
        return text_edits(stated.layout, stated.source, made.edit, self.folder, read_back=read_back)

    def _shown(self, stated: Stated, tried: TriedChange) -> dict[str, Any]:
        """A change as it is shown."""
        return {
            "say": tried.asked.say,
            "trouble": tried.asked.trouble,
            "difference": unified(stated.source, tried.text),
            "verdict": verdict_object(tried.verdict),
        }

    # -- what is written

    def _make(self, stated: Stated, tried: TriedChange) -> dict[str, Any]:
        if tried.asked.trouble:
            raise AskError(tried.asked.trouble)
        if tried.text == stated.source.text:
            raise AskError("this changes nothing")
        try:
            if tried.asked.edit:
                edits = self._edits(stated, tried.asked, read_back=True)
                if new_text(stated.source, edits) != tried.text:
                    raise AskError("this change cannot be written as it was shown; make it by hand")
        except (EditError, ImpossibleError) as error:
            raise AskError(str(error)) from None
        answer = self._shown(stated, tried)
        report = self._write(stated, tried.text, tried)
        self.done = [*self.done, stated.source.text][-MOST_STEPS:]
        self.undone = []
        return answer | self._after(report)

    def _step(self, stated: Stated, out_of: list[str], into: list[str]) -> dict[str, Any]:
        """Take the last change back, or make it again."""
        if not out_of:
            raise AskError("there is nothing to take back" if out_of is self.done else "nothing was taken back")
        before, text = stated.source, out_of[-1]
        difference = unified(before, text)
        report = self._write(stated, text, None)
        out_of.pop()
        into.append(before.text)
        return {
            "say": "taken back" if into is self.undone else "made again",
            "difference": difference,
            "verdict": verdict_object(_compared(stated.report, report)),
        } | self._after(report)

    def _after(self, report: Report) -> dict[str, Any]:
        self.told()
        return {"written": True, "proved": report.proved, "desk": self._offers()}

    def _write(self, stated: Stated, text: str, tried: TriedChange | None) -> Report:
        """Write a text that was read back and checked in full. `tried`: what that must find, as it was shown."""
        layout = self._read(stated, text)
        report = self._checked(layout)
        if tried is not None and keys_of(report.findings, named=tried.asked.renaming is None) != tried.keys:
            raise AskError(
                "Nothing was written: the changed file, read and checked afresh, is not what was shown. Make this "
                "change by hand, and tell whoever looks after this program."
            )
        try:
            write_layout(self.path, stated.source, text)
        except WriteError as error:
            if "changed" in str(error):
                self.told()
                raise StaleError(
                    "The file was changed meanwhile, in another window or by an editor. Nothing was written."
                ) from None
            raise AskError(str(error)) from None
        self._put(Stated(Source(stated.source.name, text), layout, report))
        return report

    def _read(self, stated: Stated, text: str, renaming: Renaming | None = None) -> Layout:
        """A new text as a layout; of a new name it must be the same circuit."""
        try:
            layout = read_layout(Source(stated.source.name, text), self.folder)
        except UnusableError as error:
            first = error.faults[0]
            message = f"{first.message} (line {first.span.line} of the changed file)"
            raise AskError(message) from None
        if renaming is not None and not same_but_for(renaming, build(stated.layout), build(layout)):
            raise AskError("the name cannot be changed without changing more; change it by hand")
        return layout

    def _checked(self, layout: Layout) -> Report:
        rules = chosen(self.select, self.ignore)
        return examine(Analysis.of(layout, named=self.select), rules, causes=False)

    # -- what is searched for

    def _mend(self, stated: Stated, ask: GivenValues) -> Asked:
        cause = stated.report.causes.get(ask["cause"]) if isinstance(ask.get("cause"), int) else None
        number = ask.get("repair")
        if cause is None:
            # after a change here the causes are looked for again when they are first asked for
            raise StaleError("the findings are being looked at again; load the page again")
        if not isinstance(number, int) or not 0 <= number < len(cause.repairs):
            raise AskError("there is no such repair; load the page again")
        repair = cause.repairs[number]
        return Asked(repair.say, repair.edit)

    def _mend_all(self, stated: Stated, _: GivenValues) -> Asked:
        found = mend(stated.layout)
        if not found.repairs:
            raise AskError("there is nothing to mend, or no repair was found")
        repair = found.repairs[0]
        return Asked(repair.say, repair.edit)

    def _propose(self, stated: Stated, ask: GivenValues) -> Asked:
        from netlister.propose.model import AIMS
        from netlister.propose.proposal import shared_out
        from netlister.propose.search import propose

        aim = text_of(ask, "aim") or next(iter(AIMS))
        if aim not in AIMS:
            raise AskError("there is no such aim")
        end = monotonic() + SEARCH

        def stop(_: str) -> None:
            if monotonic() > end:
                raise KeyboardInterrupt

        try:
            found = propose(stated.layout, stated.source, None, aim, self.folder, tell=stop)
        except UnusableError as error:
            raise AskError(error.faults[0].message) from None
        said = [say for say, *_ in shared_out(found)]
        trouble = ""
        if not found.right:
            missing = [*found.missing, *(f.message for f in found.left)]
            trouble = f"This wiring is not right yet, so it is not written. {'; '.join(missing[:3])}."
        if found.text == stated.source.text and not trouble:
            raise AskError("the wiring is right as it is written; there is nothing to add")
        return Asked("; ".join(said) or "nothing to add", text=found.text, trouble=trouble)


def _compared(before: Report, after: Report) -> BeforeAfter:
    return compared(before.findings, after.findings, after.unproved)


def _key(stated: Stated, ask: GivenValues) -> str:
    return repr((version_of(stated.source.text), sorted(ask.items(), key=repr)))


def version_of(text: str) -> str:
    """What tells a text from all others."""
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _patched(source: Source, patch: Patch | None) -> str:
    assert patch is not None
    try:
        return apply_edits(source.text, patched(source.name, source.text, patch))
    except CannotPatchError:
        if "*" not in source.text:
            raise
        return apply_edits(source.text, patched_spelled_out(source.name, source.text, patch))

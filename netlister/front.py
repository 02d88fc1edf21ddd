"""The front for programs and notebooks: every function that is meant to be called from outside, with its types.

Lengths are in m, resistances in ohm, voltages in V, currents in A, times in s, angles in rad. Names of terminals are
texts, as `T1.frog`; a state is given as pairs of a machine, turnout or switch and its position. What is returned is
never changed afterwards. Nothing is written to a file, and nothing is printed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from netlister import check
from netlister.circuit.states import StateError

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from netlister.circuit.model import Circuit
    from netlister.layout.model import Layout
    from netlister.propose.proposal import Proposal
    from netlister.repairs.model import Repair
    from netlister.source import Source

__all__ = ["Plan", "RailPoles", "Report", "StateError", "check_file", "check_layout", "check_text", "circuit_of",
           "plan_of", "poles_of", "propose_file", "propose_text", "read_file", "read_text"]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Report(check.Report):
    """The outcome of a check, with its ways of being written.

    `layout`; `findings`, worst first, each with `severity`, `rule`, `subject`, `when`, `path`, `message`, `fix`,
    `where` and `cause`; `proved`, whether every question was settled; `unproved`, pairs of rule and subject that were
    not; `left_out`, rules of a plain check that were not run.
    """

    source: Source | None = field(default=None, repr=False)

    @property
    def repairs(self) -> dict[int, tuple[Repair, ...]]:
        """By the number of a cause the repairs of least weight that were found and proved; `say` is what to do."""
        return {number: cause.repairs for number, cause in self.causes.items()}

    def to_json(self) -> dict[str, Any]:
        """The report as the plain values of `--format json` (format `netlister-findings/1`)."""
        from netlister.formats.json import report_object

        return report_object(self)

    def to_text(self) -> str:
        """The report as the text that `netlister check` prints."""
        from netlister.formats.text import render

        return render(self, self.source)

    def _repr_html_(self) -> str:
        """The report for a notebook; everything from the file is escaped."""
        return f"<pre>{escape(self.to_text())}</pre>"


class RailPoles(dict[str, tuple[str, ...]]):
    """By rail, as `T1.frog`, the names of its poles in one state: one where all is well, none where it is dead.

    `state`: by variable the position that it stands in.
    """

    def __init__(self, poles: Mapping[str, list[str]], state: Mapping[str, str]) -> None:
        super().__init__({rail: tuple(names) for rail, names in poles.items()})
        self.state = dict(state)

    def _repr_html_(self) -> str:
        """The table for a notebook."""
        stands = ", ".join(f"{name} {position}" for name, position in self.state.items()) or "nothing moves"
        rows = "".join(
            f"<tr><td>{escape(rail)}</td><td>{escape(' + '.join(names) or 'none')}</td></tr>"
            for rail, names in self.items()
        )
        head = "<thead><tr><th>rail</th><th>pole</th></tr></thead>"
        return f"<table><caption>{escape(stands)}</caption>{head}<tbody>{rows}</tbody></table>"


@dataclass(frozen=True, slots=True)
class Plan:
    """A drawing of a layout in one state. `svg`: one self-contained SVG. `remarks`: what cannot be laid as written."""

    svg: str = field(repr=False)
    remarks: tuple[str, ...] = ()

    def _repr_svg_(self) -> str:
        """The drawing for a notebook."""
        return self.svg

    def to_bytes(self, form: str = "svg") -> bytes:
        """The bytes of a file: `svg`, `png` or `pdf`.

        Raises netlister.draw.picture.PictureMissingError where the library for PNG and PDF is not installed.
        """
        from netlister.draw.picture import convert

        return convert(self.svg, form)


def read_file(path: str | Path) -> Layout:
    """Read a layout, or a netlist that stands for one, from a file, or from standard input for `-`.

    Quantities of the layout are in SI units. Raises UnusableError, which lists every fault with its place.
    """
    source, folder = _file(path)
    return _read(source, folder)


def read_text(text: str, name: str = "layout.yaml", folder: str | Path | None = None) -> Layout:
    """Read a layout from text; `name` is what places are named after, `folder` where files that it uses lie.

    Raises UnusableError as `read_file` does.
    """
    return _read(_text(text, name), folder)


def check_file(path: str | Path, **options: Any) -> Report:
    """Read and check a layout file; `options` are those of `check_layout`. Raises UnusableError."""
    source, folder = _file(path)
    return _checked(_read(source, folder), source, options)


def check_text(text: str, name: str = "layout.yaml", **options: Any) -> Report:
    """Read and check a layout given as text; `options` are those of `check_layout`. Raises UnusableError."""
    source = _text(text, name)
    return _checked(_read(source, None), source, options)


def check_layout(  # noqa: PLR0913 - each is a matter of its own
    layout: Layout,
    select: Collection[str] = (),
    ignore: Collection[str] = (),
    limit: int | None = None,
    *,
    causes: bool = True,
    keep: Collection[str] = (),
) -> Report:
    """Check a layout over every combination of positions.

    `select`, `ignore`: names of rules; without `select` the rules of a plain check. `limit`: steps of proof for one
    region or subject (0: no limit; None: the usual one). `causes`: whether the mistake behind findings is looked for;
    `keep`: names of what no repair may change. Raises ValueError for a rule that does not exist, and UnusableError
    where `never` leaves no state at all. Unlike the command, a rule on volts needs numpy: the extra `volts`.
    """
    options = {"select": select, "ignore": ignore, "causes": causes, "keep": keep}
    return _checked(layout, None, options if limit is None else {**options, "limit": limit})


def circuit_of(layout: Layout) -> Circuit:
    """The circuit of a layout: `names` of its terminals, `conductors` with their conditions, `variables`, `dump()`.

    Raises UnusableError where `never` leaves no state at all.
    """
    from netlister.circuit.build import build

    return build(layout)


def poles_of(layout: Layout, positions: Mapping[str, str] | None = None) -> RailPoles:
    """The poles of every rail in one state: `positions` as `{"T1": "diverging"}`, the rest at their first.

    A rail that only a frog unit or an automatic reverser feeds has the name of that device or of its output.
    Raises StateError for a name or position that does not exist.
    """
    from netlister.circuit.states import rail_poles, state_of

    circuit = circuit_of(layout)
    state = state_of(circuit, positions or {})
    stands = {v.name: v.positions[x] for v, x in zip(circuit.variables, state, strict=True)}
    return RailPoles(rail_poles(circuit, state), stands)


def plan_of(layout: Layout, positions: Mapping[str, str] | None = None, *, names: bool = False) -> Plan:
    """The plan of a layout in one state, to scale where it can be laid so, as SVG. Needs the extra `volts`.

    `positions` as for `poles_of`; `names`: joints and feeds carry their names. Raises StateError.
    """
    from netlister.circuit.states import state_of
    from netlister.draw.laying import laid_out, remarks
    from netlister.draw.plan import plan_svg

    circuit = circuit_of(layout)
    drawing = laid_out(layout)
    svg = plan_svg(circuit, state_of(circuit, positions or {}), drawing=drawing, names=names)
    return Plan(svg, tuple(remarks(drawing)))


def propose_file(path: str | Path, **options: Any) -> Proposal:
    """The cheapest wiring that is found for the track in a file; `options` are those of `propose_text`."""
    source, folder = _file(path)
    return _proposed(source, folder, options)


def propose_text(text: str, name: str = "layout.yaml", **options: Any) -> Proposal:
    """The cheapest wiring that is found for the track of a layout; what is written is kept.

    The proposal has the new `text`, `right` (proved over every position), its `cost` and the `bound` below which none
    is, `left` and `missing` where it is not right. `options`: `prices` by name, `aim`, `frogs` ("contact", "unit"),
    `volts` (feeders until voltage and breakers hold). Raises UnusableError and netlister.edits.text.EditError.
    """
    return _proposed(_text(text, name), None, options)


# -- inside


def _file(path: str | Path) -> tuple[Source, Path | None]:
    from netlister.source import read_source

    source = read_source(str(path))
    return source, None if str(path) == "-" else Path(path).resolve().parent


def _text(text: str, name: str) -> Source:
    from netlister.source import Source

    return Source(name, text)


def _read(source: Source, folder: str | Path | None) -> Layout:
    from netlister.netlists.any import read_any

    return read_any(source, None if folder is None else Path(folder))


def _checked(layout: Layout, source: Source | None, options: Mapping[str, Any]) -> Report:
    from netlister.rules import BY_NAME
    from netlister.source import suggest

    for name in (*options.get("select", ()), *options.get("ignore", ())):
        if name not in BY_NAME:
            message = f"there is no rule '{name}'{suggest(name, BY_NAME)}"
            raise ValueError(message)
    found = check.check(layout, **options)
    return Report(
        found.layout, found.findings, found.unproved, found.steps, found.causes, found.together, found.left_out, source
    )


def _proposed(source: Source, folder: Path | None, options: Mapping[str, Any]) -> Proposal:
    from netlister.propose.search import propose

    return propose(_read(source, folder), source, folder=folder, **options)

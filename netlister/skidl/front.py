"""Parts for scripts, and the check of a circuit that is wired from them."""

from __future__ import annotations

import logging
import re
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from netlister.source import UnusableError, suggest

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.front import Report
    from netlister.kinds import Library
    from netlister.layout.model import Layout

HERE = str(Path(__file__).parents[1])


def circuit() -> Any:
    """A new circuit of skidl that writes no files; its `ERC()` tells on standard error what it finds."""
    made = _skidl().Circuit()
    made.no_files = True
    _heard()
    return made


def net(name: str, circuit: Any = None) -> Any:
    """A net of skidl with a name, in `circuit` or in skidl's default one."""
    skidl: Any = _skidl()
    return skidl.Net(name, circuit=circuit or skidl.default_circuit)


def part(kind: str, ref: str = "", circuit: Any = None, use: Iterable[str] = (), **fields: object) -> Any:
    """A part of skidl to wire with ``+=``: `part("live-frog", hand="right", ref="T1")["frog"] += …`.

    Args:
        kind: A kind of track piece, or another symbol that `netlister symbols` writes, as "supply" or "contact".
        ref: Its reference, which is its name in findings; numbered if left out.
        circuit: The circuit that it is put into; skidl's default one if left out.
        use: Files with kinds of your own.
        fields: Its fields, `_` for a space (`moved_by="M1"`); lists and mappings are as in a layout file. `positions`
            of a contact says which throws it has, through and diverging if left out.

    Raises:
        ValueError: There is no such kind, or it takes no such hand, option or field; the text says what it takes.
    """
    from netlister.kinds import KindError, library
    from netlister.source import read_source

    texts = {_title(name): _text(value) for name, value in fields.items()}
    try:
        known = library(None, [read_source(path) for path in use])
        letter, pins = _pins(known, kind, fields)
    except (KindError, UnusableError) as error:
        raise ValueError(str(error)) from None
    skidl: Any = _skidl()
    target = circuit or skidl.default_circuit
    target.no_files = True
    _heard()
    made = _part_class()(
        tool=skidl.SKIDL,
        name=kind,
        circuit=target,
        ref_prefix=letter,
        tag=ref or None,
        pins=[skidl.Pin(num=pin, name=pin, func=skidl.Pin.types.PASSIVE) for pin in pins],
        value=kind,
        footprint="",
    )
    if ref:
        made.ref = ref
    made.fields.update({name: value for name, value in texts.items() if value})
    return made


def check(circuit: Any = None, use: Iterable[str] = (), **options: Any) -> Report:
    """Check a circuit as `netlister check` checks a layout; `options` are those of `netlister.check.check`.

    Places in findings are lines of the scripts that made the parts. Raises UnusableError where the parts cannot be
    understood; it lists every fault.
    """
    from netlister.front import check_layout

    layout, places = read_parts(circuit, use)
    try:
        report = check_layout(layout, **options)
    except UnusableError as error:
        raise UnusableError(places.told(fault) for fault in error.faults) from None
    findings = [
        replace(
            finding,
            where=tuple(places.true(span) for span in finding.where),
            mistakes=tuple(m._replace(span=places.true(m.span)) for m in finding.mistakes),
        )
        for finding in report.findings
    ]
    return replace(report, findings=tuple(findings))


def read_circuit(circuit: Any = None, use: Iterable[str] = ()) -> Layout:
    """The layout that a circuit describes. Raises UnusableError, which lists every fault with its place."""
    return read_parts(circuit, use)[0]


def attach(circuit: Any = None, use: Iterable[str] = (), **options: Any) -> None:
    """Let skidl's own check of the circuit, `circuit.ERC()`, report our findings too.

    Errors become its errors and all others its warnings, so that its counts hold them.
    """
    skidl: Any = _skidl()
    target = circuit or skidl.default_circuit
    used = list(use)

    def findings(checked: Any) -> None:
        from skidl.logger import active_logger

        try:
            report = check(checked, used, **options)
        except UnusableError as error:
            for fault in error.faults:
                active_logger.error(f"{fault.span}: {fault.message}")
            return
        for finding in report.findings:
            tell = active_logger.error if finding.severity.label == "error" else active_logger.warning
            tell(_line(finding))

    target.erc_list = [*target.erc_list, findings]


def _heard() -> None:
    """Let skidl's check of a circuit print what it finds, as it does where skidl was not imported by us."""
    from skidl.logger import erc_logger

    if all(isinstance(handler, logging.NullHandler) for handler in erc_logger.handlers):
        erc_logger.addHandler(logging.StreamHandler(sys.stderr))


def _line(finding: Any) -> str:
    """A finding in a line."""
    from netlister.formats.text import when_text

    where = f"{finding.where[0]}: " if finding.where else ""
    return f"{where}{finding.rule}: {finding.message}, {when_text(finding)}; help: {finding.fix}"


# ---- parts


def _skidl() -> Any:
    from netlister.skidl.quiet import skidl_module

    return skidl_module()


@cache
def _part_class() -> Any:
    """A part of skidl that tells a pin that it lacks; skidl's own gives nothing, which fails later and elsewhere."""
    skidl: Any = _skidl()

    class WiredPart(skidl.Part):
        def __getitem__(self, *pins: Any, **criteria: Any) -> Any:
            for name in _asked(pins):
                if name not in (known := [pin.name for pin in self.pins]):
                    raise ValueError(self._lacks(name, known))
            return super().__getitem__(*pins, **criteria)

        def __getattr__(self, name: str) -> Any:
            try:
                return super().__getattr__(name)
            except AttributeError:
                if name.startswith("_") or "pins" not in vars(self):
                    raise
                raise AttributeError(self._lacks(name, [pin.name for pin in self.pins])) from None

        def _lacks(self, name: str, known: list[str]) -> str:
            hint = suggest(name, known) or f"; its pins are {', '.join(known)}"
            return f"'{self.ref}', a {self.name}, has no pin '{name}'{hint}"

    return WiredPart


def _asked(pins: Iterable[Any]) -> Iterator[str]:
    """The names of pins that are asked for one by one; patterns and slices are skidl's own matter."""
    for pin in pins:
        if isinstance(pin, (list, tuple)):
            yield from _asked(pin)
        elif isinstance(pin, int) or (isinstance(pin, str) and re.fullmatch(r"[\w\s,-]+", pin)):
            yield from re.split(r"[\s,]+", str(pin).strip())


def _title(name: str) -> str:
    """`moved_by` is the field `Moved by`."""
    return name.replace("_", " ").capitalize()


def _text(value: object) -> str:
    """A value as the text of a field: lists and mappings as a layout has them."""
    from netlister.outputs.netlist_fields import field_text, listed

    if isinstance(value, (list, tuple)):
        return listed(value)
    if isinstance(value, dict):
        return field_text(value)
    return str(value).lower() if isinstance(value, bool) else str(value)


def _pins(known: Library, kind: str, fields: dict[str, object]) -> tuple[str, tuple[str, ...]]:
    """The reference letter and the pins of a part. Raises KindError or ValueError."""
    from netlister.layout import devices
    from netlister.netlists.sorting import CONTACT, is_contact
    from netlister.outputs.symbols import contact_positions
    from netlister.source import suggest

    if kind in devices.DEVICES:
        device = devices.DEVICES[kind]
        _refuse(kind, fields, device.fields)
        return device.letter, device.pins
    if is_contact(kind):
        stated = fields.get("positions")
        if isinstance(stated, (list, tuple)):
            positions = tuple(str(position) for position in stated)
        else:
            contacts = contact_positions(known)
            if kind not in contacts:
                message = f"there is no symbol '{kind}'{suggest(kind, contacts)}"
                raise ValueError(message)
            positions = contacts[kind]
        return "Q", ("common", *positions)
    if kind not in known.names():
        names = [*known.names(), *devices.DEVICES, CONTACT]
        message = f"there is no symbol '{kind}'{suggest(kind, names)}"
        raise ValueError(message)
    takes = known.takes(kind)
    tracks = [field for field in fields if field.startswith(("set_", "thrown_by_"))]
    _refuse(kind, fields, (*devices.PIECE_FIELDS, *takes.options, *(t.replace("_", "-") for t in tracks)))
    chosen = tuple((o, _text(fields[o.replace("-", "_")])) for o in takes.options if o.replace("-", "_") in fields)
    hand = str(fields.get("hand", ""))
    if takes.hands and hand not in takes.hands:
        message = f"'{kind}' needs a hand; write one of {', '.join(repr(h) for h in takes.hands)} as 'hand'"
        raise ValueError(message)
    found = known.kind(kind, hand, chosen)
    return "Y" if found.bladed else "L", found.rails


def _refuse(kind: str, fields: dict[str, object], takes: Iterable[str]) -> None:
    """Refuse fields that a part does not take."""
    from netlister.layout import devices
    from netlister.source import suggest

    known = {name.replace("-", "_") for name in (*takes, *devices.EVERY_PART)}
    for field in fields:
        if field not in known:
            listed = suggest(field, sorted(known)) or f"; it takes {', '.join(sorted(known))}"
            message = f"'{kind}' takes no '{field}'{listed}"
            raise ValueError(message)


# ---- circuits


class _ScriptPlaces:
    """Places in scripts, as lines of one file that does not exist, since a layout has one file."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.spans: list[Any] = []

    def line(self, span: Any) -> Any:
        """A line of the script as a place."""
        self.spans.append(span)
        number = len(self.spans)
        return type(span)(self.name, number, 1, number, 2)

    def true(self, span: Any) -> Any:
        """The place of a line."""
        if span.file == self.name and 0 < span.line <= len(self.spans):
            return self.spans[span.line - 1]
        return span

    def told(self, fault: Any) -> Any:
        """A fault with true places, also of the lines that it speaks of."""
        message = re.sub(r"\bline (\d+)", lambda m: f"line {self._line(int(m[1]))}", fault.message)
        return fault._replace(span=self.true(fault.span), message=message)

    def _line(self, number: int) -> int:
        return int(self.spans[number - 1].line) if 0 < number <= len(self.spans) else number


def read_parts(circuit: Any, use: Iterable[str]) -> tuple[Layout, _ScriptPlaces]:
    """The layout of a circuit. Raises UnusableError with places in the scripts."""
    from netlister.netlists.drawing import DrawnNetlist
    from netlister.netlists.rebuild import layout_of
    from netlister.source import FileFault, Source, Span

    skidl: Any = _skidl()
    made = circuit or skidl.default_circuit
    made.merge_net_names()
    lines = _lines(list(made.parts))
    script = lines[0][0] if lines else "script"
    drawing = DrawnNetlist(Source(script, ""))
    places = _ScriptPlaces(script)
    if not made.parts:
        message = "there are no parts in this circuit; make some with netlister.skidl.part"
        raise UnusableError([FileFault(Span(script, 1, 1, 1, 1), message)])
    for piece, (file, line) in zip(made.parts, lines, strict=True):
        _add(drawing, piece, places.line(Span(file, line, 1, line, 1)), made)
    folder = Path.cwd()
    try:
        return layout_of(_using(drawing, list(use), places), folder), places
    except UnusableError as error:
        raise UnusableError(places.told(fault) for fault in error.faults) from None


def _add(drawing: Any, piece: Any, span: Any, made: Any) -> None:
    """Put a part of a circuit into a drawing."""
    from netlister.netlists.drawing import EDITORS_OWN, DrawnPart, DrawnPin, PlacedText, key_of

    part = DrawnPart(PlacedText(str(piece.ref), span), PlacedText(str(piece.name), span))
    for name, value in {**_attributes(piece), **piece.fields}.items():
        key = key_of(str(name))
        if value not in {"", None} and key not in EDITORS_OWN:
            part.fields[key] = PlacedText(str(value), span)
            part.named[key] = str(name)
    drawing.parts.append(part)
    for pin in piece.pins:
        net = pin.net
        if net is not None and net is not made.NC:
            place = PlacedText(str(pin.num), span)
            drawing.connect(part, DrawnPin(str(pin.num), str(net.name), place), place)


def _attributes(piece: Any) -> dict[str, str]:
    """The fields of a part that skidl took from a symbol's file: there they are attributes of the part."""
    from netlister.layout import devices
    from netlister.netlists.drawing import key_of

    own = vars(piece)
    device = devices.DEVICES.get(key_of(str(piece.name)))
    keys = {*devices.PIECE_FIELDS, *devices.CONTACT_FIELDS, *(() if device is None else device.fields)}
    found = {key: own.get(key.replace("-", "_")) for key in sorted(keys)}
    return {key: value for key, value in found.items() if isinstance(value, str) and value}


def _using(drawing: Any, use: list[str], places: _ScriptPlaces) -> Any:
    """Add a part that names files of kinds."""
    from netlister.netlists.drawing import DrawnPart, PlacedText
    from netlister.outputs.netlist_fields import listed
    from netlister.source import Span

    if use:
        span = places.line(Span(places.name, 1, 1, 1, 1))
        drawing.parts.append(
            DrawnPart(PlacedText("use", span), PlacedText("layout", span), {"use": PlacedText(listed(use), span)})
        )
    return drawing


def _lines(parts: list[Any]) -> list[tuple[str, int]]:
    """Per part the script and the line that made it.

    Where a function makes parts, its lines make many; so of the lines that led to a part the one that led to the
    fewest is taken, and of several such the innermost.
    """
    traces = [[(str(file), int(line)) for file, line in getattr(p, "skidl_trace", None) or ()] for p in parts]
    traces = [[place for place in trace if not place[0].startswith(HERE)] for trace in traces]
    counts = Counter(place for trace in traces for place in trace)
    found = []
    for trace in traces:
        file, line = min(reversed(trace), key=lambda place: counts[place], default=("script", 1))
        found.append((_shown(file), line))
    return found


def _shown(file: str) -> str:
    """A script as it is spoken of: from the current folder on, else by its name alone."""
    try:
        return str(Path(file).relative_to(Path.cwd()))
    except ValueError:
        return Path(file).name

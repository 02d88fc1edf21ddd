"""The page: one file, nothing fetched, everything from the layout escaped, to be read without its script as well."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from hashlib import sha256
from html import escape
from itertools import groupby
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING

from netlister.circuit.states import rail_poles
from netlister.draw.laying import laid_out
from netlister.draw.style import STYLE
from netlister.finding import Severity
from netlister.formats.text import when_text
from netlister.outputs.cautions import SUPPLIES
from netlister.outputs.kind_page import LOOK
from netlister.papers.page import WRONG, warned
from netlister.quantity import count_said
from netlister.report.cards import card_section
from netlister.report.embed import embed, json_text
from netlister.report.live import BANNER_PLACE, MARKS
from netlister.report.parts import LEGEND, LINK, METER, MOVE, OUT, SHEET, TOOLS, TRAIN, WALK
from netlister.report.readings import readings
from netlister.report.tables import tables
from netlister.report.tiles import tiled
from netlister.report.trips import trips
from netlister.report.volts import volts_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from netlister.check import Report
    from netlister.circuit.model import State
    from netlister.finding import Finding
    from netlister.report.live import LivePage
    from netlister.report.trips import Trip
    from netlister.routes.ways import TrackPlace
    from netlister.rules.analysis import Analysis
    from netlister.source import UnusableError

HERE = Path(__file__).parent

SCRIPTS = (
    *("circuit.js", "track.js", "elements.js", "tiles.js", "view.js", "marks.js", "faults.js", "findings.js"),
    *("positions.js", "meter.js", "train.js", "address.js", "tables.js", "shade.js", "sheet.js", "walk.js"),
    "page.js",
)
"""The page's script, in the order in which it is put together; `page.js` uses what the others make."""

CAUTIONS = (
    (
        "What is shown is the circuit as it is written, not the wires under your baseboard. Before the first train "
        "test with a meter: supply unplugged, track empty."
    ),
    "Low voltage at several amps burns and melts: a fuse or breaker in every bus.",
    SUPPLIES,
    "Everything on the mains side is for licensed people and your local code.",
)


def page(
    analysis: Analysis,
    report: Report,
    state: State,
    asked: Iterable[tuple[TrackPlace, TrackPlace]] = (),
    *,
    live: LivePage | None = None,
) -> str:
    """The page of a layout as HTML text.

    `state`: the position in which it opens. `asked`: routes for the train, from place to place; else between open ends.
    `live`: where the server that the page came from follows the file.
    """
    return _ReportPage(analysis, report, state, trips(analysis.track, asked), live).text()


def fault_page(name: str, error: UnusableError, *, live: LivePage | None = None) -> str:
    """The page of a file that cannot be used: what is wrong with it, line by line."""
    faults = "".join(
        f"<li><p><strong>{_mark(Severity.ERROR)} fault</strong> <code>{escape(str(fault.span))}</code></p>"
        f"<p>{escape(fault.message)}</p></li>\n"
        for fault in error.faults
    )
    count = len(error.faults)
    body = (
        f'<header class="top"><p class="file"><code>{escape(name)}</code></p><h1>This file cannot be used yet</h1>'
        f"<p>{count} fault{'' if count == 1 else 's'}. Mend and save it; nothing was checked.</p></header>\n"
        f'<main id="main"><section class="findings"><h2>What is wrong</h2>\n<ol class="faults">\n{faults}</ol>'
        "</section>\n"
        "</main>\n"
    )
    return _document(f"{name}: cannot be used", body, (), live)


def _mark(severity: Severity) -> str:
    """A shape for a severity: a square with a cross, a triangle, a ring; the word stands beside it."""
    shapes = {
        Severity.ERROR: '<path d="M1 1h14v14H1z"/><path class="cut" d="M5 5l6 6M11 5l-6 6"/>',
        Severity.WARNING: '<path d="M8 1l7.5 14H.5z"/><path class="cut" d="M8 6v5"/>',
        Severity.NOTE: '<circle class="ring" cx="8" cy="8" r="6"/>',
    }
    return f'<svg class="mark" viewBox="0 0 16 16" aria-hidden="true">{shapes[severity]}</svg>'


@cache
def _asset(name: str) -> str:
    return (HERE / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def _document(title: str, body: str, data: Sequence[str], live: LivePage | None) -> str:
    """A whole document: the policy allows its own style and scripts by their hashes, and nothing else."""
    style = LOOK + _asset("page.css") + (_asset("live.css") if live is not None else "")
    scripts = ["".join(map(_asset, SCRIPTS))] if data else []
    desk = live.desk if live is not None and data else None
    scripts += [_asset("live.js")] if live is not None else []
    scripts += [_asset("edit.js")] if desk is not None else []
    policy = "; ".join(
        [
            "default-src 'none'",
            f"style-src {_hash(style)}",
            f"script-src {' '.join(map(_hash, scripts))}" if scripts else "script-src 'none'",
            *(["connect-src 'self'"] if live is not None else []),
            "base-uri 'none'",
            "form-action 'none'",
            "require-trusted-types-for 'script'",
            "trusted-types 'none'",
        ]
    )
    embedded = "".join(f'<script type="application/json" id="data">{text}</script>\n' for text in data)
    if desk is not None:
        embedded += f'<script type="application/json" id="offers">{json_text(desk)}</script>\n'
    run = "".join(f"<script>{text}</script>\n" for text in scripts)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"{MARKS if live is not None else ''}"
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n<meta name="referrer" content="no-referrer">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#main">Skip to the page</a>\n{BANNER_PLACE if live is not None else ""}'
        f"{body}{embedded}{run}</body>\n</html>\n"
    )


class _ReportPage:
    def __init__(
        self, analysis: Analysis, report: Report, state: State, found: Sequence[Trip], live: LivePage | None
    ) -> None:
        self.circuit = analysis.circuit
        self.layout = analysis.layout
        self.analysis = analysis
        self.report = report
        self.state = state
        self.trips = found
        self.live = live
        self.version = "" if report.proved and not report.count(Severity.ERROR) else WRONG
        self.poles = rail_poles(self.circuit, state)
        self.volts = volts_of(analysis)
        self.readings = readings(self.layout, report)
        self.plan = tiled(self.circuit, state, self.poles, laid_out(self.layout))

    def text(self) -> str:
        title = self.layout.title or self.layout.name
        data = embed(self.analysis.track, self.state, self.report.findings, self.trips, self.volts.pieces)
        data |= {"plan": self.plan.data, "style": STYLE, "sheet": self.readings.data}
        body = "\n".join(
            [
                self._head(title),
                '<main id="main">',
                self._bench(),
                '<div class="beside">',
                self._findings(),
                self._desk(),
                self.readings.html,
                self._tables(),
                self._cards(),
                self._cautions(),
                "</div>",
                "</main>\n",
            ]
        )
        return _document(f"{title}: wiring", body, [json_text(data)], self.live)

    # -- the head and the findings

    def _head(self, title: str) -> str:
        counts = [(self.report.count(s), s) for s in sorted(Severity, reverse=True)]
        said = [f"<li>{_mark(s)} {n} {s.label}{'' if n == 1 else 's'}</li>" for n, s in counts if n]
        variables = self.layout.variables.values()
        count = prod(len(v.positions) for v in variables)
        shown = count_said(count)
        pieces = len(self.layout.pieces)
        proof = "checked over every one of them" if self.report.proved else "not everything was proved, see below"
        notes = f'<p class="notes">{escape(self.layout.notes)}</p>' if self.layout.notes else ""
        whole = self.report.proved and not self.report.left_out
        verdict = "".join(said) or f"<li>Nothing {'wrong' if whole else 'found'}</li>"
        return (
            f'<header class="top"><p class="file"><code>{escape(self.layout.name)}</code></p>'
            f'<h1>{escape(title)}</h1>{notes}<ul class="verdict">{verdict}</ul>'
            f"<p>{pieces} piece{'' if pieces == 1 else 's'} of track, {shown} "
            f"combination{'' if count == 1 else 's'} of positions; {proof}.</p></header>"
        )

    def _findings(self) -> str:
        blocks = []
        number = 0
        for _, group in groupby(self.report.findings, key=lambda f: f.cause):
            listed = list(group)
            blocks.append(self._cause(listed, number))
            number += len(listed)
        if not blocks:
            told = "Nothing wrong: no rule is broken in any position of turnouts and switches."
            if not self.report.proved:
                told = "Nothing wrong was found, but not everything was proved."
            elif self.report.left_out:
                told = f"Nothing was found, but not looked at: {self.report.unseen}."
            blocks = [f'<p class="fine">{told}</p>']
        else:
            blocks = ['<ol class="causes">', *blocks, "</ol>"]
        if self.report.unproved:
            open_questions = "".join(f"<li>{escape(rule)} of {escape(of)}</li>" for rule, of in self.report.unproved)
            blocks.append(f"<p>Not proved within the limit of the proof:</p><ul>{open_questions}</ul>")
        return '<section class="findings" aria-labelledby="findings"><h2 id="findings">Findings</h2>\n' + "\n".join(
            [*blocks, "</section>"]
        )

    def _cause(self, findings: list[Finding], number: int) -> str:
        first = findings[0]
        worst = max(f.severity for f in findings)
        heads = [(m.headline, str(m.span), m.fix) for m in first.mistakes] or [
            (first.message, str(first.where[0]) if first.where else "", first.fix)
        ]
        told = "".join(
            f'<h3>{_mark(worst)} <span class="word">{worst.label}</span> {escape(headline)}</h3>'
            f'<p class="place"><code>{escape(place)}</code></p>'
            for headline, place, _ in heads
        )
        fixes = "".join(
            f'<p class="mend"><b>To mend it:</b> {escape(fix)}</p>' for fix in dict.fromkeys(f for _, _, f in heads)
        )
        known = {fix for _, _, fix in heads}
        effects = [
            self._effect(
                f, number + i, told=bool(first.mistakes) or i > 0, fix="" if first.mistakes or f.fix in known else f.fix
            )
            for i, f in enumerate(findings)
        ]
        shown, rest = effects[:4], effects[4:]
        listed = f'<ul class="effects">{"".join(shown)}</ul>'
        if rest:
            listed += f'<details><summary>{len(rest)} more of the same cause</summary><ul class="effects">'
            listed += f"{''.join(rest)}</ul></details>"
        return f'<li class="cause {worst.label}">{told}{fixes}{listed}</li>'

    @staticmethod
    def _effect(finding: Finding, number: int, *, told: bool, fix: str) -> str:
        said = f": {escape(finding.message)}" if told else ""
        path = ""
        if finding.path:
            path = (
                f'<p class="path">Conducts: {" &ndash; ".join(f"<code>{escape(t)}</code>" for t in finding.path)}</p>'
            )
        mend = f'<p class="mend"><b>To mend it:</b> {escape(fix)}</p>' if fix else ""
        label = escape(f"{finding.rule}: {finding.subject}")
        return (
            f'<li id="finding-{number}"><p><b><code>{escape(finding.rule)}</code></b> '
            f"({finding.severity.label}){said}</p>"
            f"<p>{escape(when_text(finding))}</p>{path}{mend}"
            f'<button type="button" class="script" data-finding="{number}" '
            f'data-severity="{finding.severity.label}" aria-pressed="false" '
            f'aria-label="Show {label}">Show it on the plan</button></li>'
        )

    # -- the plan, the positions, the meter and the train

    def _bench(self) -> str:
        return "\n".join(
            [
                '<section class="bench" aria-labelledby="plan-head">',
                '<h2 id="plan-head">Plan</h2>',
                f'<noscript><p class="hint">{escape(self._still())}</p></noscript>',
                '<div class="stage">',
                MOVE,
                SHEET.replace("<!-- plan -->", self.plan.svg),
                TOOLS,
                LEGEND,
                '<p id="said" class="said script" role="status"></p>',
                "</div>",
                "</section>",
            ]
        )

    def _desk(self) -> str:
        inner = f"{self._positions()}\n{WALK}\n{METER}\n{self._train()}\n{OUT}\n{LINK}"
        return f'<section class="desk script" aria-labelledby="desk"><h2 id="desk">Try it</h2>\n{inner}\n</section>'

    def _still(self) -> str:
        return f"Without its script the page shows everything in one position: {self._positions_text()}."

    def _positions_text(self) -> str:
        variables = self.circuit.variables
        if not variables:
            return "nothing on it moves"
        said = [f"{v.name} at {v.positions[x]}" for v, x in zip(variables[:12], self.state, strict=False)]
        return ", ".join(said) + (", and the rest as first named" if len(variables) > len(said) else "")

    def _positions(self) -> str:
        if not self.circuit.variables:
            return ""
        return (
            '<section class="card script" aria-labelledby="positions-head"><h3 id="positions-head">Positions</h3>'
            '<label class="find">Find <input type="search" id="find-position" autocomplete="off"></label>'
            '<div id="positions" class="positions"></div>'
            '<p class="row"><button type="button" id="undo" aria-disabled="true">Undo</button> '
            '<button type="button" id="redo" aria-disabled="true">Redo</button> '
            '<button type="button" id="rest">All to their first position</button></p></section>'
        )

    def _train(self) -> str:
        named = [t.name for t in self.layout.trains.values() if t.axles and not t.parked]
        own = "" if named else '<p class="hint">The layout names no train; this one has four axles.</p>'
        return TRAIN.replace("<!-- own -->", own)

    # -- tables, cards, cautions

    def _tables(self) -> str:
        return (
            '<section class="tables" aria-labelledby="tables"><h2 id="tables">Tables</h2>\n'
            f"{self._warned()}{tables(self.circuit, self.poles, self.volts)}\n</section>"
        )

    def _warned(self) -> str:
        """What stands over all that could be built from, where the wiring is wrong or not proved."""
        return "".join(f'<p class="wrong">{escape(text)}</p>\n' for text in warned(self.version))

    def _cards(self) -> str:
        found = card_section(self.circuit, self.version)
        if not found:
            return ""
        listed = "\n".join(
            f'<details class="wiring" data-of="{escape(" ".join(one.of))}"><summary>{escape(one.title)}</summary>\n'
            f"{one.html}</details>"
            for one in found
        )
        return (
            '<section class="cards" aria-labelledby="cards"><h2 id="cards">Wiring cards</h2>\n'
            f"{self._warned()}{listed}\n</section>"
        )

    def _cautions(self) -> str:
        cautions = "".join(f"<li>{escape(text)}</li>" for text in CAUTIONS)
        return f'<section class="care" aria-labelledby="care"><h2 id="care">Take care</h2><ul>{cautions}</ul></section>'

"""Track that is dead in some positions only, or over a frog that says `frog: dead`: no repair is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.finding import Severity
from netlister.layout.model import Piece
from netlister.layout.terminal import owner_of
from netlister.poles.diagram import LimitError
from netlister.poles.reach import UnprovedError
from netlister.rules import dead_track

if TYPE_CHECKING:
    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken


def may_be_meant(analysis: Analysis, rule: str, subject: str, severity: Severity) -> bool:
    """Whether a finding may be meant: not so where it is the piece's own frog that lacks a pole, unless it says so."""
    if rule in ("dead-track", "floating-net") and severity == Severity.NOTE:
        piece = analysis.layout.pieces.get(owner_of(subject))
        if piece is not None and piece.dead_frog and (rule == "floating-net" or _fed(analysis, piece)):
            return True
    if rule != "dead-track" or severity >= Severity.ERROR:
        return False
    piece = analysis.layout.pieces.get(subject)
    if piece is None or not piece.kind.bladed:
        return True
    return not _fed(analysis, piece)


def _fed(analysis: Analysis, piece: Piece) -> bool:
    """Whether all rails of a piece that keep their pole can have one."""
    rails = [rail for rail in piece.kind.rails if not piece.kind.is_changing(rail)]
    return all(analysis.poles.nets.fed[analysis.net(piece.terminal(rail))] for rail in rails)


def may_stay(analysis: Analysis, broken: Broken) -> bool:
    """Whether what a repair leaves dead may be meant: hand switches alone turn it off, or its frog is so on purpose.

    Not so where that is not known.
    Track that turnouts turn off is looked at in full: a cure that leaves it so may hide a feed that is missing.
    """
    if broken.rule != "dead-track" or not isinstance(broken.about, Piece):
        return False
    diagrams, variables = analysis.poles.diagrams, analysis.circuit.variables
    turnouts = any(variables[variable].kind != "switch" for variable in diagrams.support(broken.function))
    if turnouts and not broken.about.dead_frog:
        return False
    diagrams.begin()
    try:
        grade = dead_track.severity(analysis, broken.about, broken.function)
    except (LimitError, UnprovedError):
        return False
    if broken.about.dead_frog and (turnouts or grade == Severity.NOTE):
        return grade == Severity.NOTE and _fed(analysis, broken.about)
    return may_be_meant(analysis, broken.rule, broken.subject, grade)

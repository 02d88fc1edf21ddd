"""Check the wiring of a two-rail model railway over every combination of turnout positions.

>>> import netlister
>>> report = netlister.check_file("examples/one-frog/layout.yaml")
>>> report.findings, report.proved
((), True)

`read_file`, `read_text`: a layout as read. `check_file`, `check_text`, `check_layout`: a report with its findings and
what mends them. `poles_of`: the poles of every rail in one state. `circuit_of`: terminals, conductors, variables.
`propose_file`, `propose_text`: a wiring for bare track. `plan_of`: a drawing. All are in `netlister.front`; what they
need is imported when they are first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.circuit.states import StateError
    from netlister.front import (
        Plan,
        RailPoles,
        Report,
        check_file,
        check_layout,
        check_text,
        circuit_of,
        plan_of,
        poles_of,
        propose_file,
        propose_text,
        read_file,
        read_text,
    )

__version__ = "0.2.0"

__all__ = ["Plan", "RailPoles", "Report", "StateError", "UnusableError", "check_file", "check_layout", "check_text",
           "circuit_of", "plan_of", "poles_of", "propose_file", "propose_text", "read_file", "read_text"]  # fmt: skip


def __getattr__(name: str) -> Any:
    """What is asked for by name, imported now."""
    if name in __all__:
        from netlister import front

        return getattr(front, name)
    message = f"module 'netlister' has no attribute '{name}'"
    raise AttributeError(message)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])

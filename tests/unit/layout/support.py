"""What the tests of reading share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from netlister.layout.read import read_layout
from netlister.source import Source, UnusableError

if TYPE_CHECKING:
    from netlister.layout.model import Layout

HEAD = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track:
  a: {length: 1 m}
  b: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: left}
  X1: {kind: double-slip-live}
  D1: {kind: diamond-live}
"""
"""Nine lines that are right; what a test adds begins in line 10."""


def read(text: str) -> Layout:
    """The layout of a text."""
    return read_layout(Source("layout.yaml", text))


def added(text: str) -> Layout:
    """The layout of HEAD with something added."""
    return read(HEAD + text + "\n")


def faults(text: str) -> list[str]:
    """The faults of a text, each as `line:column message`."""
    with pytest.raises(UnusableError) as caught:
        read(text)
    return [f"{fault.span.line}:{fault.span.column} {fault.message}" for fault in caught.value.faults]


def added_faults(text: str) -> list[str]:
    """The faults of HEAD with something added."""
    return faults(HEAD + text + "\n")


def only_fault(text: str) -> str:
    """The one fault of a text."""
    (found,) = faults(text)
    return found

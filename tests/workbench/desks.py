"""Desks on files in a folder, as `watch --edit` has them."""

from __future__ import annotations

from netlister.check import check
from netlister.netlists.any import read_any
from netlister.source import read_source
from netlister.workbench.desk import Desk

YARD = """\
# A yard by a slate wharf; every comment must stay where it is.
format: netlister/1
title: Slate wharf
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A}   # on the shelf
track:
  line:  {length: 900 mm}      # along the wall
  wharf: {length: 600 mm}
  spur:  {length: 400 mm}
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: left}
machines:
  M1:
    throws: [T1]
    contacts:
      frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}   # red sleeve
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: wharf, insulate: vee}
  - {from: T1.diverging, to: T2.toe, insulate: vee}   # under the bridge
  - {from: T2.through, to: spur, insulate: vee}
feeds:
  - {to: [line, wharf], A: left, B: right}
  - {to: spur}
  - {to: T2.toe}
"""


def desk_on(folder, text=YARD, name="layout.yaml"):
    """A desk with a file on it."""
    file = folder / name
    file.write_bytes(text.encode("utf-8"))
    desk = Desk(str(file), folder)
    look(desk)
    return desk, file


def look(desk, *, causes=False):
    """Read the file again, as `watch` does after each save. `causes`: whether repairs are looked for, too."""
    source = read_source(desk.path, "layout.yaml")
    layout = read_any(source, desk.folder)
    desk.take(source, layout, check(layout, causes=causes))


def tried(desk, **ask):
    return desk.answer({"version": desk.version, "what": "try", "ask": ask})


def made(desk, **ask):
    return desk.answer({"version": desk.version, "what": "make", "ask": ask})


def stepped(desk, what):
    return desk.answer({"version": desk.version, "what": what})


def counted(text, folder=None):
    """Errors, warnings and notes of a text, read and checked by itself."""
    from netlister.source import Source
    from netlister.workbench.judge import counts

    return list(counts(check(read_any(Source("layout.yaml", text), folder), causes=False).findings))

"""What is given to the commands or taken from them goes wrong: a clean message, exit 2, nothing half-written."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

FULL = pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full here")

LAYOUT = """format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 1 m}
feeds:
  - {to: line}
"""


def run(*args, redirected=None, cwd=None, **more):
    command = [sys.executable, "-m", "netlister", *args]
    if redirected is not None:
        quoted = " ".join(f"'{part}'" for part in command)
        return subprocess.run(
            ["bash", "-c", f"{quoted} {redirected}"], capture_output=True, cwd=cwd, check=False, **more
        )
    return subprocess.run(command, capture_output=True, cwd=cwd, check=False, **more)


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "line.yaml"
    path.write_text(LAYOUT)
    return path


@pytest.mark.parametrize("args", [("check", "line.yaml"), ("explain",), ("kinds",), ("netlist", "line.yaml")])
@pytest.mark.parametrize("redirected", [">&-", pytest.param(">/dev/full", marks=FULL)])
def test_closed_or_full_output(layout, args, redirected):
    done = run(*args, redirected=redirected, cwd=layout.parent)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert b"standard output cannot be written" in done.stderr


def test_closed_input(layout):
    done = run("check", "-", redirected="<&-", cwd=layout.parent)
    assert done.returncode == 2
    assert b"standard input is closed" in done.stdout


def test_a_named_pipe_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    done = run("check", "pipe", cwd=tmp_path, timeout=60)
    assert done.returncode == 2
    assert b"is a named pipe" in done.stdout


@pytest.mark.parametrize("coding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_named(tmp_path, coding):
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(coding, b"")
    (tmp_path / "wide.yaml").write_bytes(mark + LAYOUT.encode(coding))
    done = run("check", "wide.yaml", cwd=tmp_path)
    assert done.returncode == 2
    assert b"UTF-16" in done.stdout


@pytest.mark.parametrize("character", ["\x07", "\x1b", "\x7f", "\x9b", "\u202e", "\u2066", "\u200f", "\u2028"])
@pytest.mark.parametrize("where", ["title", "notes", "name"])
def test_what_does_not_print_is_refused_with_its_place(tmp_path, character, where):
    escaped = f"\\u{ord(character):04x}"
    text = (
        LAYOUT.replace("  line: {", f'  "li{escaped}ne": {{')
        if where == "name"
        else f'{where}: "a{escaped}b"\n{LAYOUT}'
    )
    (tmp_path / "odd.yaml").write_text(text)
    done = run("check", "odd.yaml", cwd=tmp_path)
    assert done.returncode == 2
    assert f"U+{ord(character):04X}".encode() in done.stdout
    assert character.encode() not in done.stdout
    assert done.stdout.startswith(b"odd.yaml:4:3:" if where == "name" else f"odd.yaml:1:{len(where) + 3}:".encode())


def test_what_does_not_print_is_refused_in_a_netlist(tmp_path):
    text = '(export (version "E") (components (comp (ref "U\x1b[31m1") (value "x"))))'
    (tmp_path / "odd.net").write_text(text)
    done = run("check", "odd.net", cwd=tmp_path)
    assert done.returncode == 2
    assert b"\x1b" not in done.stdout
    assert b"odd.net:1:" in done.stdout
    assert b"U+001B" in done.stdout


def test_names_that_the_terminal_cannot_show(tmp_path):
    (tmp_path / "o.yaml").write_text(LAYOUT.replace("feeds:", "feedss:").replace("line", "Zürich"), encoding="utf-8")
    done = run("check", "o.yaml", cwd=tmp_path, env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr


def test_a_column_behind_characters_beyond_ascii(tmp_path):
    (tmp_path / "o.yaml").write_text('title: "äöü€𝄞" x: y\n', encoding="utf-8")
    column = len('title: "äöü€𝄞" ') + 1
    done = run("check", "o.yaml", cwd=tmp_path)
    assert done.stdout.startswith(f"o.yaml:1:{column}:".encode()), done.stdout


def test_outputs_spare_the_files_of_kinds_that_are_used(tmp_path):
    kinds = tmp_path / "mine.yaml"
    first = run("kinds", "rail-section", "--format", "yaml", cwd=tmp_path)
    kinds.write_bytes(first.stdout if first.returncode == 0 else b"")
    text = b"kind: my-track\ntitle: T\nsummary: S.\n"
    kinds.write_bytes(text)
    (tmp_path / "line.yaml").write_text(LAYOUT + "use: [mine.yaml]\n")
    done = run("report", "line.yaml", "-o", "mine.yaml", cwd=tmp_path)
    assert done.returncode != 0
    assert kinds.read_bytes() == text


@pytest.mark.parametrize(("name", "file"), [("CON", "_CON"), ("nul.x", "_nul.x"), ("ü" * 200, "ü" * 40), ("..", "_")])
def test_file_names_that_systems_keep(name, file):
    from netlister.cli.card import file_names

    assert file_names([name]) == {name: file}


def test_a_reverser_fed_from_a_supply_whose_bus_has_another_name(tmp_path):
    (tmp_path / "loop.yaml").write_text("""format: netlister/1
supplies: {s: {type: dcc, voltage: 15 V, trip: 3 A}}
buses: {ring: {supply: s, wire: 2.5 mm2, length: 6 m}}
track:
  line: {length: 1 m}
  loop: {length: 2 m}
reversers: {R1: {from: s, mode: automatic}}
joints:
  - {from: line, to: loop, insulate: both}
feeds:
  - {to: line, from: ring, tap: 1 m, wire: 0.5 mm2, length: 200 mm}
  - {to: loop, from: R1, wire: 0.5 mm2, length: 200 mm}
""")
    done = run("drop", "loop.yaml", cwd=tmp_path)
    assert b"Traceback" not in done.stderr
    assert done.returncode in {0, 1}
    assert b"loop" in done.stdout

"""Files that are no layout, or hardly: each answered at once, with a place."""

from __future__ import annotations

import io
import sys
import time
from pathlib import Path

import pytest

from netlister.layout.read import read_layout
from netlister.source import Source, UnusableError, decode_source, read_source
from tests.unit.layout.support import HEAD, added, added_faults, faults, read

FORMAT = "format: netlister/1\n"
SUPPLIES = "supplies: {main: {type: dcc, voltage: 15 V}}\n"
TRACK = "track: {a: }\n"
WHOLE = FORMAT + SUPPLIES + TRACK

NO_LAYOUT: list[tuple[str, str, list[str]]] = [
    ("empty", "", ["1:1 the file is empty; a layout begins with 'format: netlister/1'"]),
    ("comment", "# nothing\n", ["1:1 the file is empty; a layout begins with 'format: netlister/1'"]),
    ("list", "- a\n", ["1:1 a layout is a mapping, not a list; begin it with 'format: netlister/1'"]),
    ("text", "hello\n", ["1:1 a layout is a mapping, not text; begin it with 'format: netlister/1'"]),
    (
        "tabs",
        WHOLE + "joints:\n\t- {from: a}\n",
        [
            "5:1 unreadable YAML: while scanning for the next token found character that cannot start any token; "
            "use spaces, not tabs, to indent"
        ],
    ),
    (
        "unclosed bracket",
        WHOLE + "joints: [\n",
        [
            "5:1 unreadable YAML: while parsing a flow node did not find expected node content; "
            "close the bracket '[' or brace '{' that is still open, or write a value"
        ],
    ),
    (
        "unclosed brace",
        WHOLE + "joints: [{from: a, to: b\nfeeds: []\n",
        [
            "5:6 unreadable YAML: while parsing a flow mapping did not find expected ',' or '}'; "
            "close the brace with '}' or put a comma between the entries"
        ],
    ),
    (
        "20,000 brackets in a row",
        "[" * 20_000,
        [
            "1:1001 unreadable YAML: while increasing flow level exceeded maximum nesting depth; "
            "nothing in a layout nests so deeply; is a bracket left open?"
        ],
    ),
    (
        "20,000 closed brackets",
        "[" * 20_000 + "]" * 20_000,
        [
            "1:1001 unreadable YAML: while increasing flow level exceeded maximum nesting depth; "
            "nothing in a layout nests so deeply; is a bracket left open?"
        ],
    ),
    (
        "20,000 lists in lists",
        "- " * 20_000 + "a",
        ["1:199 this is nested more than 100 deep, and nothing in a layout is; is a bracket left open?"],
    ),
    ("90 brackets", WHOLE + "joints: " + "[" * 90 + "]" * 90, ["4:10 a joint is due here, as 'name: value' pairs"]),
    (
        "900 brackets",
        WHOLE + "joints: " + "[" * 900 + "]" * 900,
        ["4:107 this is nested more than 100 deep, and nothing in a layout is; is a bracket left open?"],
    ),
    (
        "alias bomb",
        "a: &a [x, x, x, x, x, x, x, x, x]\n"
        + "".join(f"{b}: &{b} [{', '.join([f'*{a}'] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)),
        ["7:4 the aliases in here stand for millions of entries; write out what is meant"],
    ),
    ("cycle", "a: &a [*a]\n", ["1:4 an alias that contains itself is not allowed"]),
    ("cycle of mappings", WHOLE + "joints: &j\n  - *j\n", ["4:9 an alias that contains itself is not allowed"]),
    (
        "undefined alias",
        WHOLE + "title: *x\n",
        ["4:8 unreadable YAML: found undefined alias; write the value out, or name its anchor first"],
    ),
    (
        "language tag",
        WHOLE + "title: !!python/object:os.system x\n",
        ["4:8 the tag '!!python/object:os.system' is not allowed here; leave it out"],
    ),
    ("own tag", WHOLE + "title: !own x\n", ["4:8 the tag '!own' is not allowed here; leave it out"]),
    (
        "merge key",
        WHOLE + "joints:\n  - {<<: {from: a}}\n",
        ["5:6 merge keys '<<' are not allowed; write the entries out"],
    ),
    ("duplicate section", WHOLE + TRACK, ["4:1 'track' is here a second time; it stands in line 3 already"]),
    (
        "two documents",
        WHOLE + "---\na: b\n",
        ["4:1 unreadable YAML: expected a single document in the stream but found another document"],
    ),
    ("key that is a list", WHOLE + "? [a]\n: b\n", ["4:3 a name is due here, not a list or a mapping"]),
]

SECTIONS: list[tuple[str, list[str]]] = [
    (SUPPLIES + TRACK, ["1:1 there is no 'format'; begin the file with 'format: netlister/1'"]),
    (
        FORMAT + TRACK,
        ["1:1 there is no 'supplies'; add them, as in 'supplies: {main: {type: dcc, voltage: 15 V}}'"],
    ),
    (
        FORMAT + SUPPLIES,
        ["1:1 there is no 'track'; add the pieces, as in 'track: {siding: {length: 450 mm}}'"],
    ),
    ("fromat: netlister/1\n" + SUPPLIES + TRACK, ["1:1 there is no section 'fromat'; did you mean 'format'?"]),
    ("format: netlister/2\n" + SUPPLIES + TRACK, ["1:9 the format 'netlister/2' is not known; write 'netlister/1'"]),
    ("format:\n" + SUPPLIES + TRACK, ["1:1 'format' is empty; begin the file with 'format: netlister/1'"]),
    ("format: [1]\n" + SUPPLIES + TRACK, ["1:9 'netlister/1' is due here, not a list"]),
    (
        FORMAT + "supplies:\n" + TRACK,
        ["2:1 'supplies' is empty; add them, as in 'supplies: {main: {type: dcc, voltage: 15 V}}'"],
    ),
    (
        FORMAT + SUPPLIES + "track: {}\n",
        ["3:1 'track' is empty; add the pieces, as in 'track: {siding: {length: 450 mm}}'"],
    ),
    (FORMAT + SUPPLIES + "track: []\n", ["3:8 a piece of track under its name is due here, as 'name: value' pairs"]),
]


@pytest.mark.parametrize(("text", "expected"), [c[1:] for c in NO_LAYOUT], ids=[c[0] for c in NO_LAYOUT])
def test_no_layout(text: str, expected: list[str]) -> None:
    assert faults(text) == expected


@pytest.mark.parametrize(("text", "expected"), SECTIONS)
def test_sections(text: str, expected: list[str]) -> None:
    assert faults(text) == expected


def test_unknown_section_lists_the_sections() -> None:
    (fault,) = added_faults("xyzzy: 1")
    assert fault.startswith("10:1 there is no section 'xyzzy'; the sections are format, title, ")


def test_every_section_but_the_required_may_be_empty() -> None:
    names = "machines switches reversers frog-units components plugs boards trains joints feeds wires expect never"
    added("".join(f"{name}:\n" for name in [*names.split(), "buses", "limits", "use"]))


def test_binary() -> None:
    with pytest.raises(UnusableError, match="this is a binary file, not text"):
        decode_source(b"format\0", "layout.yaml")


def test_not_utf_8() -> None:
    with pytest.raises(UnusableError) as caught:
        decode_source(WHOLE.encode() + b"title: \xe9\n", "layout.yaml")
    assert str(caught.value) == "layout.yaml:4:8: this is not UTF-8 text; save the file as UTF-8"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_byte_order_mark(end: str, mark: bytes) -> None:
    text = (HEAD + "joints: [{from: a, to: z}]\n").replace("\n", end)
    with pytest.raises(UnusableError) as caught:
        read_layout(decode_source(mark + text.encode(), "layout.yaml"))
    (fault,) = caught.value.faults
    assert (fault.span.line, fault.span.column) == (10, 24)


def test_byte_order_mark_does_not_shift_the_first_line() -> None:
    with pytest.raises(UnusableError) as caught:
        read_layout(decode_source(b"\xef\xbb\xbfformat: x\n" + (SUPPLIES + TRACK).encode(), "layout.yaml"))
    assert caught.value.faults[0].span[1:3] == (1, 9)


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO((WHOLE + "use: kinds.yaml\n").encode())))
    with pytest.raises(UnusableError) as caught:
        read_layout(read_source("-"))
    assert str(caught.value) == (
        "<stdin>:4:6: a layout without a file of its own has no folder to use files from; save it as a file first"
    )


@pytest.mark.parametrize("name", ["on", "off", "no", "1", "007", "12:30", "null", "~", "true", "a b", "é", "1e3"])
def test_any_text_is_a_name(name: str) -> None:
    layout = read(FORMAT + SUPPLIES + f"track: {{'{name}': }}\n" + f"feeds: [{{to: '{name}'}}]\n")
    assert list(layout.pieces) == [name]
    assert layout.feeds[0].wires == (("main.A", f"{name}.left"), ("main.B", f"{name}.right"))


def test_plain_words_are_names_too() -> None:
    layout = read(FORMAT + SUPPLIES + "track: {on: , no: , 007: , 12:30: , 1.5e3x: }\n".replace(", 1.5e3x: ", ""))
    assert list(layout.pieces) == ["on", "no", "007", "12:30"]


def test_all_faults_at_once() -> None:
    text = HEAD + "joints: [{from: a, to: z}]\nfeeds: [{to: y}]\nmachines: {M1: {throws: [x]}}\nrail: code\n"
    assert [fault.split(" ")[0] for fault in faults(text)] == ["10:24", "11:14", "12:26", "13:7"]


def test_one_fault_for_a_piece_without_kind_however_often_it_is_named() -> None:
    text = """\
  K: {kind: nonsense}
  "K.2": {kind: live-frog, hand: left}
machines: {M1: {throws: [{T1: diverging}, T2], contacts: {f: {common: K.frog}}}, M2: {throws: [K]}}
joints: [{from: K.a, to: T1.toe}, {from: K.2.toe, to: a}]
feeds: [{to: K}, {to: [K, K.2]}]
never: [{K: a, M2: b}]
expect: [{track: K, is: live}]
boards: {east: [K]}
frog-units: {u: {feeds: K.frog}}
reversers: {R1: {follows: M2, straight: [x]}}
switches: {S1: {follows: K, positions: [x, y]}}
wires: [{from: K.left, to: a.left}]"""
    first, second = added_faults(text)
    assert first.startswith("10:13 there is no kind 'nonsense'")
    assert second == "11:3 the name 'K.2' has a dot, which parts a piece from its rail; write 'K-2'"


def test_thousands_of_faults_take_no_time() -> None:
    """Four times the faults take about four times as long; twelve times would be nearly as their square."""
    took = []
    for number in (500, 2000):
        text = HEAD + "joints:\n" + "".join(f"  - {{from: north{i}.b, to: south{i}.a}}\n" for i in range(number))
        text += "wires:\n" + "".join(f"  - {{from: TB{i}.1, to: strip{i}.7}}\n" for i in range(number))
        started = time.process_time()
        assert len(faults(text)) == 2 * number
        took.append(time.process_time() - started)
    assert took[1] < 12 * took[0], took


# -- use


KIND_LESS = "kinds: 1\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inner = tmp_path / "layout"
    inner.mkdir()
    (tmp_path / "outside.yaml").write_text(KIND_LESS)
    (inner / "link.yaml").symlink_to(tmp_path / "outside.yaml")
    (inner / "parts").mkdir()
    (inner / "binary.yaml").write_bytes(b"a\0b")
    return inner


USES: list[tuple[str, str]] = [
    (
        "../outside.yaml",
        "4:6: '../outside.yaml' leads out of the folder of the layout; name a file in the folder of the layout or below it",
    ),
    (
        "parts/../../outside.yaml",
        "4:6: 'parts/../../outside.yaml' leads out of the folder of the layout; "
        "name a file in the folder of the layout or below it",
    ),
    (
        "/etc/passwd",
        "4:6: '/etc/passwd' is an absolute path; name a file in the folder of the layout or below it",
    ),
    (
        "'C:\\kinds.yaml'",
        "4:6: 'C:\\kinds.yaml' is an absolute path; name a file in the folder of the layout or below it",
    ),
    (
        "link.yaml",
        "4:6: 'link.yaml' is a link out of the folder of the layout; "
        "name a file in the folder of the layout or below it",
    ),
    ("none.yaml", "4:6: 'none.yaml' is not there; name a file in the folder of the layout or below it"),
    ("parts", "4:6: 'parts' is a folder; name the files in it"),
    ("['']", "4:7: no file is named here; write its name, as in 'kinds.yaml'"),
    ("{a: b}", "4:6: the name of a file of kinds is due here, not a mapping"),
]


@pytest.mark.parametrize(("use", "expected"), USES)
def test_use(folder: Path, use: str, expected: str) -> None:
    with pytest.raises(UnusableError) as caught:
        read_layout(Source("layout.yaml", WHOLE + f"use: {use}\n"), folder)
    assert str(caught.value) == f"layout.yaml:{expected}"


def test_use_of_a_binary_file(folder: Path) -> None:
    with pytest.raises(UnusableError) as caught:
        read_layout(Source("layout.yaml", WHOLE + "use: [binary.yaml]\n"), folder)
    assert str(caught.value).startswith("binary.yaml:1:1: this is a binary file")


def test_use_of_a_kind(folder: Path) -> None:
    own = Path(__file__).parents[3] / "parts" / "track" / "rail-section.yaml"
    text = own.read_text().replace("rail-section", "my-section")
    (folder / "parts" / "my-section.yaml").write_text(text)
    layout = read_layout(
        Source("layout.yaml", FORMAT + SUPPLIES + "use: parts/my-section.yaml\ntrack: {a: {kind: my-section}}\n"),
        folder,
    )
    assert layout.pieces["a"].kind.name == "my-section"
    assert layout.pieces["a"].kind.plain


def test_no_word_of_kinds_from_a_file_that_cannot_be_used(folder: Path) -> None:
    text = FORMAT + SUPPLIES + "use: mine.yaml\ntrack: {a: {kind: mine}}\nfeeds: [{to: a}]\n"
    with pytest.raises(UnusableError) as caught:
        read_layout(Source("layout.yaml", text), folder)
    assert [fault.span.line for fault in caught.value.faults] == [3]


def test_faults_in_a_file_of_kinds_are_placed_there(folder: Path) -> None:
    (folder / "mine.yaml").write_text(KIND_LESS)
    text = FORMAT + SUPPLIES + "use: mine.yaml\ntrack: {a: {kind: mine}}\n"
    with pytest.raises(UnusableError) as caught:
        read_layout(Source("plans/layout.yaml", text), folder)
    assert {fault.span.file for fault in caught.value.faults} == {"plans/mine.yaml"}

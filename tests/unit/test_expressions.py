"""The reader of symbolic expressions against sexpdata and kinparse, which know nothing of us."""

from __future__ import annotations

from random import Random

import kinparse
import pytest
import sexpdata

import netlister
from netlister import expressions
from netlister.circuit.build import build
from netlister.expressions import List
from netlister.netlists import drawing
from netlister.skidl.netlist import kicad_netlist
from netlister.source import Source, UnusableError
from tests.properties.layouts import dump, random_layout
from tests.unit.netlists.drawn import drawn, siding


def plain(item):
    return [plain(inner) for inner in item.items] if isinstance(item, List) else item.text


def theirs(item):
    if isinstance(item, list):
        return [theirs(inner) for inner in item]
    return item.value() if isinstance(item, sexpdata.Symbol) else str(item)


def read(text):
    return expressions.read(Source("x.net", text))


def written(seed):
    return kicad_netlist(build(netlister.read_text(dump(random_layout(Random(seed))))))


@pytest.mark.parametrize("seed", range(6))
def test_the_same_lists_as_sexpdata(seed):
    text = written(seed)
    assert plain(read(text)) == theirs(sexpdata.loads(text, nil=None, true=None))
    assert plain(read(drawn(*siding()))) == theirs(sexpdata.loads(drawn(*siding()), nil=None, true=None))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of the library that reads
@pytest.mark.parametrize("seed", range(6))
def test_the_same_parts_and_nets_as_kinparse(seed):
    text = written(seed)
    found = drawing.read(Source("x.net", text))
    other = kinparse.parse_netlist(text)
    assert sorted(part.reference.text for part in found.parts) == sorted(part.ref for part in other.parts)
    nets = {
        name: sorted((part.reference.text, pin.name) for part, pin in pins) for name, (_, pins) in found.nets.items()
    }
    assert nets == {net.name: sorted((pin.ref, pin.num) for pin in net.pins) for net in other.nets if net.pins}


def test_every_text_stands_where_its_place_says():
    for text in (written(1), drawn(*siding())):
        lines = text.split("\n")
        stack = [read(text)]
        while stack:
            item = stack.pop()
            span = item.span
            if isinstance(item, List):
                assert lines[span.line - 1][span.column - 1] == "("
                assert lines[span.end_line - 1][span.end_column - 2] == ")"
                stack += item.items
            elif span.line == span.end_line:
                here = lines[span.line - 1][span.column - 1 : span.end_column - 1]
                assert here == item.text or here[0] == here[-1] == '"'


def test_escapes():
    items = read(r'(a "\"b\" \\ \n" c"d e")').items[1:]
    assert [item.text for item in items] == ['"b" \\ \n', "c", "d e"]
    assert plain(read('(a"b"(c))')) == ["a", "b", ["c"]]


@pytest.mark.parametrize(
    ("text", "line", "column", "message"),
    [
        ("(a\n (b", 2, 2, "this '(' is not closed"),
        ("(a))", 1, 4, "the netlist ends before this"),
        ("(a) b", 1, 5, "the netlist ends before this"),
        (' (a "b\n)', 1, 5, "this text is not closed"),
        (")", 1, 1, "this ')' closes nothing"),
        ("a (b)", 1, 1, "a netlist begins with '(export'"),
        ("", 1, 1, "there is no netlist"),
        ("(" * 100_000, 1, expressions.DEEPEST + 1, "brackets are nested more than"),
    ],
)
def test_faults(text, line, column, message):
    with pytest.raises(UnusableError) as caught:
        read(text)
    (fault,) = caught.value.faults
    assert (fault.span.line, fault.span.column) == (line, column)
    assert fault.message.startswith(message)


def test_all_line_ends():
    for end in ("\n", "\r\n", "\r"):
        whole = read(f"(a{end}b{end} c)")
        assert [item.span.line for item in whole.items] == [1, 2, 3]


def test_texts_cut_off_anywhere_are_told_and_do_not_crash():
    text = drawn(*siding())
    for end in range(1, len(text) - 2, 97):
        with pytest.raises(UnusableError):
            netlister.read_text(text[:end], "x.net")


def test_random_bytes_of_a_netlist_changed_never_crash():
    rng = Random(7)
    text = drawn(*siding())
    usable = 0
    for _ in range(300):
        where = rng.randrange(len(text))
        changed = text[:where] + rng.choice('()"\\ a1.\n') + text[where + rng.randrange(3) :]
        try:
            netlister.check_text(changed, "x.net")
            usable += 1
        except UnusableError as error:
            assert error.faults
    assert usable

"""The library of kinds, and what a user's own file of kinds must be."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netlister.kinds import KindError, Takes, library, load
from netlister.kinds.find import files
from netlister.kinds.model import End
from netlister.outputs import kind_text
from netlister.source import Source, UnusableError

OWN = """kind: quay-switch
title: Switch on the quay
summary: A turnout with a sprung blade.
hands:
  left: {R: through, L: diverging}
  right: {L: through, R: diverging}
rails: [near, far, frog]
ends:
  toe: {entering: true, left: near, right: far}
  L: {entering: false, left: near, right: frog}
  R: {entering: false, left: frog, right: far}
options:
  sprung: {what: a spring, values: [soft, hard], bonds: {hard: [[frog, near]]}}
bars: {"": [L, R]}
contacts:
  - {when: {"": L}, join: [frog, far]}
  - {when: {"": R}, join: [frog, near]}
routes:
  L: {ends: [toe, L], when: {"": L}, left: [near], right: [far, dead, frog]}
  R: {ends: [toe, R], when: {"": R}, left: [near, frog], right: [far]}
notes: {why: It is sprung.}
dimensions:
  lead: {value: 70 mm, frog-numbers: {5: 70 mm}, what: blades to frog, source: our drawing, status: read}
dead-lengths:
  nose: {value: 8 mm, what: plastic, source: our drawing}
draw: {toe: [0, 0], L: [1, 0.2], R: [1, -0.2]}
"""


def own(text=OWN):
    return library(extra=[Source("quay.yaml", text)])


# -- the library


def test_names_are_sorted_and_need_no_reading(monkeypatch):
    def refuse(*_):
        raise AssertionError

    monkeypatch.setattr(load, "read_definitions", refuse)
    assert library().names() == sorted(files())


def test_only_the_kind_asked_for_is_read(monkeypatch):
    read = []
    real = load.read_definitions
    monkeypatch.setattr(load, "read_definitions", lambda source, **a: read.append(source.name) or real(source, **a))
    known = library()
    known.kind("live-frog", "left")
    known.kind("live-frog", "wye")
    known.takes("live-frog")
    assert read == ["live-frog.yaml"]


def test_a_kind_is_made_once():
    known = library()
    assert known.kind("live-frog", "left") is known.kind("live-frog", "left")
    assert known.kind("live-frog", "left") is not known.kind("live-frog", "right")


@pytest.mark.parametrize(
    ("name", "takes"),
    [
        ("rail-section", Takes((), {}, 0, crossing=False)),
        (
            "insulated-frog",
            Takes(
                ("left", "right", "wye"),
                {"curved": ("true", "false"), "jumpers": ("true", "false")},
                1,
                crossing=False,
            ),
        ),
        ("double-slip-live", Takes((), {}, 2, crossing=False)),
        ("diamond-live", Takes((), {}, 0, crossing=True)),
    ],
)
def test_takes(name, takes):
    assert library().takes(name) == takes


def test_only_the_isolated_frog_may_stay_without_a_pole():
    known = library()
    mild = [name for name in known.names() if known.definition(name).floating == "warning"]
    assert mild == [
        "double-slip-isolated-metal",
        "isolated-metal-frog",
        "single-slip-isolated-metal",
        "three-way-isolated-metal",
    ]


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (("live-frgo",), "there is no kind 'live-frgo'; did you mean 'live-frog'?; 'netlister kinds' lists them"),
        (("live-frog",), "'live-frog' needs a hand; write 'hand: left' or 'hand: right' or 'hand: wye'"),
        (("live-frog", "rigth"), "there is no hand 'rigth'; did you mean 'right'?; write 'hand: left' or"),
        (("rail-section", "left"), "'rail-section' has no hand; leave 'hand' out"),
        (("insulated-frog", "left", (("jumper", "true"),)), "'jumper=true'; did you mean 'jumpers=true'?"),
        (("diamond-live", "", (("jumpers", "true"),)), "does not take 'jumpers=true'; it takes no options"),
        (("live-frog", "wye", (("curved", "true"),)), "'curved: true' is for 'hand: left' or 'hand: right', not for"),
        (("turntable", "", (("roads", "99"),)), "takes a whole number from 1 to 48 as 'roads', not '99'"),
        (("insulated-frog", "wye", (("jumpers", "true"), ("jumpers", "false"))), "'jumpers' is given more than once"),
    ],
)
def test_what_there_is_not(asked, message):
    with pytest.raises(KindError) as caught:
        library().kind(*asked)
    assert message in str(caught.value)
    assert str(caught.value)[0] in "'abcdefghijklmnopqrstuvwxyz"


def test_a_folder_of_kinds_takes_the_place_of_ours(tmp_path):
    (tmp_path / "quay-switch.yaml").write_text(OWN)
    known = library(tmp_path)
    assert known.names() == ["quay-switch"]
    assert known.kind("quay-switch", "left").hand == "left"


def test_a_file_is_named_as_its_kind(tmp_path):
    (tmp_path / "pier-switch.yaml").write_text(OWN)
    with pytest.raises(UnusableError, match="the file is named 'pier-switch' and must hold that one kind"):
        library(tmp_path).kind("pier-switch", "left")


# -- a user's own file


def test_all_of_a_kind_of_ones_own():
    known = own()
    kind = known.kind("quay-switch", "left", (("sprung", "hard"),))
    assert kind.ends == {
        "toe": End("toe", True, "near", "far"),
        "diverging": End("diverging", False, "near", "frog"),
        "through": End("through", False, "frog", "far"),
    }
    assert [tuple(bar) for bar in kind.bars] == [("", ("through", "diverging"))]
    assert kind.bonds == (("frog", "near"),)
    assert [tuple(made) for made in kind.made] == [
        ((("", "diverging"),), ("frog", "far")),
        ((("", "through"),), ("frog", "near")),
    ]
    assert [(r.name, r.ends, r.left, r.right) for r in kind.routes] == [
        ("through", ("toe", "through"), ("near", "frog"), ("far",)),
        ("diverging", ("toe", "diverging"), ("near",), ("far", None, "frog")),
    ]
    found = known.definition("quay-switch")
    assert found.dimensions["lead"].by_number == {5: 0.07}
    assert found.dead["nose"][:2] == (0.008, "8 mm")
    page = kind_text.kind_page(known, "quay-switch", "left")
    assert "common to frog, through to near, diverging to far" in page
    assert "our drawing  read" in page


def test_several_kinds_in_one_file():
    entries = "".join(
        f"- {{kind: k{n}, title: t, summary: s., rails: [l, r], ends: {{a: {{entering: true, left: l, right: r}}, "
        f"b: {{left: l, right: r}}}}, routes: {{a-b: {{ends: [a, b], left: [l], right: [r]}}}}}}\n"
        for n in (1, 2)
    )
    assert {"k1", "k2"} <= set(own(f"kinds:\n{entries}").names())
    with pytest.raises(UnusableError, match=r"quay\.yaml:3:10: there is a kind 'k1' already; give yours another name"):
        own(f"kinds:\n{entries.replace('k2', 'k1')}")


def test_a_track_end_has_one_end_and_no_route():
    text = "kind: stop\ntitle: Track end\nsummary: Two rails that end.\nrails: [l, r]\n"
    text += "ends: {a: {entering: true, left: l, right: r}}\nroutes: {}\n"
    assert list(own(text).kind("stop").ends) == ["a"]


def test_two_files_must_not_share_a_name():
    with pytest.raises(UnusableError, match=r"b\.yaml:1:7: there is a kind 'quay-switch' already"):
        library(extra=[Source("a.yaml", OWN), Source("b.yaml", OWN)])


def test_the_faults_of_all_files_are_told_at_once():
    wrong = OWN.replace("title:", "titel:")
    with pytest.raises(UnusableError) as caught:
        library(extra=[Source("a.yaml", wrong), Source("b.yaml", wrong.replace("quay-switch", "pier-switch"))])
    assert {fault.span.file for fault in caught.value.faults} == {"a.yaml", "b.yaml"}


FAULTS = [
    # what is written, what instead, line, message
    ("kind: quay-switch", "kind: quay.switch", 1, "the name of a kind is a word without dots"),
    ("kind: quay-switch", "kind: live-frog", 1, "there is a kind 'live-frog' already; give yours another name"),
    ("title: Switch on the quay\n", "", 1, "the kind has no 'title'; add it"),
    ("rails: [near", "rials: [near", 7, "a kind has no 'rials'; did you mean 'rails'?"),
    ("rails: [near, far, frog]", "rails: [near, far, frog, far]", 7, "'far' is here a second time"),
    ("rails: [near, far, frog]", "rails: [near, far, frog, f.r]", 7, "'f.r' is no name; write a word without dots"),
    ("rails: [near, far, frog]", "rails: [near, far, frog, dead]", 7, "'dead' stands for a dead length"),
    ("rails: [near, far, frog]", "rails: [near, far, frog, spare]", 7, "nothing uses the rail 'spare'; leave it out"),
    ("  right: {L: through", "  rihgt: {L: through", 6, "there is no hand 'rihgt'; write one of right, left, wye"),
    ("right: {L: through, R: diverging}", "right: {}", 6, "the hand 'right' needs names for its ends"),
    ("right: {L: through, R: diverging}", "right: {L: through}", 6, "all hands must name the same ends"),
    ("right: {L: through, R: diverging}", "right: {L: out, R: out}", 6, "two ends are called 'out'"),
    ("right: {L: through, R: diverging}", "right: {L: toe, R: out}", 6, "two ends are called 'toe'"),
    ("right: {L: through, R: diverging}", "right: {l: through, R: diverging}", 6, "there is no end 'l'"),
    ("right: {L: through, R: diverging}", "right: {L: a.b, R: diverging}", 6, "'a.b' is no name"),
    ("L: {entering: false, left: near,", "L: {entering: no, left: near,", 10, "there is no value 'no'"),
    (
        "L: {entering: false, left: near,",
        "L: {entering: false, left: nera,",
        10,
        "no rail 'nera'; did you mean 'near'?",
    ),
    (
        "L: {entering: false, left: near,",
        "L: {entering: false, left: frog,",
        10,
        "the end 'L' has 'frog' on both sides",
    ),
    ("L: {entering: false, left: near,", "L: {entering: false,", 10, "the end 'L' needs its rails"),
    ("  toe: {entering: true,", "  toe: {entering: false,", 19, "must run from an entering end to a leaving one"),
    ("sprung: {what", "length: {what", 13, "'length' is a field of every piece already"),
    ("values: [soft, hard], ", "", 13, "the option 'sprung' needs its values"),
    ("bonds: {hard:", "bonds: {hrad:", 13, "the option has no value 'hrad'; did you mean 'hard'?"),
    ("[[frog, near]]", "[[frog]]", 13, "two rails are due here"),
    ("[[frog, near]]", "[[frog, frog]]", 13, "'frog' is joined to itself; name two rails"),
    ('bars: {"": [L, R]}', 'bars: {"": [L]}', 14, "a tie bar needs two positions or more"),
    ('bars: {"": [L, R]}', 'bars: {"": [L, R, L]}', 14, "each with a name of its own"),
    ('bars: {"": [L, R]}', "bars: {a: [L, R]}", 14, "a piece with one tie bar has no name for it"),
    ('bars: {"": [L, R]}', 'bars: {"": [L, R], b: [L, R]}', 14, "where there are several tie bars each needs a name"),
    ('{when: {"": L}, join', '{when: {"": l}, join', 16, "there is no position 'l'"),
    ('{when: {"": L}, join', "{when: {b: L}, join", 16, "there is no tie bar 'b'"),
    ("join: [frog, far]", "jion: [frog, far]", 16, "there is no 'jion' in a contact; did you mean 'join'?"),
    ("ends: [toe, L]", "ends: [toe]", 19, "a route has two ends"),
    ("ends: [toe, L]", "ends: [tow, L]", 19, "there is no end 'tow'; did you mean 'toe'?"),
    ("ends: [toe, L]", "ends: [toe, R]", 10, "no route leads to the end 'L'; add one"),
    ("right: [far, dead, frog]", "right: [dead]", 19, "a wheel path needs a rail"),
    ("right: [far, dead, frog]", "right: [far, dead]", 19, "begins on 'far' and ends on 'frog'"),
    ("left: [near, frog]", "left: [frog, near]", 20, "begins on 'near' and ends on 'frog'"),
    ("notes: {why", "notes: {wyh", 21, "there is no 'wyh' in the notes; did you mean 'why'?"),
    ("value: 70 mm", "value: 70", 23, "'lead'"),
    ("value: 70 mm", "value: 70 ohm", 23, "'lead'"),
    ("status: read", "status: guessed", 23, "there is no status 'guessed'"),
    ("{5: 70 mm}", "{five: 70 mm}", 23, "a frog number is due here"),
    (", source: our drawing}", "}", 25, "'nose' needs 'value' with a unit, 'what' it is of, and 'source'"),
    ("L: [1, 0.2]", "L: [1]", 26, "an anchor is two numbers"),
    ("L: [1, 0.2]", "L: [1, nan]", 26, "an anchor is two numbers"),
    (
        '{when: {"": L}, join',
        "{when: {}, join",
        16,
        "this contact is made in no position; write one, or a pair under 'bonds'",
    ),
    (
        '  - {when: {"": L}, join: [frog, far]}',
        '  - {when: {"": L}, join: [frog, far]}\n  - {when: {"": L}, join: [far, frog]}',
        17,
        "this contact is here a second time; leave it out",
    ),
    ("options:", "bonds: [[far, frog]]\noptions:", 17, "'far' and 'frog' are bonded, so no contact joins them"),
    (
        'when: {"": L}, left: [near]',
        'when: {"": R}, left: [near]',
        20,
        "the routes 'L' and 'R' leave 'toe' and are set at",
    ),
    (
        'when: {"": L}, left: [near]',
        "left: [near]",
        20,
        "the routes 'L' and 'R' leave 'toe' and are set at the same time",
    ),
    ('bars: {"": [L, R]}', "bars: [L, R]", 14, "each tie bar with its positions, as in '{\"\": [L, R]}', is due here"),
    ('bars: {"": [L, R]}', 'bars: {"": [L, R], b: [x, y]}', 14, "where there are several tie bars each needs a name"),
    ("rails: [near, far, frog]", "rails: near", 7, "each of the rails is due here, as a list"),
    ("title: Switch", "tilte: Switch", 2, "a kind has no 'tilte'; did you mean 'title'?"),
    ("title: Switch", "qqq: Switch", 2, "a kind has no 'qqq'; the keys are kind, title, summary"),
    (
        "kind: quay-switch",
        "kinds: []\nkind: quay-switch",
        1,
        "'kinds' stands alone in its file; leave the other keys out",
    ),
    ("kind: quay-switch", "plain: true\nkind: quay-switch", 1, "plain track has an entering end"),
]


@pytest.mark.parametrize(("old", "new", "line", "message"), FAULTS)
def test_faults(old, new, line, message):
    assert old in OWN
    with pytest.raises(UnusableError) as caught:
        own(OWN.replace(old, new, 1))
    told = [(fault.span.file, fault.span.line, fault.message) for fault in caught.value.faults]
    assert any(file == "quay.yaml" and at == line and message in text for file, at, text in told), told


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("kinds: []\n", ["1:1 'kinds' is empty; add a kind, or write one without 'kinds'"]),
        ("[a]\n", ["1:1 a kind is due here, as 'name: value' pairs"]),
        ("hello\n", ["1:1 a kind is due here, as 'name: value' pairs"]),
        ("kinds: [~]\n", ["1:9 a kind is due here, as 'name: value' pairs"]),
    ],
)
def test_what_is_no_kind_at_all_is_one_fault(text, expected):
    with pytest.raises(UnusableError) as caught:
        own(text)
    assert [f"{f.span.line}:{f.span.column} {f.message}" for f in caught.value.faults] == expected


def test_a_tie_bar_that_nothing_depends_on():
    text = OWN.replace('bars: {"": [L, R]}', "bars: {a: [L, R], b: [x, y]}").replace('{"": ', "{a: ")
    with pytest.raises(UnusableError, match=r"quay.yaml:14:19: nothing depends on the tie bar 'b'; leave it out"):
        own(text)


def test_a_list_of_rails_gone_wrong_is_one_fault_and_not_twenty():
    with pytest.raises(UnusableError) as caught:
        own(OWN.replace("rails: [near, far, frog]", "rails: near"))
    assert len(caught.value.faults) == 1


TABLE = """\
kind: pit
title: Pit
summary: A table in a pit.
rails: [table-left, table-right, t#-left, t#-right]
count: {option: roads, what: how many, least: 1, most: 9, default: 3}
ends:
  t#: {entering: true, left: t#-left, right: t#-right}
  end: {entering: false, left: table-left, right: table-right, gap: true}
options:
  lamp: {what: a lamp, values: [lit, dark], default: lit, choice: true}
bonds: [{join: [table-left, t#-left], with: {lamp: dark}}]
bars: {"": [at#, past#]}
contacts: [{when: {"": past#}, join: [table-right, t#-right], with: {lamp: lit}}]
sealed: [{rail: table-left, with: {lamp: dark}}]
routes:
  t#: {ends: [t#, end], when: {"": at#}, left: [t#-left, table-left], right: [t#-right, table-right], length: long, left-at: [1 mm], right-at: [1 mm]}
dimensions: {long: {value: 90 mm, what: all of it, source: our drawing, status: read}}
draw: {t#: {from: [0, 1], to: [0, -1]}, end: [1, 0]}
shapes: [{for: {lamp: dark}, dimensions: {long: {value: 80 mm, what: all of it, source: our drawing}}, draw: {end: [0.9, 0]}}]
"""


def table(text=TABLE):
    return library(extra=[Source("pit.yaml", text)])


def test_what_repeats_and_what_is_there_with_options():
    kind = table().kind("pit", "", (("roads", "2"),))
    assert kind.rails == ("table-left", "table-right", "t1-left", "t2-left", "t1-right", "t2-right")
    assert list(kind.ends) == ["t1", "t2", "end"]
    assert kind.bars[0].positions == ("at1", "at2", "past1", "past2")
    assert [tuple(made) for made in kind.made] == [
        ((("", "past1"),), ("table-right", "t1-right")),
        ((("", "past2"),), ("table-right", "t2-right")),
    ]
    assert [(r.name, r.ends, r.when, r.left) for r in kind.routes] == [
        (f"t{k}", (f"t{k}", "end"), (("", f"at{k}"),), (f"t{k}-left", "table-left")) for k in (1, 2)
    ]
    assert (kind.bonds, kind.sealed, kind.gaps) == ((), frozenset(), {"end"})
    assert kind.draw == {"t1": (0, 1), "t2": (0, -1), "end": (1, 0)}
    assert kind.dimensions["long"].metres == 0.09
    dark = table().kind("pit", "", (("lamp", "dark"),))
    assert dark.bonds == tuple(("table-left", f"t{k}-left") for k in (1, 2, 3))
    assert (dark.made, dark.sealed) == ((), {"table-left"})
    assert dark.dimensions["long"].metres == 0.08
    assert dark.draw["end"] == (0.9, 0)
    assert [dark.draw[f"t{k}"] for k in (1, 2, 3)] == [(0, 1), (0, 0), (0, -1)]
    assert table().takes("pit").number == ("roads", 1, 9, "")


TABLE_FAULTS = [
    ("least: 1,", "least: 0,", 5, "a count runs from 1 or more to 60 at most"),
    ("most: 9,", "most: 900,", 5, "a count runs from 1 or more to 60 at most"),
    ("default: 3}", "default: 30}", 5, "its default lies between"),
    ("least: 1,", "least: one,", 5, "'one' is no whole number; write one, as in '6'"),
    ("option: roads", "option: length", 5, "'length' is taken; give the count a name of its own"),
    ("option: roads", "option: lamp", 5, "'lamp' is taken; give the count a name of its own"),
    (", default: 3}", "}", 5, "a count needs 'option', 'least', 'most' and 'default'"),
    ("rails: [table-left,", "rails: [t7-left, table-left,", 1, "'t7-left' is one of those that 't#-left' stands for"),
    (
        '"": [at#, past#]}\ncontacts: [{when: {"": past#}',
        '"": [at#]}\ncontacts: [{when: {"": at#}',
        5,
        "a tie bar needs two positions or more; write 'least: 2'",
    ),
    ("gap: true", "gap: yes", 8, "there is no value 'yes'"),
    ("default: lit", "default: grey", 10, "there is no value 'grey'; write one of 'lit', 'dark'"),
    ("choice: true", "choice: maybe", 10, "there is no value 'maybe'"),
    ("with: {lamp: dark}}]\nbars", "with: {lamp: grey}}]\nbars", 11, "there is no value 'grey'"),
    ("with: {lamp: dark}}]\nbars", "with: {lmap: dark}}]\nbars", 11, "there is no option 'lmap'; did you mean 'lamp'?"),
    (", with: {lamp: dark}}]\nbars", "}]\nbars", 11, "a bond with options needs 'join' and 'with'"),
    ("with: {lamp: lit}", "with: {lamp: [lit]}", 13, "a value is due here, not a list"),
    ("rail: table-left, with", "rail: table, with", 14, "there is no rail 'table'; did you mean 'table-left'?"),
    ("rail: table-left, with", "with", 14, "a rail without a wire needs 'rail' and 'with'"),
    ("from: [0, 1], to", "from: [0], to", 18, "a row of anchors is for a name with '#'"),
    ("t#: {from", "end: {from", 18, "a row of anchors is for a name with '#'"),
    ("to: [0, -1]}", "to: [0, -1], radius: 2}", 18, "a row of anchors is for a name with '#'"),
    ("for: {lamp: dark}", "for: {lmap: dark}", 19, "there is no option 'lmap'; did you mean 'lamp'?"),
    ("for: {lamp: dark}, ", "", 19, "a shape needs 'for', as in 'for: {hand: wye}'"),
    ("{value: 80 mm", "{value: 0.5 mm", 16, "the places are out of order or beyond its ends"),
]


@pytest.mark.parametrize(("old", "new", "line", "message"), TABLE_FAULTS)
def test_faults_of_what_repeats_and_of_options(old, new, line, message):
    assert old in TABLE
    with pytest.raises(UnusableError) as caught:
        table(TABLE.replace(old, new, 1))
    told = [(fault.span.file, fault.span.line, fault.message) for fault in caught.value.faults]
    assert any(file == "pit.yaml" and at == line and message in text for file, at, text in told), told


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_whatever_repeats_is_used_or_refused_with_a_place(data):
    words = TABLE.split(" ")
    for _ in range(data.draw(st.integers(1, 3))):
        words[data.draw(st.integers(0, len(words) - 1))] = data.draw(PIECES | st.sampled_from(words))
    try:
        known = table(" ".join(words))
    except UnusableError as error:
        assert error.faults
        assert all(fault.span.line >= 1 and fault.message for fault in error.faults)
        return
    (name,) = set(known.names()) - set(files())
    for options in [(), *(((o, v),) for o, values in known.takes(name).options.items() for v in values)]:
        kind = known.kind(name, "", options)
        for route in kind.routes:
            assert (route.left[0], route.left[-1]) == tuple(kind.ends[end].left for end in route.ends)
        kind_text.kind_page(known, name, "", options)


PIECES = st.sampled_from(
    ["", "[]", "{}", "~", "nan", "x", "1 m", "[L, R]", "{L: R}", "toe", "frog", '"\\0"', "true", "- "]
)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_whatever_is_written_is_used_or_refused_with_a_place(data):
    words = OWN.split(" ")
    for _ in range(data.draw(st.integers(1, 3))):
        words[data.draw(st.integers(0, len(words) - 1))] = data.draw(PIECES | st.sampled_from(words))
    try:
        known = own(" ".join(words))
    except UnusableError as error:
        assert error.faults
        assert all(fault.span.line >= 1 and fault.message for fault in error.faults)
        return
    (name,) = set(known.names()) - set(files())
    for hand in known.takes(name).hands or ("",):
        kind = known.kind(name, hand)
        assert len(kind.ends) == len(known.definition(name).ends)
        for route in kind.routes:
            start, stop = (kind.ends[end] for end in route.ends)
            assert (route.left[0], route.right[0]) == (start.left, start.right)
            assert (route.left[-1], route.right[-1]) == (stop.left, stop.right)
        kind_text.kind_page(known, name, hand)

"""The words of all that a user can read: no false sentence, one word for one thing, cautions, and how far to trust numbers."""

from __future__ import annotations

import ast
import re
from functools import cache
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import yaml
from click.testing import CliRunner

from netlister.cli.main import group
from netlister.kinds import library
from netlister.outputs import glossary, kind_page, kind_text
from netlister.outputs.cautions import SUPPLIES
from netlister.outputs.drop import CAUTIONS
from netlister.report import page as report_page
from netlister.rules import RULES

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "netlister"
MANUAL = [p for p in sorted((PACKAGE / "manual").glob("*.md")) if p.stem not in {"glossary", "how-it-works"}]
NAMES = library(None).names()
NUMBERS = [
    PACKAGE / "volts" / "values.yaml",
    PACKAGE / "kinds" / "wheels.yaml",
    PACKAGE / "repairs" / "weights.yaml",
    PACKAGE / "probe" / "weights.yaml",
    *sorted((ROOT / "parts").glob("*/*.yaml")),
]
STATUSES = {"read", "second-hand", "derived", "from memory", "assumed", "common practice"}

# What version 0.1 said and what is not so, or cannot be understood; white space and case do not count.
FALSE = [
    "a short by itself unless one rail is cut in front of it",
    "Insulate one rail in front of it, the left or the right",
    "insulate one rail in front of it",
    "through the rail that is not insulated it has that rail's pole",
    "Never join the outputs of two supplies",
    "the plastic, taken to be as long as the whole frog",
    "Dimensions that count where the layout gives none",
    "greatest width of the flangeways but for the tolerance",
    "by how much the greatest span over an open blade is cut down",
    "A track opposite the one that suited the split, the same",
    "Measure with the supply unplugged",
    "has power only while turnouts and switches stand for it",
    "have power only while turnouts and switches stand for it",
    "feed what has no pole, or make the two rails the two poles of one supply",
    "which no one supply owns",
    "make both sides of the gap the same pole",
    "the one beside it or the other of its track', ",
    "make it 'links: cut', on the piece itself and then in the file",
    "metal buffer: makes a short",
    "insulate rails so that fewer turnouts touch one another",
    "joiners in a row, at the least",
    "left-hand pick-ups",
    "right-hand pick-ups",
    "bears 3 A for good",
    "through before it trips",
    "in one position of everything, the hungriest",
    "so that shorts seem stronger than they are",
    "a train that runs against a turnout joins",
    "while the blades of 'T1' still touch as at",
    "sits in the other rail than the rest",
    "with no section to change over",
    "is chosen for by the tie bar",
    "things to look at",
    "How long the wire stands the current of a short",
    "Nothing is lit",
    "All as they open",
    "to reckon with",
    "mover by mover",
    "or poles of supplies of different types.",
    "a short for good",
    "None for itself",
    "is lit",
    "as 'set' says",
    "feeders more",
    "A route that is never used while the gap clashes",
]

# Names of a glossary's entry that may stand in texts: plain English, keys of the format, or the same word made longer.
ORDINARY = {
    *("booster", "controller", "crossing", "drop", "in step", "isolated", "module", "phase", "point", "points", "tie"),
    *("polarity", "toggle", "vee", "changeover", "common rail", "command station", "programming track", "dead frog"),
    *("buffer stop", "diamond crossing", "plastic frog", "insulated joiner", "rail joiner", "rail joint"),
    *("power district", "switch machine", "short circuit"),
}
SPELT_OTHERWISE = [
    *("change-over", "change over contact", "catch turnout", "feeder drop", "feeder wire", "drop feeder", "tie-bar"),
    *("auto reverser", "polarity unit", "powered rail", "pick up wheel", "pickup", "stock-rail"),
    *("center", "color", "behavior"),
]


def strings(path: Path) -> str:
    """All texts of a module but for docstrings; the fixed parts of a text with names in it are joined by a blank."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    aside = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
    }
    whole = []
    inner = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            inner |= {id(part) for part in node.values}
            whole.append("".join(str(p.value) if isinstance(p, ast.Constant) else "…" for p in node.values))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and not {id(node)} & (aside | inner):
            whole.append(node.value)
    return "\n".join(whole)


@cache
def texts() -> dict[str, str]:
    """Every text that a user can get, by where it comes from."""
    found = {str(p.relative_to(ROOT)): strings(p) for p in sorted(PACKAGE.rglob("*.py")) if p.stem != "glossary"}
    files = [*PACKAGE.rglob("*.yaml"), *(ROOT / "parts").rglob("*.yaml"), *(PACKAGE / "report").glob("*.js")]
    files += [
        ROOT / "README.md",
        *(ROOT / "examples").rglob("*.md"),
        *MANUAL,
        *(ROOT / "examples").rglob("expected/*.txt"),
    ]
    found |= {str(p.relative_to(ROOT)): p.read_text(encoding="utf-8") for p in files}
    found |= {f"explain {rule.name}": rule.document for rule in RULES}
    found |= {f"kinds {name} {hand} {option}": page for name, hand, option, page in pages()}
    return found


@cache
def pages() -> list[tuple[str, str, str, str]]:
    """The page of every kind, for every hand and every value of its options: kind, hand, option, text."""
    known = library(None)
    found = []
    for name in NAMES:
        kind = known.definition(name)
        notes = [("", "")] + [(o, v) for o, (values, _) in kind.options.items() for v in values[:4]]
        for hand, (option, value) in product(kind.hands or ("",), notes):
            if option and kind.option_notes[option].hands and hand not in kind.option_notes[option].hands:
                continue
            pairs = ((option, value),) if option else ()
            found.append(
                (name, hand, f"{option}={value}" * bool(option), kind_text.kind_page(known, name, hand, pairs))
            )
    return found


@cache
def plain_texts() -> dict[str, str]:
    return {where: plain(text) for where, text in texts().items()}


def plain_yaml(path: Path) -> Any:
    """A file of YAML of which every scalar is its text."""
    return yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader)  # noqa: S506


def plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def test_texts_are_found():
    assert len(pages()) > 100
    assert len(texts()) > 250
    assert "no train can run on '…'" in texts()["netlister/rules/dead_track.py"]


@pytest.mark.parametrize("sentence", FALSE)
def test_what_was_false_is_said_nowhere(sentence):
    assert [where for where, text in plain_texts().items() if plain(sentence) in text] == []


def test_a_false_sentence_would_be_found():
    assert any(plain("Measure\nYours") in text for text in plain_texts().values())


# -- one word for one thing


def test_one_word_for_one_thing():
    own = {w.word.casefold() for w in glossary.WORDS}
    others = {n.strip() for w in glossary.WORDS for n in f"{w.america},{w.britain}".split(",")}
    others = {n for n in others if n.casefold() not in own} - ORDINARY
    assert {"fishplate", "check rail", "throw bar", "dropper", "point motor", "derail", "bumper"} <= others
    wanted = "|".join(sorted(map(re.escape, [*others, *SPELT_OTHERWISE])))
    words = re.compile(rf"(?<![\w-])(?:{wanted})s?(?![\w-])", re.IGNORECASE)
    found = {where: sorted({m[0] for m in words.finditer(prose(where, text))}) for where, text in texts().items()}
    assert {where: hits for where, hits in found.items() if hits} == {}


def prose(where: str, text: str) -> str:
    """A text without what is code: style sheets and drawings have spellings of their own."""
    if where.endswith((".js", ".py")):
        return re.sub(r"[.#\w-]*\bcolor\b|center", "", text)
    return text


def test_stall_is_a_train_on_dead_track():
    """Not a track at a turntable (a road), and of a motor only as the value of `type`."""
    for where, text in texts().items():
        assert re.search(r"\b(?:roundhouse|engine) stall|\bstall ?\d|\bstalls? of (?:the|a) turntable", text) is None, (
            where
        )
    assert "stall" not in " ".join(page for name, _, _, page in pages() if name == "turntable")
    keys = [
        where for where, text in texts().items() if re.search(r"\bstalls:|`stalls`", text) and not where.endswith(".js")
    ]
    assert set(keys) <= {"netlister/manual/format.md", "netlister/rules/reading.py", "explain old-word"}
    motors = [m[0] for text in texts().values() for m in re.finditer(r"\bstall motors?", text)]
    assert len(motors) <= 3  # where a motor that holds its blades is meant


# -- the glossary


def test_the_glossary_stands_in_the_manual():
    assert (ROOT / "netlister" / "manual" / "glossary.md").read_text(encoding="utf-8").endswith(glossary.table())


def test_every_entry_has_a_name_on_both_sides_and_a_meaning():
    words = [w.word for w in glossary.WORDS]
    assert len(set(words)) == len(words) > 50
    for word in glossary.WORDS:
        assert all(part.strip() for part in word)
        assert len({n.strip() for n in word.america.split(",")}) == len(word.america.split(","))
        assert len({n.strip() for n in word.britain.split(",")}) == len(word.britain.split(","))


@pytest.mark.parametrize("word", glossary.WORDS, ids=lambda word: word.word)
def test_explain_knows_every_name_of_every_word(word):
    for name in {word.word, *word.america.split(","), *word.britain.split(",")}:
        one = name.strip()
        for written in (one, one.upper(), one if one.endswith("s") else f"{one}s", one.replace(" ", "-")):
            text = glossary.explained(written)
            assert f"{word.word}: {word.meaning}\n" in text, written
            assert f"North America: {word.america}\n" in text
            assert f"Britain: {word.britain}\n" in text


def test_explain_on_the_command_line():
    run = CliRunner().invoke
    assert run(group, ["explain", "check", "rails"]).output.startswith("guard rail: ")
    assert "catch-turnout" in run(group, ["explain", "derail"]).output
    assert "catch-turnout" in run(group, ["explain", "trap points"]).output
    for word in ("hankie", "fishplte", "dead-trak"):
        wrong = run(group, ["explain", word])
        assert wrong.exit_code == 2
        assert f"there is no rule or word '{word}'" in wrong.output
    assert "did you mean 'fishplate'?" in run(group, ["explain", "fishplte"]).output
    assert "did you mean 'dead-track'?" in run(group, ["explain", "dead-trak"]).output
    assert "'netlister kinds turntable' shows it" in run(group, ["explain", "turntable"]).output
    both = run(group, ["explain", "stall"]).output
    assert both.index("type: stall") < both.index("# stall: ")


# -- numbers


@pytest.mark.parametrize("path", NUMBERS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_number_says_how_far_to_trust_it(path):
    bare = list(without_status(plain_yaml(path), "", told=False))
    assert bare == []


QUANTITY = re.compile(r"[\d.]+ (?:mm2?|m|in|mohm|ohm|mohm/m|A|V|%)|AWG \d+")
SHAPE = {"draw", "routes", "noses", "blades", "count", "sizes"}
"""No dimensions: where to draw, sums of dimensions, numbers of frogs and of things."""


def without_status(node: Any, path: str, *, told: bool) -> Iterator[str]:
    """Numbers with a unit that neither stand beside a status nor below one, and statuses that are none."""
    if isinstance(node, dict):
        status = node.get("status")
        if status is not None and status not in STATUSES:
            yield f"{path}: {status}"
        here = told or status is not None
        if {"value", "weight"} & node.keys() and not here:
            yield path
        for key, value in node.items():
            if key not in SHAPE and key not in {"what", "source", "gauge", "frog-numbers", "default"}:
                yield from without_status(value, f"{path}/{key}", told=here)
            elif key == "sizes" and "status" not in value:
                yield path + "/sizes"
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from without_status(value, f"{path}/{number}", told=told)
    elif not told and isinstance(node, str) and QUANTITY.fullmatch(node):
        yield f"{path}: {node}"


def test_a_number_without_a_status_is_seen():
    assert list(without_status({"a": {"value": "3 mm"}}, "", told=False)) == ["/a", "/a/value: 3 mm"]
    assert list(without_status({"a": {"low": "3 mohm", "status": "published"}}, "", told=False)) == ["/a: published"]


@pytest.mark.parametrize("name", NAMES)
def test_pages_of_kinds_do_not_mix_scales(name):
    """Lengths of a standard's sheet carry its gauge, and what is made of them for another gauge is called so."""
    raw = plain_yaml(next((ROOT / "parts").glob(f"*/{name}.yaml")))
    sizes = {**raw.get("dimensions", {}), **raw.get("dead-lengths", {})}
    of = {"RP-12.7": "9 mm", "S-3.2": "16.5 mm", "RP-25": "16.5 mm", "RP-15.1": "16.5 mm"}
    for key, row in sizes.items():
        for sheet, gauge in of.items():
            if sheet in row["source"]:
                assert row["gauge"] == gauge, key
        if row["status"] == "assumed":
            assert "measure yours" in row["what"] + row["source"], key
    text = kind_page.kind_page(library(None), name, "", ())
    gauges = {row["gauge"] for row in sizes.values() if "gauge" in row}
    for gauge in gauges:
        assert f"({gauge} gauge)" in " ".join(text.split())
    text = next(page for kind, _, _, page in pages() if kind == name)
    if "9 mm" in gauges:
        assert "in proportion (16.5 mm for 9 mm: x 1.83), assumed" in " ".join(text.split())
        assert re.search(r"9 mm gauge +16\.5 mm gauge\n", text)
        assert "(scaled)" in text


# -- safety


def test_the_supplies_are_kept_apart_wherever_they_are_spoken_of():
    for said in ("in parallel or in series", "whose outputs are isolated from each other", "winding of its own"):
        for text in (SUPPLIES, read("README.md"), " ".join(report_page.CAUTIONS), steps()):
            assert said in " ".join(text.split())
    common = next(line for line in read("netlister/manual/format.md").splitlines() if "| `common` | `cab1.B`" in line)
    assert "Only for outputs isolated from each other" in common
    assert any("mains" in text for text in CAUTIONS)
    assert any("burns" in text for text in CAUTIONS)


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def steps() -> str:
    result = CliRunner().invoke(group, ["steps", str(ROOT / "examples" / "one-frog" / "layout.yaml")])
    assert result.exit_code == 0
    return result.output


def test_the_order_of_work_has_the_usual_cautions():
    text = steps()
    for word in ("mains", "licensed", "local code", "solder", "burns", "unplugged"):
        assert word in text.casefold(), word


@pytest.mark.parametrize("name", NAMES)
def test_every_page_of_a_kind_ends_with_the_cautions(name):
    text = " ".join(next(page for kind, _, _, page in pages() if kind == name).split())
    assert "Do all beep tests with the supply unplugged" in text
    assert "mains" in text
    assert "Solder with the supply unplugged" in text
    assert "licensed" in kind_page.kind_page(library(None), name, "", ())

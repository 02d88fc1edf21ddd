"""The example with every kind of piece, and the one with a mistake for each kind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import netlister
from netlister.kinds.find import files

EXAMPLES = Path(__file__).parents[1] / "examples"
RIGHT = (EXAMPLES / "every-piece" / "layout.yaml").read_text(encoding="utf-8")
WRONG = (EXAMPLES / "every-piece-mistakes" / "layout.yaml").read_text(encoding="utf-8")
README = (EXAMPLES / "every-piece-mistakes" / "README.md").read_text(encoding="utf-8")
MISTAKES = re.findall(r"## `(.*?)`, (\S+)\n.*?```yaml\n(.*?)\n```\n\nbecomes\n\n```yaml\n(.*?)\n```", README, re.DOTALL)

# what a mistake made alone is told as, and the piece or the gear that it names
TOLD = {
    "live-frog": "the hidden links of 'Q1' are left in",
    "isolated-metal-frog": "the throws of contact 'frog' of 'MH2' are the wrong way round",
    "rerailer": "'guide' has no feed of its own",
    "expansion-joint": "'warm' is built with 'bonded: left'",
    "buffer": "the joint 'fish-far/fish-stop' is insulated",
    "rail-break": "ice-far.left has no feed",
    "track-end": "the joint 'ice-far/ice-end' is insulated",
    "buffer-metal": "the joint 'hoist/hoist-stop' is metal where it must be insulated",
    "catch-turnout": "'spoil' has a feed that it must not have",
    "live-frog-bonded": "the throws of contact 'frog' of 'MQ3' are the wrong way round",
    "insulated-frog": "'Q4' has no jumpers",
    "copper-clad-live-frog": "'Q5' is built with 'foil-frog-left: missed'",
    "single-blade-live": "Q6.frog has no contact to feed it",
    "double-slip-live": "the throws of contact 'far' of 'MX1a' are the wrong way round",
    "single-slip-live": "contact 'far' of 'MX2b': a2 is wired to X2.side-right",
    "double-slip-insulated": "the joint 'n3/X3.a1' is insulated where it must be metal",
    "single-slip-insulated": "the wires of the feed of 's5' are swapped",
    "double-slip-isolated-metal": "each frog of 'X5' moves with the wrong tie bar",
    "single-slip-isolated-metal": "contact 'far' of 'MX6a': b2 is wired to X6.side-left",
    "diamond-insulated": "the joint 'n7/D1.a1' is insulated where it must be metal",
    "diamond-live": "the throws of contact 'far' of 'K2' are the wrong way round",
    "diamond-guarded": "the guard rails of 'D3' are bonded to the wrong running rails",
    "scissors-live": "the throws of contact 'far' of 'MS1' are the wrong way round",
    "scissors-insulated": "the wires of the feed of 'n12' are swapped",
    "three-way-live": "the throws of contact 'frog' of 'MW1r' are the wrong way round",
    "three-way-insulated": "the wires of the feed of 'west1' are swapped",
    "three-way-isolated-metal": "the throws of contact 'centre' of 'MW3r' are the wrong way round",
    "rail-section": "east1.right has no feed wire",
    "turntable": "'TT' turns end for end and is fed straight from 'shed'",
    "traverser": "the wires of the feed of 'bay3' are swapped",
    "traverser-yard": "the wires of the feed of 'TY' are swapped",
}


def test_every_kind_is_in_it_and_has_a_mistake():
    layout = netlister.read_file(str(EXAMPLES / "every-piece" / "layout.yaml"))
    assert {piece.kind.name for piece in layout.pieces.values()} == set(files())
    assert [kind for kind, *_ in MISTAKES] == list(TOLD)
    assert set(TOLD) == set(files())
    assert len({wrong for _, _, wrong, _ in MISTAKES}) == len(MISTAKES)
    for _, piece, *_ in MISTAKES:
        assert piece in layout.pieces


def test_the_two_differ_in_the_mistakes_alone():
    text = WRONG
    for _, _, wrong, right in MISTAKES:
        assert text.count(wrong) == 1
        text = text.replace(wrong, right)
    assert text.split("format:", 1)[1] == RIGHT.split("format:", 1)[1]


@pytest.mark.parametrize(("kind", "piece", "wrong", "right"), MISTAKES, ids=[kind for kind, *_ in MISTAKES])
def test_each_mistake_alone_is_found_and_named(kind, piece, wrong, right):
    report = netlister.check_text(RIGHT.replace(right, wrong))
    assert report.findings
    told = [one.headline for cause in report.causes.values() for repair in cause.repairs for one in repair.choices]
    assert any(headline.startswith(TOLD[kind]) for headline in told), told
    parts = [part for finding in report.findings for part in finding.parts]
    assert piece in " ".join([*told, *(finding.message for finding in report.findings), *parts])


def test_all_together_each_mistake_has_a_heading_of_its_own():
    """A feed too many joins the poles of the turnout beside it: that it hides a crossed contact makes them no one cause."""
    report = netlister.check_text(WRONG)
    assert {finding.cause for finding in report.findings} == set(report.causes)
    assert [n for n, cause in report.causes.items() if len(cause.repairs[0].choices) > 1] == []
    told = {n: " ; ".join(r.choices[0].headline for r in cause.repairs) for n, cause in report.causes.items()}
    headed = {kind: [n for n, said in told.items() if headline in said] for kind, headline in TOLD.items()}
    assert [kind for kind, numbers in headed.items() if len(numbers) != 1] == []
    assert sorted(number for numbers in headed.values() for number in numbers) == sorted(told)


def test_all_together_each_piece_is_named():
    report = netlister.check_text(WRONG)
    about = " ".join(" ".join([f.message, f.subject, *f.parts, *f.path]) for f in report.findings)
    # the jumpers that Q4 lacks show on its legs
    pieces = [piece if piece != "Q4" else "oil" for _, piece, *_ in MISTAKES]
    assert [piece for piece in pieces if not re.search(rf"(?<![\w-]){piece}(?![\w-])", about)] == []

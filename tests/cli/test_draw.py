"""`netlister draw` and `netlister card` as users see them."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from netlister.cli.card import file_names
from netlister.cli.main import group

EXAMPLES = Path(__file__).parents[2] / "examples"
FERRY = str(EXAMPLES / "ferry" / "layout.yaml")


def _cairo():
    try:
        import cairosvg  # noqa: F401
    except (ImportError, OSError):  # it stands on the library libcairo
        return False
    return True


needs_cairo = pytest.mark.skipif(
    not _cairo() and "NETLISTER_CI" not in os.environ, reason="cairo is not installed; apt-get install libcairo2"
)


def run(*arguments):
    return CliRunner().invoke(group, list(arguments))


def test_a_plan_and_what_does_not_fit(tmp_path):
    out = tmp_path / "plan.svg"
    done = run("draw", FERRY, "-o", str(out), "--set", "M1=diverging")
    assert done.exit_code == 0
    assert done.stdout == ""
    assert "round/T2.left: laid as written the ends are 509 mm and 100 deg apart" in done.stderr
    text = out.read_text(encoding="utf-8")
    assert text.startswith("<svg ")
    assert "with M1 diverging, M2 left" in text
    assert run("draw", FERRY, "--set", "M1=diverging").stdout == text


@needs_cairo
@pytest.mark.parametrize(("form", "magic"), [("png", b"\x89PNG\r\n"), ("pdf", b"%PDF-")])
def test_png_and_pdf(tmp_path, form, magic):
    plan, card = tmp_path / f"plan.{form}", tmp_path / f"T1.{form}"
    assert run("draw", FERRY, "-o", str(plan)).exit_code == 0
    assert run("card", FERRY, "T1", "-o", str(card)).exit_code == 0
    assert plan.read_bytes().startswith(magic)
    assert card.read_bytes().startswith(magic)


@needs_cairo
def test_a_png_is_as_wide_as_a_screen_and_not_empty(tmp_path):
    plan = tmp_path / "plan.png"
    run("draw", FERRY, "-o", str(plan))
    data = plan.read_bytes()
    assert int.from_bytes(data[16:20]) == 1600  # the width in the IHDR chunk (ISO/IEC 15948)
    assert len(data) > 20_000


def test_without_the_library_it_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "cairosvg", None)
    out = tmp_path / "plan.pdf"
    done = run("draw", FERRY, "-o", str(out))
    assert done.exit_code == 1
    assert "for PDF install the extra: pip install 'netlister[pictures]'" in done.output
    assert not out.exists()


def test_cards_into_a_folder(tmp_path):
    done = run("card", FERRY, "-o", str(tmp_path / "cards"))
    assert done.exit_code == 0
    names = {p.name for p in (tmp_path / "cards").iterdir()}
    assert {"R1-1.svg", "T1-1.svg", "T1-2.svg", "T2-1.svg", "J1-1.svg", "TE-1.svg", "town-1.svg"} <= names
    assert f"cards written to {tmp_path / 'cards'}, {len(names)} files\n" in done.stderr


def test_one_card_to_standard_output():
    assert run("card", FERRY, "T1").stdout.startswith("<svg ")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("draw", FERRY, "-o", "plan.gif"), "'plan.gif' has no ending that says what to write"),
        (("draw", FERRY, "--set", "M9=through"), "there is no machine, turnout or switch 'M9'"),
        (("draw", FERRY, "--set", "M1"), "'M1' has no '='"),
        (("card", FERRY), "cards; name a folder for them"),
        (("card", FERRY, "quay"), "'quay' is plain track"),
        (("card", FERRY, "T9"), "there is no turnout, crossing, reverser or gear 'T9'"),
    ],
)
def test_mistakes_are_told(arguments, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run(*arguments)
    assert done.exit_code in {1, 2}
    assert message in " ".join(done.output.split())
    assert list(tmp_path.iterdir()) == []


def test_the_layout_is_not_written_over(tmp_path):
    path = tmp_path / "a.svg"
    path.write_text(Path(FERRY).read_text(encoding="utf-8"), encoding="utf-8")
    before = path.read_bytes()
    done = run("draw", str(path), "-o", str(path))
    assert done.exit_code == 2
    assert "is the layout itself" in " ".join(done.output.split())
    assert path.read_bytes() == before


def test_names_that_no_file_may_have_become_files_of_their_own():
    found = file_names(["T1", "t1", "../x", "a/b", "a:b", "", "."])
    assert len({name.casefold() for name in found.values()}) == len(found)
    assert not any("/" in name or name.startswith(".") or not name for name in found.values())


def test_plain_track_needs_no_card(tmp_path):
    path = tmp_path / "plain.yaml"
    path.write_text("format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\ntrack: {a: {length: 1 m}}\n")
    done = run("card", str(path), "-o", str(tmp_path / "cards"))
    assert done.exit_code == 1
    assert "nothing needs a card" in done.output
    assert not (tmp_path / "cards").exists()

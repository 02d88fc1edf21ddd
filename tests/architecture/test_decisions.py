"""Decisions: each has its parts, and the index has each. `pytest --update-expected` writes the index again."""

from __future__ import annotations

import re
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "netlister" / "manual" / "decisions"
FILES = sorted(path for path in FOLDER.glob("*.md") if path.name != "README.md")
PARTS = ("context", "decision", "consequences", "status")


def parts(text):
    """The parts of a decision by name."""
    found = re.split(r"^(?:\*{1,2})?(\w+)[^:*\n]*[.:]\*{0,2}[.:]? ", text, flags=re.MULTILINE)
    return {name.lower(): " ".join(body.split()) for name, body in zip(found[1::2], found[2::2], strict=True)}


def index():
    """A line for each decision, the newest first."""
    lines = ["# Decisions", "", "Context, decision, consequences and status; the newest first.", ""]
    for path in sorted(FILES, reverse=True):
        text = path.read_text(encoding="utf-8")
        title = re.sub(r"^\d{4}-\d\d-\d\d, ", "", text.splitlines()[0].removeprefix("# "))
        gone = parts(text)["status"].startswith("Superseded")
        lines.append(
            f"- [{title[0].upper()}{title[1:]}]({path.name}), {path.name[:10]}{'; superseded' if gone else ''}"
        )
    return "\n".join(lines) + "\n"


def test_each_has_its_parts():
    lacking = {}
    for path in FILES:
        known = parts(path.read_text(encoding="utf-8"))
        lacks = [part for part in PARTS if not any(name.startswith(part.rstrip("s")) for name in known)]
        if lacks:
            lacking[path.name] = lacks
    assert lacking == {}
    assert len(FILES) >= 52


def test_what_is_superseded_names_what_took_its_place():
    for path in FILES:
        for name in re.findall(r"Superseded by \[[^\]]*\]\(([^)]*)\)", path.read_text(encoding="utf-8")):
            assert (FOLDER / name).is_file(), path.name


def test_the_index_has_each(request):
    page = FOLDER / "README.md"
    if request.config.getoption("--update-expected"):
        page.write_text(index(), encoding="utf-8")
    assert page.read_text(encoding="utf-8") == index()


def test_developers_is_two_screens():
    lines = (FOLDER.parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 120

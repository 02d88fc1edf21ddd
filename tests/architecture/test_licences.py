"""The page of licences: complete, and what the packages say of themselves."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in (ROOT / "netlister/manual/licences.md").read_text(encoding="utf-8").splitlines()
    if re.match(r"\| [a-z-]+ \|", line) and line.count("|") == 5 and "what for" not in line
]


def brought():
    """Pairs of package and extra, of what is brought to a user."""
    for one in PROJECT["dependencies"]:
        yield re.match(r"[\w-]+", one)[0], "always"
    for extra, listed in PROJECT["optional-dependencies"].items():
        if extra not in {"all", "test", "develop"}:
            for one in listed:
                yield re.match(r"[\w-]+", one)[0], extra


def test_every_package_that_is_brought_is_listed():
    assert {(row[0], extra.strip("` ")) for row in ROWS for extra in row[1].split(",")} == set(brought())


def test_the_licences_are_what_the_packages_say():
    for package, _, _, licence in ROWS:
        said = metadata.metadata(package)
        words = [said.get("License-Expression") or said.get("License") or "", *(said.get_all("Classifier") or [])]
        short = licence.split("-")[0]
        assert any(re.search(rf"\b{short}", word) for word in words), (package, licence, words)


def test_packages_with_conditions_on_what_uses_them_are_told():
    """All that is brought along, as deep as it goes, as far as it is installed here."""
    page = (ROOT / "netlister/manual/licences.md").read_text(encoding="utf-8").casefold()
    waiting, seen, strict = [row[0] for row in ROWS], set(), set()
    while waiting:
        name = re.sub(r"[-_.]+", "-", waiting.pop()).casefold()
        try:
            said = metadata.metadata(name)
        except metadata.PackageNotFoundError:
            continue
        if name not in seen:
            seen.add(name)
            words = [
                said.get("License-Expression") or (said.get("License") or "")[:60],
                *said.get_all("Classifier", []),
            ]
            if any(re.search(r"GPL|MPL|EUPL|Mozilla", word) for word in words):
                strict.add(name)
            needs = (one for one in metadata.requires(name) or [] if "extra ==" not in one)
            waiting += [re.match(r"[\w.-]+", one)[0] for one in needs]
    assert len(seen) > len(ROWS)
    assert "inspice" in strict
    assert [name for name in sorted(strict) if f"| {name} |" not in page] == []


def test_the_version_is_written_in_one_place_and_the_changelog_knows_it():
    import netlister

    assert PROJECT["dynamic"] == ["version"]
    log = (ROOT / "netlister/manual/changelog.md").read_text(encoding="utf-8")
    heads = re.findall(r"^## (\d+\.\d+\.\d+)", log, re.MULTILINE)
    assert heads[0] == netlister.__version__
    assert heads == sorted(heads, key=lambda v: [int(n) for n in v.split(".")], reverse=True)

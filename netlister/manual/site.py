"""The manual as a site of plain files: read from a folder or a server, searched without one, nothing fetched.

Sphinx makes it (the extra `manual`). Names of rules, kinds and commands between backticks become links there; in the
sources they are none, since the pages that they lead to are made, not stored.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from netlister.manual.pages import FOLDER

if TYPE_CHECKING:
    from netlister.manual.pages import ManualPage

SETTINGS = """\
project = "netlister"
extensions = ["myst_parser"]
html_theme = "furo"
html_title = "netlister"
html_show_search_summary = False  # it would fetch the pages found, which a browser forbids in files
html_copy_source = False
html_show_sourcelink = False
html_show_copyright = False
html_last_updated_fmt = None
myst_heading_anchors = 4
smartquotes = False  # it would make one dash of the two before an option
"""
PARTS = (
    ("Begin", ("tutorial", "complaints", "turnouts")),
    ("Reference", ("format", "netlists", "commands", "glossary", "rules/index", "kinds/index")),
    ("In other programs", ("editors", "python", "functions")),
)

MADE = {"rules": "Rules", "kinds": "Kinds of track pieces"}
"""Folders of pages made of their source."""


class SiteError(Exception):
    """The site cannot be made; the text says why."""


def build_site(pages: list[ManualPage], folder: Path) -> Path:
    """Write the site into a folder that is empty, new or holds an older one; its first page.

    Raises SiteError where Sphinx is missing, where the folder holds something else, and where a link leads nowhere.
    """
    missing = [name for name in ("sphinx", "myst_parser", "furo") if find_spec(name) is None]
    if missing:
        message = f"the site needs Sphinx ({missing[0]} is not installed): pip install 'netlister[manual]'"
        raise SiteError(message)
    if folder.exists() and (
        not folder.is_dir() or (any(folder.iterdir()) and not (folder / "searchindex.js").exists())
    ):
        message = f"'{folder}' holds something else; name a new folder"
        raise SiteError(message)
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        write_sources(pages, work / "source")
        options = ("-q", "-W", "--keep-going", "-d", str(work / "trees"))
        done = subprocess.run(  # noqa: S603 - a program of ours, on files that we have written
            [sys.executable, "-m", "sphinx", *options, str(work / "source"), str(work / "site")],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            message = f"the site could not be made:\n{done.stderr.strip()}"
            raise SiteError(message)
        for left in (".buildinfo", "objects.inv"):
            (work / "site" / left).unlink(missing_ok=True)
        shutil.rmtree(folder, ignore_errors=True)
        shutil.move(work / "site", folder)
    return folder / "index.html"


def write_sources(pages: list[ManualPage], folder: Path) -> None:
    """What Sphinx reads: each page as a file, the lists of pages, the pictures and the settings."""
    links = _links(pages)
    for page in pages:
        path = folder / f"{page.name}.md"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(linked(page, links), encoding="utf-8")
    (folder / "conf.py").write_text(SETTINGS, encoding="utf-8")
    (folder / "index.md").write_text(_contents(pages, links), encoding="utf-8")
    for kind, title in MADE.items():
        names = [page.name.partition("/")[2] for page in pages if page.name.startswith(f"{kind}/")]
        if not names:
            continue
        text = f"# {title}\n\n```{{toctree}}\n:maxdepth: 1\n\n" + "\n".join(names) + "\n```\n"
        (folder / kind / "index.md").write_text(text, encoding="utf-8")
    shutil.copytree(FOLDER / "pictures", folder / "pictures")
    for notebook in FOLDER.glob("*.ipynb"):
        shutil.copy(notebook, folder)  # to be fetched from the page that names it


def linked(page: ManualPage, links: dict[str, str]) -> str:
    """The text of a page in which names between backticks lead to their pages."""
    up = "../" * page.name.count("/")
    lines, fenced = [], False
    for line in page.text.splitlines():
        fenced ^= line.startswith("```")
        lines.append(line if fenced or line.startswith(("#", "```")) else _linked(line, page, links, up))
    return "\n".join(lines) + "\n"


def _linked(line: str, page: ManualPage, links: dict[str, str], up: str) -> str:
    def link(found: re.Match[str]) -> str:
        words = found[1]
        target = links.get(words) or links.get(" ".join(words.split()[:2]) if words.startswith("netlister ") else "")
        if target is None or target.partition("#")[0] == f"{page.name}.md":
            return found[0]
        return f"[{found[0]}]({up}{target})"

    return re.sub(r"(?<!\[)`([^`\n]+)`(?!\])", link, line)


def _links(pages: list[ManualPage]) -> dict[str, str]:
    """Where a name between backticks leads."""
    found = {page.name.partition("/")[2]: f"{page.name}.md" for page in pages if "/" in page.name}
    commands = next(page for page in pages if page.name == "commands")
    names = re.findall(r"^## netlister (\S+)$", commands.text, re.MULTILINE)
    return found | {f"netlister {name}": f"commands.md#netlister-{name}" for name in names}


def _contents(pages: list[ManualPage], links: dict[str, str]) -> str:
    """The list of all pages, under the first one where it is among them."""
    known = {page.name for page in pages} | {
        f"{page.name.partition('/')[0]}/index" for page in pages if "/" in page.name
    }
    rest = [page.name for page in pages if "/" not in page.name and not any(page.name in names for _, names in PARTS)]
    lines = [next((linked(page, links) for page in pages if page.name == "index"), "# The manual\n")]
    for title, names in (*PARTS, ("More", [name for name in rest if name != "index"])):
        inside = "\n".join(name for name in names if name in known)
        if inside:
            lines.append(f"```{{toctree}}\n:maxdepth: 1\n:caption: {title}\n\n{inside}\n```\n")
    return "\n".join(lines)

"""The manual: every layout and command in it is run, every picture is up to date, every link leads somewhere.

In a page a block after `<!-- file NAME -->` is written as that file, or mended by `<!-- change NAME -->`: its lines
beginning with `-` become those beginning with `+`. A `console` block is run in the folder of these files; its output is
what stands below each command. `<!-- picture COMMAND -->` is a command that writes a picture of `pictures/`.
`pytest --update-expected` writes outputs and pictures again; read the difference before you keep it.
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

import netlister
from netlister.cli.main import group
from netlister.manual.pages import ManualPage, every_page, search, sections
from netlister.manual.site import SiteError, build_site

ROOT = Path(__file__).parents[1]
MANUAL = ROOT / "netlister" / "manual"
PAGES = sorted(MANUAL.glob("*.md"))
RUN = [page for page in PAGES if page.stem in {"tutorial", "complaints", "turnouts"}]
README = ROOT / "README.md"
STEP = re.compile(
    r"<!-- (?:(?P<how>file|change) (?P<file>\S+)|picture (?P<picture>[^\n]*?)) -->\n"
    r"(?:```\w+\n(?P<block>.*?)```)?|```console\n(?P<console>.*?)```",
    re.DOTALL,
)


def run(command):
    program, *words = shlex.split(command)
    assert program == "netlister"
    done = CliRunner().invoke(group, words)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.output
    return done.output


def changed(text, block):
    """A text in which the lines with `-` have become those with `+`."""
    old, new = ("".join(line[1:] for line in block.splitlines(True) if line[0] in marks) for marks in (" -", " +"))
    assert text.count(old) == 1, f"{text.count(old)} times in the layout:\n{old}"
    return text.replace(old, new)


def walk(text, update=False):
    """Do what a page does, in the current folder; its text with the outputs that came."""

    def step(found):
        if found["how"]:
            path = Path(found["file"])
            old = path.read_text(encoding="utf-8") if path.exists() else ""
            path.write_text(
                found["block"] if found["how"] == "file" else changed(old, found["block"]), encoding="utf-8"
            )
            return found[0]
        if found["picture"]:
            run(found["picture"])
            path = shlex.split(found["picture"])[-1]
            stored = MANUAL / "pictures" / path
            if update:
                stored.parent.mkdir(exist_ok=True)
                stored.write_bytes(Path(path).read_bytes())
            assert stored.read_bytes() == Path(path).read_bytes(), f"{path} is not up to date"
            return found[0]
        commands = re.findall(r"^\$ (.*)$", found["console"], re.MULTILINE)
        assert commands, found["console"]
        return "```console\n" + "".join(f"$ {command}\n{run(command)}" for command in commands) + "```"

    return STEP.sub(step, text)


@pytest.mark.parametrize("page", RUN, ids=lambda page: page.stem)
def test_what_a_page_says_is_what_comes(page, tmp_path, monkeypatch, request):
    monkeypatch.chdir(tmp_path)
    text = page.read_text(encoding="utf-8")
    update = request.config.getoption("--update-expected")
    came = walk(text, update)
    if update:
        page.write_text(came, encoding="utf-8")
    assert came == text or update


def test_a_wrong_output_is_seen(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = "```console\n$ netlister explain fishplate\nnothing\n```"
    assert walk(text) != text


@pytest.mark.parametrize("page", RUN, ids=lambda page: page.stem)
def test_every_layout_of_a_page_is_run(page):
    """None stands there without a name, by which it is checked."""
    text = page.read_text(encoding="utf-8")
    marks = re.findall(r"^(.*)\n```yaml\nformat:", text, re.MULTILINE)
    assert marks or page.stem == "complaints"
    for mark in marks:
        assert mark.startswith("<!-- file "), mark


TURNOUTS = re.findall(
    r"<!-- file (\S+) -->\n```yaml\n(.*?)```", (MANUAL / "turnouts.md").read_text(encoding="utf-8"), re.DOTALL
)


@pytest.mark.parametrize(("name", "text"), TURNOUTS, ids=[name for name, _ in TURNOUTS])
def test_turnouts_are_wired_right(name, text):
    report = netlister.check_text(text, name)
    assert report.proved
    assert report.findings == ()


def test_each_kind_whose_frogs_change_pole_is_wired_and_each_that_moves_is_named():
    from netlister.kinds import library
    from netlister.outputs.symbols import piece_kind

    known = library(None)
    kinds = {name: piece_kind(known, name) for name in known.names()}
    wired = {kind for _, text in TURNOUTS for kind in re.findall(r"kind: ([\w-]+)", text)}
    assert {name for name, kind in kinds.items() if any("frog" in rail for rail in kind.rails)} <= wired
    text = (MANUAL / "turnouts.md").read_text(encoding="utf-8")
    assert [name for name, kind in kinds.items() if kind.bladed and f"`{name}`" not in text and name not in wired] == []


# -- links


def anchors(text):
    """The anchors of the headings of a page, as they are made on every site that shows Markdown."""
    found = set()
    for line in re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE).splitlines():
        if re.match(r"#+ ", line):
            plain = re.sub(r"[^\w\- ]", "", line.lstrip("# ").casefold().replace("`", ""))
            found.add(plain.strip().replace(" ", "-"))
    return found


LINKED = [*PAGES, README, ROOT / "DEVELOPERS.md", *sorted(ROOT.glob("examples/*/README.md"))]


@pytest.mark.parametrize("page", LINKED, ids=lambda page: f"{page.parent.name}-{page.stem}")
def test_every_link_leads_somewhere(page):
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)\s]+)\)", re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE)):
        if target.startswith("https://"):
            continue
        name, _, anchor = target.partition("#")
        path = (page.parent / name).resolve() if name else page
        assert path.exists(), target
        if anchor:
            assert anchor in anchors(path.read_text(encoding="utf-8")), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_pages_lead_only_to_what_is_shipped_with_them(page):
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8")):
        assert target.startswith("https://") or MANUAL in (MANUAL / target).resolve().parents, target


# -- read on the terminal


def test_the_list_has_every_page_by_hand():
    text = CliRunner().invoke(group, ["manual"]).output
    for page in PAGES:
        assert re.search(rf"^{page.stem} +\S", text, re.MULTILINE), page.stem


def test_a_page_is_printed_as_it_is_written():
    done = CliRunner().invoke(group, ["manual", "complaints"])
    assert done.exit_code == 0
    assert done.output == (MANUAL / "complaints.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "begins"), [("dead-track", "# dead-track: A train"), ("turntable", "# turntable: ")])
def test_rules_and_kinds_are_pages(name, begins):
    assert CliRunner().invoke(group, ["manual", name]).output.startswith(begins)


def test_words_are_found_wherever_they_stand():
    done = CliRunner().invoke(group, ["manual", "trip-time"])
    assert "format: supplies and buses" in done.output
    pages = every_page(group)
    for section in search(pages, ["BREAKER", "district"]):
        text = f"{section.page.name} {section.page.title} {section.heading} {section.text}".casefold()
        assert "breaker" in text
        assert "district" in text


def test_what_is_nowhere_is_said():
    done = CliRunner().invoke(group, ["manual", "tutorail"])
    assert done.exit_code == 2
    assert "tutorial" in done.output


def test_a_page_is_the_sum_of_its_sections():
    for page in every_page(group):
        for line in page.text.splitlines()[1:]:
            assert not line.strip() or any(
                line.lstrip("# ") == s.heading or line.strip() in s.text for s in sections(page)
            ), (page.name, line)


# -- the site


FETCHED = re.compile(
    r"<(?:script|img|iframe|source|video|audio|embed)\b[^>]*\bsrc=[\"'](?:https?:)?//"
    r"|<link\b[^>]*\bhref=[\"'](?:https?:)?//|url\(\s*[\"']?(?:https?:)?//|@import\s+[\"'](?:https?:)?//"
)


def test_the_site_fetches_nothing(manual_site):
    for path in manual_site.rglob("*"):
        if path.suffix in {".html", ".css", ".svg"}:
            assert FETCHED.search(path.read_text(encoding="utf-8")) is None, path


def test_every_page_is_in_the_site(manual_site):
    for page in every_page(group):
        assert (manual_site / f"{page.name}.html").exists()


def test_every_link_of_the_site_leads_somewhere(manual_site):
    for path in manual_site.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        for target in re.findall(r"<a\b[^>]*\bhref=\"([^\"]+)\"", text):
            if target.startswith(("https://", "http://", "#")):
                continue
            name, _, anchor = target.partition("#")
            other = (path.parent / name).resolve()
            assert other.exists(), (path.name, target)
            if anchor:
                assert f'id="{anchor}"' in other.read_text(encoding="utf-8"), (path.name, target)


def test_names_lead_to_their_pages(manual_site):
    assert 'href="rules/dead-track.html"' in (manual_site / "complaints.html").read_text(encoding="utf-8")


def commands_page():
    return ManualPage("commands", "Commands", "# Commands\n\n## netlister check\n")


def test_the_site_is_the_same_each_time(tmp_path):
    pages = [ManualPage("tutorial", "Tutorial", "# Tutorial\n\nTo `netlister check`.\n"), commands_page()]
    for name in ("a", "b"):
        build_site(pages, tmp_path / name)
    one, two = (
        {p.relative_to(f): p.read_bytes() for p in f.rglob("*") if p.is_file()}
        for f in (tmp_path / "a", tmp_path / "b")
    )
    assert one.keys() == two.keys()
    assert [str(name) for name in one if one[name] != two[name]] == []


def test_a_folder_with_something_else_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    done = CliRunner().invoke(group, ["manual", "--site", str(tmp_path)])
    assert done.exit_code == 1
    assert "holds something else" in done.output
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_a_link_that_leads_nowhere_is_told(tmp_path):
    pages = [ManualPage("tutorial", "Tutorial", "# Tutorial\n\nSee [this](nowhere.md).\n"), commands_page()]
    with pytest.raises(SiteError, match=r"nowhere\.md"):
        build_site(pages, tmp_path / "site")
    assert not (tmp_path / "site").exists()

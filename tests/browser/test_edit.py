"""`netlister watch --edit` in a real browser: the wiring changed on the page."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys

import pytest

from tests.browser.interrupt import started
from tests.browser.making import ROOT, poles_shown
from tests.browser.test_page import axe
from tests.workbench.desks import YARD, counted


class Watch:
    """The command, and what it says."""

    def __init__(self, folder, *more):
        self.file = folder / "layout.yaml"
        command = [sys.executable, "-m", "netlister", "watch", "layout.yaml", *more]
        self.run = started(command, cwd=folder, stdout=subprocess.DEVNULL)
        said = ""
        while "Ctrl-C" not in said:
            line = self.run.stderr.readline()
            assert line, said
            said += line
        self.address = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", said)[0]

    def end(self):
        if self.run.poll() is None:
            self.run.send_signal(signal.SIGINT)
            self.run.communicate(timeout=20)


class Window:
    """A page with all that it complained of."""

    def __init__(self, context, address):
        self.page = context.new_page()
        self.complaints = []
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(address)
        self.page.wait_for_selector("html.ready")

    def choose(self, piece, label, **values):
        """Open the dialog at a piece and choose what to change."""
        page = self.page
        page.click("#change-open")
        page.fill("#change-piece", piece)
        page.select_option("#change-what", label=label)
        for key, value in values.items():
            field = page.locator(f"#change-{key}")
            if field.evaluate("(one) => one.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)

    def write(self):
        """Press the button and wait until the page has come again."""
        page = self.page
        page.evaluate("() => { window.before = true; }")
        page.locator("#change-write:enabled").click()
        page.wait_for_function("() => !window.before && document.documentElement.classList.contains('ready')")

    def again(self, press):
        self.page.evaluate("() => { window.before = true; }")
        self.page.click(press)
        self.page.wait_for_function("() => !window.before && document.documentElement.classList.contains('ready')")


@pytest.fixture
def start(tmp_path, chromium):
    ended = []

    def opened(text=YARD, *more, **options):
        (tmp_path / "layout.yaml").write_text(text, encoding="utf-8")
        watch = Watch(tmp_path, *(more or ("--edit",)))
        context = chromium.new_context(**({"viewport": {"width": 1440, "height": 900}} | options))
        context.set_default_timeout(60_000)
        ended.extend([context.close, watch.end])
        return watch, context, Window(context, watch.address)

    yield opened
    for end in ended:
        end()


def poles_told(folder, *positions):
    """What `netlister poles` says, by rail."""
    command = [sys.executable, "-m", "netlister", "poles", "layout.yaml", "--format", "json"]
    for one in positions:
        command += ["--set", one]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)["poles"]


CHANGES = [
    ("T2", "Give T2.frog a contact", {}),
    ("T1", "Swap the throws of M1.frog", {}),
    ("wharf", "Add a new piece at wharf.b", {"kind": "live-frog", "hand": "left", "name": "T3", "end": "diverging"}),
    ("spur", "Name spur otherwise, everywhere", {"new": "goods shed"}),
    ("M1.frog", "Name M1.frog otherwise, everywhere", {"new": "nose"}),
]


def test_poles_after_each_change(start, tmp_path):
    """On the page and by the command, in both positions; then everything taken back."""
    watch, _, window = start()
    page = window.page
    assert "key=" not in page.url
    for piece, label, values in CHANGES:
        window.choose(piece, label, **values)
        page.wait_for_selector("#change-write:enabled")
        said = page.inner_text(".outcome")
        window.write()
        text = watch.file.read_text()
        errors = counted(text)[0]
        assert (f"After this change: {errors} error" in said) == bool(errors), (label, said)
        for position in ("through", "diverging"):
            if position not in page.text_content("[data-variable=M1]"):
                page.click("[data-variable=M1]")
            told = poles_told(tmp_path, f"M1={position}")
            assert position in page.text_content("[data-variable=M1]")
            shown = {rail: poles for rail, (poles, _) in poles_shown(page).items()}
            assert shown == told, label
    for _ in CHANGES:
        window.again("#change-undo")
    assert watch.file.read_text() == YARD
    assert window.complaints == []


def test_a_tap_a_repair_and_the_keyboard(start):
    wrong = YARD.replace(
        "{common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}",
        "{common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}",
    )
    watch, _, window = start(wrong)
    page = window.page
    page.get_by_label("changes what is there").check()
    page.locator("g.piece[data-piece=T1] path.rail").first.click(force=True)
    assert page.input_value("#change-piece") == "T1"
    page.keyboard.press("Escape")
    assert page.locator("dialog[open]").count() == 0
    mend = page.get_by_role("button", name=re.compile("Mend it.*swap the two throws"))
    mend.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#change-write:enabled")
    assert "through: T1.stock-right" in page.inner_text(".diff ins")
    assert watch.file.read_text() == wrong
    page.evaluate("() => { window.before = true; }")
    page.locator("#change-write").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("() => !window.before && document.documentElement.classList.contains('ready')")
    assert watch.file.read_text() == YARD
    assert "Written" in page.inner_text(".news")
    assert window.complaints == []


def test_two_windows_and_an_editor(start):
    watch, context, one = start()
    two = Window(context, watch.address.split("?")[0])
    two.choose("spur", "Swap the poles of the feed (main.A to left, main.B to right)")
    two.page.wait_for_selector("#change-write:enabled")
    one.choose("T1", "Insulate the joint T1.through/wharf, or make it metal", insulate="both")
    one.write()
    text = watch.file.read_text()
    two.page.click("#change-write")
    two.page.wait_for_function("() => document.querySelector('.outcome').textContent.includes('changed meanwhile')")
    assert watch.file.read_text() == text
    two.page.click("text=Load the page again")
    two.page.wait_for_function("() => document.querySelector('#table-joints')?.textContent.includes('both')")
    one.page.evaluate("() => { window.before = true; }")
    theirs = text.replace("400 mm", "410 mm")
    watch.file.write_text(theirs)  # an editor
    one.page.wait_for_function("() => !window.before && document.documentElement.classList.contains('ready')")
    assert one.page.locator("#change-undo").is_disabled()
    assert watch.file.read_text() == theirs


def test_zoom_and_selection_outlive_a_reload(start):
    watch, _, window = start()
    page = window.page
    for _ in range(4):
        page.click("#larger")
    page.locator("button.lever").first.click()
    page.get_by_label("puts the red probe there").check()
    page.wait_for_timeout(400)
    seen = page.get_attribute("svg.plan", "viewBox")
    page.evaluate("() => { window.before = true; }")
    watch.file.write_text(YARD.replace("# along the wall", "# along the hedge"))
    page.wait_for_function("() => !window.before && document.documentElement.classList.contains('ready')")
    page.wait_for_function("(seen) => document.querySelector('svg.plan').getAttribute('viewBox') === seen", arg=seen)
    assert page.get_by_label("puts the red probe there").is_checked()
    assert "diverging" in page.locator("button.lever").first.text_content()
    assert window.complaints == []


def test_a_broken_file_shows_its_line_beside_the_last_plan(start):
    watch, _, window = start()
    page = window.page
    watch.file.write_text(YARD.replace("{length: 400 mm}", "{length: 400 mm"))
    page.wait_for_selector(".banner pre")
    assert page.locator("#sheet svg.plan").count() == 1
    assert re.search(r"\d+: ", page.inner_text(".banner pre"))
    assert "Nothing of what is in the file now was checked" in page.inner_text(".banner")
    assert page.locator("#change-open").is_disabled()
    assert axe(page) == []
    watch.file.write_text(YARD)
    page.wait_for_function(
        "() => !document.querySelector('.banner') && document.querySelector('#change-open')?.disabled === false"
    )
    assert window.complaints == []


def test_the_end_of_the_server_is_said(start):
    watch, _, window = start()
    page = window.page
    page.click("#change-open")
    page.fill("#change-piece", "T1")
    watch.end()
    page.wait_for_function("() => document.querySelector('.news')?.textContent.includes('has ended')")
    assert page.locator("#change-write").is_disabled()
    page.keyboard.press("Escape")
    assert page.locator("#change-open").is_disabled()


def test_a_bad_key_and_another_origin(start, chromium, tmp_path):
    watch, _, window = start()
    port = watch.address.split(":")[2].split("/")[0]
    other = chromium.new_context()
    page = other.new_page()
    assert page.goto(watch.address).status == 403  # it was opened already
    assert page.goto(watch.address.split("=")[0] + "=guess").status == 403
    other.close()
    # a page of another origin, in the browser that has the cookie
    trap = tmp_path / "trap.html"
    trap.write_text("<!doctype html><title>trap</title>")
    strange = window.page.context.new_page()
    strange.goto(trap.as_uri())
    done = strange.evaluate(
        """async (port) => {
          const body = JSON.stringify({what: "make", ask: {do: "take-feed", feed: 0}}), found = [];
          for (const options of [{}, {mode: "no-cors"}, {headers: {"Content-Type": "application/json", "X-Page-Key": "x"}}]) {
            for (const path of ["/", "/version", "/desk"]) {
              try {
                const answer = await fetch(`http://127.0.0.1:${port}${path}`, {method: path === "/desk" ? "POST" : "GET",
                  credentials: "include", ...(path === "/desk" ? {body} : {}), ...options});
                found.push(answer.type === "opaque" ? "" : await answer.text());
              } catch { found.push(""); }
            }
          }
          return found;
        }""",
        port,
    )
    assert set(done) == {""}
    assert watch.file.read_text() == YARD


def test_without_edit_the_page_only_shows(start):
    _, _, window = start(YARD, "--color", "never")
    assert window.page.locator(".changes, dialog").count() == 0
    assert window.complaints == []


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (1440, "dark")])
def test_axe_finds_nothing_in_the_dialog(width, scheme, start):
    _, _, window = start(YARD, viewport={"width": width, "height": 740}, color_scheme=scheme, has_touch=width < 400)
    page = window.page
    assert axe(page) == []
    window.choose("T1", "Insulate the joint T1.through/wharf, or make it metal", insulate="none")
    page.wait_for_selector("#change-write:enabled")
    assert axe(page) == []
    assert page.evaluate(
        "() => document.querySelector('dialog').scrollWidth <= document.querySelector('dialog').clientWidth"
    )
    assert window.complaints == []


def test_an_example_as_it_stands(start):
    """A whole example, mended on the page until nothing is wrong."""
    text = (ROOT / "examples" / "crossover" / "layout.yaml").read_text(encoding="utf-8")
    watch, _, window = start(text)
    page = window.page
    page.click("#mend-all")
    page.wait_for_selector("#change-write:enabled")
    assert "no findings" in page.inner_text(".outcome")
    window.write()
    assert counted(watch.file.read_text()) == [0, 0, 0]
    assert "Nothing wrong" in page.inner_text("header")
    window.again("#change-undo")
    assert watch.file.read_text() == text

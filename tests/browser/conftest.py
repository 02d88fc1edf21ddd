"""A real Chromium for the tests of pages; skipped where there is none, never in CI."""

from __future__ import annotations

import os
import shutil

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
CHROMIUM = next(filter(None, map(shutil.which, NAMES)), None)


def pytest_collection_modifyitems(items):
    if CHROMIUM is None and "NETLISTER_CI" not in os.environ:
        mark = pytest.mark.skip(reason="no Chromium is installed; apt-get install chromium")
        for item in items:
            if "tests/browser/" in item.path.as_posix():
                item.add_marker(mark)


@pytest.fixture(scope="session")
def chromium():
    from playwright.sync_api import sync_playwright

    assert CHROMIUM is not None, f"none of {NAMES} is installed"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


class Watched:
    """A page, with all that it asked for and all that it complained of."""

    def __init__(self, page, address):
        self.page = page
        self.address = address
        self.requests = []
        self.complaints = []
        self.allowed = None
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("dialog", lambda dialog: self.complaints.append(f"dialog: {dialog.message}"))

    def open(self, fragment=""):
        self.page.goto(self.address + fragment)
        self.page.wait_for_selector("html.ready")
        return self.page

    def quiet(self):
        """Nothing was asked for but the page itself, and nothing complained of."""
        assert [text for text in self.complaints if self.allowed is None or self.allowed not in text] == []
        assert {url.split("#")[0] for url in self.requests} <= {self.address}


@pytest.fixture
def opened(chromium, tmp_path):
    """Opens the page of a layout given as text or made from a report; every test ends with it quiet."""
    contexts = []
    pages = []

    def open_page(html, fragment="", allowed=None, **options):
        file = tmp_path / f"page-{len(pages)}.html"
        file.write_text(html, encoding="utf-8")
        context = chromium.new_context(**({"viewport": {"width": 1440, "height": 900}} | options))
        contexts.append(context)
        watched = Watched(context.new_page(), file.as_uri())
        watched.allowed = allowed
        pages.append(watched)
        if options.get("java_script_enabled", True) and 'id="data"' in html:
            watched.open(fragment)
        else:
            watched.page.goto(watched.address)
        return watched.page

    yield open_page
    for watched in pages:
        watched.quiet()
    for context in contexts:
        context.close()

"""The site of the manual, opened as files in a real browser: nothing is fetched, its search finds words."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    ("words", "title"),
    [("fishplate", "Words"), ("turntable", "turntable: Turntable"), ("trip-time", "The layout file")],
)
def test_words_are_found_without_a_server(chromium, manual_site, words, title):
    page = chromium.new_page()
    asked, said = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(f"{manual_site.as_uri()}/index.html")
    page.fill("input[name=q]", words)
    page.press("input[name=q]", "Enter")
    found = page.locator("#search-results a", has_text=title).first
    found.click()
    assert title in page.title()
    assert said == []
    assert [url for url in asked if not url.startswith(manual_site.as_uri())] == []
    page.close()


def test_pictures_are_shown(chromium, manual_site):
    page = chromium.new_page()
    page.goto(f"{manual_site.as_uri()}/turnouts.html")
    wide = page.eval_on_selector_all("article img", "all => all.map(one => one.naturalWidth)")
    assert len(wide) > 10
    assert min(wide) > 100
    page.close()

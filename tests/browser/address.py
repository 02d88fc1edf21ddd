"""The address of a page set as a user's own history sets it."""

from __future__ import annotations

from urllib.parse import urlencode

SET = """(hash) => new Promise((done) => {
  const before = location.hash;
  addEventListener("hashchange", () => done(), {once: true});
  location.hash = hash;
  if (location.hash === before) done();
})"""


def go(page, settings):
    """Put pairs behind the `#` of the address, and wait until the page has heard of it."""
    page.evaluate(SET, urlencode(settings))

"""Options of the tests."""

from __future__ import annotations


def pytest_addoption(parser):
    parser.addoption("--update-expected", action="store_true", help="write the examples' expected files again")

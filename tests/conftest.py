"""Options of the tests, a limit for each, and the same random cases in every run."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from tests.amount import LONG

LIMIT = 300
"""Seconds that a test may take, on a machine as slow as any: what hangs ends there, and says where it hung."""

settings.register_profile("everyday", deadline=None, derandomize=not LONG)
settings.load_profile("everyday")


def pytest_addoption(parser):
    parser.addoption("--update-expected", action="store_true", help="write the examples' expected files again")


def pytest_configure(config):
    if config.pluginmanager.hasplugin("timeout"):
        if config.option.timeout is None and not LONG:
            config.option.timeout = LIMIT
    elif os.environ.get("NETLISTER_CI"):
        raise pytest.UsageError("pytest-timeout is not installed; write: pip install -e '.[test]'")

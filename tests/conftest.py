"""Options of the tests, and what many of them read."""

from __future__ import annotations

import pytest


def pytest_addoption(parser):
    parser.addoption("--update-expected", action="store_true", help="write the examples' expected files again")


@pytest.fixture(scope="session")
def manual_site(tmp_path_factory):
    """The manual as a site, made once."""
    from click.testing import CliRunner

    from netlister.cli.main import group

    folder = tmp_path_factory.mktemp("manual") / "site"
    done = CliRunner().invoke(group, ["manual", "--site", str(folder)])
    assert done.exit_code == 0, done.output
    return folder

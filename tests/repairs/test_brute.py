"""Nothing is cheaper than what `mend` finds: small sets of edits tried one and all, judged by plain enumeration."""

from __future__ import annotations

import os
from itertools import islice

import pytest

from tests.repairs.brute import candidates, cheaper

NUMBER = 400 if os.environ.get("NETLISTER_LONG") else 10


def test_nothing_is_cheaper_than_the_least_repair() -> None:
    looked = 0
    for name, data in islice(candidates(1), 40 * NUMBER):
        better = cheaper(data)
        if better is not None:
            assert not better, (name, better)
            looked += 1
        if looked == NUMBER:
            return
    pytest.fail(f"only {looked} layouts were looked at")

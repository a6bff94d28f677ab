"""The examples in the docstrings."""

import doctest

import pytest

from pullcast.answers import ledger_score, rank_agreement


@pytest.mark.parametrize("module", [ledger_score, rank_agreement])
def test_doctests(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0

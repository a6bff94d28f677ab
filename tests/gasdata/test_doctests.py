import doctest
import importlib

import pytest


@pytest.mark.parametrize("name", ["", ".fuels", ".tables", ".burning"])
def test_examples_in_docstrings(name):
    result = doctest.testmod(importlib.import_module("pullcast.gasdata" + name))
    assert result.attempted > 0
    assert result.failed == 0

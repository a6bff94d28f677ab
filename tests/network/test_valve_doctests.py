import doctest
import importlib

import pytest


@pytest.mark.parametrize("name", ["lobe", "lift", "flow_sheet", "port_flow", "losses", "friction"])
def test_examples_in_docstrings(name):
    result = doctest.testmod(importlib.import_module("pullcast.network." + name))
    assert result.attempted > 0
    assert result.failed == 0

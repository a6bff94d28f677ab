"""Kernels are compiled in a child process, once; what comes out is equal whether they had to be or not."""

import os
import subprocess
import sys

import pytest

from pullcast.kernels import jit
from pullcast.solve import warm as module
from pullcast.solve.warm import warm

MARCH = """
from pullcast.card.reading import read_engine_text
from pullcast.card.starter import starter
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle
print(settle(read_engine_text(starter("lab_single")), 3000.0, Numerics(cell=0.1, max_cycles=4)).history)
"""


@pytest.fixture
def cold(monkeypatch, tmp_path):
    """A cache with nothing in it, and a note of every child started."""
    children = []
    monkeypatch.delenv(module.COMPILING, raising=False)
    monkeypatch.setattr(jit, "cache_folder", lambda: tmp_path / "kernels")
    monkeypatch.setattr(module, "_compile_in_a_child", lambda: children.append(jit.stamp().touch()))
    return children


def test_a_cold_cache_is_said_and_filled_once(cold):
    said = []
    assert warm(said.append)
    assert said == [module.MESSAGE]
    assert not warm(said.append)
    assert len(said) == len(cold) == 1


def test_the_child_starts_no_child(cold, monkeypatch):
    monkeypatch.setenv(module.COMPILING, "1")
    assert not warm()
    assert not cold


def test_a_cache_that_cannot_be_written_is_no_error(cold, monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(jit, "cache_folder", lambda: tmp_path / "file" / "kernels")
    assert not warm()
    assert not cold


@pytest.mark.long
def test_the_first_run_and_the_next_agree_bit_for_bit(tmp_path):
    env = {**os.environ, "XDG_CACHE_HOME": str(tmp_path), "LOCALAPPDATA": str(tmp_path)}
    env.pop("NUMBA_CACHE_DIR", None)
    command = [sys.executable, "-c", MARCH]
    first, second = (subprocess.run(command, env=env, capture_output=True, check=True).stdout for _ in range(2))
    assert first == second != b""

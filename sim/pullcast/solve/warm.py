"""Compile the kernels once, in a process of its own, before any work is done.

A process that compiles a kernel and one that loads it from the cache run machine code that may round differently in
the last bit (what the compiler inlines depends on what it compiled just before). So nobody computes with code they
compiled themselves: a child compiles everything in one fixed order, and everybody loads what it kept. That makes
answers equal bit for bit from run to run and from worker to worker.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

from filelock import FileLock

MESSAGE = "compiling the numerical kernels (once after install or upgrade, about a minute)"
COMPILING = "PULLCAST_COMPILING"  # set in the child, which must not start one of its own
PATIENCE = 600.0  # s to wait for another process that compiles


def warm(say: Callable[[str], None] | None = None) -> bool:
    """See to it that compiled kernels lie in the cache; True if they had to be compiled.

    ``say`` is told before the wait starts. Where no child can be started or the cache can't be written, kernels are
    compiled as they are called, as numba does by itself.
    """
    from pullcast.kernels.jit import cache_folder, is_warm

    if is_warm() or COMPILING in os.environ:
        return False
    if say:
        say(MESSAGE)
    try:
        cache_folder().mkdir(parents=True, exist_ok=True)
        with FileLock(cache_folder() / "compiling.lock", timeout=PATIENCE):
            if not is_warm():
                _compile_in_a_child()
    except OSError:  # a read-only home, no processes to be had, or another compiler that takes too long
        return False
    return True


def _compile_in_a_child() -> None:
    """Run ``pullcast.solve.everything`` in a fresh interpreter; what it prints is of no interest."""
    code = "from pullcast.solve.everything import compile_all; compile_all()"
    surroundings = {**os.environ, COMPILING: "1", "PYTHONPATH": os.pathsep.join(sys.path)}
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.run([sys.executable, "-c", code], check=False, env=surroundings, **quiet)

"""``pullcast warm``: compile the numerical kernels ahead of the first march."""

from __future__ import annotations

import sys
import time


def warm() -> None:
    """Compile the numerical kernels now, so that the first forecast does not wait for it.

    Does nothing when they lie in the cache; an image of a machine or a cluster's worker is best made with it.

    \b
    Example:
      pullcast warm
    """
    from pullcast.solve.warm import warm as compile_

    begin = time.monotonic()
    compiled = compile_(lambda text: print(text, file=sys.stderr, flush=True))
    print(f"Kernels compiled in {time.monotonic() - begin:.0f} s." if compiled else "Kernels are compiled already.")

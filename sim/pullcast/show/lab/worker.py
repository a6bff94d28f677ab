"""The beginning of a worker of the page's background."""

from __future__ import annotations

import os

NICE = 10  # workers stand back behind the page itself


def start_worker(parent: int) -> None:
    """In a worker: behind the page in the machine's favour, from before anything is read; else as every worker."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    from pullcast.solve.crew import start_worker as start

    start(parent)

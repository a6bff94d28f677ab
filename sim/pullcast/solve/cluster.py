"""Workers on other machines: the executor of a Dask cluster by the address of its scheduler."""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from pullcast.errors import InputError

ADDRESS = re.compile(r"(tcp|tls)://(\[[0-9A-Fa-f:.]+\]|[^\s:/\[\]]+):(\d{1,5})/?\Z")
PATIENCE = 10.0  # s to wait for the scheduler


@contextmanager
def cluster(address: str, *, patience: float = PATIENCE) -> Iterator[Executor]:
    """The ``concurrent.futures`` executor of the cluster whose scheduler is at ``address`` (tcp://HOST:PORT).

    Each worker needs the same pullcast installed. Tasks of a worker that dies are given to another by the scheduler.
    Raises InputError for a text that is no address, a scheduler that does not answer within ``patience`` seconds, or
    a missing extra.
    """
    if not (match := ADDRESS.match(address)) or not 0 < int(match[3]) < 65536:
        msg = f"--scheduler {address!r}: give the scheduler's address as tcp://HOST:PORT, such as tcp://127.0.0.1:8786"
        raise InputError(msg)
    try:
        from distributed import Client
    except ImportError:
        msg = "--scheduler needs dask.distributed, which is not installed: pip install 'pullcast[cluster]'"
        raise InputError(msg) from None
    try:
        client = Client(address, timeout=patience, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        why = (str(error) or type(error).__name__).splitlines()[0]
        msg = (f"--scheduler {address}: no scheduler answers there within {patience:g} s ({why}). "
               f"Start one with: dask scheduler, and workers with: dask worker {address}")
        raise InputError(msg) from None
    with client:
        yield client.get_executor()

"""Compile the kernels once, in the parent process, before any work is handed out."""

from __future__ import annotations

from collections.abc import Callable

from pullcast.card.engine import Engine

MESSAGE = "compiling the numerical kernels (once after install or upgrade, about a minute)"


def warm(engine: Engine, rpm: float, say: Callable[[str], None] | None = None) -> bool:
    """Compile the march if its compiled form is not in the cache; True if it had to be compiled.

    ``say`` is told before the wait starts. Compiling runs nothing: the engine only lends the types.
    """
    from pullcast.kernels.jit import is_warm

    if is_warm():
        return False
    if say:
        say(MESSAGE)
    import numba

    from pullcast.kernels.march import march_cycle, stored
    from pullcast.solve.cycle import NO_TRACE, prepare
    from pullcast.solve.numerics import Numerics

    running = prepare(engine, rpm, Numerics(cell=0.1))
    args = (running.model, 1000.0, 0.8, 1e-3, 95.0, 1.0, NO_TRACE, NO_TRACE, False)
    march_cycle.compile(tuple(numba.typeof(a) for a in args))
    stored.compile((numba.typeof(running.model),))
    return True

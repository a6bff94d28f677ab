"""March the lumped model of one engine at one speed until it repeats.

The network, the cylinders, the tolerances and the ``Point`` that comes back are those of ``pullcast.solve.settle``;
only what is between the cylinders and the surroundings differs (``pullcast.kernels.lumped``). Every point starts
from the same state, so equal engines give equal numbers whatever was computed before or beside them
(``pullcast.solve.abreast`` marches many points at once; one alone takes the same way).

Crank steps are twice those of ``Numerics`` (2 deg by default): cylinders and valve areas change no faster than that.
The work of the shipped engines differs by 0.1 % (at most by 0.3 %; four speeds each) from that with steps an eighth
as long. Differences below that are noise of this fidelity.
"""

from __future__ import annotations

from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.solve.abreast import abreast
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point


def settle_lumped(engine: Engine, rpm: float, numerics: Numerics | None = None, *, traces: bool = False,
                  stations: tuple[tuple[str, float], ...] = ()) -> Point:
    """March an engine's lumped model at ``rpm`` until it repeats; as ``pullcast.solve.settle.settle``.

    Of ``numerics`` the crank step, the tolerance and the numbers of cycles count; there are no cells.
    Errors: SolveError naming speed, crank angle and component if the march breaks down; InputError for an unknown
    station.
    """
    [(_, point)] = abreast([engine], [rpm], numerics, traces=traces, stations=stations)
    if isinstance(point, SolveError):
        raise point
    return point

"""The closed part of the cycle alone: from a trapped charge to the opening of the exhaust valve, spark by spark.

The cylinder is that of ``kernels.chamber``, so that a loop over sparks from the charge a full march trapped gives at
that march's spark what the march gave.

Columns of a result: ``R_WORK`` J from the trapped state to exhaust opening, ``R_P_MAX`` Pa, ``R_KNOCK`` knock
integral, ``R_CA50`` deg after firing TDC, ``R_DURATION`` 10-90 % deg, ``R_HEAT`` J to the walls, ``R_T_OPEN`` K and
``R_P_OPEN`` Pa when the exhaust valve opens, ``R_BURNED`` kg of fuel burned.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.chamber import advance_cylinder, merge_zones
from pullcast.kernels.crank import volume
from pullcast.kernels.jit import kernel, roomy

(R_WORK, R_P_MAX, R_KNOCK, R_CA50, R_DURATION, R_HEAT, R_T_OPEN, R_P_OPEN, R_BURNED, R_COUNT) = range(10)
K_ANGLE, K_P, K_T, K_TU, K_X, K_WORK, K_KNOCK, K_COUNT = range(8)  # columns of a path


@kernel
def closed_cycle(gas, g, burn, flame, walls, s, out, acc, books, start, opening, rpm, octane, step, path):
    """March one cylinder from angle ``start`` (deg, valves shut) to ``opening`` in place; False if it broke down.

    ``s`` state, ``out`` results, ``acc`` zeros, ``books`` are filled; ``path`` (n, K_COUNT) gets a row per step as
    long as it has rows.
    """
    sp = 2.0 * g[1] * rpm / 60.0
    last = opening - 1e-3
    n = math.ceil((last - start) / step - 1e-9)
    d = (last - start) / n
    dt = d / (6.0 * rpm)
    books[:] = 0.0
    out[:] = 0.0
    for i in range(n):
        at = start + i * d
        if not advance_cylinder(gas, g, burn, flame, walls, s, out, acc, books, start - 1e-6, opening, at, d, dt, sp,
                                octane):
            return False
        if i < path.shape[0]:
            path[i, K_ANGLE] = at + d
            path[i, K_P] = s[L.S_P]
            path[i, K_T] = s[L.S_T]
            path[i, K_TU] = s[L.S_TU] if s[L.S_MODE] == 1.0 else s[L.S_T]
            path[i, K_X] = s[L.S_X] if s[L.S_MODE] > 0.0 else 0.0
            path[i, K_WORK] = books[L.B_WORK]
            path[i, K_KNOCK] = s[L.S_KNOCK] if s[L.S_PREPARED] > 0.0 else 0.0
    if s[L.S_MODE] == 1.0:
        merge_zones(gas, burn[4], s, out, volume(g, last))
    return True


@roomy
def spark_loop(gas, g, burn, flame, walls, trapped, starts, opening, rpm, octane, step, sparks, results):
    """Closed cycles of all cylinders at all sparks (deg before firing TDC); False if one broke down.

    ``trapped`` (nc, S_COUNT) states at the angles ``starts`` (nc,); ``results`` (sparks, nc, R_COUNT) is filled.
    """
    s = trapped[0].copy()
    out = trapped[0].repeat(L.C_COUNT)[: L.C_COUNT] * 0.0
    acc = out[: L.A_COUNT] * 0.0
    books = out[: L.B_COUNT] * 0.0
    law = burn.copy()
    law[0] = 1.0
    none = results[0, :0, :].copy()
    for i in range(sparks.shape[0]):
        law[1] = sparks[i]
        for k in range(trapped.shape[0]):
            s[:] = trapped[k]
            if not closed_cycle(gas, g, law, flame, walls, s, out, acc, books, starts[k], opening, rpm, octane, step,
                                none):
                return False
            r = results[i, k]
            r[R_WORK] = books[L.B_WORK]
            r[R_P_MAX] = out[L.C_P_MAX]
            r[R_KNOCK] = out[L.C_KNOCK]
            r[R_CA50] = out[L.C_CA50]
            r[R_DURATION] = out[L.C_DURATION]
            r[R_HEAT] = out[L.C_HEAT]
            r[R_T_OPEN] = s[L.S_T]
            r[R_P_OPEN] = s[L.S_P]
            r[R_BURNED] = out[L.C_BURNED_MASS]
    return True


@roomy
def closed_path(gas, g, burn, flame, walls, trapped, start, opening, rpm, octane, step, spark, path):
    """One closed cycle at ``spark`` with its path; False if it broke down."""
    s = trapped.copy()
    out = trapped.repeat(L.C_COUNT)[: L.C_COUNT] * 0.0
    law = burn.copy()
    law[0] = 1.0
    law[1] = spark
    return closed_cycle(gas, g, law, flame, walls, s, out, out[: L.A_COUNT] * 0.0, out[: L.B_COUNT] * 0.0, start,
                        opening, rpm, octane, step, path)

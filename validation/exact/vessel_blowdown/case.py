"""Blow-down from 10 bar through a large orifice into a pipe: stable, and choked as the vessel's equations say."""

import numpy as np
from validation.exact.rig import End, Rig, Volume, pipe
from validation.harness import Check, absolute, at_most
from validation.reference import vessel

from pullcast.kernels import layout as L

SOURCE = "choked vessel (Shapiro 1953, vol. 1, ch. 4)"
P0, T0, A, VOLUME = 10e5, 1200.0, 1.2e-3, 5e-4


def vessel_and_pipe(share: float) -> Rig:
    """The pipe holds gas as hot as the vessel's, so that the orifice is choked from the first moment."""
    duct = pipe("p", 0.5, A, End("vessel", area=share * A), "ambient")
    rig = Rig(duct, cell=0.015, volumes=(Volume("vessel", VOLUME),))
    rig.fill_volume(1, P0, T0)
    rig.fill("p", 101325.0, T0)
    return rig


def checks() -> list[Check]:
    rows = []
    for share in (0.3, 0.6, 0.9):
        rig = vessel_and_pipe(share)
        mass, energy = rig.stored()
        samples, moved = [], np.zeros(2)
        for _ in range(300):
            rig.model.books[:] = 0.0
            rig.march(2e-5)
            b = rig.model.books
            moved += [b[L.B_MASS_IN] - b[L.B_MASS_OUT], b[L.B_H_IN] - b[L.B_H_OUT]]
            samples.append((rig.time, rig.model.nodes.p[1]))
        t, p = np.array(samples).T
        name = f"blow-down through {share:g} pipe areas"
        tau = vessel.time_constant(VOLUME, share * A, T0)
        exact = np.array([vessel.choked_pressure(v, P0, tau) for v in t])
        choked = exact > 5e5
        after = rig.stored()
        rows += [
            at_most(f"{name}: largest pressure error from 10 to 5 bar", SOURCE, 0.005,
                    np.max(np.abs(p[choked] / exact[choked] - 1))),
            at_most(f"{name}: largest rise of the pressure between samples above 3 bar", SOURCE, 0.0,
                    float(np.max(np.diff(p[p > 3e5]))), "Pa"),
            absolute(f"{name}: mass not accounted for, over the start", SOURCE, 0.0,
                     (after[0] - mass - moved[0]) / mass, 1e-12),
            absolute(f"{name}: energy not accounted for, over p V/(gamma-1)", SOURCE, 0.0,
                     (after[1] - energy - moved[1]) / (P0 * VOLUME / 0.4), 1e-12),
        ]
    return rows

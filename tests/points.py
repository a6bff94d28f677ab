"""Invented marched points, for tests of what keeps them. No march is run."""

import math

import numpy as np

from pullcast.solve.settle import Point


def invented(rpm=3000.0, seed=0, **changes):
    random = np.random.default_rng(seed)
    values = {
        "rpm": rpm, "out": random.normal(size=(2, 22)), "books": random.normal(size=11), "cycles": 5, "steps": 1234,
        "node_pressure": {"plenum": 98765.4}, "node_temperature": {"plenum": math.nan}, "junction_pressure": {},
        "mass_residual": 1.5e-14, "energy_residual": -2e-9, "converged": True, "status": "",
        "history": ((1, 5e-4, 612.0, math.inf), (2, 5e-4, 613.0, 1e-3))}
    return Point(**(values | changes))

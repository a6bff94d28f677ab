"""How every kernel is compiled: one decorator, cached, numpy division, fast-math flags that keep NaN and inf."""

from numba import njit

FLAGS = {"nsz", "arcp", "contract", "reassoc", "afn"}

kernel = njit(cache=True, error_model="numpy", fastmath=FLAGS)
small = njit(cache=True, error_model="numpy", fastmath=FLAGS, inline="always")

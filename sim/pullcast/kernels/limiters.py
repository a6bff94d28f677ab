"""Slope limiters (total variation diminishing), branch-free."""

from pullcast.kernels.jit import small


@small
def monotonized_central(a, b):
    """MC slope from backward difference ``a`` and forward difference ``b`` (van Leer 1977).

    The smallest of 2|a|, 2|b| and |a+b|/2 with their common sign, zero at extrema.
    """
    m = min(2.0 * abs(a), 2.0 * abs(b), 0.5 * abs(a + b))
    s = a if a * b > 0.0 else 0.0
    return m * (1.0 if s > 0.0 else (-1.0 if s < 0.0 else 0.0))

"""One source, two ways to run it: kernels with the JIT off give what they give with it on."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

SCRIPT = """
import sys
sys.path.insert(0, {tests!r})
import numpy as np
from engines import twin
from pullcast.kernels import layout as L
from pullcast.solve.cycle import prepare
from pullcast.solve.numerics import Numerics
from pullcast.kernels.march import advance, duct_primitives
running = prepare(twin(), 4000.0, Numerics(cell=0.12))
model = running.model
{wrap}
theta = 0.0
for step in range(40):
    rate = duct_primitives(model)
    dt = 0.5 / max(rate, 1e4)
    status, where = go(model, theta, dt * 24000.0, dt, 1e-3, 11.0, 95.0, step)
    assert status == L.OK
    theta += dt * 24000.0
s = model.cylinders.state
print(",".join(repr(float(x)) for x in [theta, model.flow.rho.sum(), model.flow.ene.sum(), s[:, L.S_U].sum(),
                                         s[:, L.S_P].sum(), model.books.sum()]))
"""


WRAP = """
from numba import njit
@njit(error_model="numpy")
def go(m, a, b, c, d, e, f, n):
    return advance(m, a, b, c, d, e, f, n)
"""


def march(jit):
    env = os.environ | {"NUMBA_DISABLE_JIT": "0" if jit else "1"}
    code = SCRIPT.format(tests=str(Path(__file__).parents[1]), wrap=WRAP)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return np.array([float(x) for x in done.stdout.split(",")])


@pytest.mark.slow
def test_plain_python_agrees_with_compiled():
    assert march(jit=False) == pytest.approx(march(jit=True), rel=1e-9)

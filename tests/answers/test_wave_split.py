"""Wave separation on fields that are known, and at the ends of a pipe."""

import numpy as np
import pytest

from pullcast.answers.waves_split import split_waves
from pullcast.card.engine import End, Pipe, Segment
from pullcast.errors import InputError
from pullcast.kernels.gas import perfect_gas
from pullcast.kernels.march import march_time
from pullcast.network.arrays import assemble, set_gas
from pullcast.network.components import Network, Surroundings

GAMMA, R, P0, T0 = 1.4, 287.05, 1.0e5, 293.15
A0 = (GAMMA * R * T0) ** 0.5
RHO = P0 / (R * T0)


def test_two_acoustic_waves_on_a_mean_flow():
    """d'Alembert: p' = f + g, u' = (f - g)/(rho a), riding on 40 m/s; within 1e-3 of the amplitude."""
    t = np.linspace(0.0, 1.0, 400, endpoint=False)
    f, g = 80.0 * np.sin(2 * np.pi * 3 * t), 50.0 * np.sin(2 * np.pi * 7 * t + 1.0)
    w = split_waves(P0 + f + g, 40.0 + (f - g) / (RHO * A0), A0, GAMMA)
    assert np.abs(w.forward - P0 - f).max() < 1e-3 * 80.0
    assert np.abs(w.backward - P0 - g).max() < 1e-3 * 80.0
    assert w.u0 == pytest.approx(40.0)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_large_simple_wave_has_no_partner(sign):
    """Earnshaw's simple wave of pressure ratio 1.5 (u 102.3 m/s at 343.2): the other wave stays at p0 within 1e-3."""
    p = P0 * np.linspace(1.0, 1.5, 50)
    u = sign * 2 * A0 / (GAMMA - 1) * ((p / P0) ** ((GAMMA - 1) / (2 * GAMMA)) - 1)
    w = split_waves(p, u, A0, GAMMA, p0=P0, u0=0.0)
    one, none = (w.forward, w.backward) if sign > 0 else (w.backward, w.forward)
    assert np.abs(one / p - 1).max() < 1e-12
    assert np.abs(none / P0 - 1).max() < 1e-12


def test_waves_together_make_the_pressure_back():
    random = np.random.default_rng(0)
    p, u = P0 * (1 + 0.3 * random.normal(size=99).clip(-2, 2)), 60 * random.normal(size=99)
    assert split_waves(p, u, A0, GAMMA).together(GAMMA) == pytest.approx(p, rel=1e-9)


def reflected(end):
    """A forward pulse of 200 Pa sent down a pipe: both waves over time 0.5 m before its end."""
    seg = Segment(3.0, 1e-3, 1e-3, friction=0.0, heat_factor=0.0)
    network = Network((Pipe("duct", End("closed"), End(end), (seg,)),), (), (), Surroundings(P0, T0))
    model, names = assemble(network, perfect_gas(GAMMA, R), 0.01)
    x = (np.arange(300) + 0.5) * 0.01
    X = 1 + 200.0 / P0 * np.exp(-((x - 1.2) / 0.2) ** 2)
    step = X ** ((GAMMA - 1) / (2 * GAMMA))
    here = slice(names.first[0], names.last[0] + 1)
    set_gas(perfect_gas(GAMMA, R), model.flow, here, P0 * X, T0 * step**2, u=2 * A0 / (GAMMA - 1) * (step - 1))
    cell = names.cell_at("duct", 2.5)
    p, u = [], []
    for _ in range(450):
        march_time(model, 2.0e-5, 0.8, 1e-3, 10**6)
        p.append(model.flow.p[cell])
        u.append(model.flow.mom[cell] / model.flow.rho[cell])
    w = split_waves(np.array(p), np.array(u), A0, GAMMA, p0=P0, u0=0.0)
    return w.forward - P0, w.backward - P0


@pytest.mark.parametrize(("end", "sign"), [("ambient", -1.0), ("closed", 1.0)])
def test_reflection_at_the_end_of_a_pipe(end, sign):
    """An open end turns a pulse over, a closed one returns it: backward is -+ forward, 1 m/a later."""
    forward, backward = reflected(end)
    i, j = int(np.argmax(forward)), int(np.argmax(sign * backward))
    assert forward[i] == pytest.approx(200.0, rel=0.02)
    assert sign * backward[j] == pytest.approx(forward[i], rel=0.03)
    assert (j - i) * 2.0e-5 == pytest.approx(1.0 / A0, rel=0.02)
    assert np.abs(backward[: i + 20]).max() < 0.02 * 200.0  # nothing runs back before the pulse reaches the end


def test_bad_input_is_told():
    with pytest.raises(InputError, match=r"pressure of shape \(3,\) and velocity of shape \(2,\)"):
        split_waves([1e5] * 3, [0.0] * 2, A0)
    with pytest.raises(InputError, match="absolute values above zero are needed"):
        split_waves([-100.0, 100.0], [0.0, 0.0], A0)

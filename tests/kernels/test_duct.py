"""Conservation, rest and positivity of the wave march in pipes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullcast.card.engine import End, Junction, Pipe, Segment, Volume
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.kernels.gas import perfect_gas
from pullcast.kernels.march import march_time, stored
from pullcast.network.arrays import assemble, set_gas
from pullcast.network.components import Network

GAS = gas_table("petrol", 0.88)
AIR = perfect_gas()


def plain(name, start, end, *segments):
    return Pipe(name, start, end, segments)


def smooth(length, a, b):
    return Segment(length, a, b, heat_factor=0.0, friction=0.0)


def tapered_network():
    """A tract with taper, sudden steps, a junction, a volume and closed ends; walls at gas temperature."""
    return Network(
        (plain("a", End("closed"), End("j", angle_deg=180.0), smooth(0.2, 1e-3, 4e-4), smooth(0.1, 9e-4, 9e-4)),
         plain("b", End("j", angle_deg=0.0), End("box", loss_in=0.3), smooth(0.3, 6e-4, 1.2e-3)),
         plain("c", End("j", angle_deg=75.0), End("closed"), smooth(0.15, 5e-4, 2e-4)),
         plain("d", End("box", area=1e-4), End("closed"), smooth(0.15, 5e-4, 5e-4))),
        (Volume("box", 2e-3),), (Junction("j"),))


def test_gas_at_rest_stays_at_rest_to_round_off():
    model, _ = assemble(tapered_network(), AIR, 0.02)
    assert march_time(model, 0.05, 0.8, 1e-3, 100000)[0] == L.OK
    real = model.ducts.real > 0
    assert np.abs(model.flow.mom[real] / model.flow.rho[real]).max() < 1e-8
    assert np.abs(model.flow.p[real] / 101325.0 - 1).max() < 1e-12


contents = st.tuples(st.floats(0.4e5, 6e5), st.floats(260.0, 1800.0), st.floats(0.0, 1.0), st.floats(-200.0, 200.0))


@given(st.lists(contents, min_size=4, max_size=4))
@settings(max_examples=25, deadline=None)
def test_closed_network_conserves_and_stays_positive(states):
    """Whatever it starts from: mass and energy kept to round-off, density and pressure above zero."""
    model, names = assemble(tapered_network(), GAS, 0.02)
    for k, (p, T, yb, u) in enumerate(states):
        set_gas(GAS, model.flow, slice(names.first[k] - 1, names.last[k] + 2), p, T, 0.03 * (1 - yb), yb, u)
    before = stored(model)
    assert march_time(model, 0.01, 0.8, 1e-3, 100000)[0] == L.OK
    after = stored(model)
    real = model.ducts.real > 0
    assert after[0] == pytest.approx(before[0], rel=1e-12)
    assert after[1] == pytest.approx(before[1], abs=1e-10 * 1e3)
    assert model.flow.rho[real].min() > 0
    assert model.flow.p[real].min() > 0


def test_marched_pressure_follows_the_books():
    """After the waves have died down the marched pressure is the one the conserved energy implies."""
    model, names = assemble(tapered_network(), GAS, 0.02)
    set_gas(GAS, model.flow, slice(names.first[0] - 1, names.last[0] + 2), 3e5, 1500.0, 0.0, 1.0)
    march_time(model, 0.2, 0.8, 1e-3, 100000)
    from pullcast.kernels.march import duct_primitives

    duct_primitives(model)
    real = model.ducts.real > 0
    f = model.flow
    owed = (f.gamma - 1) * (f.ene - f.eint) / f.p
    assert np.abs(owed[real]).max() < 2e-3


def test_friction_brings_flow_down_and_heats_nothing_but_the_gas():
    rough = Segment(1.0, 1e-4, 1e-4, roughness=2e-4, heat_factor=0.0)
    model, names = assemble(Network((plain("p", End("closed"), End("closed"), rough),)), AIR, 0.02)
    set_gas(AIR, model.flow, slice(names.first[0], names.last[0] + 1), 1e5, 300.0, u=80.0)
    before = stored(model)
    march_time(model, 0.1, 0.8, 1e-3, 100000)
    after = stored(model)
    assert after[1] == pytest.approx(before[1], abs=1e-9 * abs(before[1]) + 1e-9)
    assert np.abs(model.flow.u[model.ducts.real > 0]).max() < 20.0

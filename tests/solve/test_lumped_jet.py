"""The energy that the inlet jets bring hangs on the engine, not on the model's number of sub-steps."""

from dataclasses import replace

import pytest

from engines import single
from pullcast.card.engine import Burn
from pullcast.kernels import layout as L
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle

FLAME = Burn("spark", ((3000.0, 25.0),), 24.0, 18.0, law="flame", chamber="roof", squish=0.08, turbulence=1.4)


def flow_kept(point):
    """Energies of mean flow and turbulence when the valves shut, J/kg."""
    return point.out[:, L.C_SHUT_FLOW].mean() + point.out[:, L.C_SHUT_K].mean()


@pytest.mark.parametrize("rpm", [1500.0, 3500.0])
def test_lumped_jets_bring_what_the_waves_bring(rpm):
    """Within a third: the two models breathe alike, their valve flows differ in shape."""
    engine = single(burn=FLAME)
    assert flow_kept(settle_lumped(engine, rpm)) == pytest.approx(flow_kept(settle(engine, rpm)), rel=0.33)


def test_longer_steps_with_more_sub_steps_bring_the_same():
    engine = single(burn=FLAME)
    steps = (replace(Numerics(), max_step_deg=d) for d in (1.0, 0.25))
    coarse, fine = (flow_kept(settle_lumped(engine, 1500.0, n)) for n in steps)
    assert coarse == pytest.approx(fine, rel=0.08)

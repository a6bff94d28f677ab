"""Fuel goes into a cell of its pipe, however short the pipe is: else it would be booked and lost."""

from dataclasses import replace

import numpy as np
import pytest

from engines import disc, single
from pullcast.card.engine import Segment
from pullcast.gasdata.tables import gas_table
from pullcast.network.arrays import assemble
from pullcast.network.build import build
from pullcast.network.cylinders import cylinder_arrays


@pytest.mark.parametrize("preparation", ["port", "carburettor"])
@pytest.mark.parametrize("length", [0.011, 0.02, 0.08])
def test_fuel_is_put_into_a_real_cell(length, preparation):
    engine = single()
    port = (Segment(length, disc(0.036), disc(0.038), 340.0, 2e-5),)
    intake = replace(engine.intake, pipes=(replace(engine.intake.pipes[0], segments=(
        Segment(length, disc(0.06), disc(0.038), 310.0, 2e-5),)),))
    engine = replace(engine, mixture=replace(engine.mixture, preparation=preparation), intake=intake,
                     head=replace(engine.head, intake=replace(engine.head.intake, port=port)))
    gas = gas_table("petrol", 0.9)
    model, names = assemble(build(engine), gas, 0.1, cylinder_arrays(engine, gas, 3000.0), 1.5)
    injectors = model.injectors
    cells = np.where(injectors.sign > 0, injectors.face, injectors.face - 1)
    assert len(cells) == 1
    assert length > 0.02 or len(model.ducts.real[model.ducts.first[0]:model.ducts.last[0] + 1]) == 1
    assert (model.ducts.real[cells] > 0).all()
    assert names.of_cell(int(cells[0])).startswith("pipe 'inlet'")

"""The ledger of volumetric efficiency: sums, its quasi-static start against first principles, single switches."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from pullcast.answers import still
from pullcast.answers.curves import predict
from pullcast.answers.quasi_static import quasi_static
from pullcast.answers.ve_ledger import ENTRIES, ve_ledger
from pullcast.network.build import build
from pullcast.solve.numerics import Numerics

COARSE = Numerics(cell=0.03)


def phased(intake, exhaust):
    e = single()
    return replace(e, cam=replace(e.cam, intake=replace(e.cam.intake, centreline_deg=intake),
                                  exhaust=replace(e.cam.exhaust, centreline_deg=exhaust)))


@pytest.fixture(scope="module")
def ledger():
    return ve_ledger(twin(), [2500, 6000], numerics=COARSE, workers=1)


def test_it_sums_to_the_volumetric_efficiency_of_the_engine(ledger):
    curve = predict(twin(), speeds=[2500, 6000], numerics=COARSE, workers=1)
    ve = curve.dataset["volumetric_efficiency"].values
    total = 1.0 + ledger.entries.sum(axis=0)
    assert np.abs(100 * (total - ve)).max() < 0.2
    assert np.abs(ledger.remainder).max() < 1e-12


def test_first_principles_without_backflow_fills_to_bottom_dead_centre():
    """Nothing goes back: what is in at bottom dead centre stays, a few points below 1 for residual gas and vapour."""
    e = still.creeping(still.open_intake(still.dry(still.adiabatic(still.ideal_exhaust(single()), 0.1))), 3000.0, 8.0)
    two, one = (quasi_static(x, still.CREEP, 1650.0, 5.5e5) for x in (e, still.one_way(e)))
    assert 0.92 < one.ve < 1.0
    assert one.ve - two.ve == pytest.approx(1.0 - two.swept_share, abs=0.02)


@pytest.mark.parametrize(("intake", "exhaust"), [(108.0, 110.0), (122.0, 125.0), (125.0, 95.0)])
def test_with_all_effects_off_it_is_the_quasi_static_value(intake, exhaust):
    """Wave model of the slow engine against the isobaric open-system balance: within 0.5 points, three cams."""
    made = ve_ledger(phased(intake, exhaust), [3000], numerics=COARSE, workers=1)
    assert abs(100 * (made.quasi_static - made.first_principles)).max() < 0.5


def test_effects_have_their_signs(ledger):
    by_name = dict(zip([n for n, _ in ENTRIES], ledger.entries, strict=True))
    assert (by_name["charge heating"] < 0).all()
    assert by_name["charge heating"][0] < by_name["charge heating"][1]  # less time to heat at speed
    assert by_name["flow losses"][1] < -0.01
    assert (by_name["fuel evaporation"] > 0.01).all()
    assert (ledger.quasi_static < 0.96).all()
    assert by_name["valves"][1] < by_name["valves"][0] < 0.0
    assert by_name["backflow"][0] < by_name["backflow"][1] < 0.0  # less time to push charge back at speed
    assert by_name["choking"][1] < by_name["choking"][0] < 1e-4
    assert by_name["ram"][1] > 0.02
    assert "tuning" in repr(ledger)


def test_choking_costs_nothing_slowly_and_most_where_valves_are_too_small():
    """Share of the inlet Mach index: nil at low speed, more than a point beyond index .6 (Taylor: VE falls there)."""
    i = [n for n, _ in ENTRIES].index("choking")
    made = ve_ledger(single(), [1500, 5000, 9000], numerics=COARSE, workers=1).entries[i]
    assert abs(made[0]) < 1e-3
    assert made[2] < made[1] < made[0]
    assert made[2] < -0.01


def test_ram_is_the_inertia_of_the_intake():
    """The lumped model agrees with the waves on an intake without any: else their difference would be in the ram."""
    how = {"numerics": COARSE, "workers": 1}
    calm = still.still_intake(still.ideal_exhaust(twin()))
    waves = predict(calm, speeds=[2500, 6000], **how).dataset["volumetric_efficiency"].values
    lumped = predict(calm, speeds=[2500, 6000], fidelity="lumped", workers=1).dataset["volumetric_efficiency"].values
    assert np.abs(waves - lumped).max() < 0.01


def test_a_smaller_throttle_shows_in_flow_losses_alone():
    e = twin()
    pipes = tuple(replace(p, end=replace(p.end, area=0.55 * p.end.area)) if p.end.area else p for p in e.intake.pipes)
    made = ve_ledger(replace(e, intake=replace(e.intake, pipes=pipes)), [6000], numerics=COARSE, workers=1)
    whole = ve_ledger(e, [6000], numerics=COARSE, workers=1)
    change = (made.entries - whole.entries)[:, 0]
    assert change[3] < -0.02
    assert np.abs(change[:3]).max() < 2e-3
    assert abs(change[5]) < 5e-3  # less air also chokes less at the valves


def test_a_restrictor_that_passes_seven_tenths_of_the_air_chokes():
    """Throat sized by the choked flow (Heywood 1988, app. C: 0.6847 p0/sqrt(R T0)): the engine stays below it, and
    the ledger says that choking took it."""
    e = twin()
    b, day = e.block, e.day
    air = 0.7 * day.pressure / (287.05 * day.temperature) * b.displacement * 6000 / 120
    throat = air / (0.6847 * day.pressure / math.sqrt(287.05 * day.temperature))
    wide = max(p.segments[0].area_start for p in e.intake.pipes if p.start.node == "ambient")

    def narrowed(p):
        return p if p.start.node != "ambient" else replace(p, segments=(
            replace(p.segments[0], area_start=throat, area_end=throat, length=0.012),
            replace(p.segments[0], area_start=throat, area_end=wide, length=0.15)))

    e = replace(e, intake=replace(e.intake, pipes=tuple(narrowed(p) for p in e.intake.pipes)))
    made = ve_ledger(e, [6000], numerics=COARSE, workers=1)
    assert made.entries[[n for n, _ in ENTRIES].index("choking"), 0] < -0.05
    assert made.ve[0] < 0.71
    assert abs(made.remainder[0]) < 1e-12


def test_first_principles_of_textbook_valves():
    """No overlap, equal pressures: fresh volume is V(IVC) - V(TDC) but for fuel vapour and unequal heat capacities,
    which cost a few points (Heywood 1988, eq. 6.2 from memory: equal heat capacities fill the swept volume)."""
    e = still.creeping(still.open_intake(still.dry(still.adiabatic(still.ideal_exhaust(single()), 0.1))), 3000.0, 8.0)
    lean = replace(e, mixture=replace(e.mixture, lambda_=1.4))
    rich, poor = (quasi_static(x, still.CREEP, 1650.0, 5.5e5) for x in (e, lean))
    for found in (rich, poor):
        assert found.ve == pytest.approx(found.swept_share, abs=0.07)
        assert found.ve < found.swept_share
        assert 0.02 < found.residual < 0.06
    assert poor.ve > rich.ve  # less fuel vapour takes less room
    hotter = quasi_static(e, still.CREEP, 1750.0, 5.5e5)
    assert abs(hotter.ve - rich.ve) < 2e-3


def test_a_stilled_intake_keeps_volume_and_loses_inertia():
    before, after = build(twin()), build(still.still_intake(twin()))
    for a, b in zip(before.pipes, after.pipes, strict=True):
        if "intake" in a.end.node:
            volume = [sum(s.length * (s.area_start + (s.area_start * s.area_end) ** 0.5 + s.area_end) / 3
                          for s in p.segments) for p in (a, b)]
            inertia = [sum(s.length / s.area_start for s in p.segments) for p in (a, b)]
            assert volume[1] == pytest.approx(volume[0])
            assert inertia[1] < 0.1 * inertia[0]

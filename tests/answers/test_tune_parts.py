"""Fuel system, what-ifs, evaporation, accelerating pulls, motoring."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from pullcast.answers import tune_what_if as w
from pullcast.answers.tune_evaporation import evaporable, vapour_pressure
from pullcast.answers.tune_fuel import Flow, demand, injector_flow, other_fuels
from pullcast.answers.tune_pull import accelerating, hidden_torque, motoring, throttled
from pullcast.card.engine import Limits
from pullcast.errors import InputError

LUMPED = {"fidelity": "lumped", "workers": 1}


def test_flow_in_three_units():
    """1 lb/h is 0.12600 g/s; petrol of 745 kg/m3 then flows 10.147 cc/min."""
    flow = Flow(0.45359237 / 3600, 745.0)
    assert flow.lb_per_h == pytest.approx(1.0, rel=1e-9)
    assert flow.g_per_s == pytest.approx(0.12600, abs=5e-6)
    assert flow.cc_per_min == pytest.approx(10.147, abs=1e-3)
    assert math.isnan(Flow(1e-3).cc_per_min)


def test_injectors_pump_and_line():
    """300 kW at 300 g/kWh: 25 g/s; eight injectors at 80 % each 3.906 g/s."""
    engine = twin(limits=Limits(6000.0, injector_flow=0.004, injectors=8))
    need = demand(engine, 6000.0, 300e3, 300.0 / 3.6e9)
    assert need.flow.g_per_s == pytest.approx(25.0)
    assert need.injector.g_per_s == pytest.approx(25.0 / 8 / 0.8)
    assert need.duty == pytest.approx(25.0 / 32.0)
    assert need.pump.g_per_s == pytest.approx(30.0)
    assert math.pi / 4 * need.line**2 * 2.0 * 745.0 == pytest.approx(0.030)
    harder = demand(engine, 6000.0, 300e3, 300.0 / 3.6e9, pressure=4e5)
    assert harder.duty == pytest.approx(need.duty / math.sqrt(4 / 3))
    assert injector_flow(1.0, 12e5, 3e5) == pytest.approx(2.0)


def test_alcohols_need_more_by_their_energy():
    """Flow for the same power: ethanol about 1.55, methanol about 2.0 times petrol; gases a little less."""
    need = demand(twin(), 5000.0, 50e3, 300.0 / 3.6e9)
    ratio = {d.fuel: d.flow.kg_per_s / need.flow.kg_per_s for d in other_fuels(twin(), need, lambda_=1.0)}
    assert ratio["petrol"] == pytest.approx(1.0)
    assert ratio["ethanol"] == pytest.approx(43.5 / 27.73, rel=0.03)
    assert ratio["methanol"] == pytest.approx(43.5 / 21.1, rel=0.03)
    assert 1.0 < ratio["e10"] < 1.06 < ratio["e85_winter"] < ratio["e85"]
    assert ratio["methane"] < 1.0


def test_fuel_refusals():
    with pytest.raises(InputError, match="must be above zero"):
        demand(twin(), 5000.0, -1.0, 1e-7)
    with pytest.raises(InputError, match="all must be above zero"):
        injector_flow(1.0, 0.0, 3e5)


def test_vapour_pressures():
    """Ethanol 7.87, methanol 16.9 kPa at 25 C (CRC Handbook, from memory)."""
    assert vapour_pressure("ethanol", 298.15) == pytest.approx(7.87e3, rel=0.01)
    assert vapour_pressure("methanol", 298.15) == pytest.approx(16.9e3, rel=0.01)


def test_alcohol_stops_evaporating_petrol_does_not():
    """Methanol cannot take all its heat from the charge; what it does take is 15 to 45 K (by the balance itself)."""
    shares = {key: evaporable(w.on_fuel(twin(), key)) for key in ("petrol", "propane", "ethanol", "methanol")}
    assert shares["petrol"] == shares["propane"] == 1.0
    assert 0.1 < shares["methanol"] < shares["ethanol"] < 0.6
    assert w.on_fuel(twin(), "methanol").mixture.evaporated == pytest.approx(shares["methanol"])


def test_what_ifs_move_as_they_must():
    engine = replace(twin(), fuel=replace(twin().fuel, octane=90.0))
    cases = [("base", engine), ("octane", w.with_octane(engine, 91.0)), ("ratio", w.with_ratio(engine, 11.0)),
             ("warm", w.in_air(engine, engine.day.temperature + 10)), ("high", w.at_altitude(engine, 1500.0))]
    rows = {r.what: r for r in w.what_if(cases, [2500.0], **LUMPED)}
    base = rows["base"]
    assert 0.5 < rows["octane"].margin - base.margin < 1.5
    assert rows["octane"].octane_needed == pytest.approx(base.octane_needed, rel=1e-9)
    assert rows["ratio"].margin < base.margin - 1
    assert rows["ratio"].best_torque > base.best_torque
    assert rows["warm"].knock_limit < base.knock_limit
    assert rows["warm"].best_torque < base.best_torque
    assert rows["high"].margin > base.margin + 2
    assert rows["high"].best_torque < 0.9 * base.best_torque


def test_a_step_of_the_ratio_needs_octane():
    """About 3 to 7 numbers for one step (common practice, no source)."""
    (_, low), (_, high) = w.octane_for_ratio(twin(), [9.0, 10.0], [2500.0], **LUMPED)
    assert 3.0 < high - low < 8.0


def test_fuel_split_sums_to_the_whole():
    engine = replace(twin(), fuel=replace(twin().fuel, octane=88.0))
    (split,) = w.fuel_split(engine, "e85", [2500.0], **LUMPED)
    old, new = w.what_if([("old", engine), ("new", w.on_fuel(engine, "e85"))], [2500.0], **LUMPED)
    assert split.total == pytest.approx(new.torque - old.torque, abs=1e-9)
    assert split.cooling > 0
    assert split.knock > 0


@pytest.mark.parametrize(("call", "text"), [
    (lambda: w.with_octane(twin(), 200), "octane 200 is outside 40 to 140"),
    (lambda: w.with_ratio(twin(), 30), "compression ratio 30 is outside 4 to 20"),
    (lambda: w.on_fuel(twin(), "etanol"), "did you mean ethanol"),
    (lambda: accelerating([1000], [1], 100, 0.1), "two or more rising speeds"),
    (lambda: accelerating([1000, 2000], [1, 2], 0, 0.1), "the rate must be above zero"),
    (lambda: throttled(single()), "has no throttle plate to close"),
    (lambda: throttled(twin(), 0.0), "throttle opening 0 is outside 0 to 1"),
])
def test_refusals(call, text):
    with pytest.raises(InputError, match=text):
        call()


def test_inertia_hides_torque():
    """0.35 kg m2 at 600 rpm/s hides 22 N m; none at rate zero's limit."""
    assert hidden_torque(0.35, 600.0) == pytest.approx(22.0, abs=0.05)
    pull = accelerating([2000, 4000, 6000], [200, 240, 210], 600.0, 0.35)
    assert pull.torque - pull.shown == pytest.approx(np.full(len(pull.speed), pull.hidden))
    assert pull.time[-1] == pytest.approx(4000.0 / 600.0, rel=0.02)
    assert np.diff(pull.speed) == pytest.approx(600.0 * 120.0 / pull.speed[:-1])
    assert pull.torque.max() == pytest.approx(240.0, abs=0.5)


def test_motoring_pumps_and_rubs():
    rows = motoring(twin(), [2000.0, 4000.0], opening=0.03, **LUMPED)
    assert [r["rpm"] for r in rows] == [2000.0, 4000.0]
    for r in rows:
        assert r["torque"] < 0
        assert r["pmep"] < -1e4
        assert r["plenum_pressure"] < 9e4
    assert rows[1]["torque"] < rows[0]["torque"]
    open_, = motoring(twin(), [4000.0], opening=1.0, **LUMPED)
    assert open_["torque"] > rows[1]["torque"]

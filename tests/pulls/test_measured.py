"""Sweep inertia put back and weather taken out, run by run."""

import math

import numpy as np
import pytest

from pullcast.errors import InputError
from pullcast.pulls.correction import correction_factor
from pullcast.pulls.measured import measure
from pullcast.pulls.session import Rules, Run, Session, Weather

AIR = Weather(97000.0, 299.0, 0.5)
RPM = np.arange(2000.0, 5001.0, 25.0)


@pytest.fixture
def session(tmp_path):
    def make(header="RPM,Torque Nm", torque=300.0, basis="j1349", recorded="observed", **run):
        path = tmp_path / "a.csv"
        path.write_text("\n".join([header, *[f"{n},{torque}" for n in RPM]]))
        one = Run(1, "A", 1, file=path, **{"weather": AIR} | run)
        return Session(tmp_path / "s.toml", "t", "", {"A": "a"}, (one,), "A", basis, recorded, Rules())
    return make


def test_observed_stays_beside_corrected(session):
    s = session()
    m = measure(s, s.runs[0])
    factor = correction_factor("j1349", AIR.pressure, AIR.temperature, AIR.humidity).factor
    assert m.observed == pytest.approx(300.0 + 0 * RPM)
    assert m.corrected == pytest.approx(300.0 * factor + 0 * RPM)
    assert m.correction.dry_pressure < AIR.pressure


def test_inertia_of_the_trade_hides_22_newton_metres(session):
    """0.35 kg m2 at 600 rpm/s hide 22 N m (common practice, no source; it is I times angular acceleration)."""
    s = session(inertia=0.35, rate=600.0, basis="observed")
    added = measure(s, s.runs[0]).corrected - 300.0
    assert added == pytest.approx(0.35 * 600.0 * math.pi / 30.0 + 0 * RPM)
    assert added[0] == pytest.approx(22.0, abs=0.05)


def test_inertia_without_a_rate_is_refused(session):
    s = session(inertia=0.35)
    with pytest.raises(InputError, match="neither the sweep rate nor a time column"):
        measure(s, s.runs[0])


def test_one_basis_turned_into_another_through_the_weather(session):
    s = session(recorded="std", basis="iso1585")
    state = (AIR.pressure, AIR.temperature, AIR.humidity)
    m = measure(s, s.runs[0])
    std, iso = (correction_factor(b, *state).factor for b in ("std", "iso1585"))
    assert m.observed == pytest.approx(300.0 / std + 0 * RPM)
    assert m.corrected == pytest.approx(300.0 / std * iso + 0 * RPM)


def test_unknown_basis_keeps_the_numbers_and_says_so(session):
    s = session(recorded="unknown")
    m = measure(s, s.runs[0])
    assert m.observed is None
    assert m.corrected == pytest.approx(300.0 + 0 * RPM)
    assert any("only ratios within the session" in n for n in m.notes)


def test_a_column_named_as_corrected_is_not_taken_for_observed(session):
    s = session(header="RPM,Corr Torque Nm")
    with pytest.raises(InputError, match="named as corrected, but the card says recorded"):
        measure(s, s.runs[0])

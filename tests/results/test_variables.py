import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.errors import InputError
from pullcast.results.variables import VARIABLES, keys_reference, variable

# One known pair per quantity: stored value, shown si, shown us; from conversion tables (NIST SP 811, from memory).
KNOWN = {
    "torque": (135.5817948, 135.5817948, 100.0),
    "power": (745.69987158, 0.74569987158, 1.0),
    "bmep": (6894.757293, 0.06894757293, 1.0),
    "plenum_pressure": (101325.0, 101.325, 29.9213),
    "plenum_temperature": (298.15, 25.0, 77.0),
    "airflow": (0.45359237 / 3600, 0.1259978806, 1.0),
    "bsfc": (0.5 * 0.45359237 / (745.69987158 * 3600), 304.1387, 0.5),
    "mean_piston_speed": (20.32, 20.32, 4000.0),
    "intake_lift": (0.0127, 12.7, 0.5),
    "injector_duty": (0.82, 82.0, 82.0),
}


@pytest.mark.parametrize("name", KNOWN)
def test_known_conversions(name):
    stored, si, us = KNOWN[name]
    assert float(VARIABLES[name].convert(stored, "si")) == pytest.approx(si, rel=1e-6)
    assert float(VARIABLES[name].convert(stored, "us")) == pytest.approx(us, rel=2e-6)


@given(st.floats(-1e7, 1e7), st.sampled_from([v for v in VARIABLES.values() if v.kind == "float"]))
def test_conversion_is_affine_and_keeps_order(x, v):
    for system in ("si", "us"):
        shown = v.shown(system)
        assert shown.factor > 0
        back = (float(v.convert(x, system)) - shown.offset) / shown.factor
        assert back == pytest.approx(x, rel=1e-9, abs=1e-6)


def test_every_variable_is_whole():
    for v in VARIABLES.values():
        assert v.long_name
        assert v.head
        assert v.trace == ("angle" in v.dims)
        for system in ("si", "us"):
            assert v.key(system).isidentifier(), v.key(system)
    for system in ("si", "us"):
        keys = [v.key(system) for v in VARIABLES.values()]
        assert len(set(keys)) == len(keys)


def test_keys_named_for_users():
    assert [variable(n).key("si") for n in ("torque", "power")] == ["torque_Nm", "power_kW"]
    assert [variable(n).key("us") for n in ("torque", "power")] == ["torque_lbft", "power_hp"]
    assert "| torque_lbft | brake torque | speed |" in keys_reference("us")


def test_unknown_name_offers_the_nearest():
    with pytest.raises(InputError, match="no result is called 'torqe': did you mean torque"):
        variable("torqe")


def test_unknown_system():
    with pytest.raises(InputError, match="units 'imperial' are not known: use si or us"):
        variable("torque").convert(np.ones(2), "imperial")

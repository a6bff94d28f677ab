import dataclasses

import numpy as np
import pytest

from pullcast.errors import InputError
from pullcast.results.dataset import curve_dataset
from pullcast.results.provenance import provenance_of, values_sha256
from pullcast.results.variables import VARIABLES

RPM = np.array([2000.0, 3000.0])


def test_units_names_and_coordinates(sample_curve):
    d = sample_curve(traces=True).dataset
    assert d["torque"].attrs == {"units": "N m", "long_name": "brake torque"}
    for name in d:
        assert d[name].attrs["units"] == VARIABLES[name].units
        assert d[name].dims == VARIABLES[name].dims
    assert d["speed"].attrs["units"] == "rpm"
    assert d["cylinder"].values.tolist() == [1, 2, 3, 4]
    assert d["angle"].values[[0, -1]].tolist() == [0, 719]
    assert d.attrs["basis"] == "observed"
    assert d.attrs["reference_density"] == 1.18


def test_no_angle_without_traces(sample_curve):
    assert "angle" not in sample_curve().dataset.coords


@pytest.mark.parametrize(("change", "text"), [
    ({"torqe": np.ones(2)}, "no result is called 'torqe': did you mean torque"),
    ({"torque": np.ones(3)}, r"torque has shape \(3,\); speed make \(2,\)"),
    ({"trapped_mass": np.ones((2, 3))}, r"trapped_mass has shape \(2, 3\); speed, cylinder make \(2, 4\)"),
])
def test_wrong_arrays_are_refused(sample, change, text):
    with pytest.raises(InputError, match=text):
        curve_dataset(RPM, sample["arrays"](RPM) | change, sample["provenance"]())


def test_missing_names_are_listed(sample):
    with pytest.raises(InputError, match="a curve needs power, converged, status as well"):
        curve_dataset(RPM, {"torque": np.ones(2)}, sample["provenance"]())


@pytest.mark.parametrize("speeds", [[], [0.0, 1000.0], [2000.0, 1000.0], [1000.0, float("nan")], [[1.0]]])
def test_wrong_speeds_are_refused(sample, speeds):
    with pytest.raises(InputError, match="rising numbers above zero"):
        curve_dataset(speeds, {}, sample["provenance"]())


@dataclasses.dataclass(frozen=True)
class Part:
    length: float
    rows: tuple[tuple[float, float], ...] = ((1.0, 2.0),)


@dataclasses.dataclass(frozen=True)
class Whole:
    part: Part
    text: str = ""


def test_hash_is_of_the_values_alone():
    one = values_sha256(Whole(Part(0.254), "length = '254 mm'"))
    assert one == values_sha256(Whole(Part(10 * 0.0254), "length = '10 in'  # comment"))
    assert one != values_sha256(Whole(Part(0.2541)))
    assert len(one) == 64


def test_provenance_of_an_engine():
    from types import SimpleNamespace as Bag

    @dataclasses.dataclass
    class Engine:
        name: str = "e"
        engine_class: str = "twin"
        source: str = "invented"
        text: str = "card text"
        block: object = None
        assumed: tuple = ()
        day: object = None

    block = Bag(displacement=0.7e-3, cylinders=2)
    engine = Engine(block=block, day=Bag(pressure=1e5, temperature=290.0, humidity=0.5))
    p = provenance_of(engine, version="0.1.0", reference_density=1.2, cell=0.02)
    assert (p.cylinders, p.card, p.pressure, p.fidelity) == (2, "card text", 1e5, "wave")

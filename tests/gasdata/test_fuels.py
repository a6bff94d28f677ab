import pytest

from pullcast.errors import InputError
from pullcast.gasdata.fuels import FUELS, fuel_recipe


@pytest.mark.parametrize("key", sorted(FUELS))
def test_fractions_sum_to_one(key):
    recipe = fuel_recipe(key)
    assert sum(y for _, y in recipe.mass_fractions()) == pytest.approx(1.0, abs=1e-14)
    assert sum(recipe.mole_fractions().values()) == pytest.approx(1.0, abs=1e-14)


def test_spelling_and_aliases_reach_the_same_recipe():
    assert fuel_recipe("E85-Winter") is fuel_recipe("e85_winter")
    assert fuel_recipe(" Gasoline ") is fuel_recipe("petrol")
    assert fuel_recipe("e85_summer") is fuel_recipe("e85")


def test_unknown_fuel_names_the_nearest():
    with pytest.raises(InputError, match="no gas table for fuel 'etanol': did you mean ethanol") as caught:
        fuel_recipe("etanol")
    assert "Known fuels: e10, e85" in str(caught.value)
    assert caught.value.exit_code == 2


def test_unlike_anything_lists_the_fuels_without_a_guess():
    with pytest.raises(InputError, match=r"'zzz': Known fuels: e10"):
        fuel_recipe("zzz")


def test_blend_lies_between_its_ends():
    ends = fuel_recipe("petrol").evaporation, fuel_recipe("ethanol").evaporation
    values = [fuel_recipe(k).evaporation for k in ("e10", "e85_winter", "e85")]
    assert ends[0] < values[0] < values[1] < values[2] < ends[1]


def test_gases_take_no_heat_of_evaporation():
    assert fuel_recipe("propane").evaporation == fuel_recipe("methane").evaporation == 0.0


@pytest.mark.parametrize(("key", "fluid"), [("ethanol", "Ethanol"), ("methanol", "Methanol")])
def test_evaporation_against_a_reference_equation_of_state(key, fluid):
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI
    expected = props("H", "T", 298.15, "Q", 1, fluid) - props("H", "T", 298.15, "Q", 0, fluid)
    assert fuel_recipe(key).evaporation == pytest.approx(expected, rel=0.02)  # handbooks differ by 1 to 2 %


def test_petrol_components_against_a_reference_equation_of_state():
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI
    names = {"C7H8": "Toluene", "C7H16,n-heptane": "n-Heptane"}
    for component, _ in fuel_recipe("petrol").parts:
        if fluid := names.get(component.species):
            heat = props("H", "T", 298.15, "Q", 1, fluid) - props("H", "T", 298.15, "Q", 0, fluid)
            assert component.evaporation == pytest.approx(heat, rel=0.02)
            assert component.density == pytest.approx(props("D", "T", 293.15, "Q", 0, fluid), rel=0.01)
            assert component.molar_mass == pytest.approx(props("M", fluid), rel=1e-4)

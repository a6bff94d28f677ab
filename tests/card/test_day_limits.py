"""Weather the gas tables do not reach is refused with the card, not when the engine is marched."""

import pytest

from pullcast.card import read_engine_text
from pullcast.card.starter import starter
from pullcast.card.weather_fuel import WETTEST
from pullcast.errors import CardError
from pullcast.gasdata import nodes


def test_air_wetter_than_the_tables_is_refused():
    text = starter("car_four_4v") + '\n[day]\ntemperature = "40 C"\nhumidity = "95 %"\n'
    with pytest.raises(CardError, match=r"day.humidity: 95% at 40 °C is \d+ g of water .* Check humidity"):
        read_engine_text(text, name="card.toml")


def test_a_humid_summer_day_is_taken():
    text = starter("car_four_4v") + '\n[day]\ntemperature = "33 C"\nhumidity = "95 %"\n'
    assert read_engine_text(text, name="card.toml").day.humidity == pytest.approx(0.95)


def test_the_bounds_of_the_card_are_those_of_the_tables():
    assert nodes.HUMIDITIES[-1] == WETTEST
    for value in ("0.69", "1.41"):
        with pytest.raises(CardError, match=r"mixture.lambda: .*outside what can be"):
            read_engine_text(starter("car_four_4v") + f"\n[mixture]\nlambda = {value}\n", name="card.toml")

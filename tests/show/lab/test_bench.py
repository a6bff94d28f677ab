import pytest

from pullcast.errors import CardError, InputError
from pullcast.show.lab.bench import Bench, faults, set_up

V8 = Bench("engines/hillclimb_v8.toml")


def attempt(bench, shelf, before=V8):
    known = set_up(before, shelf)
    with pytest.raises(InputError) as caught:
        set_up(bench, shelf)
    return faults(caught.value, bench, known.own, known.data)


def test_a_new_part_forgets_what_was_turned_on_the_old_one():
    bench = V8.with_knob("advance", "2").with_knob("spark", "30").with_part("cam", "cams/v8_warm.toml")
    assert dict(bench.knobs) == {"spark": "30"}
    assert dict(bench.parts) == {"cam": "cams/v8_warm.toml"}
    assert bench.with_part("cam", "").parts == ()


def test_an_empty_text_sets_a_control_back():
    assert V8.with_knob("spark", "30").with_knob("spark", "") == V8
    assert V8.with_knob("spark", "") == V8


def test_a_value_beyond_what_can_be_is_told_at_its_control(shelf):
    fields, rest = attempt(V8.with_knob("intake_duration", "900"), shelf)
    assert "outside what can be" in fields["intake_duration"]
    assert rest == []


def test_a_text_that_is_no_value_is_told_at_its_control(shelf):
    fields, rest = attempt(V8.with_knob("spark", "thirty"), shelf)
    assert "does not start with a number" in fields["spark"]
    assert rest == []


def test_an_air_fuel_ratio_is_told_at_lambda(shelf):
    fields, _ = attempt(V8.with_knob("lambda", "12.8"), shelf)
    assert "is an air-fuel ratio" in fields["lambda"]


def test_a_part_that_does_not_fit_is_told(shelf):
    odd = V8.with_part("exhaust", "exhausts/four_421.toml").with_part("intake", "intakes/nothing.toml")
    fields, rest = attempt(odd, shelf)
    assert fields == {}
    assert "there is no intake 'intakes/nothing.toml' on the shelf" in rest[0]


def test_an_unknown_key_offers_the_nearest(shelf):
    _, rest = attempt(V8.with_keys([("cam.advanse", "4 deg")]), shelf)
    assert "cam.advanse" in rest[0]
    assert "Did you mean advance" in rest[0]


def test_a_path_through_a_value_is_refused(shelf):
    _, rest = attempt(V8.with_keys([("name.x", "4")]), shelf)
    assert "is not a table" in rest[0]


@pytest.mark.parametrize("reference", ["../../../etc/passwd", "/etc/passwd", "engines/../../x.toml", "", "nothing"])
def test_an_engine_that_is_not_on_the_shelf_is_refused(shelf, reference):
    with pytest.raises(InputError):
        set_up(Bench(reference), shelf)


@pytest.mark.parametrize("reference", ["../../../etc/passwd", "/etc/hosts", "cams/../../x.toml",
                                       "heads/v8_ported.toml"])
def test_a_part_that_is_not_on_the_shelf_is_refused(shelf, reference):
    with pytest.raises(InputError, match="on the shelf"):
        set_up(V8.with_part("cam", reference), shelf)


@pytest.mark.parametrize("reference", ["../secret.toml", "/etc/hosts", "secret.toml", "cams/none.toml",
                                       "engines/club_four.toml"])
def test_a_typed_card_refers_to_parts_of_the_shelf_alone(shelf, reference):
    text = f'name = "x"\nclass = "twin"\n[parts]\ncam = "{reference}"\n'
    with pytest.raises(CardError, match="not on the shelf"):
        set_up(Bench(text=text), shelf)


def test_a_typed_card_may_refer_to_the_shelf(shelf):
    text = (shelf.folder / "engines/club_four.toml").read_text()
    assert set_up(Bench(text=text), shelf).engine.name == "Kestrel club four"


def test_keys_are_card_values_numbers_plain(shelf):
    engine = set_up(V8.with_keys([("block.compression_ratio", "11"), ("cam.intake.lash", "0.1 mm")]), shelf).engine
    assert engine.block.compression_ratio == 11.0
    assert engine.cam.intake.lash == pytest.approx(1e-4)

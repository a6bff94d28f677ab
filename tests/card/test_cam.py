import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.card import read_engine_text
from pullcast.card.derived import event_text, overlap
from pullcast.errors import CardError

HEAD = 'name = "x"\nclass = "car_four_4v"\n[block]\nbore = "86 mm"\nstroke = "86 mm"\n'


def read(cam):
    return read_engine_text(HEAD + cam, "/", "card")


def lobes(cam):
    c = read(cam).cam
    return c.intake, c.exhaust


EVENTS = """[cam.intake]
ivo = "{} deg"
ivc = "{} deg"
events_at = "1 mm"
[cam.exhaust]
evo = "{} deg"
evc = "{} deg"
events_at = "1 mm"
"""


@given(*[st.integers(-5, 25), st.integers(25, 70), st.integers(25, 70), st.integers(-5, 25)])
def test_identities_of_events(ivo, ivc, evo, evc):
    e = read(EVENTS.format(ivo, ivc, evo, evc))
    one, two = e.cam.intake, e.cam.exhaust
    assert one.durations[0].duration_deg == ivo + ivc + 180
    assert one.centreline_deg == pytest.approx(one.durations[0].duration_deg / 2 - ivo)
    assert two.centreline_deg == pytest.approx(two.durations[0].duration_deg / 2 - evc)
    assert overlap(e, 0.001, "valve") == pytest.approx(ivo + evc)


@pytest.mark.parametrize(("top", "icl", "ecl"), [
    ('lobe_separation = "110 deg"\nadvance = "4 deg"\n', 106, 114),
    ('lobe_separation = "110 deg"\n[cam.intake]\ncentreline = "107 deg"\n', 107, 113),
    ('lobe_separation = "110 deg"\n[cam.exhaust]\ncentreline = "113 deg"\n', 107, 113),
    ('[cam.intake]\ncentreline = "107 deg"\n[cam.exhaust]\ncentreline = "109 deg"\n', 107, 109),
    ('advance = "3 deg"\n[cam.intake]\ncentreline = "107 deg"\n', 107, 113),
    ('lobe_separation = "110 deg"\nadvance = "4 deg"\ninstalled_advance = "-2 deg"\n', 108, 112)])
def test_where_the_lobes_stand(top, icl, ecl):
    one, two = lobes("[cam]\n" + top)
    assert (one.centreline_deg, two.centreline_deg) == (icl, ecl)


@pytest.mark.parametrize(("mark", "sign"), [("BTDC", 1), ("ATDC", -1), ("b.t.d.c.", 1)])
def test_event_marks(mark, sign):
    one, _ = lobes(f'[cam.intake]\nivo = "8 deg {mark}"\nivc = "50 deg ABDC"\nevents_at = "1 mm"\n')
    assert one.durations[0].duration_deg == 230 + 8 * sign


@pytest.mark.parametrize(("cam", "words"), [
    ('[cam.intake]\nivo = "8 deg ABDC"\nivc = "50 deg"\nevents_at = "1 mm"', "counts from the wrong dead centre"),
    ('[cam.intake]\nivo = "8 deg"\nivc = "50 deg"', "without the lift they are counted at"),
    ('[cam.intake]\nivo = "8 deg"\nevents_at = "1 mm"', "ivo and ivc must be given together"),
    ('[cam.intake]\nevo = "8 deg"', "evo does not belong to the intake lobe"),
    ('[cam.intake]\nivo = "120 deg"\nivc = "180 deg"\nevents_at = "1 mm"', "make a duration of 480 deg"),
    ('[cam.intake]\nduration_at_1mm = "800 deg"', "is outside what can be (60 deg to 440 deg)"),
    ('[cam.intake]\nadvertised_duration = "270 deg"', "without the lift it is counted at"),
    ('[cam.intake]\nadvertised_duration = "270 deg"\nadvertised_at = "0.006 in"\nduration_at_0p050in = "275 deg"',
    "swapped"),
    ('[cam.intake]\nlash = "1.4 mm"\nvalve_lift = "1.2 mm"', "the lash takes up the whole lift"),
    ('[cam.intake]\nvalve_lift = "0.9 mm"\nduration_at_1mm = "230 deg"', "lifts only"),
    ('[cam.intake]\ntable = { angle = "-60 -30 0 30 60 deg", lift = "1 5 9 5 0 mm" }', "starts at 1 mm"),
    ('[cam.intake]\ntable = { angle = "-60 -30 0 30 60 deg", lift = "0 5 3 5 0 mm" }', "more than one peak"),
    ('[cam.intake]\ntable = { angle = "-60 -30 -40 30 60 deg", lift = "0 5 9 5 0 mm" }', "do not rise"),
    ('[cam.intake]\ntable = { angle = "-60 0 60 deg", lift = "0 5 0 mm" }', "at least five angles")])
def test_fault_is_named(cam, words):
    with pytest.raises(CardError) as e:
        read(cam)
    assert words in str(e.value)


def test_lift_comes_after_lash_and_ratio():
    one, _ = lobes('[cam.intake]\nlobe_lift = "7 mm"\nrocker_ratio = 1.5\nlash = "0.2 mm"\n')
    assert one.lift == pytest.approx(0.0103)


def test_measured_table_is_kept():
    one, _ = lobes('[cam.intake]\ntable = { angle = "-70 -35 0 35 70 deg", lift = "0 5 9 5 0 mm" }\n')
    assert one.lift == pytest.approx(0.009)
    assert one.table[0] == (-70.0, 0.0)


def test_event_text_of_a_cam_that_opens_late():
    assert event_text("intake", 200, 108) == "8 ATDC to 28 ABDC"
    assert event_text("exhaust", 224, 115) == "47 BBDC to 3 BTDC"

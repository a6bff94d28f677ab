"""Slips that people make are caught; good cards raise no alarm."""

import random

import pytest

from pullcast.card import read_engine, with_changes
from pullcast.card.checks import checks
from pullcast.card.classes import CLASSES
from pullcast.card.starter import starter
from pullcast.errors import CardError

ENGINES = ("hillclimb_v8", "club_four", "touring_six", "rally_v6", "vintage_twin", "lab_single")
V8, FOUR, SIX, TWIN = "hillclimb_v8", "club_four", "touring_six", "vintage_twin"

# engine, changes, part of the key or text that must be named
SLIPS = [
    # units
    (V8, {"block.bore": "4.040 mm"}, "block.bore"), (V8, {"block.bore": "4.040 cm"}, "side by side"),
    (FOUR, {"block.bore": "85 in"}, "block.bore"), (FOUR, {"block.stroke": "88 cm"}, "block.stroke"),
    (V8, {"intake.runner.length": "5.3 mm"}, "intake.runner.length"),
    (V8, {"intake.runner.length": "5.3 cm"}, "tract from valve"), (FOUR, {"intake.runner.length": "28.5 mm"},
                                                                   "tract from valve"),
    (FOUR, {"intake.runner.length": "2850 mm"}, "tract from valve"), (V8, {"exhaust.primary.length": "34 cm"},
                                                                      "a primary of"),
    (V8, {"exhaust.primary.length": "34 mm"}, "a primary of"), (FOUR, {"intake.plenum.volume": "2.6 cc"},
                                                                "plenum / displacement"),
    (FOUR, {"intake.plenum.volume": "260 L"}, "plenum / displacement"), (FOUR, {"intake.throttle.diameter": "6.2 mm"},
                                                                         "throttle"),
    (V8, {"head.intake.port_area": "2.05 cm2"}, "port's flange"), (V8, {"head.intake.port_length": "5.1 cm"},
                                                                   "head port of"),
    (FOUR, {"cam.intake.lash": "0.18 in"}, "cam.intake.lash"), (FOUR, {"cam.intake.lash": "0.7 mm"}, "a lash of"),
    (FOUR, {"intake.runner.diameter": "39 in"}, "intake.runner.diameter"),
    (FOUR, {"intake.runner.diameter": "20 mm"}, "of the port's area"), (FOUR, {"limits.rpm": "750 rpm"},
                                                                        "limits.rpm"),
    (FOUR, {"limits.rpm": "75000 rpm"}, "limits.rpm"), (FOUR, {"limits.injector_flow": "320 lb/h"}, "injectors"),
    (FOUR, {"limits.injector_flow": "32 cc/min"}, "injectors"), (FOUR, {"day.temperature": "63 C"},
                                                                 "day.temperature"),
    # the cam card
    (V8, {"cam.intake.duration_at_0p050in": "268 deg"}, "swapped"),
    (V8, {"cam.intake.duration_at_0p050in": "262 deg"}, "Is it the advertised duration?"),
    (V8, {"cam.intake.advertised_duration": "230 deg"}, "advertised"), (V8,
                                                                        {"cam.intake.advertised_duration": "310 "
                                                                         "deg"}, "advertised"),
    (V8, {"cam.lobe_separation": "107 deg", "cam.exhaust.centreline": "115 deg"}, "cam.lobe_separation"),
    (V8, {"cam.intake.centreline": "115 deg"}, "retarded"), (V8, {"cam.intake.rocker_ratio": 1.05}, "cam.intake"),
    (V8, {"cam.intake.lobe_lift": "0.480 in"}, "valve lift of"), (V8, {"cam.intake.lobe_lift": "0.320 mm"},
                                                                  "cam.intake.lobe_lift"),
    (FOUR, {"cam.intake.ivo": "13 deg ATDC"}, "cam.intake"), (FOUR, {"cam.intake.ivc": "54 deg ABDC"}, "cam.intake"),
    (FOUR, {"cam.intake.duration_at_1mm": "288 deg"}, "cam.intake"), (FOUR, {"cam.lobe_separation": "117 deg"},
                                                                      "cam.lobe_separation"),
    (FOUR, {"cam.exhaust.evc": "10 deg BTDC"}, "cam.exhaust"), (FOUR, {"cam.intake.valve_lift": "10.3 cm"},
                                                                "cam.intake.valve_lift"),
    (TWIN, {"cam.intake.valve_lift": "9.0 mm"}, "Is it the lobe lift"),
    # the flow sheet
    (V8, {"head.intake.flow.depression": "10 inH2O"}, "head.intake.flow"), (V8,
                                                                            {"head.intake.flow.depression": "15 "
                                                                             "inH2O"}, "head.intake.flow"),
    (TWIN, {"head.intake.flow.depression": "28 inH2O"}, "Was it flowed at 10 inH2O?"),
    (V8, {"head.intake.flow.flows": "64 129 186 231 258 268 L/s"}, "more than an ideal valve passes"),
    (FOUR, {"head.intake.flow.flows": "15.5 31 46.5 61 74 85.7 94.5 101.8 106.6 110.5 cfm"}, "head.intake.flow"),
    (FOUR, {"head.intake.valves": 1}, "more than an ideal valve passes"), (V8,
                                                                           {"head.intake.valve_diameter": "1.560 "
                                                                            "in"}, "head.intake"),
    (V8, {"head.intake.flow.lifts": "1 2 3 4 5 6 mm"}, "more than an ideal"), (V8,
                                                                               {"head.intake.flow.flows": "64 129 "
                                                                                "816 231 258 268 cfm"}, "flow"),
    # the rest
    (V8, {"exhaust.primary.id": "1.750 in"}, "usual outside size of tube"), (FOUR, {"exhaust.primary.id": "42.4 mm"},
                                                                             "usual outside size"),
    (V8, {"block.compression_ratio": 101}, "block.compression_ratio"), (V8, {"block.compression_ratio": 13.5},
                                                                        "compression ratio"),
    (FOUR, {"block.chamber": "64 cc"}, "compression ratio"), (V8, {"mixture.lambda": 12.8}, "air-fuel ratio"),
    (V8, {"mixture.lambda": 1.15}, "not phi"), (V8, {"burn.spark": "3.2 deg"}, "a spark of"),
    (V8, {"day.altitude": "900 m", "day.station_pressure": "1013 hPa"}, "sea-level barometer"),
    (V8, {"block.firing_order": [1, 8, 4, 3, 6, 5, 7]}, "firing_order"), (SIX, {"block.rod": "89 mm"}, "rod"),
    (V8, {"intake.runner.measured_from": "valve"}, "measured from the flange"), (V8,
                                                                                 {"intake.throttle.rating": "750 "
                                                                                  "L/s"}, "rating"),
    (V8, {"class": "car_four_4v"}, "class"), (V8, {"intake.runner.volume": "150 cc"}, "intake.runner.volume"),
    (V8, {"head.intake.port_length": "3.9 in"}, "head.intake.port_volume"),
    # these two cannot be told from good cards: they count as missed
    (FOUR, {"intake.runner.measured_from": "valve"}, "never found"), (V8,
                                                                      {"cam.intake.duration_at_0p050in": "222 "
                                                                       "deg"}, "never found"),
]


def told(configs, engine, swaps):
    try:
        found = checks(with_changes(configs / "engines" / f"{engine}.toml", swaps))
    except CardError as e:
        return str(e)
    return "\n".join(f"{f.key}: {f.text} {f.remedy}" for f in found if f.level != "note")


def test_nine_of_ten_slips_are_caught(configs):
    missed = [(engine, swaps, words) for engine, swaps, words in SLIPS if words not in told(configs, engine, swaps)]
    assert len(missed) <= 0.1 * len(SLIPS), missed


@pytest.mark.parametrize(("engine", "swaps", "words"), [s for s in SLIPS if s[2] != "never found"])
def test_slip_is_named(configs, engine, swaps, words):
    assert words in told(configs, engine, swaps)


@pytest.mark.parametrize("name", ENGINES)
def test_shipped_engines_raise_no_alarm(configs, name):
    assert [f for f in checks(read_engine(configs / "engines" / f"{name}.toml")) if f.level != "note"] == []


SHELF = [{"intake": "intakes/v8_dual_plane.toml"}, {"cam": "cams/v8_warm.toml"},
         {"exhaust": "exhausts/v8_headers_162_h.toml"},
         {"day": "days/aldermoor_summer.toml"}, {"fuel": "fuels/e85_summer.toml"}, {"intake.plenum.length": "220 mm"}]


@pytest.mark.parametrize("swaps", SHELF)
def test_shelf_raises_no_alarm(configs, swaps):
    assert [f for f in checks(with_changes(configs / "engines" / "hillclimb_v8.toml", swaps))
            if f.level != "note"] == []


def plausible(engine_class, rnd):
    """Changes that keep a starter card within its class."""
    rows = CLASSES[engine_class].rows

    def draw(key, scale=1.0):
        return rnd.uniform(rows[key].low, rows[key].high) * scale

    duration, separation = draw("cam.intake.duration"), draw("cam.lobe_separation")
    key = "duration_at_0p050in" if CLASSES[engine_class].duration_at == "0p050in" else "duration_at_1mm"
    return {
        "block.compression_ratio": draw("block.compression_ratio"), "mixture.lambda": draw("mixture.lambda"),
        "intake.runner.length": f"{draw('intake.runner.length')} m", f"cam.intake.{key}": f"{duration} deg",
        f"cam.exhaust.{key}": f"{draw('cam.exhaust.duration', duration)} deg",
            "cam.lobe_separation": f"{separation} deg",
        "cam.intake.centreline": f"{separation - draw('cam.advance')} deg",
        "cam.intake.valve_lift": f"{draw('cam.intake.valve_lift')} m",
        "cam.exhaust.valve_lift": f"{draw('cam.exhaust.valve_lift')} m",
        "exhaust.primary.length": f"{draw('exhaust.primary.length')} m", "limits.rpm": f"{draw('limits.rpm')} rpm",
        "burn.spark": f"{draw('burn.spark')} deg", "day.station_pressure": f"{draw('day.station_pressure')} Pa",
    }


def test_fewer_than_one_in_twenty_good_cards_raise_an_alarm(tmp_path):
    rnd, alarms, cards = random.Random(11), [], 0
    for name in CLASSES:
        path = tmp_path / f"{name}.toml"
        path.write_text(starter(name), encoding="utf-8")
        for _ in range(12):
            cards += 1
            found = [f for f in checks(with_changes(path, plausible(name, rnd))) if f.level != "note"]
            alarms += [(name, found)] if found else []
    assert len(alarms) < 0.05 * cards, alarms


def test_contradictions_stand_first(configs):
    found = checks(with_changes(configs / "engines" / "lab_single.toml", {"cam.intake.ivo": "5 deg",
                                                                          "cam.intake.ivc": "60 deg",
                                                                          "cam.intake.events_at": "1 mm"}))
    assert found[0].level == "contradiction"
    assert found[-1].level == "note"

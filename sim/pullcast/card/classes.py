"""Engine classes and what they fill in: every value a card may leave out, with its plausible range.

All ranges are common practice, no source, unless the row says otherwise. A row gives low, usual
and high in the unit named, or, where ``per`` is set, as multiples of another dimension of the engine.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pullcast import units


@dataclass(frozen=True)
class Range:
    """Low, usual and high value in internal units, as multiples of ``per`` if that is set."""

    kind: str
    low: float
    value: float
    high: float
    per: str = ""


@dataclass(frozen=True)
class EngineClass:
    """A class of engines: its build in words and its rows of defaults; ``limits`` are ranges for warnings only."""

    name: str
    title: str
    cylinders: int
    layout: str
    bank_angle_deg: float
    valves: tuple[int, int]
    duration_at: str  # the reference of the class's cam durations: "0p050in" or "1mm"
    intake_style: str
    exhaust_style: str
    preparation: str
    speeds: tuple[float, ...]
    rows: dict[str, Range] = field(default_factory=dict)
    limits: dict[str, Range] = field(default_factory=dict)


def _range(text: str) -> Range:
    """A row from text: "low usual high unit", the unit being one known to units or "x something"."""
    words = text.split()
    numbers, unit = words[:3], " ".join(words[3:])
    if unit.startswith("x "):
        low, value, high = (float(n) for n in numbers)
        return Range(_PER_KIND.get(unit[2:], "length"), low, value, high, unit[2:])
    if unit == "":
        low, value, high = (float(n) for n in numbers)
        return Range("fraction", low, value, high)
    kind = units.kind_of(unit)
    low, value, high = (units.to_si(f"{n} {unit}", kind) for n in numbers)
    return Range(kind, low, value, high)


_PER_KIND = {"displacement": "volume", "swept volume": "volume", "intake valve area": "area",
             "exhaust valve area": "area", "intake port area": "area", "exhaust port area": "area",
             "intake duration": "angle"}

# burn.duration_10_90 and burn.delay are those whose spark for CA50 8 deg at the class's power peak is the middle of
# the class's usual spark (common practice, no source). burn.turbulence makes the time from spark to half burned of
# the class's starter engine that of the Wiebe law at the reference speed, by waves (found by a search over the
# factor; 1 would be no factor). Its 10-90 % part is then within 14 % of the Wiebe law's (laboratory single: 20 %
# shorter).
# Share of the heat of evaporation that the charge pays before the valve. What the air can hold as vapour at its
# falling temperature bounds it: about .2 for alcohols from 298 K (vapour pressures, our estimate). Gases arrive
# as vapour.
PLAIN_FRICTION = Range("fraction", 0.8, 1.0, 1.25)  # factor on a friction model other than Chen-Flynn
# Each class's own row "friction.factor" brings Chen-Flynn with its accessories to the middle and edges of the class's
# FMEP band at its power peak (common practice, no source).
EVAPORATED = {
    "e85": Range("fraction", 0.10, 0.20, 0.30), "e85_winter": Range("fraction", 0.10, 0.25, 0.35),
    "ethanol": Range("fraction", 0.10, 0.20, 0.30), "methanol": Range("fraction", 0.08, 0.15, 0.25),
    "propane": Range("fraction", 0.0, 0.0, 0.0), "methane": Range("fraction", 0.0, 0.0, 0.0),
}

# Standard deviation of strength between cylinders, relative. One carburettor for several: leanest and richest at full
# throttle 10 to 15 % apart (Heywood 1988, sec. 7.6, from memory), over 2.1 (four) to 2.8 (eight cylinders: mean range
# of a normal sample over its deviation). An injector or carburettor for each: matched to 2 to 3 %, air between
# cylinders to 1 to 2 % (common practice, no source).
BETWEEN = {"shared": Range("fraction", 0.03, 0.05, 0.07), "own": Range("fraction", 0.01, 0.02, 0.03)}

# rows shared by all classes
COMMON = {
    "block.rod": "1.50 1.65 1.95 x stroke",
    "head.intake.throat_diameter": "0.85 0.88 0.91 x intake valve diameter",
    "head.exhaust.throat_diameter": "0.84 0.87 0.90 x exhaust valve diameter",
    "head.intake.seat_angle": "44 45 46 deg",
    "head.exhaust.seat_angle": "44 45 46 deg",
    "head.intake.port_area": "0.60 0.70 0.80 x intake valve area",
    "head.exhaust.port_area": "0.75 0.88 1.05 x exhaust valve area",
    "head.intake.wall_temperature": "320 345 370 K",
    "head.exhaust.wall_temperature": "430 500 600 K",
    "head.intake.heat_factor": "1.2 2.0 2.6",
    "head.exhaust.heat_factor": "1.0 1.5 3.0",
    "head.intake.roughness": "0.01 0.05 0.15 mm",
    "head.exhaust.roughness": "0.02 0.08 0.20 mm",
    "head.intake.bend_loss": "0.05 0.15 0.35",
    "head.exhaust.bend_loss": "0.05 0.15 0.35",
    "head.intake.reverse_ratio": "0.75 0.90 1.05",
    "head.exhaust.reverse_ratio": "0.75 0.90 1.05",
    "cam.advance": "-2 2 4 deg",
    "cam.exhaust.duration": "0.97 1.01 1.05 x intake duration",
    "intake.throttle.shaft": "0.08 0.13 0.17 x throttle diameter",
    "intake.throttle.closed_angle": "2 5 10 deg",
    "intake.throttle.opening": "78 88 90 deg",
    "intake.throttle.coefficient": "0.85 0.90 1.00",
    "intake.throttle.body_length": "50 80 120 mm",
    "intake.throttle.inlet_loss": "0.05 0.20 0.50",
    "intake.runner.area": "0.95 1.00 1.10 x intake port area",
    "intake.runner.taper": "1.00 1.10 1.25",
    "intake.runner.bend_loss": "0.05 0.15 0.40",
    "intake.wall_temperature": "308 325 342 K",
    "intake.roughness": "0.005 0.03 0.12 mm",
    "intake.heat_factor": "1.2 2.0 2.6",
    "intake.restrictor.coefficient": "0.94 0.97 1.00",
    "intake.restrictor.diffuser_length": "100 160 250 mm",
    "intake.restrictor.diffuser_loss": "0.05 0.12 0.25",
    "intake.airbox.snorkel_length": "60 120 250 mm",
    "intake.airbox.inlet_loss": "0.10 0.30 0.80",
    "intake.airbox.wall_temperature": "285 300 318 K",
    "exhaust.primary.id": "1.00 1.08 1.20 x exhaust port diameter",
    "exhaust.primary.wall": "1.0 1.4 1.8 mm",
    "exhaust.primary.bend_loss": "0.10 0.30 0.60",
    "exhaust.primary.wall_temperature": "650 750 850 K",
    "exhaust.primary.heat_factor": "1.0 1.5 3.0",
    "exhaust.secondary.id": "1.20 1.28 1.38 x primary id",
    "exhaust.secondary.length": "300 400 550 mm",
    "exhaust.collector.id": "0.84 0.92 1.02 x root of merged primaries",
    "exhaust.collector.length": "150 300 500 mm",
    "exhaust.collector.merge_half_angle": "6 10 18 deg",
    "exhaust.collector.wall_temperature": "550 650 750 K",
    "exhaust.collector.heat_factor": "1.0 1.2 2.0",
    "exhaust.tailpipe.loss": "0.3 0.8 1.8",
    "exhaust.wall_temperature": "600 700 800 K",
    "exhaust.heat_factor": "1.0 1.4 2.5",
    "exhaust.roughness": "0.01 0.04 0.15 mm",
    "mixture.evaporated": "0.0 0.5 1.0",  # petrol, in port and cylinder together; other fuels: ``EVAPORATED``
    # Standard deviation of the mixture's strength about its mean, over cylinders, cycles and within a charge. At
    # lambda 1 engines leave some 0.7 % CO and 0.7 % O2 in the dry exhaust (Spindt 1965; Heywood 1988, sec. 4.9, 11.3,
    # from memory), which burning of an even mixture to equilibrium does not: with 0.4 sd of lambda short of air and
    # as much over it, both give 0.05 to 0.06. Part of those engines were singles, so this is taken as within a
    # cylinder and over its cycles; what differs from cylinder to cylinder (``BETWEEN``) comes on top.
    "mixture.spread": "0.03 0.05 0.07",
    "burn.ca50": "6 8 12 deg",
    "burn.efficiency": "0.95 0.97 0.99", "burn.squish_clearance": "0.8 1.1 1.6 mm",
    "walls.factor": "0.7 1.0 1.3",
    "friction.factor": "0.8 1.0 1.25",
    "fuel.temperature": "288 298 310 K",
    "day.station_pressure": "97 100 102.5 kPa",
    "day.temperature": "12 25 33 C",
    "day.humidity": "0.2 0.4 0.8",
}

_WATER = {"walls.piston": "500 540 580 K", "walls.head": "440 475 510 K", "walls.liner": "395 420 445 K"}
_AIR = {"walls.piston": "520 565 610 K", "walls.head": "460 505 550 K", "walls.liner": "410 445 480 K"}
_FOUR_VALVE = {
    "head.intake.valve_diameter": "0.355 0.385 0.410 x bore",
    "head.exhaust.valve_diameter": "0.300 0.325 0.350 x bore",
    "head.intake.stem_diameter": "4.5 5.5 6.5 mm", "head.exhaust.stem_diameter": "4.5 5.5 6.5 mm",
    "burn.duration_10_90": "17 21 26 deg", "burn.delay": "13 16.5 21 deg",
    "burn.plug_offset": "0.00 0.01 0.04 x bore", "burn.squish": "0.00 0.08 0.20",
    # Tumble coefficient on a steady bench of pentroof heads not made for tumble; with tumble ports 0.5 and more
    # (common practice, no source)
    "burn.tumble": "0.10 0.30 0.50",
    "cam.intake.rocker_ratio": "1.0 1.0 1.0", "cam.exhaust.rocker_ratio": "1.0 1.0 1.0",
    "cam.intake.lash": "0.12 0.18 0.25 mm", "cam.exhaust.lash": "0.18 0.24 0.30 mm",
    "cam.advance": "-3 0 3 deg",
}
_TWO_VALVE = {
    "head.intake.valve_diameter": "0.48 0.505 0.53 x bore", "head.exhaust.valve_diameter": "0.375 0.400 0.425 x bore",
    "head.intake.stem_diameter": "7.0 8.0 8.8 mm", "head.exhaust.stem_diameter": "7.0 8.0 8.8 mm",
    "burn.duration_10_90": "21 25 31 deg", "burn.delay": "15 18.5 24 deg",
    "burn.plug_offset": "0.05 0.12 0.25 x bore", "burn.squish": "0.15 0.25 0.35",
    "burn.tumble": "0.00 0.00 0.10",
}


def _class(name: str, title: str, build: tuple, speeds: tuple[float, float, int], *tables: dict[str, str],
           limits: dict[str, str]) -> EngineClass:
    first, last, count = speeds
    rows = {key: _range(text) for table in (COMMON, *tables) for key, text in table.items()}
    step = (last - first) / (count - 1)
    return EngineClass(name, title, *build, tuple(first + step * i for i in range(count)), rows,
                       {key: _range(text) for key, text in limits.items()})


def _make() -> dict[str, EngineClass]:
    v8 = (8, "v", 90.0, (1, 1), "0p050in", "plenum_runners", "4-1")
    street = _class(
        "street_2v_v8", "street V8, two valves, pushrods", (*v8, "port"), (1500, 6500, 15), _TWO_VALVE, _WATER, {
            "block.compression_ratio": "8.5 9.7 10.5", "head.intake.port_length": "100 128 152 mm",
            "head.exhaust.port_length": "60 78 100 mm", "cam.intake.duration": "200 218 235 deg",
            "cam.lobe_separation": "108 112 116 deg", "cam.intake.valve_lift": "10.5 12.7 15 mm",
            "cam.exhaust.valve_lift": "10.5 12.7 15 mm", "cam.intake.rocker_ratio": "1.5 1.6 1.7",
            "cam.exhaust.rocker_ratio": "1.5 1.6 1.7", "cam.intake.lash": "0 0 0 mm", "cam.exhaust.lash": "0 0 0 mm",
            "cam.exhaust.duration": "1.00 1.03 1.06 x intake duration",
            "intake.throttle.diameter": "41 44 47 mm", "intake.plenum.volume": "0.1 0.5 1.5 x displacement",
            "intake.runner.length": "120 165 230 mm", "exhaust.primary.length": "650 850 1000 mm",
            "mixture.lambda": "0.85 0.87 0.89", "burn.spark": "30 34 38 deg", "limits.rpm": "5500 6300 6800 rpm",
            "burn.turbulence": "0.93 1.25 1.68",
            "friction.factor": "0.72 0.89 1.06", "friction.accessory_torque": "0 4 10 N m"},
        limits={"torque_peak": "3000 3750 4500 rpm", "power_peak": "4800 5400 6000 rpm", "fmep": "1.8 2.2 2.6 bar",
                "tract": "250 300 350 mm", "plenum": "0.1 0.8 1.5", "piston_speed": "15 18 21 m/s"})
    race = _class(
        "race_2v_v8", "race V8, two valves, pushrods", (*v8, "carburettor"), (3500, 9000, 15), _TWO_VALVE, _WATER, {
            "block.compression_ratio": "12 13.3 15", "head.intake.port_length": "105 135 160 mm",
            "head.exhaust.port_length": "65 85 110 mm", "cam.intake.duration": "250 268 290 deg",
            "cam.lobe_separation": "104 107 110 deg", "cam.intake.valve_lift": "17 19.5 23 mm",
            "cam.exhaust.valve_lift": "16 18.5 22 mm", "cam.intake.rocker_ratio": "1.5 1.7 2.0",
            "cam.exhaust.rocker_ratio": "1.5 1.65 1.9", "cam.intake.lash": "0.3 0.45 0.6 mm",
            "cam.exhaust.lash": "0.3 0.5 0.65 mm", "cam.exhaust.duration": "1.00 1.04 1.08 x intake duration",
            "intake.throttle.diameter": "46 52 58 mm", "intake.plenum.volume": "0.2 0.4 0.6 x displacement",
            "intake.runner.length": "90 135 185 mm", "exhaust.primary.length": "650 800 950 mm",
            "mixture.lambda": "0.85 0.875 0.90", "burn.spark": "26 31 36 deg", "limits.rpm": "7500 8800 9800 rpm",
            "burn.duration_10_90": "16 20 25 deg", "burn.delay": "11 15 20 deg",
            "burn.turbulence": "1.40 1.87 2.52",
            "friction.factor": "0.76 0.92 1.08", "friction.accessory_torque": "0 3 8 N m"},
        limits={"torque_peak": "5500 6500 7500 rpm", "power_peak": "7000 8250 9500 rpm", "fmep": "2.8 3.4 4.0 bar",
                "tract": "220 275 330 mm", "plenum": "0.2 0.4 0.6", "piston_speed": "20 24 27 m/s"})
    car = {"block.compression_ratio": "10 11 12.5", "head.intake.port_length": "80 100 120 mm",
           "head.exhaust.port_length": "55 70 90 mm", "cam.intake.duration": "220 236 265 deg",
           "cam.lobe_separation": "102 108 115 deg", "cam.intake.valve_lift": "8.5 10.2 12.5 mm",
           "cam.exhaust.valve_lift": "8.0 9.8 12.0 mm", "intake.plenum.volume": "0.8 1.2 1.8 x displacement",
           "intake.runner.length": "190 280 380 mm", "exhaust.primary.length": "550 700 900 mm",
           "mixture.lambda": "0.86 0.88 0.90", "burn.spark": "22 28 34 deg", "limits.rpm": "6500 7300 8500 rpm",
           "friction.factor": "0.62 0.79 0.95", "friction.accessory_torque": "0 2 6 N m"}
    car_limits = {"torque_peak": "4000 5250 6500 rpm", "power_peak": "6000 7250 8500 rpm", "fmep": "2 2.5 3 bar",
                  "tract": "280 380 480 mm", "plenum": "0.8 1.3 1.8", "piston_speed": "17 20 24 m/s"}
    four = _class("car_four_4v", "car four, four valves",
                  (4, "inline", 0.0, (2, 2), "1mm", "plenum_runners", "4-2-1", "port"), (1500, 7500, 13),
                  _FOUR_VALVE, _WATER, car, {"intake.throttle.diameter": "56 62 70 mm",
                                             "exhaust.primary.length": "300 400 550 mm",
                                             "burn.turbulence": "0.98 1.31 1.77"}, limits=car_limits)
    six = _class("car_six_4v", "car six, four valves",
                 (6, "inline", 0.0, (2, 2), "1mm", "plenum_runners", "3-1", "port"), (1500, 7500, 13),
                 _FOUR_VALVE, _WATER, car, {"intake.throttle.diameter": "65 72 82 mm",
                                      "burn.turbulence": "0.84 1.12 1.51"}, limits=car_limits)
    bike = {"block.compression_ratio": "12 12.7 13.5", "head.intake.port_length": "60 75 90 mm",
            "head.exhaust.port_length": "45 58 75 mm", "cam.intake.duration": "230 245 260 deg",
            "cam.lobe_separation": "100 105 110 deg", "cam.intake.valve_lift": "7.8 8.9 10 mm",
            "cam.exhaust.valve_lift": "7.2 8.3 9.4 mm", "head.intake.stem_diameter": "3.5 4.2 5.0 mm",
            "head.exhaust.stem_diameter": "3.5 4.3 5.0 mm", "intake.throttle.diameter": "0.52 0.58 0.66 x bore",
            "intake.runner.length": "100 145 200 mm", "intake.airbox.volume": "8 11 15 x displacement",
            "exhaust.primary.length": "450 580 750 mm", "mixture.lambda": "0.86 0.88 0.90",
            "burn.spark": "32 37 42 deg", "limits.rpm": "11500 13000 14500 rpm",
            "friction.factor": "0.88 1.07 1.26", "friction.accessory_torque": "0 0.6 1.5 N m"}
    bike_four = _class("bike_four_4v", "motorcycle four, four valves",
                       (4, "inline", 0.0, (2, 2), "1mm", "individual", "4-2-1", "port"), (4000, 13500, 15),
                       _FOUR_VALVE, _WATER, bike, {"exhaust.primary.length": "280 360 480 mm",
                                                    "burn.turbulence": "1.73 2.31 3.11",
                                                    "burn.duration_10_90": "15 18.5 23 deg",
                                                    "burn.delay": "11 14.5 19 deg"},
                       limits={"torque_peak": "8000 9500 11000 rpm", "power_peak": "11000 12500 14000 rpm",
                               "fmep": "2.5 3.0 3.5 bar", "tract": "170 225 280 mm", "plenum": "8 11 15",
                               "piston_speed": "18 22 26 m/s"})
    restricted = _class("restricted_600", "motorcycle four breathing through a restrictor",
                        (4, "inline", 0.0, (2, 2), "1mm", "plenum_runners", "4-2-1", "port"), (4000, 12000, 15),
                        _FOUR_VALVE, _WATER, bike, {
                            "block.compression_ratio": "12 13 14", "cam.intake.duration": "225 240 255 deg",
                            "cam.lobe_separation": "102 107 112 deg", "cam.intake.valve_lift": "7.5 8.3 9.2 mm",
                            "cam.exhaust.valve_lift": "7.0 7.8 8.8 mm",
                            "intake.throttle.diameter": "30 36 46 mm",
                            "intake.plenum.volume": "2.5 5 9 x displacement",
                            "friction.factor": "0.84 1.06 1.28",
                            "intake.restrictor.diameter": "20 20 20 mm", "intake.runner.length": "130 220 320 mm",
                            "exhaust.primary.length": "280 380 520 mm", "mixture.lambda": "0.88 0.91 0.95",
                            "burn.spark": "28 34 40 deg", "burn.turbulence": "1.39 1.86 2.51",
                            "limits.rpm": "9500 11500 13000 rpm"},
                        limits={"torque_peak": "6000 7500 9000 rpm", "power_peak": "8500 10000 11500 rpm",
                                "fmep": "2 2.5 3 bar", "tract": "200 300 400 mm", "plenum": "2.5 5.5 9",
                                "piston_speed": "15 19 24 m/s"})
    single = _class("single_4v", "single 250 to 450 cc, four valves",
                    (1, "single", 0.0, (2, 2), "1mm", "individual", "single", "port"), (4000, 12000, 15),
                    _FOUR_VALVE, _WATER, bike, {
                        "block.compression_ratio": "12 13 14", "cam.lobe_separation": "102 107 112 deg",
                        "cam.intake.valve_lift": "8.5 9.5 10.5 mm", "cam.exhaust.valve_lift": "7.8 8.6 9.6 mm",
                        "intake.throttle.diameter": "0.42 0.47 0.52 x bore", "intake.runner.length": "110 180 250 mm",
                        "intake.airbox.volume": "8 13 20 x displacement", "exhaust.primary.length": "500 700 950 mm",
                        "mixture.lambda": "0.85 0.88 0.90", "burn.spark": "30 35 40 deg",
                        "burn.turbulence": "1.03 1.37 1.85",
                        "limits.rpm": "9500 11500 13500 rpm", "friction.factor": "0.70 0.89 1.08",
                        "friction.accessory_torque": "0 0.3 0.8 N m"},
                    limits={"torque_peak": "6500 7750 9000 rpm", "power_peak": "8500 10250 12000 rpm",
                            "fmep": "2.3 2.9 3.5 bar", "tract": "180 255 330 mm", "plenum": "8 14 20",
                            "piston_speed": "16 20 25 m/s"})
    lab = _class("lab_single", "laboratory single, two valves",
                 (1, "single", 0.0, (1, 1), "1mm", "individual", "single", "port"), (1200, 3600, 9),
                 _TWO_VALVE, _AIR, {
                     "head.intake.valve_diameter": "0.38 0.42 0.46 x bore",
                     "head.exhaust.valve_diameter": "0.34 0.38 0.42 x bore",
                     "head.intake.stem_diameter": "6 7 8 mm", "head.exhaust.stem_diameter": "6 7 8 mm",
                     "block.compression_ratio": "6 7.5 8.5", "head.intake.port_length": "45 65 90 mm",
                     "head.exhaust.port_length": "35 50 75 mm", "cam.intake.duration": "190 205 220 deg",
                     "cam.lobe_separation": "105 108 112 deg", "cam.intake.valve_lift": "5.5 6.7 8 mm",
                     "cam.exhaust.valve_lift": "5.5 6.7 8 mm", "cam.intake.rocker_ratio": "1.0 1.2 1.5",
                     "cam.exhaust.rocker_ratio": "1.0 1.2 1.5", "cam.intake.lash": "0.08 0.12 0.2 mm",
                     "cam.exhaust.lash": "0.1 0.15 0.25 mm", "cam.advance": "-3 0 3 deg",
                     "intake.throttle.diameter": "0.28 0.35 0.42 x bore", "intake.runner.length": "60 130 220 mm",
                     "intake.airbox.volume": "5 12 30 x displacement", "exhaust.primary.length": "500 1000 1500 mm",
                     "mixture.lambda": "0.90 0.94 1.00", "burn.spark": "20 25 30 deg",
                     "burn.turbulence": "0.94 1.26 1.70",
                     "burn.duration_10_90": "18 22 28 deg",
                     "burn.delay": "12 15.5 20 deg", "limits.rpm": "3400 3800 4200 rpm",
                     "friction.factor": "0.71 0.95 1.20", "friction.accessory_torque": "0 0.1 0.4 N m"},
                 limits={"torque_peak": "2000 2400 2800 rpm", "power_peak": "3000 3400 3800 rpm",
                         "fmep": "1.2 1.6 2.0 bar", "tract": "100 200 300 mm", "plenum": "0 12 30",
                         "piston_speed": "6 9 13 m/s"})
    twin = _class("twin", "air-cooled twin, two valves",
                  (2, "inline", 0.0, (1, 1), "1mm", "individual", "2-1", "port"), (1500, 6500, 11),
                  _TWO_VALVE, _AIR, {
                      "head.intake.valve_diameter": "0.44 0.48 0.52 x bore",
                      "head.exhaust.valve_diameter": "0.37 0.40 0.44 x bore",
                      "block.compression_ratio": "9 9.8 11", "head.intake.port_length": "60 80 105 mm",
                      "head.exhaust.port_length": "45 62 85 mm", "cam.intake.duration": "220 240 260 deg",
                      "cam.lobe_separation": "100 104 108 deg", "cam.intake.valve_lift": "12 12.8 16 mm",
                      "cam.exhaust.valve_lift": "11.5 12.4 16 mm", "cam.intake.rocker_ratio": "1.0 1.3 1.7",
                      "cam.exhaust.rocker_ratio": "1.0 1.3 1.7", "cam.intake.lash": "0 0.05 0.12 mm",
                      "cam.exhaust.lash": "0 0.08 0.15 mm", "intake.throttle.diameter": "0.40 0.45 0.52 x bore",
                      "intake.runner.length": "80 140 210 mm", "intake.airbox.volume": "1 2 3 x displacement",
                      "exhaust.primary.length": "500 700 950 mm", "mixture.lambda": "0.85 0.88 0.90",
                      "burn.spark": "28 32 36 deg", "limits.rpm": "5500 6200 7000 rpm",
                      "burn.turbulence": "1.05 1.40 1.89",
                      "burn.duration_10_90": "19 23 29 deg", "burn.delay": "13 17 22 deg",
                      "friction.factor": "0.72 0.89 1.05", "friction.accessory_torque": "0 0.6 1.5 N m"},
                  limits={"torque_peak": "2500 3250 4000 rpm", "power_peak": "4800 5400 6000 rpm",
                          "fmep": "1.8 2.2 2.6 bar", "tract": "150 225 300 mm", "plenum": "1 2 3",
                          "piston_speed": "13 16 20 m/s"})
    return {c.name: c for c in (street, race, four, six, bike_four, restricted, single, lab, twin)}


CLASSES = _make()
FUEL_FACTS = {  # octane (research), liquid density kg/m3 at 20 C: common practice, no source
    "petrol": ("89 95 100", 745.0), "e10": ("92 96 100", 748.0), "e85": ("102 105 108", 781.0),
    "e85_winter": ("99 103 106", 772.0), "ethanol": ("106 108 111", 789.0), "methanol": ("106 109 112", 792.0),
    "propane": ("105 110 112", 510.0), "methane": ("118 120 125", 420.0), "isooctane": ("100 100 100", 692.0),
}
ENTRY_LOSS = {  # loss coefficient of a duct's entry: Crane TP-410 and Idelchik, sec. 3 (both from memory)
    "sharp": "0.40 0.50 0.57", "rounded": "0.08 0.20 0.32", "bellmouth": "0.02 0.05 0.12",
}


def entry_range(kind: str) -> Range:
    """Loss coefficient of an entry "sharp", "rounded" or "bellmouth"."""
    return _range(ENTRY_LOSS[kind])


def octane_range(key: str) -> Range:
    """Research octane number of a fuel."""
    return _range(FUEL_FACTS[key][0])

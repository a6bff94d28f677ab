"""Controls of the cam: duration, lift and ratio of each lobe, and where the lobes stand.

A change of timing states the lobes' places by separation and advance alone; events and centrelines of the card, which
say the same another way, are taken out.
"""

from __future__ import annotations

from functools import partial

from pullcast.card.engine import Duration, Engine, Lobe
from pullcast.show.lab.knob import Data, Knob, Swaps, around, beside, fixed, has, stated, text

NAMES = {"intake": "Intake lobe", "exhaust": "Exhaust lobe"}
DURATIONS = ("duration_at_0p050in", "duration_at_1mm", "duration_at_0p200in", "duration", "advertised_duration")
EVENTS = {"intake": ("ivo", "ivc"), "exhaust": ("evo", "evc")}
COUNTED = ((0.050 * 0.0254, "tappet"), (0.001, "valve"))


def reference(lobe: Lobe) -> Duration | None:
    """The duration the trade names a lobe by: at 0.050 in of the tappet, at 1 mm of the valve, else the first."""
    for lift, side in COUNTED:
        for d in lobe.durations:
            if d.side == side and abs(d.lift - lift) < 2e-6:
                return d
    return lobe.durations[0] if lobe.durations else None


def _lobe(engine: Engine, side: str) -> Lobe:
    return engine.cam.intake if side == "intake" else engine.cam.exhaust


def separation(engine: Engine) -> float:
    """Lobe separation, deg."""
    return (engine.cam.intake.centreline_deg + engine.cam.exhaust.centreline_deg) / 2


def advance(engine: Engine) -> float:
    """Separation less intake centreline, deg."""
    return separation(engine) - engine.cam.intake.centreline_deg


def placed(engine: Engine, data: Data) -> Swaps:
    """Where the lobes stand, stated once."""
    return {"cam.lobe_separation": text(separation(engine), "deg"), "cam.advance": text(advance(engine), "deg"),
            "cam.installed_advance": None,
            **{f"cam.{side}.{key}": None for side in NAMES
               for key in ("centreline", "events_at", "events_side", *EVENTS[side])}}


def _duration(side: str, engine: Engine, data: Data) -> float | None:
    if has(data, f"cam.{side}.table"):
        return None
    found = reference(_lobe(engine, side))
    return None if found is None else found.duration_deg


def _set_duration(side: str, value: float, engine: Engine, data: Data) -> Swaps:
    """All durations of the lobe longer or shorter by the same angle."""
    more = value - _duration(side, engine, data)
    known = {key: stated(data, f"cam.{side}.{key}", "angle") for key in DURATIONS}
    swaps = {f"cam.{side}.{key}": text(v + more, "deg") for key, v in known.items() if v is not None}
    if not any(known[key] is not None for key in DURATIONS[:4]):
        found = reference(_lobe(engine, side))
        key = {COUNTED[0]: "duration_at_0p050in", COUNTED[1]: "duration_at_1mm"}.get(
            (found.lift, found.side), "duration")
        swaps[f"cam.{side}.{key}"] = text(value, "deg")
    return swaps


def _counted(side: str, engine: Engine, data: Data) -> str:
    found = reference(_lobe(engine, side))
    if found is None:
        return ""
    if found.side == "tappet":
        return f"at {found.lift / 0.0254:.3f} in of tappet lift"
    return f"at {found.lift * 1e3:.3g} mm of valve lift"


def _lobe_lift(side: str, engine: Engine, data: Data) -> float | None:
    lobe = _lobe(engine, side)
    return None if has(data, f"cam.{side}.table") else (lobe.lift + lobe.lash) / lobe.rocker_ratio


def _lift_apart(side: str, engine: Engine, data: Data) -> Swaps:
    """Lobe lift and ratio stated apart, so that either can be changed alone."""
    return {f"cam.{side}.lobe_lift": text(_lobe_lift(side, engine, data) * 1e3, "mm"),
            f"cam.{side}.valve_lift": None,
            f"cam.{side}.rocker_ratio": text(_lobe(engine, side).rocker_ratio, "")}


def _valve_lift(side: str, engine: Engine, data: Data) -> str:
    lift = _lobe(engine, side).lift
    return f"valve lifts {lift * 1e3:.2f} mm ({lift / 0.0254:.3f} in) after lash"


def _set_lift(side: str, value: float, engine: Engine, data: Data) -> Swaps:
    return {f"cam.{side}.lobe_lift": text(value * 1e3, "mm")}


def _ratio(side: str, engine: Engine, data: Data) -> float | None:
    return None if has(data, f"cam.{side}.table") else _lobe(engine, side).rocker_ratio


def _set_ratio(side: str, value: float, engine: Engine, data: Data) -> Swaps:
    return {f"cam.{side}.rocker_ratio": text(value, "")}


def _side(side: str) -> tuple[Knob, ...]:
    group = NAMES[side]
    return (
        Knob(f"{side}_duration", "cam", group, f"{side} duration", "deg", "angle", 1.0, partial(_duration, side),
             partial(_set_duration, side), beside(40.0, 40.0, 1.0), partial(_counted, side), placed),
        Knob(f"{side}_ratio", "cam", group, f"{side} rocker ratio", "", "fraction", 0.01, partial(_ratio, side),
             partial(_set_ratio, side), beside(0.3, 0.3, 0.05), before=partial(_lift_apart, side)),
        Knob(f"{side}_lift", "cam", group, f"{side} lobe lift", "mm", "length", 0.05, partial(_lobe_lift, side),
             partial(_set_lift, side), around(0.65, 1.35, 0.1),
             partial(_valve_lift, side),
             partial(_lift_apart, side)),
    )


CAM = (
    Knob("separation", "cam", "Where the lobes stand", "lobe separation", "deg", "angle", 0.5,
         lambda engine, data: separation(engine),
         lambda value, engine, data: {"cam.lobe_separation": text(value, "deg")}, fixed(98.0, 120.0), before=placed),
    Knob("advance", "cam", "Where the lobes stand", "cam advance", "deg", "angle", 0.5,
         lambda engine, data: advance(engine),
         lambda value, engine, data: {"cam.advance": text(value, "deg")}, fixed(-8.0, 12.0),
         lambda engine, data: f"intake centreline {engine.cam.intake.centreline_deg:.4g} deg", placed),
    *_side("intake"), *_side("exhaust"),
)

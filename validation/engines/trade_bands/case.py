"""Peak BMEP, VE and friction of every shipped engine in the band of its class: common practice, no source."""

from __future__ import annotations

from validation.engines.runs import CONFIGS, TRADE, run
from validation.harness import Check, absolute

SLOW = True
# class: lowest and highest peak BMEP (bar), VE (%), FMEP at the power peak (bar)
BANDS = {
    "street_2v_v8": ((10.0, 12.3), (80.0, 95.0), (1.8, 2.6)),
    "car_four_4v": ((11.0, 13.5), (92.0, 110.0), (2.0, 3.0)),
    "car_six_4v": ((11.0, 13.5), (92.0, 110.0), (2.0, 3.0)),
    "twin": ((8.5, 11.0), (80.0, 105.0), (1.8, 2.6)),
    "lab_single": ((6.5, 9.0), (75.0, 90.0), (1.2, 2.0)),
}
ENGINES = ("hillclimb_v8", "club_four", "touring_six", "rally_v6", "vintage_twin", "lab_single")
TITLES = (("peak BMEP", "bar"), ("peak VE", "%"), ("FMEP at the power peak", "bar"))
# how far outside its band an engine may lie (README): bar, %, bar
MARGIN = (0.1, 1.0, 0.1)


def checks() -> list[Check]:
    """How far each quantity of each engine lies outside the band of its class (0: inside; negative: below)."""
    from pullcast.card import read_engine

    out = []
    for name in ENGINES:
        card = CONFIGS / "engines" / f"{name}.toml"
        engine = read_engine(card)
        d = run(card, engine.speeds)
        at_power = int(d["power"].values.argmax())
        got = (d["bmep"].values.max() / 1e5, 100 * d["volumetric_efficiency"].values.max(),
               d["fmep"].values[at_power] / 1e5)
        for (title, unit), value, (low, high), margin in zip(TITLES, got, BANDS[engine.engine_class], MARGIN,
                                                             strict=True):
            out.append(absolute(f"{name}: {title} outside its band", TRADE, 0.0,
                                max(value - high, 0.0) - max(low - value, 0.0), margin, unit,
                                f"{value:.3g}; band {low:g} to {high:g} {unit}"))
    return out

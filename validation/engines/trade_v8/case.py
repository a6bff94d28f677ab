"""A two-valve pushrod V8 against its quoted peaks: common practice, no source.

Quoted: bore 3.902 in, stroke 3.622 in, good ported heads, cam 219/225 deg at .050 in, 111.5 deg lobe separation,
.595 in valve lift, 1.75 in long-tube headers, 29 to 30 deg total spark, engine dyno; peaks 479 hp and 463 lb-ft with
the better of two intakes. Speeds of the peaks, weather and correction basis are not stated.
"""

from __future__ import annotations

from pathlib import Path

from validation.harness import Check, relative

HP, LB_FT = 479.0, 463.0
SOURCE = "common practice, no source"
# Engine dynos of the trade print STD (common practice); the same figures on J1349 would be 3 to 5 % lower, which is
# all that the wider gate of the first card allows for
CARDS = {"card": {"std": 0.10, "j1349": 0.15}, "second": {"std": 0.10, "j1349": 0.10}}


def checks() -> list[Check]:
    """Peaks of both forecasts, corrected to each basis in use, against the quoted ones."""
    return [check for card, gates in CARDS.items() for check in _peaks(card, gates)]


def _peaks(card: str, gates: dict[str, float]) -> list[Check]:
    from pullcast.answers.curves import predict
    from pullcast.card.reading import read_engine
    from pullcast.pulls.correction import correction_factor
    from pullcast.results.variables import variable

    engine = read_engine(Path(__file__).parent / f"{card}.toml")
    curve, day = predict(engine, workers=1), engine.day
    out = []
    for basis, gate in gates.items():
        factor = correction_factor(basis, day.pressure, day.temperature, day.humidity).factor
        for name, quoted, peak in (("power", HP, curve.peak_power), ("torque", LB_FT, curve.peak_torque)):
            v = variable(name)
            got = float(v.convert(peak.value * factor, "us"))
            note = f"at {peak.rpm:.0f} rpm; miss {100 * (got / quoted - 1):+.1f} %"
            out.append(relative(f"{card}: peak {name}, {basis.upper()}", SOURCE, quoted, got, gate, v.us.label, note))
    return out

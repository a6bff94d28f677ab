"""Forecast the pull of the club's V8 at three speeds and read the answer. The engine is invented; see its card."""

from pathlib import Path

import pullcast as pc

CARD = Path(__file__).parents[1] / "configs" / "engines" / "hillclimb_v8.toml"

engine = pc.read_engine(CARD)
curve = pc.predict(engine, speeds=[3000, 4500, 6000])
torque = curve.band_average("torque", 3000, 6000)

if __name__ == "__main__":
    print(curve)
    print(f"{torque:.0f} N m averaged from 3000 to 6000 rpm")
    for a in engine.assumed[:5]:
        print(f"assumed: {a.key} = {a.value:.4g} {a.unit} ({a.low:.4g} to {a.high:.4g})")
    pc.curve_figure(curve).savefig("hillclimb_v8.png", dpi=150)

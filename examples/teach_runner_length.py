"""Guess first: where does a longer runner help, where does it hurt? Then run it. Invented engine."""

from pathlib import Path

import pullcast as pc

CARD = Path(__file__).parents[1] / "configs" / "engines" / "club_four.toml"
SPEEDS = [4500, 7500]

torque = {}
for length in ("250 mm", "400 mm"):
    engine = pc.with_changes(CARD, {"intake.runner.length": length})
    torque[length] = pc.predict(engine, speeds=SPEEDS).dataset["torque"].values
gain = 100 * (torque["400 mm"] / torque["250 mm"] - 1)

if __name__ == "__main__":
    for rpm, percent in zip(SPEEDS, gain, strict=True):
        print(f"{rpm} rpm: {percent:+.1f} % torque with the 400 mm runner instead of 250 mm")

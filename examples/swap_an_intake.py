"""What does the other intake on the shelf do? Same engine, same day, one part changed; the engine is invented."""

from pathlib import Path

import pullcast as pc

CARD = Path(__file__).parents[1] / "configs" / "engines" / "hillclimb_v8.toml"
SPEEDS = [2500, 4500, 6000]

single_plenum = pc.predict(pc.read_engine(CARD), speeds=SPEEDS)
dual_plane = pc.predict(pc.with_changes(CARD, {"intake": "intakes/v8_dual_plane.toml"}), speeds=SPEEDS)
change = 100 * (dual_plane.dataset["torque"].values / single_plenum.dataset["torque"].values - 1)

if __name__ == "__main__":
    for rpm, percent in zip(SPEEDS, change, strict=True):
        print(f"{rpm} rpm: torque {percent:+.1f} % with the dual-plane intake")

"""Find the spark the club's V8 wants, what 10 deg of retard costs, and what a step of the ratio asks of the fuel."""

from pathlib import Path

import pullcast as pc
from pullcast.answers.tune_what_if import octane_for_ratio

CARD = Path(__file__).parents[1] / "configs" / "engines" / "hillclimb_v8.toml"

engine = pc.read_engine(CARD)
tuning = pc.tune(engine, speeds=[3000, 5000], how="knock-limited", fidelity="lumped", mixture=False)
late = [loop.loss(10.0) for loop in tuning.loops]
octane = octane_for_ratio(engine, [10.0, 11.0], [3000.0], fidelity="lumped")
step = octane[1][1] - octane[0][1]

if __name__ == "__main__":
    for loop in tuning.loops:
        print(f"{loop.rpm:.0f} rpm: best torque at {loop.mbt:.1f} deg, knock from {loop.knock_limit:.1f} deg")
    print(f"10 deg late costs {100 * late[0]:.1f} and {100 * late[1]:.1f} %")
    print(f"one step of compression asks for {step:.1f} octane numbers")
    pc.tune_figure(tuning).savefig("hillclimb_v8_tune.png", dpi=150)

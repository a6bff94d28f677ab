"""Calibrate on the baseline's pulls, foretell the other part, hold that against its pulls. The session is invented;
see its card. Its pulls were made by the model at values this program is not told (``make_intake_day.py``), with
noise: this shows the way and what scatter leaves, not how well the model does on an engine."""

from pathlib import Path

import pullcast as pc

SESSION = Path(__file__).parents[1] / "configs" / "sessions" / "intake_day.toml"

calibration = pc.calibrate(SESSION, unknowns=["friction.factor", "head.flow_factor"], speeds=[4400, 5200, 6000])
compared = pc.compare(SESSION, calibration=calibration, interval=False)
baseline, other = compared.parts

if __name__ == "__main__":
    print(calibration)
    print(compared)
    pc.save_calibration(calibration, "v8_calibration.toml")
    pc.add_to_ledger("dyno_days.jsonl", compared)
    print(pc.score_ledger(pc.read_ledger("dyno_days.jsonl")))
    pc.calibration_figure(calibration).savefig("calibration.png", dpi=150)
    pc.compare_figure(compared).savefig("compared.png", dpi=150)

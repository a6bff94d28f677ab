"""Calibrate on the baseline's pulls, foretell the other part, hold that against its pulls. The session is invented;
see its card. Its pulls were not made by the model, and the page says how far the two are apart."""

from pathlib import Path

import pullcast as pc

SESSION = Path(__file__).parents[1] / "configs" / "sessions" / "intake_day.toml"

calibration = pc.calibrate(SESSION, unknowns=["friction.factor", "head.flow_factor"], speeds=[3000, 4200, 5400])
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

"""Judge a day of A-B-A on the dyno, then plan the next one. The session is invented; see its card."""

from pathlib import Path

import pullcast as pc

SESSION = Path(__file__).parents[1] / "configs" / "sessions" / "intake_day.toml"

judged = pc.judge(SESSION)
difference = judged.differences[0]
plan = pc.pulls_needed(0.01, noise=0.005, refit=0.002)

if __name__ == "__main__":
    print(judged)
    print(f"largest loss: {difference.largest_loss}")
    print(plan)
    pc.judge_figure(judged).savefig("intake_day.png", dpi=150)

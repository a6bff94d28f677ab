"""Makes the pulls of the invented day ``configs/sessions/intake_day.toml``. Nobody ever ran them.

The wave model makes them, at values that the other programs of this folder are not told (`HIDDEN`), in the weather of
the day; the oil warms, an unseen drift, refits and pulls scatter, and every sample ripples. One pull is spoilt and
left out on the card; blips and missing cells are put in as files have them. Run it from the project's folder, a few
minutes of waves: ``python examples/make_intake_day.py``; ``--into FOLDER`` leaves the shipped files alone.
"""

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator

import pullcast as pc
from pullcast.answers.session_engine import engine_of
from pullcast.answers.unknowns import put_all
from pullcast.card.engine import Day
from pullcast.pulls.session_card import read_session

SESSION = Path(__file__).parents[1] / "configs" / "sessions" / "intake_day.toml"
HIDDEN = {"friction.factor": 0.95, "burn.duration_10_90": 26.5, "mixture.evaporated": 0.40, "head.flow_factor": 0.975}
OIL = 0.008  # friction lost per K that the oil is warmer (invented)
DRIFT = -0.006  # over the day: soaked-up heat that no probe sees
REFIT, PULL, RIPPLE = 0.003, 0.004, 0.003  # standard deviations: part put on again, pull to pull, sample to sample
SPEEDS = np.arange(2300.0, 6301.0, 200.0)
SPOILT, SPOILT_BY = 7, 0.87  # this pull repeats the one before with the throttle not fully open
BLIP, MISSING = (10, 116), (6, 56)  # pull and row
SAMPLE = 14.0  # rpm
NEWTON_METRE = 1.3558179  # a pound-foot


def truth(part, run):
    """Observed torque (N m) over `SPEEDS` of a part in the weather and with the oil of a run."""
    session = read_session(SESSION)
    warmer = run.state["oil_temperature"] - 366.15
    friction = {"friction.factor": HIDDEN["friction.factor"] * (1 - OIL * warmer)}
    engine = put_all(engine_of(session, part), HIDDEN | friction)
    day = Day(run.weather.pressure, run.weather.temperature, run.weather.humidity)
    return np.array(pc.predict(replace(engine, day=day), speeds=SPEEDS).dataset["torque"])


def day_of_pulls(session, first, last):
    """Run -> (rpm, torque in N m at the brake) of every run.

    ``first`` and ``last`` give each part's torque over `SPEEDS` as the day began and as it ended; what lies between
    follows the order of the runs.
    """
    rng = np.random.default_rng(2026)
    refits = REFIT * rng.standard_normal(max(r.fit for r in session.runs) + 1)
    pulls = {}
    for run in session.runs:
        along = (run.number - 1) / (len(session.runs) - 1)
        rpm = np.rint(np.arange(2440.0, 6060.0, SAMPLE) + rng.uniform(-6.0, 6.0, 259))
        level = (1 + DRIFT * along) * (1 + refits[run.fit]) * (1 + PULL * rng.standard_normal())
        if run.number == SPOILT:
            rpm, torque = pulls[run.number - 1]
            pulls[run.number] = rpm, SPOILT_BY * torque
            continue
        torque = PchipInterpolator(SPEEDS, (1 - along) * first[run.part] + along * last[run.part])(rpm)
        spun_up = run.inertia * run.rate * np.pi / 30.0
        pulls[run.number] = rpm, (torque * level - spun_up) * (1 + RIPPLE * rng.standard_normal(rpm.size))
    return pulls


def rows(run, rpm, torque):
    """The file of a run as the engine room's dynamometer writes it: semicolons, decimal commas, two head rows."""
    rng = np.random.default_rng(run.number)
    oil = run.state["oil_temperature"] - 273.15
    lines = ["Aldermoor College engine room;;;;;", f"pull {run.number:02d};;;;;", "Time;Engine;Tq;Power;Oil;Lambda",
             "s;RPM;lbft;HP;C;-"]
    for k, (n, t) in enumerate(zip(rpm, torque / NEWTON_METRE, strict=True)):
        shown = 3000.0 + t / 2 if (run.number, k) == BLIP else t
        cells = [f"{k * SAMPLE / 300.0:.3f}", f"{n:.0f}", f"{shown:.1f}", f"{t * n / 5252.113:.1f}", f"{oil:.0f}",
                 f"{rng.normal(0.872, 0.0015):.3f}"]
        if (run.number, k) in {MISSING, (SPOILT, MISSING[1])}:
            cells[2:] = ["", "", "", ""]
        lines.append(";".join(cells).replace(".", ","))
    return lines


def write(folder, session, pulls):
    """Files of all runs into ``folder``; their names are the session's."""
    folder.mkdir(parents=True, exist_ok=True)
    for run in session.runs:
        text = "\r\n".join([*rows(run, *pulls[run.number]), ""])
        (folder / run.file.name).write_bytes(text.encode("ascii"))


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--into", type=Path, default=SESSION.parent / "pulls")
    asked = options.parse_args()
    day = read_session(SESSION)
    begun, ended = ({part: truth(part, run) for part in day.parts} for run in (day.runs[0], day.runs[-1]))
    write(asked.into, day, day_of_pulls(day, begun, ended))
    print(f"{len(day.runs)} pulls written to {asked.into}")

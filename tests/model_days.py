"""Days of pulls that the model itself made, with values it was not told afterwards. Everything here is invented."""

import math
from dataclasses import replace

import numpy as np

from engines import disc, single
from pullcast.answers.unknowns import put_all
from pullcast.card.engine import Assumed

HEAD = """\
title = "{title}"
source = "invented: made by the model with hidden values"
[session]
displacement = "0.5 L"
baseline = "A"
basis = "{basis}"
recorded = "{recorded}"
[judge]
band = ["2400 rpm", "5400 rpm"]
window = "100 rpm"
step = "100 rpm"
refit = "0.2 %"
[parts]
A = "short pipe"
B = "long pipe"
C = "thin pipe"
[weather]
pressure = "991 hPa"
temperature = "24 degC"
humidity = "45 %"
"""
RANGES = {"friction.factor": (1.0, 0.8, 1.2, ""), "burn.duration_10_90": (24.0, 20.0, 28.0, "deg"),
          "mixture.evaporated": (0.5, 0.0, 1.0, ""), "walls.factor": (1.0, 0.7, 1.3, "")}


def engine(part="A"):
    """The test single with another inlet pipe for B (longer) and C (thinner), its unknowns assumed."""
    base = single(assumed=tuple(Assumed(k, *v, "test range") for k, v in RANGES.items()))
    length, d = {"A": (0.20, 0.040), "B": (0.38, 0.038), "C": (0.26, 0.031)}[part]
    pipe = base.intake.pipes[0]
    segments = (replace(pipe.segments[0], length=length, area_start=disc(d), area_end=disc(d)),)
    return replace(base, intake=replace(base.intake, pipes=(replace(pipe, segments=segments),)))


def truth(part, hidden):
    """The engine as it really is."""
    return put_all(engine(part), hidden)


def write_day(folder, curves, order, *, noise=0.004, ripple=0.002, seed=0, basis="j1349", recorded="observed",
              title="made by the model", name="day"):
    """A session card and its files: ``curves`` part -> (rpm, observed torque); pull noise and ripple relative."""
    from scipy.interpolate import PchipInterpolator

    rng = np.random.default_rng(seed)
    text = HEAD.format(title=title, basis=basis, recorded=recorded)
    (folder / "pulls").mkdir(exist_ok=True)
    for i, part in enumerate(order):
        rpm, torque = curves[part]
        grid = np.arange(rpm[0], rpm[-1] + 1.0, 20.0)
        pull = PchipInterpolator(rpm, torque)(grid) * (1 + noise * rng.normal())
        pull = pull * (1 + ripple * rng.normal(size=grid.size))
        rows = [f"{n:.0f},{t:.3f}" for n, t in zip(grid, pull, strict=True)]
        (folder / "pulls" / f"{name}_{i}.csv").write_text("\n".join(["RPM,Torque Nm", *rows]))
        text += f'[[run]]\npart = "{part}"\nfile = "pulls/{name}_{i}.csv"\n'
    card = folder / f"{name}.toml"
    card.write_text(text)
    return card


def band_mean(rpm, torque, low=2400.0, high=5400.0):
    """Mean over the band by fine straight lines, N m."""
    at = np.linspace(low, high, 301)
    return float(np.interp(at, rpm, torque).mean())


def power(torque, rpm):
    """W."""
    return torque * rpm * math.pi / 30.0


def curve(rpm, torque, **changes):
    """A finished curve of given torque (N m), for tests that need no model."""
    from pullcast.results.curve import Curve
    from pullcast.results.dataset import curve_dataset
    from pullcast.results.provenance import Provenance

    rpm, torque = np.asarray(rpm, float), np.asarray(torque, float)
    values = {"engine": "test single", "engine_class": "lab_single", "displacement": 5e-4, "cylinders": 1,
              "source": "invented", "card": "", "sha256": "cd" * 32, "version": "0.1.0", "fidelity": "wave",
              "cell": 0.025, "reference_density": 1.17, "pressure": 99100.0, "temperature": 297.15, "humidity": 0.45}
    rows = {"torque": torque, "power": power(torque, rpm), "converged": np.isfinite(torque),
            "status": np.array(["converged"] * rpm.size, object)}
    return Curve(curve_dataset(rpm, rows, Provenance(**(values | changes))))

"""Weak waves at steps, junctions, chambers, branches and cones, against linear acoustics: Davis et al. 1954."""

import numpy as np
from validation.exact.rig import End, Junction, Pipe, Rig, pipe, smooth
from validation.harness import Check, absolute, relative
from validation.reference import acoustics as ac

SOURCE = "plane-wave acoustics, Davis et al. 1954 (NACA 1192), Munjal 1987 ch. 2"
P0, T0, A, CELL = 101325.0, 293.15, 1e-3, 0.015
C = ac.sound_speed(T0)
Z = P0 / (287.05 * T0) * C
HIGH, START, LISTEN = 20.0, 1.5, 0.6  # Pa; m from the element


def launch(rig: Rig, width: float, toward_start: bool) -> None:
    """A Gaussian of 20 Pa in pipe "in", moving towards the element."""
    x = rig.x("in")
    at = START if toward_start else rig.names.dx[0] * len(x) - START
    dp = HIGH * np.exp(-(((x - at) / width) ** 2))
    rig.fill("in", P0 + dp, T0 * (1 + dp / P0 * 0.4 / 1.4), (-1 if toward_start else 1) * dp / Z)


def shares(rig: Rig, places: list[tuple[str, float]], extra: float = 1.0) -> np.ndarray:
    """Time integrals of the reflected pulse in "in" and of the pulses passed to ``places``, over the incident one.

    The integral of a pulse is its content at low frequency, where the element is small against the wave.
    """
    t, y = rig.listen((START + LISTEN + extra) / C, 2e-5, [("in", places[0][1]), *places[1:]])
    dp = y[:, 2] - P0
    early = t < START / C
    incident = np.sum(dp[0, early])
    return np.array([np.sum(dp[0, ~early]), *np.sum(dp[1:], axis=1)]) / incident


def junction_shares(areas: tuple[float, ...], angles: tuple[float, ...]) -> np.ndarray:
    names = ("in", *(f"out {i}" for i in range(1, len(areas))))
    pipes = [pipe(n, 3.0, a, End("j", angle_deg=g), "closed") for n, a, g in zip(names, areas, angles, strict=True)]
    rig = Rig(*pipes, cell=CELL, junctions=(Junction("j"),))
    launch(rig, 0.25, True)
    return shares(rig, [(n, LISTEN) for n in names])


def inside_one_pipe(ratio: float, cells: int) -> tuple[float, float]:
    """Reflected and passed share of an area change over ``cells`` cells (0: abrupt) inside one pipe."""
    taper = (smooth(cells * CELL, A, ratio * A),) if cells else ()
    rig = Rig(Pipe("in", End("closed"), End("closed"), (smooth(3.0, A), *taper, smooth(3.0, ratio * A))), cell=CELL)
    x = rig.x("in")
    dp = HIGH * np.exp(-(((x - 3.0 + START) / 0.25) ** 2))
    rig.fill("in", P0 + dp, T0 * (1 + dp / P0 * 0.4 / 1.4), dp / Z)
    t, y = rig.listen(3.2 / C, 2e-5, [("in", 3.0 - LISTEN), ("in", 3.0 + cells * CELL + LISTEN)])
    dp = y[:, 2] - P0
    early = t < START / C
    incident = np.sum(dp[0, early])
    return np.sum(dp[0, ~early]) / incident, np.sum(dp[1]) / incident


def steps() -> list[Check]:
    """What is left inside a pipe: abrupt steps up to 1.3 (larger ones become junctions), and steep cones."""
    rows = []
    for ratio, cells, within in ((1.3, 0, 0.012), (1 / 1.3, 0, 0.012), (4.0, 6, 0.02), (0.25, 6, 0.02)):
        expected = ac.step_reflection(1.0, ratio)
        reflected, passed = inside_one_pipe(ratio, cells)
        name = f"{f'cone of {cells} cells' if cells else 'abrupt step'} in a pipe, area times {ratio:.3g}"
        rows += [absolute(f"{name}: reflected", SOURCE, expected, reflected, within),
                 absolute(f"{name}: passed", SOURCE, 1 + expected, passed, within)]
    return rows


JUNCTIONS = {
    "two equal pipes in line": ((A, A), (180, 0)),
    "two equal pipes at right angles": ((A, A), (180, 90)),
    "step to four times the area": ((A, 4 * A), (180, 0)),
    "step to a quarter of the area": ((4 * A, A), (180, 0)),
    "three equal pipes, 120 deg apart": ((A, A, A), (180, 60, -60)),
    "T of three equal pipes": ((A, A, A), (180, 0, 90)),
    "Y of three equal pipes, two side by side": ((A, A, A), (180, 170, 0)),
    "four pipes into one of twice the area": ((A, A, A, A, 2 * A), (174, 186, 178, 182, 0)),
}


def junctions() -> list[Check]:
    rows = []
    for name, (areas, angles) in JUNCTIONS.items():
        reflected, passed = ac.junction(areas)
        got = junction_shares(areas, angles)
        rows.append(absolute(f"junction, {name}: reflected", SOURCE, reflected, got[0], 0.01))
        worst = got[1:][np.argmax(np.abs(got[1:] - passed))]
        rows.append(absolute(f"junction, {name}: passed (worst pipe)", SOURCE, passed, worst, 0.01))
    return rows


def spectrum_loss(rig: Rig, after: tuple[str, float], frequencies: np.ndarray, duration: float) -> np.ndarray:
    """Transmission loss (dB) at ``frequencies`` from one short pulse: incident over passed spectrum."""
    launch(rig, 0.1, False)
    x = rig.x("in")
    place = rig.names.dx[0] * len(x) - LISTEN
    step = 2e-5
    t, y = rig.listen(duration, step, [("in", place), after])
    dp = y[:, 2] - P0
    early = t < START / C
    waves = np.exp(-2j * np.pi * np.outer(frequencies, t))
    return 20 * np.log10(np.abs(waves[:, early] @ dp[0, early]) / np.abs(waves @ dp[1]))


def chamber() -> list[Check]:
    """Area ratio 9, 0.4 m: peak, half way and pass band; steps as junctions."""
    length = 0.4
    rig = Rig(
        pipe("in", 10.0, A, "closed", End("a", angle_deg=180.0)),
        pipe("chamber", length, 9 * A, End("a", angle_deg=0.0), End("b", angle_deg=180.0)),
        pipe("out", 12.0, A, End("b", angle_deg=0.0), "closed"),
        cell=CELL, junctions=(Junction("a", 1e-5), Junction("b", 1e-5)),
    )
    f = C / length * np.array([0.05, 0.125, 0.25, 0.375])
    got = spectrum_loss(rig, ("out", LISTEN), f, 0.034)
    expected = [ac.chamber_transmission_loss(2 * np.pi * v / C, length, 9.0) for v in f]
    return [absolute(f"expansion chamber, area ratio 9, kL {2 * np.pi * v * length / C:.3f}: transmission loss",
                     SOURCE, e, g, 0.3, "dB") for v, e, g in zip(f, expected, got, strict=True)]


def side_branch() -> list[Check]:
    length = 0.3
    rig = Rig(
        pipe("in", 10.0, A, "closed", End("j", angle_deg=180.0)),
        pipe("out", 12.0, A, End("j", angle_deg=0.0), "closed"),
        pipe("branch", length, A, End("j", angle_deg=90.0), "closed"),
        cell=CELL, junctions=(Junction("j", 1e-5),),
    )
    f = C / (4 * length) * np.array([0.3, 0.5, 0.7])
    got = spectrum_loss(rig, ("out", LISTEN), f, 0.034)
    branches = [ac.branch(ac.closed_branch(2 * np.pi * v / C, length, A, Z)) for v in f]
    expected = [ac.transmission_loss(b, A, A, Z) for b in branches]
    return [absolute(f"closed side branch, {v * 4 * length / C:.1f} of its quarter-wave frequency: transmission loss",
                     SOURCE, e, g, 0.3, "dB") for v, e, g in zip(f, expected, got, strict=True)]


def diffuser() -> list[Check]:
    """A cone of area ratio 4, 0.3 m long, inside one pipe."""
    length = 0.3
    segments = (smooth(10.0, A), smooth(length, A, 4 * A), smooth(12.0, 4 * A))
    rig = Rig(Pipe("in", End("closed"), End("closed"), segments), cell=CELL)
    x = rig.x("in")
    dp = HIGH * np.exp(-(((x - 10.0 + START) / 0.1) ** 2))
    rig.fill("in", P0 + dp, T0 * (1 + dp / P0 * 0.4 / 1.4), dp / Z)
    t, y = rig.listen(0.034, 2e-5, [("in", 10.0 - LISTEN), ("in", 10.0 + length + LISTEN)])
    dp = y[:, 2] - P0
    early = t < START / C
    f = np.array([60.0, 200.0, 400.0])
    waves = np.exp(-2j * np.pi * np.outer(f, t))
    got = 20 * np.log10(np.abs(waves[:, early] @ dp[0, early]) / np.abs(waves @ dp[1])) - 10 * np.log10(4.0)
    return [absolute(f"cone of area ratio 4, 0.3 m, {v:g} Hz: transmission loss", SOURCE,
                     ac.transmission_loss(ac.cone(2 * np.pi * v / C, length, A, 4 * A, Z), A, 4 * A, Z), g, 0.1, "dB")
            for v, g in zip(f, got, strict=True)]


def equal_pipes_wave() -> list[Check]:
    """The height, not only the content, of a wave that passes a straight junction of equal pipes."""
    rig = Rig(pipe("in", 3.0, A, End("j", angle_deg=180.0), "closed"),
              pipe("out", 3.0, A, End("j", angle_deg=0.0), "closed"), cell=CELL, junctions=(Junction("j"),))
    launch(rig, 0.25, True)
    _, y = rig.listen(3.1 / C, 2e-5, [("in", LISTEN), ("out", LISTEN)])
    dp = y[:, 2] - P0
    return [relative("junction, two equal pipes in line: passed over incident height", SOURCE, 1.0,
                     dp[1].max() / dp[0].max(), 0.03, note="the junction's volume is a small compliance of its own")]


def checks() -> list[Check]:
    return [*steps(), *junctions(), *equal_pipes_wave(), *chamber(), *side_branch(), *diffuser()]

"""What ``pullcast predict`` adds for a later comparison: calibrated values, and how sure the torque is."""

from __future__ import annotations

from pathlib import Path

from pullcast.cli.progress import points


def calibrated(engine, file: Path | None):
    """The engine at the values of a calibration card, and the calibration (None without a card)."""
    if file is None:
        return engine, None
    from pullcast.answers.calibration_card import read_calibration

    found = read_calibration(file)
    return found.apply(engine), found


def marked(curve, engine, calibration, interval: bool, **how):
    """The curve, saying what it was fitted to, and with its interval if asked for; ``engine`` as on its card."""
    from pullcast.answers.forecast import stamped, with_interval

    if calibration is not None:
        curve = stamped(curve, calibration)
    if interval:
        with points(1, f"interval of {engine.name}") as on_point:
            curve = with_interval(curve, engine, calibration=calibration, **how,
                                  on_tick=lambda t: on_point(t.rpm, t.done, t.total, t.note))
    return curve

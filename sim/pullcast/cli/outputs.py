"""Where ``--out`` writes: decided and refused before the long work, written whole after it."""

from __future__ import annotations

import os
from pathlib import Path

from pullcast.errors import InputError

TABLES = (".nc", ".csv")
CYCLE = "_cycle.png"  # cylinder 1 at the speed of the torque peak
PICTURES = (".png", ".svg", ".pdf")


def targets(outs: list[Path], card: Path, traces: bool) -> list[Path]:
    """The files that the ``--out`` texts ask for.

    A name ending in .nc, .csv, .png, .svg or .pdf is that file; a name without an ending is a folder, which gets the
    card's name with .nc, .csv and .png (with traces also a picture of one cycle). Raises InputError for another
    ending, a folder that is missing for a file, or a place that cannot be written.
    """
    files = []
    for out in outs:
        suffix = out.suffix.lower()
        if out.is_dir() or not suffix:
            files += [out / f"{card.stem}{s}" for s in (".nc", ".csv", ".png", CYCLE) if traces or s != CYCLE]
            _folder(out)
        elif suffix in TABLES + PICTURES:
            _file(out)
            files.append(out)
        else:
            msg = f"--out {out}: give a folder, or a file ending in {', '.join(TABLES + PICTURES)}, not {suffix}"
            raise InputError(msg)
    return list(dict.fromkeys(files))


def _folder(out: Path) -> None:
    if out.exists() and not out.is_dir():
        msg = f"--out {out}: is a file without a known ending; give a folder or another name"
        raise InputError(msg)
    above = next(p for p in (out, *out.absolute().parents) if p.exists())
    if not (above.is_dir() and os.access(above, os.W_OK)):
        msg = f"--out {out}: {above} cannot be written to; choose another folder"
        raise InputError(msg)


def _file(out: Path) -> None:
    folder = out.absolute().parent
    if not folder.is_dir():
        msg = f"--out {out}: there is no folder {folder}; make it first or choose another"
        raise InputError(msg)
    if not os.access(folder, os.W_OK):
        msg = f"--out {out}: {folder} cannot be written to; choose another folder"
        raise InputError(msg)


def write(files: list[Path], curve, units: str) -> None:
    """Write a curve to each file, by its ending; a picture of a cycle needs one speed that converged."""
    for file in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        if file.suffix.lower() in TABLES:
            curve.save(file, units)
        else:
            _picture(file, curve, units)


def _picture(file: Path, curve, units: str) -> None:
    from pullcast.show import cycle_plots, look, plots

    if not (file.name.endswith(CYCLE) and "cylinder_pressure" in curve.dataset):
        look.save_figure(plots.curve_figure(curve, units), file)
    elif curve.peak_torque is not None:
        look.save_figure(cycle_plots.cycle_figure(curve, curve.peak_torque.rpm, 1, units), file)

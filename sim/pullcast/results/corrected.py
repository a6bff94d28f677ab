"""A curve corrected from the card's weather to a named basis."""

from __future__ import annotations

from pullcast.errors import InputError

CORRECTED = ("torque", "power", "bmep")


def corrected(dataset, factor: float, basis: str, note: str = ""):
    """The Dataset with brake torque, power and BMEP times ``factor``; everything else stays as observed.

    ``basis`` and ``note`` (formula, dry pressure, whether in its valid range) go into the attributes. Raises
    InputError for a curve that is already corrected (one factor on top of another means nothing) or a factor that is
    not a positive number.
    """
    before = dataset.attrs.get("basis", "observed")
    if before != "observed":
        msg = f"this curve is already corrected to {before}: correct the observed curve instead"
        raise InputError(msg)
    if not 0.0 < factor < float("inf"):
        msg = f"a correction factor must be above zero, not {factor!r}"
        raise InputError(msg)
    changed = {name: dataset[name].copy(data=dataset[name].values * factor)
               for name in CORRECTED if name in dataset}
    out = dataset.assign(changed)
    out.attrs |= {"basis": basis, "correction_factor": float(factor), "correction_note": note}
    return out

"""A calibration as a table for a terminal, and as one JSON document."""

from __future__ import annotations

from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast import units as u
from pullcast.answers.calibration import Calibration, Found, chance_text, decimals
from pullcast.answers.unknowns import unknown
from pullcast.show import CAUTION


def calibration_view(c: Calibration) -> Group:
    """What ``pullcast calibrate`` prints: the unknowns before and after, how well it fits, what to mind."""
    count = f"{len(c.pulls)} pull{'s' * (len(c.pulls) > 1)}"
    head = f"{c.engine}: {len(c.found)} unknowns fitted to {count} at {c.speeds.size} speeds"
    fits = (f"torque off by {100 * c.rms(c.before):.1f} % rms before, {100 * c.rms(c.after):.1f} % after; chance of "
            f"a larger misfit {chance_text(c.chance)}")
    errors = ", ".join(f"{name} {100 * c.errors[key]:.2f} %" for key, name in (
        ("own", "pulls at one speed"), ("level", "level of pulls and dynamometer"), ("model", "model")))
    kept = (f"the {count} ({', '.join(f'{p.part} {p.number}' for p in c.pulls)}): kept apart, "
            "never to score a forecast made from this")
    return Group(Text(head, style="bold"), Text(fits), Text(f"sd assumed: {errors}"), unknowns_table(c), Text(kept),
                 *(Text(f"note: {n}") for n in c.notes), Text(""), Text(CAUTION, style="dim"))


def unknowns_table(c: Calibration) -> Table:
    """One row per unknown: prior, value after the pulls, its 95 % range, what was learnt."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, collapse_padding=True, header_style="")
    for k, name in enumerate(("unknown", "before", "after", "95 % range", "sd after\nover before", "")):
        table.add_column(name, justify="left" if k in (0, 5) else "right", min_width=12 if k == 0 else None)
    for f in c.found:
        told = f"on its {f.at_bound} bound" if f.at_bound else f.told
        table.add_row(unknown(f.key).label, f"{f.prior.value:.{decimals(f.prior.sd)}f} ± "
                      f"{f.prior.sd:.{decimals(f.prior.sd)}f}", f"{f.digits(f.value)} ± {f.digits(f.sd)}",
                      f"{f.digits(f.low)} to {f.digits(f.high)} {_unit(f)}".strip(),
                      f"{f.narrowed:.2f}", told)
    return table


def calibration_document(c: Calibration) -> dict:
    """The whole calibration as plain values; torque in N m on the session's basis."""
    return {
        "engine": c.engine, "basis": c.basis, "fidelity": c.fidelity, "made_utc": c.made_utc,
        "unknowns": [{"key": f.key, "label": unknown(f.key).label, "unit": _unit(f), "value": f.value, "sd": f.sd,
                      "low_95": f.low, "high_95": f.high, "prior": f.prior.value, "prior_sd": f.prior.sd,
                      "sd_after_over_before": f.narrowed, "told": f.told, "at_bound": f.at_bound} for f in c.found],
        "correlation": c.correlation.tolist(), "speeds_rpm": c.speeds.tolist(), "measured_Nm": c.measured.tolist(),
        "before_Nm": c.before.tolist(), "after_Nm": c.after.tolist(), "misfit_chi_square": c.misfit,
        "chance": c.chance, "assumed_sd": c.errors, "settled": c.settled,
        "pulls": [{"session": p.session, "run": p.number, "part": p.part, "sha256": p.sha256} for p in c.pulls],
        "notes": list(c.notes),
    }


def _unit(f: Found) -> str:
    return u.internal_unit(unknown(f.key).kind)

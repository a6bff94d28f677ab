"""A diagnosis as a page for a terminal, and as one JSON document."""

from __future__ import annotations

import math

import numpy as np
from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast.answers.diagnose import AS_DESIGNED, MEASUREMENT, UNEXPLAINED, Cause, Diagnosis
from pullcast.show import CAUTION

SHOWN = 8
QUICK = ("This is a quick look by the lumped model, which sees no tuning: on simulated faults it named the true "
         "cause first in about half of the cases, the waves in 85 of 100. Diagnose by waves before anything is "
         "changed.")


def diagnosis_view(d: Diagnosis) -> Group:
    """What ``pullcast diagnose`` prints: the likeliest cause, all worth naming, the check to do next."""
    parts = [Text(line, style="bold" if i == 0 else "") for i, line in enumerate(sentences(d))]
    return Group(*parts, Text(""), cause_table(d), curve_table(d), Text(how(d), style="dim"), Text(""),
                 Text(CAUTION, style="dim"))


def sentences(d: Diagnosis) -> list[str]:
    """The answer in plain words: what was measured and expected, the likeliest cause, what to do next."""
    loss, wanted = (100.0 * float(np.mean(np.expm1(v))) for v in (d.measured, d.expected))
    ends = " and ".join(f"{100.0 * np.expm1(d.measured[k]):+.1f} % at {d.speed[k]:.0f} rpm" for k in (0, -1))
    told = [f"{d.who} on {d.engine} made {_amount(loss)} torque than the baseline on average ({ends}); its card "
            f"leads one to expect {_amount(wanted)}."]
    if loss > wanted - 100.0 * float(d.sd.mean()) and d.causes[0].key != AS_DESIGNED:
        told.append("So no more was lost than expected; what follows is about the shape over speed.")
    told.append(_likeliest(d))
    step = "do the check" if d.check is not None else "measure again"
    if d.causes[0].chance < 0.5:
        told.append(f"No cause is likelier than all others together: {step} before anything is changed.")
    if d.poor:
        told.append(f"Even the likeliest cause with a name, {_called(d.named)}, fits poorly: it misses the measured "
                    f"curve by {d.named.misfit:.1f} standard deviations (a good fit by about 1).")
    if d.next_step:
        told.append(f"Do this next: {d.next_step}")
    chances = d.chances
    told.append(f"The chance that the measurement itself is the cause is {_percent(chances[MEASUREMENT])}; that it "
                f"is something nobody thought of, {_percent(chances[UNEXPLAINED])}.")
    if d.fidelity == "lumped":
        told.append(QUICK)
    return told


def _amount(percent: float) -> str:
    """A mean difference in words."""
    return "as much" if abs(percent) < 0.05 else f"{abs(percent):.1f} % {'less' if percent < 0.0 else 'more'}"


def _likeliest(d: Diagnosis) -> str:
    first = d.causes[0]
    chance = _percent(first.chance)
    if first.key == UNEXPLAINED:
        return f"Nothing on the list explains that: most likely ({chance}) it is something else."
    if first.key == AS_DESIGNED:
        return f"Most likely ({chance}) nothing is wrong: the part does about what its card leads one to expect."
    if first.key == MEASUREMENT:
        return f"Most likely ({chance}) it is the measurement, not the engine: {first.name.partition(': ')[2]}."
    return f"Most likely ({chance}): {_called(first)}."


def cause_table(d: Diagnosis) -> Table:
    """Causes by their chance, with how far each misses the measured curve and the loss it predicts at three speeds.

    The part alone, as its card has it, is always among them.
    """
    table = Table(title="What it may be", title_justify="left", title_style="bold", box=box.SIMPLE_HEAD,
                  pad_edge=False, header_style="", collapse_padding=True)
    places = (0, len(d.speed) // 2, len(d.speed) - 1)
    table.add_column("chance", justify="right")
    table.add_column("cause", overflow="fold")
    table.add_column("misfit, sd", justify="right", no_wrap=True)
    for k in places:
        table.add_column(f"{d.speed[k]:.0f} rpm", justify="right", no_wrap=True)
    for c in d.shown(SHOWN):
        name = c.name + (f", {c.severity}" if c.severity else "")
        off = f"{c.misfit:.1f}" if math.isfinite(c.misfit) else "–"
        table.add_row(_percent(c.chance), Text(name), off, *[f"{100 * np.expm1(c.curve[k]):+.1f} %" for k in places])
    return table


def curve_table(d: Diagnosis) -> Table:
    """The measured difference over speed."""
    table = Table(title="Measured", title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False,
                  header_style="", collapse_padding=True)
    table.add_column("rpm")
    for rpm in d.speed:
        table.add_column(f"{rpm:.0f}", justify="right", no_wrap=True)
    table.add_row("torque, %", *[f"{100 * np.expm1(v):+.1f}" for v in d.measured])
    table.add_row("sd, %", *[f"{100 * v:.1f}" for v in d.sd])
    return table


def how(d: Diagnosis) -> str:
    """What the chances rest on."""
    return (f"Each row is the part as its card has it, plus the fault named; one row is the part alone. Misfit is "
            "the root mean square miss in standard deviations of scatter and model. "
            f"Each cause simulated on this engine by the {d.fidelity} model at several severities, held against the "
            "shape of the measured difference with the scatter of pulls and refits. Chances are those among the "
            "causes listed, from rough prior odds (common practice, no source).")


def _called(c: Cause) -> str:
    return c.name + (f", {c.severity}" if c.severity else "")


def _percent(chance: float) -> str:
    return "below 1 %" if chance < 0.01 else "above 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def diagnosis_document(d: Diagnosis) -> dict:
    """The diagnosis as a JSON document; chances 0 to 1, differences in _pct."""
    def share(values) -> list[float]:
        return [round(100.0 * float(v), 3) for v in np.expm1(values)]

    return {
        "engine": d.engine, "part": d.part, "part_name": d.name, "fidelity": d.fidelity,
        "speed_rpm": [float(v) for v in d.speed], "measured_pct": share(d.measured),
        "expected_pct": share(d.expected), "sd_pct": [100.0 * float(v) for v in d.sd],
        "causes": [{"cause": c.key, "name": c.name, "chance": c.chance, "severity": c.severity,
                    "misfit_sd": c.misfit if math.isfinite(c.misfit) else None, "predicted_pct": share(c.curve),
                    "readings": {k: v for k, v in c.readings.items() if math.isfinite(v)}} for c in d.causes],
        "check": None if d.check is None else {
            "reading": d.check.reading, "do": d.check.do, "causes": list(d.check.causes),
            "reads": list(d.check.reads), "standard_deviations_apart": d.check.apart},
        "instead": d.instead or None, "findings": sentences(d)}

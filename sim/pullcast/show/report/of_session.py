"""What a judged session, a comparison and a calibration give to a report."""

from __future__ import annotations

from pullcast.answers.calibration import Calibration
from pullcast.answers.comparison import Comparison
from pullcast.answers.judgement import Judgement
from pullcast.answers.measured_parts import digest_of
from pullcast.show import (
    calibration_plots,
    calibration_tables,
    compare_plots,
    compare_tables,
    judge_plots,
    judge_tables,
)
from pullcast.show.report.blocks import Block, Bullets, Para, grid, lines, panels
from pullcast.show.report.chapter import Share


def share(j: Judgement, units: str) -> Share:
    """The share of a judgement."""
    s = j.session
    names = ", ".join(f"{k} {v}" for k, v in s.parts.items())
    order = panels("Every pull in the order run: bars the mean of each time a part was on, hollow what was excluded.",
                   (2.5, lambda ax: judge_plots.order_panel(ax, j, units)))
    curves = (panels("Pulls and their means, and the difference with its interval at each speed.",
                     (3.0, lambda ax: judge_plots.overlay_panel(ax, j, units)),
                     (2.2, lambda ax: judge_plots.difference_panel(ax, j))),) if j.grid.size else ()
    answer = [Bullets(tuple(t.strip() for t in judge_tables.difference_lines(d, units))) for d in j.differences]
    answer.append(Para(j.meaning))
    out = [f"run {r.number} ({r.part}) left out: {r.excluded}" for r in j.rows if r.excluded]
    return Share(
        f"{s.title}: is the difference real? {names}.",
        (*(f"{d!r}." for d in j.differences), *(f"{r!r}." for r in j.returns)), 50,
        f"Pulls: {s.title}", curves, tuple(answer),
        inputs=_rules(j), pulls=(grid(judge_tables.pulls_table(j, units), s.title), order,
                                 *lines(out or ["No pull was left out."]), *lines(judge_tables.run_notes(j))),
        method=lines([f"note: {w}" for w in j.warnings]),
        origin=tuple((f"run {r.number}, SHA-256", digest_of(s, r)) for r in s.runs))


def _rules(j: Judgement) -> tuple[Block, ...]:
    s, r = j.session, j.session.rules
    band = "peaks only" if j.band is None else f"{j.band[0]:.0f} to {j.band[1]:.0f} rpm"
    refit = "estimated" if r.refit is None else f"{100 * r.refit:.2f} %, given"
    return (Para(f"{s.title}: {s.sequence}, baseline {s.baseline}. Source: {s.source}."), Bullets((
        f"judged on {j.metric}, {band}, smoothed over {r.window:.0f} rpm, {100 * r.level:.0f} % intervals",
        f"files recorded {s.recorded}, judged {'as observed' if s.basis == 'observed' else 'on ' + s.basis}",
        f"scatter of taking off and putting on again: {refit}",
        f"smallest difference worth knowing: {100 * r.worth:.1f} %",
        *(f"part {k}: {v}" for k, v in s.parts.items()))))


def comparison_share(c: Comparison, units: str) -> Share:
    """The share of a forecast held against pulls, with that of the judgement it rests on."""
    curves = [p for p in c.parts if p.curve is not None]
    pictures = []
    if curves:
        pictures.append(panels("Forecast and pulls with their intervals, and the error over speed.",
                               (3.0, lambda ax: compare_plots.overlay_panel(ax, c, units)),
                               (2.0, lambda ax: _bottom(compare_plots.error_panel, ax, c, units))))
    if any(d.rpm is not None and d.rpm.size for d in c.differences):
        pictures.append(panels("Predicted and measured difference to the baseline with their intervals.",
                               (2.4, lambda ax: _bottom(compare_plots.differences_panel, ax, c, units))))
    if not pictures:
        pictures.append(panels("Predicted against measured.",
                               (3.6, lambda ax: compare_plots.predicted_measured_panel(ax, c, units))))
    seal = f"The forecast was sealed {c.sealed_utc}, before the pulls were scored; seal {c.sealed}." if c.sealed \
        else "The forecast was not sealed before the pulls."
    found = compare_tables.peaks_table(c, units)
    answer = [grid(compare_tables.parts_table(c, units), "Forecast and pulls"),
              *([grid(found, "Peaks")] if hasattr(found, "columns") else [])]
    if c.differences:
        answer += [grid(compare_tables.differences_table(c), "Differences to the baseline"),
                   *lines(compare_tables.difference_lines(c))]
    if c.rank is not None:
        answer.append(Para(compare_tables.rank_line(c.rank, c.level)))
    refused = [f"not scored, {p.part}, {p.what}: {p.refused}" for p in c.parts if p.refused]
    seals = ((("seal of the forecast", c.sealed),) if c.sealed else ())
    return Share(
        f"{c.session.title}: how good was the forecast?",
        (*(f"{d!r}." for d in c.differences), *(f"{p!r}." for p in c.parts), seal), 40,
        f"Forecast against pulls: {c.session.title}", tuple(pictures),
        tuple(answer), method=lines([*refused, *(f"note: {n}" for n in c.notes)]),
        origin=(*seals, *((f"forecast of {part}, SHA-256", digest) for part, digest in c.forecasts)))


def _bottom(panel, ax, *what) -> None:
    panel(ax, *what)
    ax.set_xlabel("engine speed, rpm")


def calibration_share(c: Calibration, units: str) -> Share:
    """The share of a calibration."""
    picture = panels("Torque of the pulls with the model before and after, and how far each unknown was narrowed.",
                     (2.8, lambda ax: calibration_plots.torque_panel(ax, c, units)),
                     (0.8 + 0.42 * len(c.found), lambda ax: calibration_plots.unknowns_panel(ax, c)), under=False)
    before, after = (100 * c.rms(t) for t in (c.before, c.after))
    learnt = ", ".join(f"{f.key} {f.digits(f.value)} ({f.digits(f.low)} to {f.digits(f.high)})" for f in c.found)
    return Share(
        f"What do the pulls say of the unknowns of {c.engine}?",
        (f"Torque was off by {before:.1f} % rms before and {after:.1f} % after; 95 % ranges: {learnt}.",), 20,
        f"Calibration of {c.engine}",
        (picture,), inputs=(grid(calibration_tables.unknowns_table(c), f"Unknowns of {c.engine}"),),
        pulls=(Para(f"Fitted to {len(c.pulls)} pulls, which never score a forecast made from it: "
                    + ", ".join(f"{p.part} {p.number} of {p.session}" for p in c.pulls) + "."),),
        method=lines([f"note: {n}" for n in c.notes]),
        origin=(("calibrated", f"{c.made_utc} by pullcast {c.version}"),
                *((f"fitted to {p.session}, run {p.number}, SHA-256", p.sha256) for p in c.pulls)))

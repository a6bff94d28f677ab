"""What an explained swap, a diagnosis and a tuning give to a report."""

from __future__ import annotations

from pullcast.answers.diagnose import Diagnosis
from pullcast.answers.explanation import Explanation
from pullcast.answers.tune import WAYS, Tuning
from pullcast.show import diagnose_plots, diagnose_tables, explain_plots, explain_tables, tune_plots, tune_tables
from pullcast.show.explain_words import sentences
from pullcast.show.report.blocks import Picture, grid, lines, panels
from pullcast.show.report.chapter import Share


def share(x: Explanation, units: str) -> Share:
    """The share of an explained swap."""
    from pullcast.show.why_plots import why_figure

    first, *rest = sentences(x, units)
    noise = 100 * x.band_noise / x.band_torque
    rows = max(min(len(x.attributes), explain_plots.SHOWN), 1)
    curve = panels("Torque of both engines, and of the other with the one change that gives most back.",
                   (2.6, lambda ax: explain_plots.curve_panel(ax, x, units)))
    parts = panels("Share of each attribute in the difference, over the band and by speed.",
                   (0.7 + 0.36 * rows, lambda ax: explain_plots.bar_panel(ax, x, units)),
                   (0.9 + 0.28 * (rows + 1), lambda ax: explain_plots.speed_panel(ax, x, units)), under=False)
    cycles = tuple(Picture(lambda a=a, b=b: why_figure(a, b, units), f"The cycle of both engines at {a.rpm:.0f} rpm.")
                   for a, b in x.evidence)
    tables = [explain_tables.attribute_table(x, units), explain_tables.mechanism_table(x, units)] \
        if x.attributes else []
    ledgers = [explain_tables.ledger_table(v) for v in x.ledgers or ()]
    return Share(
        f"Why does {x.other} differ from {x.base}?" if x.swap == x.other else f"Why does {x.swap} change {x.base}?",
        (first, f"What is below {noise:.2f} % is not told from zero."), 35, f"Why: {x.swap}", (curve,),
        why=(*lines(rest), *((parts,) if x.attributes else ()), *map(grid, tables), *map(grid, ledgers), *cycles),
        method=lines([explain_tables.how(x, counted=False), *(f"note: {n}" for n in x.notes)]),
        origin=((f"{x.swap}: explained by", f"pullcast {x.version}"),))


def diagnosis_share(d: Diagnosis, units: str) -> Share:
    """The share of a diagnosis."""
    picture = panels("The measured difference and what the likeliest causes predict.",
                     (3.4, lambda ax: diagnose_plots.difference_panel(ax, d)))
    chances = panels("Chance of each cause.", (0.9 + 0.33 * min(len(d.causes), diagnose_plots.SHOWN),
                                               lambda ax: diagnose_plots.chance_panel(ax, d)))
    told = diagnose_tables.sentences(d)
    return Share(
        f"Is the difference of {d.who} on {d.engine} the part or a fault?", tuple(told), 45,
        f"Diagnosis of {d.who} on {d.engine}", (picture,),
        why=(chances, grid(diagnose_tables.cause_table(d)), grid(diagnose_tables.curve_table(d))),
        method=lines([diagnose_tables.how(d)]))


def tuning_share(t: Tuning, units: str) -> Share:
    """The share of a tuning."""
    need = t.fuel()
    fuel = lines(tune_tables.fuel_lines(need)) if need is not None else ()
    loops = panels("Torque over spark at a few speeds, each as a share of its best; x where knock begins.",
                   (2.8, lambda ax: tune_plots.spark_loops(t, ax)))
    chosen = panels("Spark chosen, best torque and knock limit over speed.",
                    (2.6, lambda ax: tune_plots.spark_table(t, ax)))
    mixtures = panels("Torque over lambda, each at its own best spark.",
                      (2.4, lambda ax: tune_plots.mixture_loops(t, ax)))
    blocks = [grid(tune_tables.sparks_table(t, units), "Spark"), grid(tune_tables.burns_table(t), "Burn")]
    more = any(m is not None for m in t.mixtures)
    if more:
        blocks.append(grid(tune_tables.mixtures_table(t), "Mixture"))
    return Share(
        f"Which spark and mixture does {t.engine.name} want?",
        (f"{t.engine.name}, {WAYS[t.how]}: "
         + ", ".join(f"{spark:.0f} deg at {rpm:.0f} rpm" for rpm, spark in t.table()) + ".",), 15,
        f"Tuning of {t.engine.name}",
        (loops, chosen, *((mixtures,) if more else ())), (*blocks, *fuel),
        method=lines([f"{t.engine.name}: loops on the charge each speed trapped; gas exchange: {t.fidelity} model.",
                      *(f"{rpm:.0f} rpm: {why}" for rpm, why in t.failures)]))

"""pullcast: forecast a dyno pull from an engine card.

1. ``engine = pc.read_engine("configs/engines/hillclimb_v8.toml")`` reads and checks a card with its parts.
2. ``pc.check(engine)`` shows what follows from it, what was assumed, and what does not fit together.
3. ``curve = pc.predict(engine)`` solves the whole engine wave by wave and gives a ``Curve``.
4. ``curve.peak_power``, ``curve.band_average("torque", 3000, 6000)``, ``curve.save("pull.nc")``.

Names are loaded when first used, so that ``import pullcast`` stays light.
"""

from importlib import import_module as _import_module

__version__ = "0.1.0"

_HOMES = {
    "read_engine": "pullcast.card",
    "read_engine_text": "pullcast.card",
    "with_changes": "pullcast.card",
    "starter": "pullcast.card.starter",
    "check": "pullcast.answers.check",
    "predict": "pullcast.answers.curves",
    "read_shortlist": "pullcast.card.shortlist",
    "rank": "pullcast.answers.rank",
    "search": "pullcast.answers.search",
    "read_ranking": "pullcast.answers.ranking_file",
    "plan": "pullcast.answers.plan",
    "plan_markdown": "pullcast.show.plan_text",
    "ranking_figure": "pullcast.show.rank_plots",
    "search_figure": "pullcast.show.rank_plots",
    "correction_factor": "pullcast.pulls.correction",
    "read_pull": "pullcast.pulls.reading",
    "read_session": "pullcast.pulls.session_card",
    "lock": "pullcast.answers.lock",
    "read_lock": "pullcast.answers.lock",
    "judge": "pullcast.answers.judge",
    "pulls_needed": "pullcast.answers.pulls_needed",
    "compare": "pullcast.answers.compare",
    "compare_figure": "pullcast.show.compare_plots",
    "calibrate": "pullcast.answers.calibrate",
    "calibration_figure": "pullcast.show.calibration_plots",
    "read_calibration": "pullcast.answers.calibration_card",
    "save_calibration": "pullcast.answers.calibration_card",
    "read_ledger": "pullcast.answers.ledger",
    "add_to_ledger": "pullcast.answers.ledger",
    "score_ledger": "pullcast.answers.ledger_score",
    "ledger_figure": "pullcast.show.compare_plots",
    "judge_figure": "pullcast.show.judge_plots",
    "explain": "pullcast.answers.explain",
    "diagnose": "pullcast.answers.diagnose",
    "diagnose_figure": "pullcast.show.diagnose_plots",
    "geometry_family": "pullcast.answers.geometry_family",
    "ve_ledger": "pullcast.answers.ve_ledger",
    "split_waves": "pullcast.answers.waves_split",
    "explain_figure": "pullcast.show.explain_plots",
    "why_figure": "pullcast.show.why_plots",
    "tune": "pullcast.answers.tune",
    "tuned": "pullcast.answers.tune",
    "what_if": "pullcast.answers.tune_what_if",
    "accelerating": "pullcast.answers.tune_pull",
    "motoring": "pullcast.answers.tune_pull",
    "tune_figure": "pullcast.show.tune_plots",
    "burn_figure": "pullcast.show.tune_plots",
    "cycle_figure": "pullcast.show.cycle_plots",
    "day_sheet": "pullcast.show.report.of_plan",
    "report": "pullcast.show.report",
    "Curve": "pullcast.results.curve",
    "curve_figure": "pullcast.show.plots",
    "PullcastError": "pullcast.errors",
}
__all__ = ["__version__", *_HOMES]


def __getattr__(name: str):
    """Load a public name from its module."""
    if name not in _HOMES:
        msg = f"module 'pullcast' has no attribute {name!r}"
        raise AttributeError(msg)
    value = getattr(_import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """The public names, loaded or not."""
    return sorted([*globals(), *_HOMES])

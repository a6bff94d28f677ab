"""The sheet of a dyno day as a document: what is put on when, what to look for, and rows to be filled in by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pullcast.answers.plan import DayPlan, Expected
from pullcast.show import CAUTION, plan_text
from pullcast.show.report.blocks import Block, Bullets, Grid, Para, Picture, panels
from pullcast.show.report.document import Document

BOX = "\u2610 "


def day_sheet(p: DayPlan, units: str = "si") -> Document:
    """The plan as a document that prints on A4 and Letter."""
    r = p.ranking
    order = _grid(*plan_text.order_rows(p), numbers=("wrench min", "pulls", "all min", "starts at"))
    expected = tuple(b for e in p.expected for b in _expected(p, e, units))
    pulls = replace(_grid(*plan_text.pull_rows(p)), form=True)
    chapters: list[tuple[str, tuple[Block, ...]]] = [
        ("The day in order", (order,)), ("What this can resolve", (_bullets(plan_text.resolve_lines(p)),)),
        ("What to expect", expected),
        ("Limits", (_bullets(plan_text.limits_lines(p, units) or ["none stated on the shortlist"]),)),
        ("Rules of the day", (Bullets(plan_text.RULES),)), ("Record", (Bullets(plan_text.RECORD, BOX),)),
        *([("Mind", (Bullets(p.notes),))] if p.notes else []),
        ("Pulls", (pulls,)), ("Cautions", (Bullets(plan_text.CAUTIONS), Para(CAUTION)))]
    return Document(
        p.title, (f"Engine: {r.engine}. Base: A, as it stands. Goal: {r.goal}, {r.band[0]:.0f} to {r.band[1]:.0f} "
                  f"rpm. Forecast by the {r.fidelity} model, pullcast {r.version}.",),
        (plan_text.length_line(p),),
        tuple(chapters), "A planning estimate: it does not show that an engine, part or test is safe.")


def _expected(p: DayPlan, e: Expected, units: str) -> tuple[Block, ...]:
    told = [line.replace("**", "") for line in plan_text.expected_lines(e)]
    heads, rows = plan_text.curve_rows(e, p.ranking.base.torque, units)
    return (Para(f"{e.letter}, {e.place.name}", strong=True), _picture(p, e), Para(" ".join(told)),
            _grid(heads, rows, numbers=tuple(heads)))


def _picture(p: DayPlan, e: Expected) -> Picture:
    return panels(f"{e.letter} against A: forecast change of torque over speed"
                  + (", its 80 % band shaded." if e.low else "."), (2.1, lambda ax: change_over_speed(e, p, ax)))


def change_over_speed(e: Expected, p: DayPlan, ax) -> None:
    """Forecast change of torque against the base, percent over speed, with its band; dotted: the judged band."""
    from pullcast.show import look

    if e.low:
        low, high = (100 * np.array(v) for v in (e.low, e.high))
        ax.fill_between(e.rpm, low, high, color=look.BLUE, alpha=0.15, linewidth=0)
    ax.plot(e.rpm, 100 * np.array(e.change), color=look.BLUE, marker="o", markersize=3)
    ax.axhline(0.0, color=look.BLACK, linewidth=0.9)
    for edge in p.ranking.band:
        ax.axvline(edge, color=look.GREY, linewidth=0.8, linestyle=(0, (2, 2)))
    ax.set_xlabel("engine speed, rpm")
    ax.set_ylabel(f"{e.letter} against A, %")
    look.quiet(ax)


def _grid(heads, rows, numbers: tuple[str, ...] = ()) -> Grid:
    return Grid(tuple(heads), tuple(map(tuple, rows)), tuple(h in numbers for h in heads))


def _bullets(texts) -> Bullets:
    return Bullets(tuple(t.removeprefix("- ").replace("`", "") for t in texts))

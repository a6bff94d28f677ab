"""What a ranking and a search give to a report."""

from __future__ import annotations

from pullcast.answers.ranking import Ranking
from pullcast.answers.search import Found
from pullcast.show import rank_plots, rank_tables
from pullcast.show.report.blocks import Bullets, Para, grid, lines, panels
from pullcast.show.report.chapter import Share


def share(r: Ranking, units: str) -> Share:
    """The share of a ranking."""
    low, high = r.band
    rows = min(len([p for p in r.places if not p.trouble]), rank_plots.SHOWN)
    gains = panels("Gain of each candidate over the base: dot the forecast, bar its 80 % band, hollow what breaks a "
                   "limit.", (0.8 + 0.36 * rows, lambda ax: rank_plots.gains_panel(ax, r)))
    change = panels("Torque of the leading candidates against the base over speed.",
                    (3.4, lambda ax: rank_plots.change_panel(ax, r)))
    places = grid(rank_tables.places_table(r, units), f"{r.engine}: {r.goal}, {low:.0f} to {high:.0f} rpm")
    pairs = [grid(rank_tables.pairs_table(r), "Chance, %, that the row is truly better than the column")] \
        if r.pairs else []
    why = [repr(r.influence)] if r.influence is not None else []
    trouble = [f"{p.name} left out: {p.trouble}" for p in r.places if p.trouble]
    how = [t for t in rank_tables.how_lines(r) if t not in why]
    return Share(
        f"Which parts are worth the day on {r.engine}? {r.goal.capitalize()}, {low:.0f} to {high:.0f} rpm.",
        tuple(_verdicts(r)), 30, f"Ranking: {r.name}", (change,),
        (gains, places, *pairs, *lines(rank_tables.broken_lines(r, units) + trouble)),
        lines(why), method=lines([f"{r.name}: all gains by the {r.fidelity} model.", *how]),
        inputs=(_swaps(r),), origin=((f"{r.name}: ranked by", f"pullcast {r.version}"),))


def _verdicts(r: Ranking) -> list[str]:
    first = next((p for p in r.places if p.kept), None)
    told = [r.headline()]
    if first is not None and first.low is not None:
        told.append(f"{first.name}: {100 * first.gain:+.1f} % over the base, 80 % band {100 * first.low:+.1f} to "
                    f"{100 * first.high:+.1f} %.")
    elif first is not None:
        told.append("No band: what is not known was not sampled.")
    return told


def _swaps(r: Ranking) -> Bullets:
    return Bullets(tuple(f"{p.name}: " + (", ".join(f"{k} = {v}" for k, v in p.swaps.items()) or "as the base")
                         for p in r.places))


def search_share(f: Found, units: str) -> Share:
    """The share of a search."""
    pictures = tuple(panels(f"The goal over {t.span.key}; shaded: within half a percent of the best.",
                            (2.5, lambda ax, t=t: rank_plots.trend_panel(ax, t))) for t in f.trends)
    blocks = tuple(grid(rank_tables.trend_table(t)) for t in f.trends)
    limits = [f"At the best place: {rank_tables.limit_text(x, units)}" for x in f.limits]
    return Share(
        f"Where is the best {f.goal} of {f.engine}, {f.band[0]:.0f} to {f.band[1]:.0f} rpm?",
        tuple(f"{t!r}." for t in f.trends), 30, f"Search: {f.name}", pictures, (*blocks, *lines(limits)),
        method=(Para(f"{f.name}: by the {f.fidelity} model, {f.engines} engines computed."), *lines(f.notes)),
        origin=((f"{f.name}: searched by", f"pullcast {f.version}"),))

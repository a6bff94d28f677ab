"""Chances of a ranking against engines whose truth is known: the model itself, marched at inputs nobody was told.

A ranking says with what chance one part is better than another, and gives an 80 % band on each gain, from what the
cards leave open. Here truths are drawn from the same ranges, by plain random numbers, every candidate is marched
there by waves, and it is counted how often what was said came true. The bounds are the promised ones: of things said
with 80 %, 70 to 90 % come true.
"""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from validation.harness import Check, at_least, at_most

from pullcast.answers import scoring
from pullcast.answers.rank import rank
from pullcast.answers.ranking import Ranking
from pullcast.answers.sampling import ENDS, Entrant, engine_at, factors_of
from pullcast.card.shortlist import Shortlist, read_shortlist

SLOW = True
CONFIGS = Path(__file__).parents[3] / "configs"
SEED = 11
SHELVES = {  # engine: speeds of the band, truths drawn, candidates (some meant to lie near each other)
    "vintage_twin": ("2500 4000 5500", 24, (
        'exhaust.primary.length = "610 mm"', 'exhaust.collector.length = "330 mm"',
        "block.compression_ratio = 9.6", 'cam.advance = "5 deg"')),
    "club_four": ("3500 5000 6500", 12, (
        'intake.runner.length = "320 mm"', 'exhaust.primary.length = "460 mm"',
        'intake.throttle.diameter = "54 mm"', 'cam.advance = "3 deg"')),
    "hillclimb_v8": ("3000 4500 6000", 10, (
        'intake = "intakes/v8_dual_plane.toml"', 'cam.advance = "6 deg"',
        'exhaust = "exhausts/v8_headers_162_h.toml"', "block.compression_ratio = 10.4")),
}


def checks() -> list[Check]:
    """Bands and chances of the default ranking on three shipped engines, counted together and one by one."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(CONFIGS, Path(folder) / "configs")
        kept = [counted(name, Path(folder) / "configs") for name in SHELVES]
    out = []
    for name, c in zip(SHELVES, kept, strict=True):
        source = f"{c.truths} truths drawn from the cards' ranges, marched by waves"
        out += [at_least(f"{name}: gains inside their 80 % band", source, 0.60, c.inside.mean()),
                at_most(f"{name}: gains inside their 80 % band", source, 1.00, c.inside.mean())]
    inside, said, true = (np.concatenate([getattr(c, k) for c in kept]) for k in ("inside", "said", "true"))
    source = "all three engines"
    near = (said >= 0.7) & (said <= 0.9)
    return [*out, at_least("gains inside their 80 % band", source, 0.70, inside.mean()),
            at_most("gains inside their 80 % band", source, 0.90, inside.mean()),
            at_least("said with 70 to 90 %: came true", source, 0.70, true[near].mean(), note=f"{near.sum()} cases"),
            at_most("said with 70 to 90 %: came true", source, 0.90, true[near].mean(), note=f"{near.sum()} cases")]


@dataclass(frozen=True)
class Counted:
    """What came of a ranking at each truth: gains inside their bands, chances said (of the likelier side), true."""

    truths: int
    inside: np.ndarray
    said: np.ndarray
    true: np.ndarray


def counted(name: str, configs: Path) -> Counted:
    """Rank the shelf of an engine, draw truths, count."""
    shortlist = shelf(name, configs)
    return tally(rank(shortlist, samples=32), true_gains(shortlist, SHELVES[name][1], "wave"))


def shelf(name: str, configs: Path) -> Shortlist:
    """The shortlist of an engine of `SHELVES`, written into a copy of the shipped cards."""
    speeds, _, candidates = SHELVES[name]
    low, high = speeds.split()[0], speeds.split()[-1]
    text = (f'name = "shelf of {name}"\nbase = "engines/{name}.toml"\n'
            f'band = {{ low = "{low} rpm", high = "{high} rpm", speeds = "{speeds} rpm" }}\n')
    text += "".join(f'[[candidate]]\nname = "part {k}"\n{swap}\n' for k, swap in enumerate(candidates))
    path = configs / "shortlists" / f"of_{name}.toml"
    path.write_text(text, encoding="utf-8")
    return read_shortlist(path)


def true_gains(shortlist: Shortlist, count: int, fidelity: str) -> np.ndarray:
    """Gains (count, engines) of the base and its candidates at ``count`` truths."""
    from scipy.stats import truncnorm

    some = [Entrant("base", {}, shortlist.base), *(Entrant(c.name, c.swaps, c.engine) for c in shortlist.candidates)]
    factors = factors_of(some)
    z = truncnorm.rvs(-ENDS, ENDS, size=(count, len(factors)), random_state=np.random.default_rng(SEED))
    engines = [engine_at(shortlist.base_path, e, dict(zip(factors, row, strict=True))) for row in z for e in some]
    speeds = list(shortlist.band.speeds)
    rows, _ = scoring.compute(engines, speeds, fidelity, scoring.Means(), "truths")
    goal = scoring.scores(shortlist, speeds, rows).reshape(count, len(some))
    return (goal / goal[:, :1] - 1.0)[np.isfinite(goal).all(axis=1)]


def tally(r: Ranking, gains: np.ndarray) -> Counted:
    """What a ranking said against gains (truths, engines), base first and candidates by the number in their name."""
    column = {"base": 0} | {p.name: 1 + int(p.name.split()[-1]) for p in r.places}
    inside = np.array([(p.low <= gains[:, column[p.name]]) & (gains[:, column[p.name]] <= p.high) for p in r.places])
    said, true = [], []
    for (a, b), chance in r.pairs.items():
        if a < b and r.verdicts[a, b] not in ("identical", "no difference"):
            better = gains[:, column[a]] > gains[:, column[b]]
            said += [max(chance, 1.0 - chance)] * len(gains)
            true += list(better if chance >= 0.5 else ~better)
    return Counted(len(gains), inside.ravel(), np.array(said), np.array(true))

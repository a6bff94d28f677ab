"""Chances of a ranking against engines whose truth is known: the model itself, marched at inputs nobody was told.

A ranking says with what chance one part is better than another, and gives an 80 % band on each gain, from what the
cards leave open. Here truths are drawn from the same ranges, every candidate is marched there by waves, and it is
counted how often what was said came true. Two rankings of every list, of two seeds, are each other's judge: the draws
of the one are the truths of the other. The bounds are the promised ones: of things said with 80 %, 70 to 90 % come
true.
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
from pullcast.answers.sampling import ENDS, Entrant, draws, engine_at, factors_of
from pullcast.card.shortlist import Shortlist, read_shortlist
from pullcast.solve.store import Store

SLOW = True
CONFIGS = Path(__file__).parents[3] / "configs"
SEED = 2101
SEEDS = (11, 12)  # of the two rankings; neither was computed before what is judged here was settled
SAMPLES, TRUTHS = 32, 8  # draws of a ranking, and how many of them are marched by waves
SHELVES = {  # engine: speeds of the band, candidates (some meant to lie near each other)
    "vintage_twin": ("2500 4000 5500", (
        'exhaust.primary.length = "610 mm"', 'exhaust.collector.length = "330 mm"',
        "block.compression_ratio = 9.6", 'cam.advance = "5 deg"')),
    "club_four": ("3500 5000 6500", (
        'intake.runner.length = "320 mm"', 'exhaust.primary.length = "460 mm"',
        'intake.throttle.diameter = "54 mm"', 'cam.advance = "3 deg"')),
    "hillclimb_v8": ("3000 4500 6000", (
        'intake = "intakes/v8_dual_plane.toml"', 'cam.advance = "6 deg"',
        'exhaust = "exhausts/v8_headers_162_h.toml"', "block.compression_ratio = 10.4")),
}
LOOKED_AT = {  # an engine that was looked at before it was chosen how the spread is learned
    "lab_single": ("1600 2400 3200", (
        'exhaust.primary.length = "900 mm"', 'exhaust.primary.od = "38 mm"',
        "block.compression_ratio = 7.9", 'cam.advance = "4 deg"', 'cam.advance = "-4 deg"')),
}
HELD_OUT = {  # engines on which nothing of a ranking was measured or chosen
    "touring_six": ("2800 4400 6000", (
        'intake.runner.length = "350 mm"', 'exhaust.primary.length = "460 mm"',
        'exhaust.collector.length = "500 mm"', 'cam.advance = "3 deg"')),
    "rally_v6": ("3600 5200 6800", (
        'intake.runner.length = "280 mm"', 'exhaust.primary.length = "500 mm"',
        "block.compression_ratio = 11.3", 'cam.advance = "-3 deg"')),
}
ALL = SHELVES | LOOKED_AT | HELD_OUT


def checks() -> list[Check]:
    """Bands and chances of the default ranking on the shipped engines: one by one, and counted together."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(CONFIGS, Path(folder) / "configs")
        kept = {name: counted(name, Path(folder) / "configs") for name in ALL}
    out = [at_least(f"{name}: differences inside their 80 % band",
                    f"{c.truths} truths drawn from the cards' ranges, marched by waves", 0.60, c.inside.mean())
           for name, c in kept.items()]
    for which, names in (("engines looked at", SHELVES | LOOKED_AT), ("engines held out", HELD_OUT),
                         ("all engines", ALL)):
        out += _together(which, [kept[name] for name in names])
    return out


def _together(which: str, kept: list[Counted]) -> list[Check]:
    """Shares over several engines, with their intervals by pairs; chances are judged by these, being of few pairs."""
    inside, said, true = (np.concatenate([getattr(c, k) for c in kept]) for k in ("inside", "said", "true"))
    pair = np.concatenate([c.pair + 1000 * k for k, c in enumerate(kept)])
    low, high = by_pairs(inside, pair)
    note = f"{inside.size} cases of {np.unique(pair).size} pairs; 95 % interval {low:.2f} to {high:.2f}"
    out = [at_least("differences inside their 80 % band", which, 0.70, inside.mean(), note=note),
           at_most("differences inside their 80 % band", which, 0.90, inside.mean(), note=note)]
    near = (said >= 0.7) & (said <= 0.9)
    if np.unique(pair[near]).size < 2:
        return out
    low, high = by_pairs(true[near], pair[near])
    note = (f"{true[near].mean():.2f} of {near.sum()} cases of {np.unique(pair[near]).size} pairs; 95 % interval "
            f"{low:.2f} to {high:.2f}")
    return [*out, at_least("said with 70 to 90 %: came true, upper end", which, 0.70, high, note=note),
            at_most("said with 70 to 90 %: came true, lower end", which, 0.90, low, note=note)]


def by_pairs(hits: np.ndarray, pair: np.ndarray) -> tuple[float, float]:
    """95 % interval of the share of ``hits`` (n,), where cases of one ``pair`` (n,) come together: the ratio estimate
    with its error between clusters (Cochran, Sampling Techniques (1977), sec. 9A, from memory), Student's t. The
    error is taken no smaller than that of as many independent cases of 80 %: few pairs that all hit say little."""
    from scipy.special import stdtrit

    keys, place = np.unique(pair, return_inverse=True)
    share = float(hits.mean())
    left = np.bincount(place, weights=hits - share)
    error = np.sqrt(keys.size / (keys.size - 1.0) * np.sum(left**2)) / hits.size
    half = float(stdtrit(keys.size - 1.0, 0.975) * max(error, np.sqrt(0.16 / hits.size)))
    return max(share - half, 0.0), min(share + half, 1.0)


@dataclass(frozen=True)
class Counted:
    """What came of a ranking at each truth, for every two engines, base included: whether the difference lay inside
    its 80 % band, the chance said (of the likelier side; nan where the ranking says no difference), whether it came
    true, and which pair it is (all (n,))."""

    truths: int
    inside: np.ndarray
    said: np.ndarray
    true: np.ndarray
    pair: np.ndarray


def counted(name: str, configs: Path) -> Counted:
    """Rank the shelf of an engine twice, count each ranking at the draws by waves of the other."""
    shortlist = shelf(name, configs)
    some = entrants(shortlist)
    with Store(configs.parent / f"{name}.sqlite3") as store:
        ranked = [rank(shortlist, samples=SAMPLES, wave_draws=TRUTHS, seed=seed, store=store) for seed in SEEDS]
        truths = [gains_at(shortlist, draws(factors_of(some), SAMPLES, seed)[:TRUTHS], "wave", store)
                  for seed in SEEDS]
    return _joined(tally(ranked[0], truths[1]), tally(ranked[1], truths[0]))


def _joined(a: Counted, b: Counted) -> Counted:
    return Counted(a.truths + b.truths, *(np.concatenate([getattr(a, k), getattr(b, k)])
                                          for k in ("inside", "said", "true", "pair")))


def shelf(name: str, configs: Path) -> Shortlist:
    """The shortlist of an engine of `ALL`, written into a copy of the shipped cards."""
    speeds, candidates = ALL[name]
    low, high = speeds.split()[0], speeds.split()[-1]
    text = (f'name = "shelf of {name}"\nbase = "engines/{name}.toml"\n'
            f'band = {{ low = "{low} rpm", high = "{high} rpm", speeds = "{speeds} rpm" }}\n')
    text += "".join(f'[[candidate]]\nname = "part {k}"\n{swap}\n' for k, swap in enumerate(candidates))
    path = configs / "shortlists" / f"of_{name}.toml"
    path.write_text(text, encoding="utf-8")
    return read_shortlist(path)


def entrants(shortlist: Shortlist) -> list[Entrant]:
    """The base and its candidates."""
    return [Entrant("base", {}, shortlist.base), *(Entrant(c.name, c.swaps, c.engine) for c in shortlist.candidates)]


def true_gains(shortlist: Shortlist, count: int, fidelity: str) -> np.ndarray:
    """Gains (count, engines) of the base and its candidates at ``count`` truths of plain random numbers."""
    from scipy.stats import truncnorm

    shape = (count, len(factors_of(entrants(shortlist))))
    return gains_at(shortlist, truncnorm.rvs(-ENDS, ENDS, size=shape, random_state=np.random.default_rng(SEED)),
                    fidelity)


def gains_at(shortlist: Shortlist, z: np.ndarray, fidelity: str, store: Store | None = None) -> np.ndarray:
    """Gains (n, engines) of the base and its candidates at truths z (n, factors), but for what did not converge."""
    some, speeds = entrants(shortlist), list(shortlist.band.speeds)
    factors = factors_of(some)
    engines = [engine_at(shortlist.base_path, e, dict(zip(factors, row, strict=True))) for row in z for e in some]
    rows, _ = scoring.compute(engines, speeds, fidelity, scoring.Means(store), "truths")
    goal = scoring.scores(shortlist, speeds, rows).reshape(len(z), len(some))
    return (goal / goal[:, :1] - 1.0)[np.isfinite(goal).all(axis=1)]


def tally(r: Ranking, gains: np.ndarray) -> Counted:
    """What a ranking said against gains (truths, engines), base first and candidates by the number in their name."""
    column = {"base": 0} | {p.name: 1 + int(p.name.split()[-1]) for p in r.places}
    n, inside, said, true, pair = len(gains), [], [], [], []
    for k, ((a, b), chance) in enumerate(sorted((key, c) for key, c in r.pairs.items() if key[0] < key[1])):
        apart, (low, high) = gains[:, column[a]] - gains[:, column[b]], r.apart[a, b]
        told = r.verdicts[a, b] not in ("identical", "no difference")
        inside += list((apart >= low) & (apart <= high))
        said += [max(chance, 1.0 - chance) if told else np.nan] * n
        true += list(apart > 0.0 if chance >= 0.5 else apart < 0.0)
        pair += [k] * n
    return Counted(n, np.array(inside), np.array(said), np.array(true), np.array(pair))

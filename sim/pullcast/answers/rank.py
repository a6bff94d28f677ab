"""Rank: which candidates are worth the dyno day, with the chance that the order is real.

The centre of every gain comes from one fidelity. Around it a spread: the unknowns are drawn once and shared by all
candidates (``sampling``), and the base and the leading candidates are computed at every draw, by default with the
lumped model; by waves at the first few draws, from which the spread by waves is learned (``wave_draws``). Where
these are left out, the spread is what the lumped draws make of it: where both models judge a part alike their
deviations differ by about three quarters of the lumped one, `MISFIT`; where waves make a difference that the lumped
model does not see, that difference itself is uncertain by about three tenths, `chances.TUNING`.
Both were measured on the shelves of three shipped engines (``tests/answers/test_rank_constants.py``); chances are
counted at truths marched by waves in ``validation/parts/rank_chances``. In a ranking by the lumped model alone the
gap to waves, measured on a few engines of the list, is an uncertainty of every difference.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers import scoring
from pullcast.answers.agreement import Agreement, agreement
from pullcast.answers.chances import TUNING, Chances, Noise, chances, shared_gap, shared_tuning
from pullcast.answers.influence import Influence, expected_after, how_measured, suspects
from pullcast.answers.ranking import Limit, Place, Ranking, Screened
from pullcast.answers.sampling import Entrant, draws, engine_at, factors_of
from pullcast.answers.wave_draws import FEWEST, learned
from pullcast.card.constraints import Constraint
from pullcast.card.shortlist import Shortlist, read_shortlist
from pullcast.errors import InputError, SolveError
from pullcast.solve.keys import march_sha256

MISFIT = 0.75  # of lumped deviations against waves, relative to their own size
TENTH = 1.2816  # standard deviations from the middle of a normal curve to its upper tenth
NUMERICAL = 0.0005  # sd of a gain by the grid: 25 mm cells against ever finer ones, on three shipped engines
SCREEN_ABOVE, SCREENED_TO = 16, 6  # more candidates than this are screened first unless told otherwise
WAVE_SPEEDS = 4  # of the band, for draws by waves: .97 of the spread at all nine of the V8's shelf; three give 1.46
CONTROLS = 2  # engines from the middle and the end of a screening that waves compute too, to measure the agreement
TUNE = " pullcast tune finds a spark that does not knock; --tune knock-limited ranks every engine at its own."
NOTE = ("Chances tell what the stated ranges, the spread between the models and the numerics leave open, not how "
        "true the model is of these parts.")


@dataclass(frozen=True)
class _Field:
    """All engines at one fidelity: rows and gains (base first)."""

    rows: list[scoring.Row]
    scores: np.ndarray
    gains: np.ndarray

    def aside(self, c: Constraint) -> bool:
        """Whether no engine keeps a limit, the base neither: then it cannot choose among them."""
        values = [row.limits.get(c.name) for row in self.rows if not row.trouble]
        return all(v is not None and not c.kept(v) for v in values)


def rank(shortlist: Shortlist | str, *, fidelity: str | None = None, screen: int | None = None, samples: int = 32,
         leaders: int = 8, spread: str = "lumped", wave_draws: int = 8, seed: int = 0, store=None,
         workers: int | None = None, executor=None, numerics=None,
         on_stage: Callable[[str, object], None] | None = None) -> Ranking:
    """Rank the candidates of a shortlist (or of the path of its card) by its goal over its band.

    Parameters
    ----------
    shortlist
        From ``pullcast.card.shortlist.read_shortlist``; one with a free search goes to ``answers.search``.
    fidelity
        "wave" (default) or "lumped".
    screen
        Rank all by the lumped model first and carry this many best to waves; by default done above 16 candidates.
    samples
        Draws of the unknowns, a power of two; 0 gives no chances.
    leaders
        Candidates, from the best down, that are sampled.
    spread
        Model the draws are computed with: "lumped", or "wave" for ten times the time.
    wave_draws
        Of the draws, the first so many, at least four, are computed by waves too; 0 leaves the spread to the lumped
        model.
    seed
        Of the draws.
    store, workers, executor, numerics
        As in ``pullcast.solve.jobs.run``.
    on_stage
        Called as ``on_stage(stage, tick)`` while points finish (``pullcast.solve.ledger.Tick``).

    Raises InputError for a search or options that do not fit, SolveError when the base cannot be computed.

    """
    shortlist = read_shortlist(shortlist) if not isinstance(shortlist, Shortlist) else shortlist
    fidelity = _checked(shortlist, fidelity, screen, spread)
    if samples:
        draws((), samples, seed)  # refuses a number that does not go, before anything is computed
    if 0 < wave_draws < FEWEST:
        msg = (f"{wave_draws} draws by waves are too few to learn a spread from: give at least {FEWEST}, or 0 for "
               "the lumped model's")
        raise InputError(msg)
    means = scoring.Means(store, workers, executor, numerics or scoring.Numerics(), on_stage)
    job = _Run(shortlist, means, fidelity, spread, samples, leaders, seed)
    if fidelity == "wave" and spread == "lumped" and samples >= FEWEST:
        job.wave_draws = min(wave_draws, samples)
    if screen is None and fidelity == "wave" and len(shortlist.candidates) > SCREEN_ABOVE:
        screen = SCREENED_TO
        job.notes.append(f"{len(shortlist.candidates)} candidates: the lumped model chose the {screen} that waves "
                         "ranked; give screen to choose another number")
    return job.screened(screen) if screen else job.plain()


def _checked(shortlist: Shortlist, fidelity: str | None, screen: int | None, spread: str) -> str:
    if shortlist.spans:
        msg = f"{shortlist.name} is a search over {', '.join(s.key for s in shortlist.spans)}: use search for it"
        raise InputError(msg)
    for what, value in (("fidelity", fidelity or "wave"), ("spread", spread)):
        if value not in ("wave", "lumped"):
            msg = f"{what} {value!r} is not known; there are wave and lumped"
            raise InputError(msg)
    if screen is not None and fidelity == "lumped":
        msg = "screen carries the best from the lumped model to waves; it does not go with fidelity lumped"
        raise InputError(msg)
    if screen is not None and screen < 1:
        msg = f"screen {screen}: carry at least one candidate to waves"
        raise InputError(msg)
    if spread == "wave" and fidelity == "lumped":
        msg = "spread wave does not go with fidelity lumped: rank by waves"
        raise InputError(msg)
    return fidelity or "wave"


class _Run:
    """One ranking under way."""

    def __init__(self, shortlist, means, fidelity, spread, samples, leaders, seed) -> None:
        self.shortlist, self.means, self.fidelity, self.spread = shortlist, means, fidelity, spread
        self.samples, self.leaders, self.seed, self.wave_draws = samples, leaders, seed, 0
        self.entrants = [Entrant("base", {}, shortlist.base, shortlist.held),
                         *(Entrant(c.name, c.swaps, c.engine, shortlist.held) for c in shortlist.candidates)]
        self.speeds = list(shortlist.band.speeds)
        self.notes: list[str] = [*self._without_effect()]

    def _without_effect(self) -> list[str]:
        """Candidates whose changes leave the engine as it is: a key that this card's style does not use, say."""
        same = march_sha256(self.shortlist.base)
        return [f"{e.name}: what it changes ({', '.join(e.swaps)}) leaves the engine as it is. Is it what the base "
                "has already, or a key that this card does not use?"
                for e in self.entrants[1:] if e.swaps and march_sha256(e.engine) == same]

    def field(self, which: Sequence[int], fidelity: str, stage: str) -> _Field:
        """Engines ``which`` (base first) over the band; SolveError when the base has no curve."""
        engines = [self.entrants[i].engine for i in which]
        rows, warnings = scoring.compute(engines, self.speeds, fidelity, self.means, stage, self.shortlist)
        self.notes += warnings
        found = scoring.scores(self.shortlist, self.speeds, rows)
        if rows[0].trouble or not found[0] > 0.0:
            msg = f"the base engine gives no {self.shortlist.goal} to compare with: {rows[0].trouble or found[0]}"
            raise SolveError(msg, rpm=self.speeds[0], angle_deg=0.0, component="the whole network")
        return _Field(rows, found, found / found[0] - 1.0)

    def plain(self) -> Ranking:
        """All candidates by one fidelity; the other on some or all, to state the agreement."""
        everyone = list(range(len(self.entrants)))
        centre = self.field(everyone, self.fidelity, self.fidelity)
        if self.fidelity == "wave":
            lumped = self.field(everyone, "lumped", "lumped, to compare")
            agreed = self._agreement(everyone, lumped.gains, centre.gains)
            other = lumped
        else:
            picked = _picked(self._order(everyone, centre)[1:])
            wave = self.field([0, *picked], "wave", "waves, to compare")
            agreed = self._agreement([0, *picked], centre.gains[[0, *picked]], wave.gains)
            other = centre
        return self._finish(everyone, centre, other if self.spread == "lumped" else centre, agreed, None)

    def screened(self, screen: int) -> Ranking:
        """The lumped model over all, waves over the best of them."""
        everyone = list(range(len(self.entrants)))
        base = self.field([0], "wave", "waves, the base")
        lumped = self.field(everyone, "lumped", "screening")
        order = [i for i in self._order(everyone, self._limits_moved(lumped, base.rows[0])) if i != 0]
        good = [i for i in order if not lumped.rows[i].trouble]
        carried, left = good[:screen], good[screen:]
        controls = list(dict.fromkeys([left[len(left) // 2], left[-1]]))[-CONTROLS:] if left else []
        which = [0, *carried, *controls]
        wave = self._with_more(base, which[1:])
        agreed = self._agreement(which, lumped.gains[which], wave.gains)
        better = self._better(wave, len(carried), controls)
        carried, controls, left = [*carried, *better], *([i for i in some if i not in better]
                                                         for some in (controls, left))
        keep = [k for k, i in enumerate(which) if i in {0, *carried}]
        final = _Field([wave.rows[k] for k in keep], wave.scores[keep], wave.gains[keep])
        report = self._screened(order, lumped, carried, controls, left, agreed)
        which = [0, *carried]
        seen = _Field([lumped.rows[i] for i in which], lumped.scores[which], lumped.gains[which])
        return self._finish(which, final, seen if self.spread == "lumped" else final, agreed, report)

    def _better(self, wave: _Field, count: int, controls: Sequence[int]) -> list[int]:
        """The ``controls`` that waves find better than the last of the ``count`` carried, and within the limits."""
        least = np.fmin.reduce(wave.gains[1:1 + count], initial=np.inf)
        found = [i for k, i in enumerate(controls, 1 + count) if wave.gains[k] > least
                 and all(x.kept or x.aside for x in self._limits(wave.rows[k], wave))]
        if found:
            self.notes.append(f"{', '.join(self.entrants[i].name for i in found)}: left behind by the lumped model, "
                              "computed by waves to compare and not the last there: ranked with those carried")
        return found

    def _with_more(self, base: _Field, which: Sequence[int]) -> _Field:
        """The ``base`` by waves and the engines ``which`` behind it."""
        rows, warnings = scoring.compute([self.entrants[i].engine for i in which], self.speeds, "wave", self.means,
                                         "waves", self.shortlist)
        self.notes += warnings
        found = np.append(base.scores, scoring.scores(self.shortlist, self.speeds, rows))
        return _Field([*base.rows, *rows], found, found / found[0] - 1.0)

    def _limits_moved(self, lumped: _Field, base: scoring.Row) -> _Field:
        """The lumped field with the limits of its curves moved by what waves make of the ``base``'s: what both models
        differ by is the same for most parts, and a limit near to the base's value would else set the wrong ones
        behind. Additive correction of a coarse model by one fine point: Alexandrov and Lewis, Optimization and
        Engineering 2 (2001) 413 (from memory)."""
        curves = {c.name for c in self.shortlist.constraints if c.kind.known_from == "curve"}
        by_lumped = lumped.rows[0].limits

        def moved(name: str, value: float | None) -> float | None:
            ends = (base.limits.get(name), by_lumped.get(name))
            return value + ends[0] - ends[1] if name in curves and None not in (value, *ends) else value

        rows = [replace(r, limits={name: moved(name, v) for name, v in r.limits.items()}) for r in lumped.rows]
        return replace(lumped, rows=rows)

    def _screened(self, order, lumped, carried, controls, left, agreed) -> Screened:
        from scipy.special import ndtr

        names = [self.entrants[i].name for i in order]
        behind, who = 0.0, ""
        if left:
            gap = shared_gap([self.entrants[i].swaps for i in (carried[0], *left)], agreed.per_swap)
            d = np.diag(gap)
            sd = np.sqrt(np.maximum(d[0] + d[1:] - 2.0 * gap[0, 1:], 1e-12))
            share = ndtr((lumped.gains[left] - lumped.gains[carried[0]]) / sd)
            k = int(np.argmax(share))
            behind, who = float(share[k]), self.entrants[left[k]].name
            self.notes.append(f"Left behind in the screening: {len(left)}; of these {who} is the likeliest to beat "
                              f"by waves the one that led it ({100 * behind:.0f} %).")
        return Screened(tuple(names), tuple(lumped.gains[order].tolist()),
                        tuple(self.entrants[i].name for i in carried),
                        tuple(self.entrants[i].name for i in controls), behind, who)

    def _agreement(self, which: Sequence[int], lumped: np.ndarray, wave: np.ndarray) -> Agreement:
        some = [self.entrants[i] for i in which[1:]]
        found = agreement([e.name for e in some], lumped[1:], wave[1:], [e.swaps for e in some])
        if not found.ordered:
            many = len(self.entrants) - 1
            what = "rank by waves" if self.fidelity == "lumped" else f"carry all {many} to waves (--screen {many})" \
                if len(some) < many else f"all {many} are ranked by waves here"
            self.notes.append("The lumped model does not order this list as waves do (rank correlation "
                              f"{found.rank_correlation:+.2f} on {len(found.names)} engines): do not trust a "
                              f"screening by it; {what}.")
        return found

    def _limits(self, row: scoring.Row, field: _Field) -> tuple[Limit, ...]:
        found = []
        for c in self.shortlist.constraints:
            value = row.limits.get(c.name)
            kept = value is None or c.kept(value)
            found.append(Limit(c.name, c.kind.title, value, c.value, c.kind.at_least, kept, field.aside(c)))
        return tuple(found)

    def _order(self, which: Sequence[int], field: _Field) -> list[int]:
        """Engines by gain, those that break a limit after the others, those without a curve last."""
        def place(i: int) -> tuple:
            row = field.rows[list(which).index(i)]
            bad = any(not (limit.kept or limit.aside) for limit in self._limits(row, field))
            gain = field.gains[list(which).index(i)]
            return (bool(row.trouble), bad, -gain if np.isfinite(gain) else 0.0, i)
        return sorted(which, key=place)

    def _finish(self, which, centre: _Field, seen: _Field, agreed: Agreement, screened: Screened | None) -> Ranking:
        """Samples of the leaders around the centre, chances, influence, and the places in order."""
        spot = {i: k for k, i in enumerate(which)}
        order = [i for i in self._order(which, centre) if i != 0]
        kept = {i for i in which if not centre.rows[spot[i]].trouble
                and all(x.kept or x.aside for x in self._limits(centre.rows[spot[i]], centre))}
        whole = [i for i in order if not centre.rows[spot[i]].trouble]
        lead = whole[:self.leaders] if self.samples else []
        places = {i: self._place(i, centre, spot[i]) for i in which}
        cast, sampled = None, ()
        if lead:
            sampled = (0, *lead)
            cast = self._cast(sampled, [spot[i] for i in sampled], centre, seen, agreed)
            places |= self._with_chances(cast, sampled, kept, places)
        more = len(whole) - len(lead)
        if lead and more > 0:
            self.notes.append(f"{more} candidates that came behind were not sampled and have no chances")
        names = [self.entrants[i].name for i in sampled]
        pairs, verdicts, apart, winner = {}, {}, {}, ""
        if cast:
            both = [(i, j) for i in range(len(names)) for j in range(len(names)) if i != j]
            pairs = {(names[i], names[j]): cast.found.better(i, j) for i, j in both}
            verdicts = {(names[i], names[j]): cast.found.verdict(i, j) for i, j in both}
            apart = {(names[i], names[j]): cast.found.band(i, j) for i, j in both}
            inside = [k for k, i in enumerate(sampled) if i in kept]
            best = cast.found.winner(inside) if inside else None
            winner = names[best] if best is not None else ""
        from pullcast import __version__

        return Ranking(
            name=self.shortlist.name, goal=self.shortlist.goal,
            band=(self.shortlist.band.low, self.shortlist.band.high), speeds=tuple(self.speeds),
            sampled_speeds=tuple(scoring.thinned(self.speeds)), base=places[0],
            places=tuple(places[i] for i in order), fidelity=self.fidelity, spread=self.spread if cast else "",
            samples=cast.deviations.shape[0] if cast else 0,
            wave_draws=len(cast.waves.deviations) if cast and cast.waves else 0, apart=apart, pairs=pairs,
            verdicts=verdicts, winner=winner, agreement=agreed, screened=screened,
            influence=self._influence(cast, inside) if cast else None,
            notes=tuple(dict.fromkeys([*self.notes, *self._set_aside(centre), *self._peak(),
                                       *([NOTE] if cast else [])])), version=__version__,
            engine=self.shortlist.base.name)

    def _peak(self) -> list[str]:
        if self.shortlist.goal.startswith("peak"):
            return ["The goal is a peak: of two curves the one with the higher peak can be the slower; see the band."]
        return []

    def _set_aside(self, centre: _Field) -> list[str]:
        return [f"No engine on the list keeps the limit on {c.kind.title}, the base neither: it does not choose "
                f"among them and must be settled apart.{TUNE if c.name == 'knock_margin' else ''}"
                for c in self.shortlist.constraints if centre.aside(c)]

    def _place(self, i: int, centre: _Field, k: int) -> Place:
        row, e = centre.rows[k], self.entrants[i]
        return Place(e.name, dict(e.swaps), self.fidelity, float(centre.scores[k]), float(centre.gains[k]),
                     tuple(row.torque.tolist()), self._limits(row, centre) if not row.trouble else (),
                     trouble=row.trouble, notes=row.notes)

    def _cast(self, sampled: Sequence[int], spots: Sequence[int], centre: _Field, seen: _Field,
              agreed: Agreement) -> _Cast:
        """Draw the unknowns and compute the sampled engines at every draw."""
        some = [self.entrants[i] for i in sampled]
        speeds = scoring.thinned(self.speeds)
        factors = factors_of(some)
        z = draws(factors, self.samples, self.seed)
        made = [engine_at(self.shortlist.base_path, e, dict(zip(factors, row, strict=True)))
                for row in z for e in some]
        rows, warnings = scoring.compute(made, speeds, self.spread, self.means, f"spread, {self.spread} samples")
        self.notes += warnings
        pick = [self.speeds.index(s) for s in speeds]
        torque = np.array([r.torque for r in rows]).reshape(len(z), len(some), len(speeds))
        middle = np.array([seen.rows[k].torque[pick] for k in spots])
        good = np.isfinite(torque).all(axis=(1, 2))
        if lost := int((~good).sum()):
            self.notes.append(f"{lost} of {len(z)} draws were left out: an engine did not converge there")
        goal = np.array([[self.shortlist.score(speeds, t) for t in row] for row in torque[good]])
        start = np.array([self.shortlist.score(speeds, t) for t in middle])
        deviations = goal / goal[:, :1] - start / start[0] if good.any() else np.zeros((0, len(some)))
        change = torque[good] / torque[good][:, :1] - middle / middle[0]
        noise = self._noise(some, centre.gains[list(spots)] - seen.gains[list(spots)], agreed)
        waves = self._by_waves(some, factors, z, [centre.rows[k].torque for k in spots]) if self.wave_draws else None
        if waves is not None:
            noise = replace(noise, seen=waves.deviations)
        found = chances(centre.gains[list(spots)], deviations, [march_sha256(e.engine) for e in some], noise,
                        seed=self.seed)
        return _Cast(some, factors, z[good], deviations, change, found, noise, speeds, middle, waves)

    def _by_waves(self, some: Sequence[Entrant], factors: tuple, z: np.ndarray,
                  centre: Sequence[np.ndarray]) -> _Waves | None:
        """The sampled engines by waves at the first draws, at a few speeds; None when none of these converged."""
        speeds = scoring.thinned(self.speeds, WAVE_SPEEDS)
        made = [engine_at(self.shortlist.base_path, e, dict(zip(factors, row, strict=True)))
                for row in z[:self.wave_draws] for e in some]
        rows, warnings = scoring.compute(made, speeds, "wave", self.means,
                                         f"spread, {self.wave_draws} draws by waves")
        self.notes += warnings
        torque = np.array([r.torque for r in rows]).reshape(-1, len(some), len(speeds))
        torque = torque[np.isfinite(torque).all(axis=(1, 2))]
        if lost := self.wave_draws - len(torque):
            self.notes.append(f"{lost} of {self.wave_draws} draws by waves were left out: an engine did not converge "
                              "there")
        if len(torque) < FEWEST:
            self.notes.append("the draws by waves that are left are too few to learn a spread from: it "
                              "is the lumped model's")
            return None
        pick = [self.speeds.index(s) for s in speeds]
        middle = np.array([t[pick] for t in centre])
        goal, start = (np.array([[self.shortlist.score(speeds, t) for t in row] for row in block])
                       for block in (torque, middle[None]))
        return _Waves(goal / goal[:, :1] - start / start[:, :1],
                      torque / torque[:, :1] - middle / middle[0], speeds)

    def _noise(self, some: Sequence[Entrant], by_waves: np.ndarray, agreed: Agreement) -> Noise:
        """What the samples leave out; ``by_waves``: gains by waves less those by the model of the samples."""
        swaps = [e.swaps for e in some]
        if self.fidelity == "lumped":
            return Noise(NUMERICAL, gap=shared_gap(swaps, agreed.per_swap))
        if self.spread == "wave":
            return Noise(NUMERICAL)
        return Noise(NUMERICAL, MISFIT, tuning=shared_tuning(swaps, np.nan_to_num(by_waves)))

    def _with_chances(self, cast: _Cast, sampled, kept, places) -> dict[int, Place]:
        best = cast.found.best([k for k, i in enumerate(sampled) if i in kept])
        done = {}
        for k, i in enumerate(sampled):
            low, high = cast.found.band(k)
            p = places[i]
            change = np.array(p.torque) / np.array(places[0].torque) - 1.0
            if cast.waves is not None:
                at, ends = cast.waves.speeds, learned(cast.waves.change[:, k]).ends(0.8)
            else:
                at, ends = cast.speeds, self._ends(cast, k, change)
            ends = [change + np.interp(self.speeds, at, q) for q in ends]
            done[i] = replace(p, low=low, high=high, best=float(best[k]),
                              verdict=cast.found.verdict(k, 0) if k else "",
                              better=cast.found.better(k, 0) if k else 0.5, change_low=tuple(ends[0].tolist()),
                              change_high=tuple(ends[1].tolist()))
        return done

    def _ends(self, cast: _Cast, k: int, change: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """80 % band of the change of torque at the sampled speeds, about the change by waves."""
        wide = np.sqrt(1.0 + cast.noise.misfit**2)
        spread = wide * cast.change[:, k] if len(cast.change) else np.zeros((1, len(cast.speeds)))
        low, high = np.quantile(spread, (0.1, 0.9), axis=0)
        if cast.noise.tuning is None:
            return low, high
        pick = [self.speeds.index(s) for s in cast.speeds]
        tuned = TENTH * TUNING * (change[pick] - (cast.middle[k] / cast.middle[0] - 1.0))
        middle = np.median(spread, axis=0)
        return middle - np.hypot(low - middle, tuned), middle + np.hypot(high - middle, tuned)

    def _rivals(self, cast: _Cast, kept: Sequence[int]) -> tuple[int, int] | None:
        """The first of those that keep the limits and the one likeliest to be better all the same."""
        order = sorted(kept if len(kept) > 1 else range(len(cast.some)), key=lambda k: -cast.found.centre[k])
        others = [k for k in order[1:] if cast.found.verdict(order[0], k) != "identical"]
        return (order[0], max(others, key=lambda k: cast.found.better(k, order[0]))) if others else None

    def _influence(self, cast: _Cast, kept: Sequence[int]) -> Influence | None:
        """What decides between the first and its rival, from the samples and then by changing each suspect alone."""
        if not len(cast.deviations) or (pair := self._rivals(cast, kept)) is None:
            return None
        i, j = pair
        d = cast.deviations[:, i] - cast.deviations[:, j]
        mine, other = ({e.factor(a.key) for a in e.engine.assumed} for e in (cast.some[i], cast.some[j]))
        picked = suspects(cast.factors, cast.z, d, own=[k for k, f in enumerate(cast.factors) if f in mine ^ other])
        if not picked:
            return None
        engines = [engine_at(self.shortlist.base_path, cast.some[k], {cast.factors[f]: z})
                   for f in picked for z in (-1.0, 1.0) for k in (i, j, 0)]
        rows, _ = scoring.compute(engines, cast.speeds, self.spread, self.means, "one unknown at a time")
        goal = scoring.scores(self.shortlist, cast.speeds, rows).reshape(len(picked), 2, 3)
        gain = goal[:, :, 0] / goal[:, :, 2] - goal[:, :, 1] / goal[:, :, 2]
        slope = (gain[:, 1] - gain[:, 0]) / 2.0
        total = float(np.var(cast.found.draws[:, i] - cast.found.draws[:, j]))
        share = np.minimum(slope**2 / max(total, 1e-18), 1.0)
        if not np.isfinite(share).any():
            return None
        ranked = sorted((k for k in range(len(picked)) if np.isfinite(share[k])), key=lambda k: -share[k])
        k, now = ranked[0], cast.found.better(i, j)
        centre = float(cast.found.centre[i] - cast.found.centre[j])
        rest = float(np.sqrt(max(total * (1.0 - share[k]), 0.0)))
        factor = cast.factors[picked[k]]
        return Influence(cast.some[i].name, cast.some[j].name, factor.label, factor.key, float(share[k]),
                         float(slope[k]), max(now, 1.0 - now),
                         max(expected_after(centre, slope[k], rest), now, 1.0 - now), how_measured(factor.key),
                         tuple((cast.factors[picked[q]].label, float(share[q])) for q in ranked[1:]))


@dataclass(frozen=True)
class _Cast:
    """The samples: entrants, factors, draws (s, f), deviations of gains (s, m) and of torque ratios (s, m, n)."""

    some: list[Entrant]
    factors: tuple
    z: np.ndarray
    deviations: np.ndarray
    change: np.ndarray
    found: Chances
    noise: Noise
    speeds: list[float]
    middle: np.ndarray
    waves: _Waves | None = None


@dataclass(frozen=True)
class _Waves:
    """Draws by waves: deviations of gains (k, m) and of torque ratios (k, m, n) at ``speeds`` (n,) rpm."""

    deviations: np.ndarray
    change: np.ndarray
    speeds: list[float]


def _picked(order: Sequence[int]) -> list[int]:
    """First, middle and last of an order (without the base)."""
    order = [i for i in order if i != 0]
    return list(dict.fromkeys([order[0], order[len(order) // 2], order[-1]])) if order else []

"""Makes every picture that the program draws, and the page that shows them with the command for each.

Run from the project's folder: ``python examples/make_gallery.py`` (some minutes of waves; computed points are kept).
``--quick`` takes the lumped model and few speeds, into a folder of your own: ``--quick --into FOLDER``.
All engines, sessions and shelves are invented.
"""

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pullcast as pc

ROOT = Path(__file__).parents[1]
V8 = ROOT / "configs" / "engines" / "hillclimb_v8.toml"
SINGLE = ROOT / "configs" / "engines" / "lab_single.toml"
SESSION = ROOT / "configs" / "sessions" / "intake_day.toml"
SHELF = ROOT / "configs" / "shortlists" / "hillclimb_shelf.toml"
SEARCH = ROOT / "configs" / "shortlists" / "four_runner_search.toml"
SWAP = {"intake": "intakes/v8_dual_plane.toml"}
DPI = 100
HEAD = """# Every picture

Made by `python examples/make_gallery.py`, those of the live page by `python examples/make_live_pictures.py`. Engines,
parts and pulls are invented. Every other picture can also be written as .svg or .pdf: give `--out` a name with that
ending. In Python each is a function that returns a matplotlib figure; its panels are functions that draw into an axes
of yours (`ax=`).

All of them, with the numbers behind them, come as one page or print from `pullcast report`.
"""


@dataclass
class Answers:
    """The answers that are drawn, each computed when it is first asked for."""

    quick: bool
    store: object

    @property
    def how(self) -> dict:
        """Model and store."""
        return {"fidelity": "lumped" if self.quick else "wave"}

    @cached_property
    def curve(self):
        """A forecast with traces."""
        speeds = [2500, 4000, 5500] if self.quick else None
        return pc.predict(pc.read_engine(V8), speeds=speeds, traces=True, **self.how)

    @cached_property
    def ranking(self):
        """The shelf, ranked."""
        return pc.rank(SHELF, samples=4 if self.quick else 16, store=self.store, **self.how)

    @cached_property
    def search(self):
        """A search over one length."""
        return pc.search(str(SEARCH), fidelity="lumped", store=self.store)

    @cached_property
    def compared(self):
        """Both intakes forecast without having seen the pulls, and held against them."""
        return pc.compare(SESSION, interval=False, store=self.store, **self.how)

    @cached_property
    def ledger(self):
        """The record: this day, each part once."""
        import tempfile

        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "dyno.jsonl"
            pc.add_to_ledger(file, self.compared)
            return pc.read_ledger(file)

    @cached_property
    def calibration(self):
        """Friction and flow fitted to the baseline's pulls."""
        return pc.calibrate(SESSION, unknowns=["friction.factor", "head.flow_factor"], speeds=[4400, 5200, 6000],
                            store=self.store, **self.how)

    @cached_property
    def why(self):
        """A swap explained."""
        return pc.explain(V8, SWAP, speeds=[2500, 4000, 5500], store=self.store, **self.how)

    @cached_property
    def diagnosis(self):
        """The session's difference diagnosed."""
        return pc.diagnose(SESSION, store=self.store, **self.how)

    @cached_property
    def tuning(self):
        """Spark and mixture of the teaching single."""
        return pc.tune(pc.read_engine(SINGLE), speeds=[1800, 3000], sparks=9 if self.quick else 15, **self.how)


@dataclass(frozen=True)
class Shot:
    """A picture: file name, what it shows in a sentence, the command that makes it, the function that draws it (None:
    photographed by ``make_live_pictures.py``)."""

    name: str
    text: str
    command: str
    draw: Callable | None


def shots(a: Answers) -> Iterator[Shot]:
    """Every picture, in the order of the work."""
    yield from before_the_day(a)
    yield from after_the_day(a)
    yield from why(a)
    yield from live()


def before_the_day(a: Answers) -> Iterator[Shot]:
    """Forecast, ranking, search, plan, tuning."""
    card, single = "configs/engines/hillclimb_v8.toml", "configs/engines/lab_single.toml"
    yield Shot("forecast", "The forecast of a full-load curve: torque and power, volumetric efficiency, mean "
               "effective pressures.", f"pullcast predict {card} --out curve.png", lambda: pc.curve_figure(a.curve))
    yield Shot("cycle", "One cylinder over the gas exchange: valve lift, port and cylinder pressure, flow at the "
               "valves.", f"pullcast predict {card} --traces --out out",
               lambda: pc.cycle_figure(a.curve, a.curve.peak_torque.rpm))
    yield Shot("ranking", "Candidates with the 80 % band of their gain, and where in the speed range the leading "
               "ones win.", "pullcast rank configs/shortlists/hillclimb_shelf.toml --out shelf.png",
               lambda: pc.ranking_figure(a.ranking))
    yield Shot("search", "A search over a length: the flat stretch within half a percent of the best is the answer.",
               "pullcast rank configs/shortlists/four_runner_search.toml --fidelity lumped --out search.png",
               lambda: pc.search_figure(a.search))
    yield Shot("expected", "What the sheet of a dyno day expects of a candidate.",
               'pullcast plan shelf.json --name "dual plane" --out day.pdf', lambda: _expected(a.ranking))
    yield Shot("tuning", "Spark and mixture loops, the spark chosen with its flat width, burn duration.",
               f"pullcast tune {single} --speeds 1800,3000 --out tuned.png", lambda: pc.tune_figure(a.tuning))
    yield Shot("burn", "One closed cycle from the inside: rate of burning, end-gas temperature, knock integral.",
               f"pullcast tune {single} --speeds 1800,3000 --out out", lambda: _burn(a.tuning))


def after_the_day(a: Answers) -> Iterator[Shot]:
    """Judgement, comparison, record, calibration."""
    session = "configs/sessions/intake_day.toml"
    yield Shot("judgement", "Pulls laid over each other, the difference with its interval, every pull in the order "
               "run.", f"pullcast judge {session} --out day.png", lambda: pc.judge_figure(a.compared.judged))
    yield Shot("comparison", "A forecast held against the pulls: curves, error, predicted and measured difference.",
               f"pullcast compare {session} --quick --out compared.png", lambda: pc.compare_figure(a.compared))
    yield Shot("record", "The record of forecasts over many days; here of one.",
               "pullcast compare --ledger dyno.jsonl --out record.png", lambda: pc.ledger_figure(a.ledger))
    yield Shot("calibration", "The baseline's pulls before and after fitting what nobody knows, and how much was "
               "learnt.", f"pullcast calibrate {session} --unknown friction.factor --unknown head.flow_factor "
               "--speeds 4400,5200,6000 --out fitted.png", lambda: pc.calibration_figure(a.calibration))


def why(a: Answers) -> Iterator[Shot]:
    """Explanation and diagnosis."""
    explain = "pullcast explain configs/engines/hillclimb_v8.toml --swap intake=intakes/v8_dual_plane.toml"
    yield Shot("explanation", "Why a swap costs what it costs: which attribute, where in the speed range, in words.",
               f"{explain} --speeds 2500,4000,5500 --out why.png", lambda: pc.explain_figure(a.why))
    if not a.quick:  # the lumped model has no waves to show
        yield Shot("waves", "The same swap inside the cycle: port pressure, flow, the two waves, pumping loop, "
                   "pressure over place and crank angle in runner and primary.",
                   f"{explain} --speeds 2500,4000,5500 --out out", lambda: pc.why_figure(*a.why.evidence[0]))
    yield Shot("diagnosis", "Is a difference the part or a fault: curves of the likeliest causes and their chances.",
               "pullcast diagnose configs/sessions/intake_day.toml --out fault.png",
               lambda: pc.diagnose_figure(a.diagnosis))


def live() -> Iterator[Shot]:
    """The live page, as a browser shows it."""
    command = "pullcast lab configs/engines/lab_single.toml"
    yield Shot("live_page_desk", "The live page on a desk: sliders, the curve with its base, what the change does, "
               "one cycle, numbers and limits.", command, None)
    yield Shot("live_page_projector", "The same on a projector.", command, None)
    yield Shot("live_page_phone", "The same on a telephone: the curve stays in sight.", command, None)
    yield Shot("live_page_lesson", "A lesson beside the page, after its run.", command, None)


def _expected(ranking):
    """The panel of the sheet's first candidate as a figure."""
    from matplotlib.figure import Figure

    from pullcast.show.report.of_plan import change_over_speed

    day = pc.plan(ranking, names=["dual plane"])
    figure = Figure(figsize=(7.0, 2.3), layout="constrained", facecolor="white")
    change_over_speed(day.expected[0], day, figure.subplots())
    return figure


def _burn(tuning):
    """The burn at the speed of the highest torque."""
    k = tuning.strongest()
    return pc.burn_figure(tuning.charges[k], tuning.loops[k].best(tuning.how))


def page(made: list[Shot]) -> str:
    """The page as Markdown."""
    parts = [HEAD]
    for shot in made:
        parts.append(f"## {shot.name.replace('_', ' ').capitalize()}\n\n{shot.text}\n\n```\n{shot.command}\n```\n\n"
                     f"![{shot.text}](gallery/{shot.name}.png)\n")
    return "\n".join(parts)


def make(folder: Path, quick: bool = False) -> list[Path]:
    """Write ``gallery.md`` and ``gallery/*.png`` into a folder; the files written."""
    from pullcast.solve.store import Store

    (folder / "gallery").mkdir(parents=True, exist_ok=True)
    made, files = [], []
    with Store(folder / "points.sqlite" if quick else None) as store:
        for shot in shots(Answers(quick, store)):
            made.append(shot)
            if shot.draw is None:
                continue
            file = folder / "gallery" / f"{shot.name}.png"
            shot.draw().savefig(file, dpi=DPI, metadata={"Software": None})
            files.append(file)
    text = folder / "gallery.md"
    text.write_text(page(made), encoding="utf-8")
    return [text, *files]


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--quick", action="store_true", help="lumped model, few speeds")
    options.add_argument("--into", type=Path, default=ROOT / "examples" / "guide", help="folder to write into")
    given = options.parse_args()
    for written in make(given.into, given.quick):
        print(written)

"""What ``pullcast tune`` answers beside its loops, when asked: what-ifs, an accelerating pull, the motored engine."""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.cli.progress import points
from pullcast.errors import InputError


@dataclass(frozen=True)
class Asked:
    """What was asked for: what-ifs as (name, engine), (rpm/s, kg m2) of a pull, whether to motor."""

    cases: list
    pull: tuple[float, float] | None
    motored: bool


def asked(engine, what_if: list[str], pull: str | None, inertia: str | None, motored: bool) -> Asked:
    """Read the options. Raises InputError before anything is marched."""
    from pullcast.answers.tune_pull import throttled
    from pullcast.answers.tune_what_if import case_of

    if (pull is None) != (inertia is None):
        msg = "an accelerating pull needs both: --pull '600 rpm/s' and --inertia '0.35 kg m2'"
        raise InputError(msg)
    if motored:
        throttled(engine)
    both = None
    if pull is not None:
        both = (_si("--pull", pull, "acceleration of speed"), _si("--inertia", inertia, "inertia"))
    return Asked([case_of(engine, text) for text in what_if], both, motored)


def _si(option: str, text: str, kind: str) -> float:
    from pullcast.units import to_si

    try:
        value = to_si(text, kind)
    except InputError as error:
        msg = f"{option}: {error}"
        raise InputError(msg) from None
    if not value > 0.0:
        msg = f"{option} {text!r} must be above zero"
        raise InputError(msg)
    return value


def answered(wanted: Asked, engine, tuning, units: str, *, cell: float, workers: int | None) -> tuple[list, dict]:
    """Views for the terminal and keys for the document."""
    from dataclasses import replace

    from rich.text import Text

    from pullcast.show import tune_more
    from pullcast.solve.numerics import Numerics

    numerics = replace(Numerics(), cell=cell)
    means = {"fidelity": tuning.fidelity, "workers": workers}
    good = [loop for loop in tuning.loops if loop is not None]
    speeds, views, document = [loop.rpm for loop in good], [], {}
    if wanted.cases:
        from pullcast.answers.tune_what_if import fuel_split, what_if

        cases = [(tune_more.AS_IS, engine), *wanted.cases]
        with points(len(cases) * len(speeds), f"what if, {engine.name}") as on_point:
            rows = what_if(cases, speeds, numerics=numerics, on_point=on_point, **means)
        splits = {what: fuel_split(engine, other.fuel.key, speeds, numerics=numerics, **means)
                  for what, other in wanted.cases if what.startswith("fuel ")}
        views.append(tune_more.what_if_table(rows, units))
        views += [Text("\n".join(tune_more.split_lines(splits, units)))] if splits else []
        document |= tune_more.what_if_document(rows, splits)
    if wanted.pull is not None:
        from pullcast.answers.tune_pull import accelerating

        torque = [loop.at("torque", loop.best(tuning.how)) for loop in good]
        pull = accelerating(speeds, torque, *wanted.pull)
        views.append(tune_more.pull_view(pull, speeds, units))
        document |= tune_more.pull_document(pull)
    if wanted.motored:
        from pullcast.answers.tune_pull import LONG, motoring

        with points(len(speeds), f"motoring {engine.name}") as on_point:
            rows = motoring(engine, speeds, numerics=replace(numerics, max_cycles=LONG), on_point=on_point, **means)
        views.append(tune_more.motored_view(rows, units))
        document |= tune_more.motored_document(rows)
    return views, document

"""Checks of pullcast against the world outside it: what a check is, where the cases live, how they are told.

A case is a folder ``validation/<tier>/<case>/`` holding

* ``case.py`` with ``checks() -> list[Check]``; the module docstring carries the citation;
  ``SLOW = True`` keeps it out of the unit-test run (it still runs here);
* ``README.md``: citation, how it was read, the tolerance and why, what the case cannot show.

Tiers: ``exact`` (closed solutions), ``parts`` (one component), ``engines`` (whole engines).
A case imports its helpers as ``from validation.harness import relative, absolute, at_most``.
"""

from __future__ import annotations

import importlib.util
import math
import sys
import time
import traceback
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parent
TIERS = {"exact": "Exact solutions", "parts": "Parts", "engines": "Whole engines"}
KINDS = ("abs", "rel", "max", "min")


@dataclass(frozen=True)
class Check:
    """One comparison with a value from outside.

    ``kind`` says how ``tolerance`` is meant: "abs" (in ``unit``), "rel" (a fraction of ``expected``), "max"
    (``got`` may not exceed ``expected`` by more than ``tolerance``, in ``unit``) or "min" (nor fall below it).
    Raises ValueError for an unknown kind, a negative tolerance, or a relative one about zero.
    """

    name: str
    source: str
    expected: float
    got: float
    tolerance: float
    unit: str = ""
    note: str = ""
    kind: str = "abs"

    def __post_init__(self) -> None:
        """Refuse a check that means nothing."""
        if self.kind not in KINDS:
            msg = f"check {self.name!r}: kind {self.kind!r} is not one of {', '.join(KINDS)}"
            raise ValueError(msg)
        if not self.tolerance >= 0.0:
            msg = f"check {self.name!r}: tolerance {self.tolerance!r} must be zero or more"
            raise ValueError(msg)
        if self.kind == "rel" and self.expected == 0.0:
            msg = f"check {self.name!r}: a relative tolerance about zero means nothing; use absolute()"
            raise ValueError(msg)

    @property
    def miss(self) -> float:
        """How far off, in the terms of the tolerance (nan when a value is not finite)."""
        if not (math.isfinite(self.expected) and math.isfinite(self.got)):
            return math.nan
        gap = self.got - self.expected
        if self.kind == "max":
            return max(gap, 0.0)
        if self.kind == "min":
            return max(-gap, 0.0)
        return abs(gap / self.expected) if self.kind == "rel" else abs(gap)

    @property
    def passed(self) -> bool:
        """True when within tolerance; a value that is not finite never passes."""
        return self.miss <= self.tolerance

    @property
    def band(self) -> str:
        """The tolerance in words: ``±0.2 %``, ``±0.001 m``, ``at most``."""
        if self.kind == "rel":
            return f"±{100 * self.tolerance:.3g} %"
        plain = f"{self.tolerance:.3g}{' ' + self.unit if self.unit else ''}"
        if self.kind == "abs":
            return f"±{plain}"
        word = "at most" if self.kind == "max" else "at least"
        return word if self.tolerance == 0.0 else f"{word}, +{plain}" if self.kind == "max" else f"{word}, -{plain}"


def absolute(name: str, source: str, expected: float, got: float, tolerance: float, unit: str = "",
             note: str = "") -> Check:
    """A check within ``tolerance`` in the value's own unit."""
    return Check(name, source, float(expected), float(got), tolerance, unit, note, "abs")


def relative(name: str, source: str, expected: float, got: float, tolerance: float, unit: str = "",
             note: str = "") -> Check:
    """A check within ``tolerance`` as a fraction of the expected value."""
    return Check(name, source, float(expected), float(got), tolerance, unit, note, "rel")


def at_most(name: str, source: str, limit: float, got: float, unit: str = "", note: str = "") -> Check:
    """A check that ``got`` does not exceed ``limit``."""
    return Check(name, source, float(limit), float(got), 0.0, unit, note, "max")


def at_least(name: str, source: str, limit: float, got: float, unit: str = "", note: str = "") -> Check:
    """A check that ``got`` does not fall below ``limit``."""
    return Check(name, source, float(limit), float(got), 0.0, unit, note, "min")


@dataclass(frozen=True)
class Case:
    """A folder with a ``case.py``."""

    tier: str
    name: str
    path: Path

    @property
    def key(self) -> str:
        """``tier/name``."""
        return f"{self.tier}/{self.name}"


@dataclass(frozen=True)
class Outcome:
    """What a case gave: its checks, or the error that stopped it; seconds taken."""

    case: Case
    checks: tuple[Check, ...] = ()
    error: str = ""
    seconds: float = field(default=0.0, compare=False)

    @property
    def passed(self) -> bool:
        """True when the case ran, gave at least one check, and every check passed."""
        return not self.error and bool(self.checks) and all(c.passed for c in self.checks)


def cases(root: Path = ROOT, only: Sequence[str] = ()) -> list[Case]:
    """The cases under ``root`` in order of tier and name; ``only`` keeps those whose ``tier/name`` holds one of
    the given texts. Raises ValueError when ``only`` matches nothing."""
    found = [Case(tier, file.parent.name, file) for tier in TIERS for file in sorted(root.glob(f"{tier}/*/case.py"))]
    kept = [c for c in found if not only or any(text in c.key for text in only)]
    if only and not kept:
        msg = f"no case matches {', '.join(only)}; there are: {', '.join(c.key for c in found) or 'none'}"
        raise ValueError(msg)
    return kept


def load(case: Case) -> ModuleType:
    """Import the ``case.py`` of a case, with the folder above ``validation`` importable."""
    top = str(ROOT.parent)
    if top not in sys.path:
        sys.path.insert(0, top)
    name = f"validation_case_{case.tier}_{case.name}"
    spec = importlib.util.spec_from_file_location(name, case.path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses of a case look their module up
    spec.loader.exec_module(module)
    return module


def is_slow(case: Case) -> bool:
    """True when ``case.py`` says ``SLOW = True`` (read from the text: importing may cost a compilation)."""
    return any(line.startswith("SLOW = True") for line in case.path.read_text(encoding="utf-8").splitlines())


def run(case: Case) -> Outcome:
    """Run one case. An exception inside it becomes an outcome that failed, so that the others still run."""
    start = time.perf_counter()
    try:
        checks = tuple(load(case).checks())
    except Exception as error:  # a case may fail in any way; the table must still be complete
        where = traceback.extract_tb(error.__traceback__)[-1]
        text = f"{type(error).__name__}: {error} ({Path(where.filename).name}:{where.lineno})"
        return Outcome(case, (), text, time.perf_counter() - start)
    error = "" if checks else "the case gave no checks"
    return Outcome(case, checks, error, time.perf_counter() - start)


def run_all(some: Iterable[Case], on_case: Callable[[Case], None] | None = None) -> list[Outcome]:
    """Run cases one after the other; ``on_case`` is told before each."""
    out = []
    for case in some:
        if on_case is not None:
            on_case(case)
        out.append(run(case))
    return out

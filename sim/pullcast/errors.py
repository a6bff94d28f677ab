"""Every error pullcast raises.

::

    PullcastError
     |- CardError          a card (TOML) that cannot be used; holds all problems at once    exit 2
     |- InputError         another bad input: a file, an option, a unit, a pull file        exit 2
     |- SolveError         the solver broke down: rpm, crank angle, component               exit 3
     |- NotConverged       a point did not repeat within its tolerances                     exit 3
     '- StoreError         a result or store that cannot be read or written                 exit 1

A message says what is wrong, the value, where it stands, and what to do next.
"""

from __future__ import annotations

from dataclasses import dataclass

MOST_TOLD = 100  # problems of one card written out; all are kept


class PullcastError(Exception):
    """Base of all pullcast errors; ``exit_code`` is what the command returns."""

    exit_code = 1


@dataclass(frozen=True)
class Problem:
    """One fault of a card: where it is, what is wrong, what fits."""

    file: str
    line: int | None
    key: str
    text: str
    remedy: str = ""

    def __str__(self) -> str:
        """``file:line: key: text. remedy``."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        head = f"{place}: {self.key}: " if self.key else f"{place}: "
        return head + self.text.rstrip(".") + "." + (f" {self.remedy}" if self.remedy else "")


class InputError(PullcastError):
    """A file, option, unit or number that cannot be used."""

    exit_code = 2


class CardError(InputError):
    """All problems found in a card and the part files it refers to."""

    def __init__(self, problems: list[Problem] | tuple[Problem, ...]) -> None:
        self.problems = tuple(problems)
        more = len(self.problems) - MOST_TOLD
        told = [str(p) for p in self.problems[:MOST_TOLD]] + ([f"and {more} more problems."] if more > 0 else [])
        super().__init__("\n".join(told))


class SolveError(PullcastError):
    """The march broke down: which speed, crank angle and component, and why."""

    exit_code = 3

    def __init__(self, message: str, *, rpm: float | None = None, angle_deg: float = 0.0,
                 component: str = "") -> None:
        self.rpm, self.angle_deg, self.component = rpm, angle_deg, component
        where = "" if rpm is None else f" at {rpm:g} rpm, {angle_deg:.1f} deg crank, in {component}"
        super().__init__(message + where)


class NotConverged(PullcastError):
    """A point that did not repeat from cycle to cycle within its tolerances."""

    exit_code = 3


class StoreError(PullcastError):
    """A result file or store that cannot be read or written."""

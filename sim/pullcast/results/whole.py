"""Whether a Dataset read from a file is a whole result: every attribute and shape that the rest relies on."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np

from pullcast.results.dataset import REQUIRED
from pullcast.results.provenance import Provenance
from pullcast.results.variables import VARIABLES

_KINDS = {"str": str, "float": int | float, "int": int}
_ASSUMED = {"key": str, "value": int | float | str, "low": int | float, "high": int | float, "unit": str, "why": str}


def faults(dataset: Any) -> list[str]:
    """What is missing or wrong in words; nothing for a whole result."""
    return [*_attributes(dataset.attrs), *_variables(dataset)]


def _attributes(attrs: dict[str, Any]) -> list[str]:
    wanted = {f.name: (_KINDS[f.type], f.default is dataclasses.MISSING) for f in dataclasses.fields(Provenance)}
    wanted |= {"basis": (str, True), "correction_factor": (int | float, True)}
    found = [f"no {name}" for name, (_, needed) in wanted.items() if needed and name not in attrs]
    found += [f"{name} is {attrs[name]!r:.40}" for name, (kind, _) in wanted.items()
              if name in attrs and not isinstance(attrs[name], kind)]
    if not found and not _list_of_assumed(attrs.get("assumed", "[]")):
        found.append("the list of what was assumed is broken")
    return found


def _list_of_assumed(text: str) -> bool:
    try:
        rows = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return isinstance(rows, list) and all(
        isinstance(r, dict) and set(r) == set(_ASSUMED)
        and all(isinstance(r[k], kind) for k, kind in _ASSUMED.items()) for r in rows)


def _variables(dataset: Any) -> list[str]:
    found = [f"no {name}" for name in ("speed", *REQUIRED) if name not in dataset.variables]
    found += [f"unknown variable {name!r:.40}" for name in dataset if name not in VARIABLES]
    if found:
        return found
    rpm = dataset["speed"].values
    numbers = rpm.ndim == 1 and np.issubdtype(rpm.dtype, np.number)
    if not numbers or not (rpm > 0).all() or not (np.diff(rpm) > 0).all():
        found.append("speeds that do not rise from above zero")
    for name in dataset:
        v = VARIABLES[name]
        if tuple(dataset[name].dims) != v.dims:
            found.append(f"{name} over {', '.join(map(str, dataset[name].dims)) or 'nothing'}")
        elif v.kind != "str" and not np.issubdtype(dataset[name].dtype, np.number) and dataset[name].dtype != bool:
            found.append(f"{name} without numbers")
    return found

"""A curve as the parts of a lock and back: its cards, where it comes from, and one part for every variable."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pullcast.results.curve import Curve

CARD, ORIGIN, SPEED = "card", "origin", "speed"


def packed(curve: Curve, index: int) -> dict[str, Any]:
    """The parts of a curve, labelled ``curve/INDEX/...``; numbers in stored units, null where there is none."""
    from pullcast.results.variables import VARIABLES

    dataset = curve.dataset
    attrs = {key: _plain(value) for key, value in dataset.attrs.items()}
    parts = {CARD: attrs.pop("card", ""), ORIGIN: attrs, SPEED: _plain(dataset["speed"].values.tolist())}
    parts |= {name: _plain(dataset[name].values.tolist()) for name in VARIABLES
              if name in dataset and not VARIABLES[name].trace}
    return {f"curve/{index}/{what}": value for what, value in parts.items()}


def unpacked(parts: Mapping[str, Any], index: int) -> Curve:
    """The curve of the parts labelled ``curve/INDEX/...``."""
    from pullcast.results.curve import Curve
    from pullcast.results.dataset import curve_dataset
    from pullcast.results.provenance import Provenance
    from pullcast.results.variables import VARIABLES

    start = f"curve/{index}/"
    own = {label.removeprefix(start): value for label, value in parts.items() if label.startswith(start)}
    attrs = {key: math.nan if value is None else value for key, value in own[ORIGIN].items()} | {"card": own[CARD]}
    arrays = {name: _array(value, VARIABLES[name].kind) for name, value in own.items() if name in VARIABLES}
    known = {field.name for field in fields(Provenance)}
    dataset = curve_dataset(own[SPEED], arrays, Provenance(**{k: v for k, v in attrs.items() if k in known}))
    dataset.attrs |= attrs
    return Curve(dataset)


def _array(value: list, kind: str) -> np.ndarray:
    return np.array(value, dtype=float) if kind == "float" else np.array(value)


def _plain(value: Any) -> Any:
    """Numbers of Python, None for those that are not finite."""
    if isinstance(value, list):
        return [_plain(v) for v in value]
    value = value.item() if hasattr(value, "item") else value
    return None if isinstance(value, float) and not math.isfinite(value) else value

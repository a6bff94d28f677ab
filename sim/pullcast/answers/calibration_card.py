"""A calibration as a small card (TOML): values and ranges for people, everything else to read it back unchanged.

The card carries the SHA-256 of what it says, so that the list of pulls that were fitted to cannot be shortened
afterwards.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import numpy as np

from pullcast import units
from pullcast.answers.calibration import Calibration, Facts, Found, UsedPull
from pullcast.answers.unknowns import Prior, unknown
from pullcast.errors import InputError, StoreError

LAYOUT = 1
MAX_BYTES = 5_000_000
HEAD = ("engine", "made_utc", "version", "fidelity", "basis", "misfit", "chance", "settled", "notes")
KINDS = {"str": str, "int": int, "float": float | int}  # of the fields of facts and pulls, as annotated
ARRAYS = ("speeds", "measured", "before", "after")


def save_calibration(made: Calibration, path: str | Path) -> Path:
    """Write a calibration card (ending in .toml), whole or not at all."""
    from pullcast.results.files import write_whole

    path = Path(path)
    if path.suffix.lower() != ".toml":
        msg = f"{path}: a calibration card ends in .toml"
        raise InputError(msg)
    text = card_text(made)
    return write_whole(path, lambda p: p.write_text(text, encoding="utf-8", newline="\n"))


def card_text(made: Calibration) -> str:
    """The card's text."""
    data = _data(made)
    lines = [f"# Unknowns of {made.engine} fitted to {len(made.pulls)} pulls. Give it to predict or compare with",
             "# --calibration. The pulls listed below can never score a forecast made from it. Do not edit: the",
             "# card is checked against its sha256.", f"pullcast_calibration = {LAYOUT}",
             f'sha256 = "{_digest(data)}"', *(_row(k, data[k]) for k in HEAD), ""]
    for name in ("facts", "errors"):
        lines += [f"[{name}]", *(_row(k, v) for k, v in data[name].items()), ""]
    for row in data["unknown"]:
        lines += ["[[unknown]]", *(_row(k, v) for k, v in row.items()), ""]
    lines += ["[fit]  # torque in N m at speeds in rpm", *(_row(k, v) for k, v in data["fit"].items()), ""]
    for row in data["pull"]:
        lines += ["[[pull]]", *(_row(k, v) for k, v in row.items()), ""]
    return "\n".join(lines)


def read_calibration(path: str | Path) -> Calibration:
    """The calibration of a card.

    Raises InputError when there is no such card or it is none, StoreError when it was changed after it was written.
    """
    path = Path(path)
    if not path.is_file():
        msg = f"{path}: no such calibration card. Cards are written by pullcast calibrate SESSION --out NAME.toml."
        raise InputError(msg)
    try:
        if path.stat().st_size > MAX_BYTES:
            msg = f"more than {MAX_BYTES} bytes"
            raise ValueError(msg)
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        msg = f"{path}: cannot be read as a calibration card ({error})"
        raise InputError(msg) from None
    if not isinstance(data.get("pullcast_calibration"), int):
        msg = f"{path}: is no calibration card; they are written by pullcast calibrate SESSION --out NAME.toml"
        raise InputError(msg)
    if data.pop("pullcast_calibration") > LAYOUT:
        msg = f"{path}: written by a newer pullcast; this one reads layout {LAYOUT}. Update it."
        raise StoreError(msg)
    if data.pop("sha256", None) != _digest(data):
        msg = f"{path}: was changed after it was written. Calibrate again; the pulls it was made from are kept apart."
        raise StoreError(msg)
    try:
        return _calibration(data)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, InputError) as error:
        msg = f"{path}: does not hold what a calibration card holds ({error!r}). Calibrate again."
        raise StoreError(msg) from None


def _data(c: Calibration) -> dict[str, Any]:
    """Everything of a calibration as plain values."""
    fit = {name: [float(f"{v:.9g}") for v in getattr(c, name)] for name in ARRAYS}
    fit["correlation"] = [[float(f"{v:.9g}") for v in row] for row in c.correlation]
    head = {k: getattr(c, k) for k in HEAD} | {"notes": list(c.notes)}
    return head | {"facts": asdict(c.facts), "errors": dict(c.errors), "unknown": [_unknown(f) for f in c.found],
                   "fit": fit, "pull": [asdict(p) for p in c.pulls]}


def _unknown(f: Found) -> dict[str, Any]:
    kind = unknown(f.key).kind
    return {"key": f.key, "value": _text(f.value, kind), "sd": _text(f.sd, kind),
            "range_95": [_text(f.low, kind), _text(f.high, kind)], "told": f.told, "at_bound": f.at_bound,
            "prior": _text(f.prior.value, kind), "prior_sd": _text(f.prior.sd, kind),
            "bounds": [_text(f.prior.low, kind), _text(f.prior.high, kind)], "prior_why": f.prior.why}


def _text(value: float, kind: str) -> str:
    return f"{value:.9g} {units.internal_unit(kind)}".strip()


def _row(key: str, value: Any) -> str:
    return f"{key} = {json.dumps(value, ensure_ascii=False)}"


def _digest(data: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def _calibration(data: dict[str, Any]) -> Calibration:
    fit = {name: np.array(data["fit"][name], float) for name in (*ARRAYS, "correlation")}
    shapes = {fit[name].shape for name in ARRAYS}
    if len(shapes) != 1 or fit["correlation"].shape != (len(data["unknown"]),) * 2 or not all(
            np.isfinite(values).all() for values in fit.values()):
        msg = "the rows of [fit] are not as long as each other, or not finite"
        raise ValueError(msg)
    head = {k: data[k] for k in HEAD} | {"notes": tuple(data["notes"])}
    for key in ("engine", "made_utc", "version", "fidelity", "basis"):
        _is(head[key], str, key)
    for key in ("misfit", "chance"):
        _is(head[key], float | int, key)
    for note in head["notes"]:
        _is(note, str, "notes")
    facts, pulls = Facts(**data["facts"]), tuple(UsedPull(**row) for row in data["pull"])
    for record in (facts, *pulls):
        for field in fields(record):
            _is(getattr(record, field.name), KINDS[field.type], field.name)
    return Calibration(facts=facts, found=tuple(_found(row) for row in data["unknown"]), errors=data["errors"],
                       pulls=pulls, **fit, **head)


def _is(value: Any, kind: Any, key: str) -> None:
    if not isinstance(value, kind):
        msg = f"{key} is {value!r}"
        raise TypeError(msg)


def _found(row: dict[str, Any]) -> Found:
    kind = unknown(row["key"]).kind

    def si(text: str) -> float:
        return units.to_si(text, kind)

    for key in ("prior_why", "at_bound"):
        _is(row[key], str, key)
    low, high = map(si, row["bounds"])
    prior = Prior(row["key"], si(row["prior"]), si(row["prior_sd"]), low, high, row["prior_why"])
    return Found(prior, si(row["value"]), si(row["sd"]), *map(si, row["range_95"]), row["at_bound"])

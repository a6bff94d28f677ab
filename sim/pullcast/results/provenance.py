"""Where a result comes from: the card, its values, the program, the weather, how it was computed."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Provenance:
    """What is stored with every result.

    ``reference_density`` (kg/m3) is the density volumetric efficiency refers to; ``pressure`` (Pa), ``temperature``
    (K) and ``humidity`` (0 to 1) are the card's weather; ``displacement`` m3; ``cell`` (m) the length of the duct
    cells, nan when there are none; ``fidelity`` "wave" or "lumped"; ``sha256`` is of the engine's values, so that
    comments and layout of a card do not change it; ``created`` an ISO time or empty; ``assumed`` as JSON what the
    card left open: a list of key, value, low, high (SI), unit, why.
    """

    engine: str
    engine_class: str
    displacement: float
    cylinders: int
    source: str
    card: str
    sha256: str
    version: str
    fidelity: str
    cell: float
    reference_density: float
    pressure: float
    temperature: float
    humidity: float
    created: str = ""
    assumed: str = "[]"


def provenance_of(engine, *, version: str, reference_density: float, cell: float = math.nan, fidelity: str = "wave",
                  created: str = "") -> Provenance:
    """The provenance of a result for an Engine of ``pullcast.card``."""
    return Provenance(
        engine=engine.name, engine_class=engine.engine_class, displacement=engine.block.displacement,
        cylinders=engine.block.cylinders, source=engine.source, card=engine.text, sha256=values_sha256(engine),
        version=version, fidelity=fidelity, cell=cell, reference_density=reference_density,
        pressure=engine.day.pressure, temperature=engine.day.temperature, humidity=engine.day.humidity,
        created=created, assumed=json.dumps([dataclasses.asdict(a) for a in engine.assumed], ensure_ascii=False),
    )


def values_sha256(engine) -> str:
    """SHA-256 (hex) of every value of a dataclass except its ``text``, to twelve digits: the same for two cards that
    differ in comments, order or the units they are written in, another as soon as one number differs."""
    values = _rounded(engine)
    values.pop("text", None)
    packed = json.dumps(values, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(packed.encode()).hexdigest()


def _rounded(value):
    if dataclasses.is_dataclass(value):
        return {f.name: _rounded(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(key): _rounded(v) for key, v in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    return f"{value:.12g}" if isinstance(value, float) else value

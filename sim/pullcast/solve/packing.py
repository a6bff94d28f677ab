"""A marched point as bytes and back: numbers as npz (never pickle), the rest as JSON."""

from __future__ import annotations

import dataclasses
import io
import json
import zipfile
import zlib

import numpy as np

from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

LARGEST = 200_000_000  # bytes of one point's arrays; traces of twelve cylinders are below one million
KINDS = {"point": Point, "failed": Failed}


def pack(result: Point | Failed) -> tuple[str, str, bytes]:
    """Kind ("point" or "failed"), JSON text and npz bytes of a result."""
    kind = next(name for name, made in KINDS.items() if type(result) is made)
    plain, arrays = {}, {}
    for field in dataclasses.fields(result):
        value = getattr(result, field.name)
        if isinstance(value, np.ndarray):
            arrays[field.name] = value
        else:
            plain[field.name] = value
    buffer = io.BytesIO()
    if arrays:
        np.savez_compressed(buffer, **arrays)
    return kind, json.dumps(plain, sort_keys=True, default=_number), buffer.getvalue()


def unpack(kind: str, head: str, body: bytes) -> Point | Failed:
    """The result ``pack`` was given. Raises ValueError when the bytes are not one."""
    try:
        values = json.loads(head)
        if body:
            _measure(body)
            with np.load(io.BytesIO(body), allow_pickle=False) as arrays:
                values |= {name: arrays[name] for name in arrays.files}
        if "history" in values:
            values["history"] = tuple(tuple(row) for row in values["history"])
        return KINDS[kind](**values)
    except (KeyError, TypeError, ValueError, OSError, EOFError, RecursionError, NotImplementedError,
            OverflowError, zlib.error, zipfile.BadZipFile) as error:
        msg = f"not a stored {kind}: {error}"
        raise ValueError(msg) from None


def _measure(body: bytes) -> None:
    """ValueError for arrays that would fill the memory when they are unpacked."""
    with zipfile.ZipFile(io.BytesIO(body)) as packed:
        size = sum(held.file_size for held in packed.infolist())
    if size > LARGEST:
        msg = f"{size / 1e6:.0f} MB unpacked"
        raise ValueError(msg)


def _number(value: object) -> object:
    """Numpy scalars as Python's own."""
    if isinstance(value, np.generic):
        return value.item()
    msg = f"a {type(value).__name__} cannot be stored"
    raise TypeError(msg)

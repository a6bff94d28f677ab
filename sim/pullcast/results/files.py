"""Saving and loading results: netCDF with everything, CSV with the curve. A file appears whole or not at all."""

from __future__ import annotations

import csv
import os
import re
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from pullcast.errors import InputError, StoreError
from pullcast.results.records import rows
from pullcast.results.variables import VARIABLES
from pullcast.results.whole import faults

FORMAT = 1  # of the netCDF layout; raised when a reader of the old one would misread the new one
LARGEST = 500_000_000  # bytes of a result in memory
_ENGINE = "h5netcdf"
# what reading a damaged file of this kind has been seen to raise
_UNREADABLE = (OSError, ValueError, KeyError, ImportError, TypeError, AttributeError, RuntimeError, IndexError,
               MemoryError, OverflowError)


def write_whole(path: str | Path, write: Callable[[Path], object]) -> Path:
    """Call ``write`` with a temporary path beside ``path``, then rename: no half-written file is ever seen.

    Raises StoreError, naming the path and the reason, when the folder is missing or cannot be written.
    """
    path = Path(path)
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as error:
        msg = f"{path}: cannot be written ({_reason(error)}). Choose a folder that exists and can be written to."
        raise StoreError(msg) from None
    temporary = Path(name)
    try:
        write(temporary)
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except (OSError, ImportError) as error:
        msg = f"{path}: cannot be written ({_reason(error)}). Nothing was left behind."
        raise StoreError(msg) from None
    finally:
        temporary.unlink(missing_ok=True)
    return path


def save_dataset(dataset, path: str | Path) -> Path:
    """Write a Dataset as netCDF (suffix .nc): units, long names, card text, hash and version included."""
    path = _with_suffix(path, ".nc")
    packed = {name: {"zlib": True, "complevel": 4} for name in dataset if VARIABLES[name].trace}
    whole = dataset.assign_attrs(pullcast_result=FORMAT)
    return write_whole(path, lambda p: whole.to_netcdf(p, engine=_ENGINE, encoding=packed))


def load_dataset(path: str | Path):
    """Read a Dataset written by ``save_dataset`` into memory.

    Raises InputError when there is no such file, StoreError when it is not a result of pullcast or of a newer one.
    """
    import xarray as xr

    path = Path(path)
    if not path.is_file():
        msg = f"{path}: no such result file. Results are written by --out NAME.nc or curve.save('NAME.nc')."
        raise InputError(msg)
    try:
        _measure(path)
        dataset = xr.load_dataset(path, engine=_ENGINE)
    except _UNREADABLE as error:
        msg = f"{path}: cannot be read as netCDF ({_reason(error)}). Check the file, or write the result again."
        raise StoreError(msg) from None
    found = dataset.attrs.pop("pullcast_result", None)
    if found is None or "torque" not in dataset:
        msg = f"{path}: is netCDF but not a result of pullcast. Give a file written by --out NAME.nc."
        raise StoreError(msg)
    if not isinstance(found, int | np.integer) or found < 1:
        msg = f"{path}: its layout {found!r:.20} is none of pullcast's. Write the result again with --out NAME.nc."
        raise StoreError(msg)
    if int(found) > FORMAT:
        msg = f"{path}: written in layout {int(found)} by a newer pullcast; this one reads up to {FORMAT}. Update it."
        raise StoreError(msg)
    dataset = _plain_attrs(dataset)
    wrong = faults(dataset)
    if wrong:
        msg = f"{path}: is not a whole result ({'; '.join(wrong[:4])}). Write it again with --out NAME.nc."
        raise StoreError(msg)
    dataset["status"] = dataset["status"].astype(object)
    return dataset


def _measure(path: Path) -> None:
    """Look at the bare HDF5 first: ValueError or OSError for what is none, or would fill the memory unpacked."""
    import h5py

    with h5py.File(path, "r") as file:
        sizes: list[int] = []
        file.visititems(lambda _, held: sizes.append(held.size * held.dtype.itemsize)
                        if isinstance(held, h5py.Dataset) and held.size else None)
    if sum(sizes) > LARGEST:
        msg = f"{sum(sizes) / 1e6:.0f} MB unpacked; a result has at most {LARGEST / 1e6:.0f} MB"
        raise ValueError(msg)


def save_csv(dataset, path: str | Path, system: str = "si") -> Path:
    """Write the curve as CSV (UTF-8, comma, one row per speed) with unit-suffixed headers."""
    header, body = rows(dataset, system)

    def write(target: Path) -> None:
        with target.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(header)
            writer.writerows(body)

    return write_whole(_with_suffix(path, ".csv"), write)


def _with_suffix(path: str | Path, suffix: str) -> Path:
    path = Path(path)
    if path.suffix.lower() != suffix:
        msg = f"{path}: this kind of result ends in {suffix}, not {path.suffix or 'nothing'}"
        raise InputError(msg)
    return path


def _plain_attrs(dataset):
    dataset.attrs = {k: v.item() if hasattr(v, "item") else v for k, v in dataset.attrs.items()}
    return dataset


def _reason(error: Exception) -> str:
    """Why in a few words: HDF5 tells of a full disk in a paragraph with the system's number in it."""
    text = getattr(error, "strerror", None) or str(error) or type(error).__name__
    number = re.search(r"errno = (\d+)", text)
    return os.strerror(int(number[1])) if number else text.splitlines()[0]


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask

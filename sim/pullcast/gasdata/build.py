"""Make the shipped gas tables anew: ``python -m pullcast.gasdata.build [fuel ...]``.

Each fuel takes a few seconds. Files go to ``pullcast/gasdata/data/`` unless ``--out FOLDER`` is given.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from pullcast.gasdata.fuels import FUELS, fuel_recipe

DATA = Path(__file__).parent / "data"


def write_fuel(fuel_key: str, folder: Path = DATA) -> Path:
    """Build one fuel's table with Cantera and write ``<key>.npz``; returns the path."""
    from pullcast.gasdata.cantera_tables import fuel_file

    key = fuel_recipe(fuel_key).key
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{key}.npz"
    np.savez_compressed(path, **fuel_file(key))
    return path


def main(arguments: list[str] | None = None) -> None:
    """Build the fuels named, or all of them."""
    parser = argparse.ArgumentParser(prog="python -m pullcast.gasdata.build", description=__doc__)
    parser.add_argument("fuel", nargs="*", help="fuel keys; all when none is given")
    parser.add_argument("--out", type=Path, default=DATA, help="folder to write to")
    chosen = parser.parse_args(arguments)
    for key in chosen.fuel or FUELS:
        path = write_fuel(key, chosen.out)
        print(f"{path.name}: {path.stat().st_size / 1024:.0f} kB")


if __name__ == "__main__":
    main()

"""See why: pressure at the valves of the teaching single, and how much gas flows back. Invented engine."""

from pathlib import Path

import numpy as np

import pullcast as pc

CARD = Path(__file__).parents[1] / "configs" / "engines" / "lab_single.toml"

curve = pc.predict(pc.read_engine(CARD), speeds=[2400], traces=True)
cycle = curve.dataset.isel(speed=0, cylinder=0)
flow = cycle["intake_mass_flow"].values
taken_in = flow.clip(min=0).sum()
pushed_back = -flow.clip(max=0).sum()
share_back = pushed_back / taken_in

if __name__ == "__main__":
    back = np.flatnonzero(flow < 0)
    print(f"{100 * share_back:.1f} % of what enters is pushed back, between {back.min()} and {back.max()} deg crank")
    print(f"lowest exhaust port pressure {cycle['exhaust_port_pressure'].values.min() / 1e3:.1f} kPa")

"""Longer ducts and more compression on the vintage twin: which of the two does what, and where? Invented engine."""

from pathlib import Path

import pullcast as pc

CARD = Path(__file__).parents[1] / "configs" / "engines" / "vintage_twin.toml"
CHANGES = {"intake.runner.length": "260 mm", "block.compression_ratio": 10.0}

why = pc.explain(CARD, CHANGES, speeds=[2500, 4000, 5500])
parts = {a.name: 100 * part / why.band_torque for a, part in zip(why.attributes, why.band_parts, strict=True)}
whole = 100 * why.band_difference / why.band_torque

if __name__ == "__main__":
    print(why)
    print(why.ledgers[0])
    print(why.ledgers[1])
    pc.explain_figure(why).savefig("vintage_twin_explained.png", dpi=150)
    for base, other in why.evidence:
        pc.why_figure(base, other).savefig(f"vintage_twin_{base.rpm:.0f}_rpm.png", dpi=150)

"""Every shipped card: read, sound, said to be invented, buildable, with lobes that can be made."""

import tomllib

import pytest

from pullcast.card import read_engine, with_changes
from pullcast.card.classes import CLASSES
from pullcast.network.build import build
from pullcast.network.lift import valve_lift
from soundness import assert_sound

ENGINES = ("hillclimb_v8", "club_four", "touring_six", "rally_v6", "vintage_twin", "lab_single")
SHELF = {"hillclimb_v8": [{"cam": "cams/v8_warm.toml"}, {"intake": "intakes/v8_dual_plane.toml"},
                          {"exhaust": "exhausts/v8_headers_162_h.toml"}, {"intake.plenum.length": "220 mm"},
                          {"fuel": "fuels/e85_summer.toml", "day": "days/standard_j1349.toml"}],
         "club_four": [{"intake": "intakes/four_long_plenum.toml"}]}
VARIANTS = [(name, swaps) for name in ENGINES for swaps in [{}, *SHELF.get(name, [])]]


@pytest.mark.parametrize(("name", "swaps"), VARIANTS)
def test_engine_is_sound(configs, name, swaps):
    engine = with_changes(configs / "engines" / f"{name}.toml", swaps)
    assert_sound(engine)
    assert "invented" in engine.source.lower()
    network = build(engine)
    assert sum(e.node.startswith("intake valve") for p in network.pipes for e in (p.start,
        p.end)) == engine.block.cylinders
    for lobe, side in ((engine.cam.intake, "intake"), (engine.cam.exhaust, "exhaust")):
        curve = valve_lift(lobe, side)
        assert curve.max_lift == pytest.approx(lobe.lift, rel=2e-3)
        for d in lobe.durations:
            if d.side == "valve":
                assert curve.duration_at(d.lift) == pytest.approx(d.duration_deg, abs=0.5)


@pytest.mark.parametrize("name", ENGINES)
def test_engine_stands_in_its_class(configs, name):
    engine = read_engine(configs / "engines" / f"{name}.toml")
    c = CLASSES[engine.engine_class]
    row = c.rows["block.compression_ratio"]
    assert row.low <= engine.block.compression_ratio <= row.high
    assert c.rows["mixture.lambda"].low <= engine.mixture.lambda_ <= c.rows["mixture.lambda"].high
    lift = c.rows["cam.intake.valve_lift"]
    assert lift.low <= engine.cam.intake.lift + engine.cam.intake.lash <= lift.high
    separation = (engine.cam.intake.centreline_deg + engine.cam.exhaust.centreline_deg) / 2
    assert c.rows["cam.lobe_separation"].low <= separation <= c.rows["cam.lobe_separation"].high
    if "runner_length" in engine.intake.facts:
        tract = engine.intake.facts["runner_length"] + sum(s.length for s in engine.head.intake.port)
        assert c.limits["tract"].low <= tract <= c.limits["tract"].high


def test_every_card_says_where_its_numbers_come_from(configs):
    cards = sorted(configs.glob("[a-z]*/*.toml"))
    ours = [c for c in cards if c.parent.name in ("engines", "cams", "heads", "intakes", "exhausts", "fuels", "days")]
    assert len(ours) > 25
    for card in ours:
        source = tomllib.loads(card.read_text(encoding="utf-8"))["source"]["text"]
        assert ("Kestrel" in source and "invented" in source) or "SAE J1349" in source, card.name

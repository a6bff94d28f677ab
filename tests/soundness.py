"""What must hold for the tracts of any engine a card resolves to."""

import math


def assert_sound(engine):
    """Every port reached once a side, every node there, every name used once, every dimension positive."""
    n = engine.block.cylinders
    assert sum(engine.block.firing_intervals_deg) == _close(720.0)
    assert sorted(engine.block.firing_order) == list(range(1, n + 1))
    names = []
    for tract in (engine.intake, engine.exhaust):
        nodes = {v.name for v in tract.volumes} | {j.name for j in tract.junctions}
        names += [p.name for p in tract.pipes] + [v.name for v in tract.volumes] + [j.name for j in tract.junctions]
        ends = [e for p in tract.pipes for e in (p.start, p.end)]
        assert sorted(e.node for e in ends if e.node.startswith("port ")) == sorted(f"port {k}" for k in range(1,
                                                                                                               n + 1))
        loose = {e.node for e in ends} - nodes - {"ambient", "closed"}
        assert all(node.startswith("port ") for node in loose), loose
        assert nodes <= {e.node for e in ends}, nodes
        assert any(e.node == "ambient" for e in ends)
        for e in ends:
            assert e.loss_in >= 0
            assert e.loss_out >= 0
            assert e.end_length >= 0
            assert (e.area is None or e.area > 0)
        for s in (s for p in tract.pipes for s in p.segments):
            assert s.length > 0
            assert s.area_start > 0
            assert s.area_end > 0
            assert s.wall_temperature > 200
            assert s.bend_loss >= 0
        for p in tract.pipes:
            for a, b in zip(p.segments, p.segments[1:], strict=False):
                assert 0.1 < b.area_start / a.area_end < 10, p.name
    assert len(set(names)) == len(names)
    for lobe in (engine.cam.intake, engine.cam.exhaust):
        assert lobe.lift > 0
        assert (lobe.durations or lobe.table)
        assert math.isfinite(lobe.centreline_deg)
    assert all(b > a for a, b in zip(engine.speeds, engine.speeds[1:], strict=False))
    assert all(a.low <= a.value <= a.high for a in engine.assumed)


def _close(value):
    import pytest

    return pytest.approx(value, rel=1e-9)

from dataclasses import replace

import pytest

from engines import single, twin
from pullcast.card.engine import End, Pipe, Segment, Tract
from pullcast.errors import InputError
from pullcast.network.build import build


def test_ports_are_joined_to_runners_and_primaries():
    engine = twin()
    network = build(engine)
    runner = next(p for p in network.pipes if p.name == "runner 1")
    assert runner.end.node == "intake valve 1"
    assert runner.segments[-1].area_end == engine.head.intake.port[0].area_start
    primary = next(p for p in network.pipes if p.name == "primary 2")
    assert primary.start.node == "exhaust valve 2"
    assert primary.segments[0] == engine.head.exhaust.port[0]
    assert primary.length == pytest.approx(0.57)


def test_a_missing_port_is_named():
    engine = twin()
    short = replace(engine.intake, pipes=engine.intake.pipes[1:])
    with pytest.raises(InputError, match=r"reaches ports \[2\], but the engine has cylinders 1 to 2"):
        build(replace(engine, intake=short))


def test_shared_names_are_refused():
    engine = single()
    twice = replace(engine.exhaust, pipes=(replace(engine.exhaust.pipes[0], name="inlet"),))
    with pytest.raises(InputError, match="share a name: inlet"):
        build(replace(engine, exhaust=twice))


def test_an_abrupt_step_becomes_a_junction():
    stepped = Pipe("outlet", End("port 1"), End("ambient"), (Segment(0.3, 1e-3, 1e-3), Segment(0.3, 2e-3, 2e-3)))
    network = build(single(exhaust=Tract("e", (stepped,))))
    assert [j.name for j in network.junctions] == ["outlet step 1"]
    assert [p.name for p in network.pipes if p.name.startswith("outlet")] == ["outlet", "outlet, part 2"]


@pytest.mark.parametrize(("preparation", "count"), [("port", 2), ("carburettor", 1), ("direct", 0)])
def test_fuel_goes_in_where_the_card_says(preparation, count):
    engine = twin()
    network = build(replace(engine, mixture=replace(engine.mixture, preparation=preparation)))
    assert len(network.injections) == count


def test_unknown_node_is_named_with_what_there_is():
    from pullcast.kernels.gas import perfect_gas
    from pullcast.network.arrays import assemble
    from pullcast.network.components import Network

    lost = Network((Pipe("p", End("plenun"), End("closed"), (Segment(0.1, 1e-3, 1e-3),)),))
    with pytest.raises(InputError, match=r"the start of pipe 'p' opens into 'plenun'.*ambient, closed"):
        assemble(lost, perfect_gas(), 0.02)

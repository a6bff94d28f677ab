"""Network -> lumped arrays: volumes, inertances, losses, names, errors."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engines import disc, single, twin
from pullcast.card.engine import End, Junction, Pipe, Segment, Volume
from pullcast.errors import InputError
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import lumps as M
from pullcast.network.build import build
from pullcast.network.components import Injection, Network
from pullcast.network.cylinders import cylinder_arrays
from pullcast.network.lump import lump

GAS = gas_table("petrol", 0.9)


def of(engine):
    return lump(build(engine), GAS, cylinder_arrays(engine, GAS, 3000.0))


def test_stores_are_volumes_junctions_pipes_in_order():
    made, names = of(twin())
    assert names.stores[:2] == ("ambient", "plenum")
    assert "merge" in names.junctions
    assert made.first_pipe == len(names.volumes) + len(names.junctions)
    assert names.of_store(1) == "volume 'plenum'"
    assert names.of_store(made.first_pipe).startswith("pipe '")


def test_every_store_but_the_surroundings_keeps_its_volume():
    engine = twin()
    made, names = of(engine)
    for k, pipe in enumerate(build(engine).pipes):
        exact = sum(s.length / 3 * (s.area_start + s.area_end + math.sqrt(s.area_start * s.area_end))
                    for s in pipe.segments)
        extra = sum(e.end_length * a for e, a in ((pipe.start, pipe.segments[0].area_start),
                                                  (pipe.end, pipe.segments[-1].area_end)))
        assert made.const[M.K_VOLUME, made.first_pipe + k] == pytest.approx(exact + extra, rel=2e-3), pipe.name
    assert made.const[M.K_VOLUME, names.stores.index("plenum")] == pytest.approx(1.5e-3)


@given(length=st.floats(0.05, 2.0), d0=st.floats(0.02, 0.08), d1=st.floats(0.02, 0.08))
def test_inertances_of_both_halves_add_up_to_the_whole(length, d0, d1):
    pipe = Pipe("p", End("ambient"), End("v"), (Segment(length, disc(d0), disc(d1)),))
    made, _ = lump(Network((pipe,), (Volume("v", 1e-3),)), GAS)
    assert made.link[M.L_INERTIA].sum() == pytest.approx(4 * length / (math.pi * d0 * d1), rel=5e-3)


def test_pipe_at_a_valve_has_one_link_with_all_its_inertia():
    made, names = of(single())
    inlet = made.first_pipe + names.pipes.index("inlet")
    links = np.flatnonzero(made.link_at[M.N_PIPE] == inlet)
    assert len(links) == 1
    assert made.link_at[M.N_NODE, links[0]] == 0
    assert made.link_at[M.N_INLET, links[0]] == 1
    pipe = build(single()).pipes[0]
    whole = sum(s.length / math.sqrt(s.area_start * s.area_end) for s in pipe.segments)
    assert made.link[M.L_INERTIA, links[0]] == pytest.approx(whole + 0.01 / pipe.segments[0].area_start, rel=5e-3)


def test_an_exit_loses_its_head_and_a_step_only_the_sudden_enlargements_share():
    def pipe(name, start, end, d):
        return Pipe(name, start, end, (Segment(0.3, disc(d), disc(d)),))

    made, names = lump(Network(
        (pipe("a", End("ambient", loss_in=0.2, loss_out=0.1), End("step", angle_deg=180.0), 0.03),
         pipe("b", End("step"), End("closed"), 0.06)), (), (Junction("step"),)), GAS)
    ambient, step = made.link.T
    assert (ambient[M.L_IN], ambient[M.L_OUT]) == (0.2, 1.1)
    assert step[M.L_OUT] == pytest.approx((1 - 0.25) ** 2)
    assert step[M.L_IN] == 0.0
    assert names.stores == ("ambient", "a", "b")
    assert names.steps == (("step", 1, 2),)


def test_a_step_is_one_link_of_both_halves_and_its_room_is_shared_out():
    def pipe(name, start, end, d):
        return Pipe(name, start, end, (Segment(0.4, disc(d), disc(d), bend_loss=0.6),))

    def volumes(pipes, junction):
        made, _ = lump(Network(pipes, (), (junction,)), GAS)
        return made, made.const[M.K_VOLUME, made.first_pipe :]

    wide = pipe("a", End("ambient"), End("step", angle_deg=180.0), 0.06)
    narrow = pipe("b", End("step"), End("closed"), 0.03)
    made, held = volumes((wide, narrow), Junction("step", volume=4e-5))
    step = made.link[:, 1]
    assert made.link_at[:2, 1].tolist() == [1, 2]
    assert step[M.L_INERTIA] == pytest.approx(0.2 / disc(0.06) + 0.4 / disc(0.03))  # half of one, all of the other
    assert step[M.L_BENDS] == pytest.approx(0.5 * (0.3 / disc(0.06) ** 2 + 0.6 / disc(0.03) ** 2))
    assert step[M.L_IN] == pytest.approx((1 - 0.25) ** 2 * 16)  # of the narrow pipe's head, on the wide one's
    assert step[M.L_OUT] == 0.0
    assert step[M.L_NARROWEST] == pytest.approx(disc(0.03))
    assert held == pytest.approx(volumes((wide, narrow), Junction("step", volume=2e-5))[1] + 1e-5)


def test_an_orifice_or_an_injection_keeps_its_junction():
    def kept(end, injections=()):
        pipes = (Pipe("a", End("ambient"), end, (Segment(0.3, 1e-3, 1e-3),)),
                 Pipe("b", End("step"), End("closed"), (Segment(0.3, 1e-3, 1e-3),)))
        return lump(Network(pipes, (), (Junction("step"),), injections=injections), GAS)[1].junctions

    assert kept(End("step", angle_deg=180.0)) == ()
    assert kept(End("step", angle_deg=180.0, area=5e-4)) == ("step",)
    assert kept(End("step", angle_deg=180.0), (Injection("a", 0.05, "end", 0.5, 298.15),)) == ("step",)


def test_jets_of_a_collector_lose_their_head():
    made, names = of(twin())
    merge = names.stores.index("merge")
    out = made.link[M.L_OUT, made.link_at[M.N_NODE] == merge]
    assert list(out) == [1.0, 1.0, 1.0]


def test_throttle_keeps_its_area_and_no_other_loss():
    made, _ = of(twin())
    throttled = made.link[M.L_ORIFICE] > 0
    assert throttled.sum() == 1
    assert made.link[M.L_ORIFICE, throttled][0] == pytest.approx(disc(0.046) * 0.8)
    assert made.link[M.L_OUT, throttled][0] == 0.0


def test_injection_towards_a_closed_end_is_refused():
    pipe = Pipe("stub", End("ambient"), End("closed"), (Segment(0.3, 1e-3, 1e-3),))
    network = Network((pipe,), injections=(Injection("stub", 0.05, "end", 0.5, 298.15),))
    with pytest.raises(InputError, match="pipe 'stub' on its way to its end, but that end is closed"):
        lump(network, GAS)

"""How pipes that meet at a junction take in each other's jets."""

import math

import pytest

from pullcast.card.engine import End, Junction, Pipe, Segment
from pullcast.kernels.ends import mouth_pressure
from pullcast.kernels.gas import perfect_gas
from pullcast.kernels.nodes import turned
from pullcast.network.arrays import assemble
from pullcast.network.components import Network, Surroundings

P, T, GAMMA, R = 101325.0, 293.15, 1.4, 287.05
RHO = P / (R * T)


def ends(*angles: float, shaped: bool = False):
    """End arrays of pipes of one area that meet at these directions (deg); each pipe's junction end is its second."""
    wall = (Segment(0.3, 1e-3, 1e-3),)
    pipes = tuple(Pipe(f"p{i}", End("closed"), End("meet", angle_deg=a, shaped=shaped), wall)
                  for i, a in enumerate(angles))
    model, _ = assemble(Network(pipes, (), (Junction("meet"),), Surroundings(P, T)), perfect_gas(GAMMA, R), 0.02)
    return model.ends


def test_pipes_in_line_lose_nothing_and_miss_nothing():
    e = ends(0.0, 180.0)
    assert e.merge[1] == pytest.approx(0.0, abs=1e-12)
    assert e.ahead[1] == 0.0


def test_the_branch_of_a_tee_loses_all_and_its_run_looks_ahead():
    e = ends(0.0, 180.0, 90.0)
    assert e.merge[5] == pytest.approx(1.0)
    assert e.ahead[5] == pytest.approx(0.0)
    assert e.merge[1] == pytest.approx(math.sqrt(math.sin(math.pi / 4)))
    assert e.ahead[1] == pytest.approx(1.0)


def test_a_gentle_merge_loses_as_a_cone_of_its_slope():
    assert ends(0.0, 170.0, 190.0).merge[1] == pytest.approx(1.6 * math.sin(math.radians(10)))


def test_a_shaped_mouth_costs_what_its_card_says():
    assert not ends(0.0, 180.0, 90.0, shaped=True).merge.any()


def test_ends_form_one_ring():
    e = ends(0.0, 120.0, 240.0)
    seen, at = [], 1
    for _ in range(3):
        seen.append(int(at))
        at = e.beside[at]
    assert sorted(seen) == [1, 3, 5]
    assert at == 1
    assert e.beside[0] == 0


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0, 119.0])
def test_jets_keep_three_quarters_of_their_turn(turn):
    there = math.radians(turn)
    assert turned(-1.0, 0.0, math.cos(there), math.sin(there)) == pytest.approx(math.cos(0.75 * there), abs=1e-12)


def test_jets_do_not_reach_pipes_behind_them():
    assert turned(1.0, 0.0, 1.0, 0.0) == 0.0


@pytest.mark.parametrize(("un", "drawn", "missing", "merge", "k"), [
    (30.0, 15.0, 0.0, 1.0, 0.25), (30.0, 15.0, 15.0, 1.0, 0.0), (30.0, 45.0, 0.0, 1.0, 0.25),
    (30.0, 45.0, 0.0, 0.0, 0.0)])
def test_loss_of_a_mouth(un, drawn, missing, merge, k):
    """Total pressure lost over the jet's head: Borda-Carnot, its regain, the lateral loss, none in line."""
    T0 = T + 0.5 * un**2 * (GAMMA - 1) / (GAMMA * R)
    given = P + 0.5 * RHO * un**2
    lost = given - mouth_pressure(P, T, T0, un, drawn, missing, merge, R, GAMMA)
    assert lost / (0.5 * RHO * un**2) == pytest.approx(k, abs=0.01)

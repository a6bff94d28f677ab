"""Cylinders, valves and burn data of an engine as arrays, for one speed."""

from __future__ import annotations

import numpy as np

from pullcast.card.engine import Engine, Lobe
from pullcast.errors import InputError
from pullcast.gasdata.burning import burning_coefficients
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.kernels.burn import laminar_speed
from pullcast.kernels.crank import volume
from pullcast.kernels.gas import GasTable
from pullcast.kernels.mixture import hot_h
from pullcast.network.chamber_shape import COLUMNS, ROWS, Chamber, front_table
from pullcast.network.flow_sheet import area_over_crank
from pullcast.network.lift import LiftCurve, valve_lift

HEAT_MODELS = {"hohenberg": 0, "woschni": 1, "annand": 2}
HEAD_AREA = 1.2  # chamber roof over bore area (common practice, no source)
LEAST_CLOSED = 45.0  # deg each side of firing TDC
SEATED = 1e-9  # m2: below this a valve counts as shut
RESIDUAL = (2.06, 0.77)  # Rhodes & Keck 1985
SPARK_RADIUS = 1.0e-3  # m, of the kernel a spark leaves; 0.5 to 3 mm (common practice, no source)
REFERENCE_PHI, REFERENCE_T, REFERENCE_P, REFERENCE_X = 1.15, 700.0, 1.4e6, 0.06  # gas of the reference burn at spark
# The same gas where half is burned: sparked 25 deg before TDC at a ratio of 10, motored pressure at 8 deg (23 bar)
# midway to that of constant-volume burning (4.1 times it), compressed from the spark with gamma 1.33.
REFERENCE_HALF_T, REFERENCE_HALF_P = 1000.0, 5.9e6
KNOCK_DELAYS = {"douaud_eyzat": 0, "he": 1}


def phased(lobe: Lobe, shift_deg: float) -> Lobe:
    """The lobe with its centreline moved by ``shift_deg``."""
    from dataclasses import replace

    return replace(lobe, centreline_deg=lobe.centreline_deg + shift_deg)


def lifts_at(engine: Engine, rpm: float) -> tuple[LiftCurve, LiftCurve]:
    """Intake and exhaust lift curves at a speed (cam phasing schedule applied)."""
    intake, exhaust = engine.cam.intake, engine.cam.exhaust
    if engine.cam.phasing:
        rows = np.array(sorted(engine.cam.phasing))
        intake = phased(intake, -float(np.interp(rpm, rows[:, 0], rows[:, 1])))
        exhaust = phased(exhaust, -float(np.interp(rpm, rows[:, 0], rows[:, 2])))
    return valve_lift(intake, "intake"), valve_lift(exhaust, "exhaust")


def valve_areas(engine: Engine, rpm: float) -> tuple[np.ndarray, np.ndarray]:
    """Forward and reverse effective areas (2, 1441), m2: intake row, exhaust row."""
    intake, exhaust = lifts_at(engine, rpm)
    fi, ri = area_over_crank(engine.head.intake, intake)
    fe, re = area_over_crank(engine.head.exhaust, exhaust)
    forward, reverse = np.array([fi, fe]), np.array([ri, re])
    shut = np.maximum(forward, reverse) <= SEATED  # exactly nothing there: the cylinder is then marched as closed
    return np.where(shut, 0.0, forward), np.where(shut, 0.0, reverse)


def closed_span(areas: np.ndarray) -> tuple[float, float]:
    """Local angles (deg) of the last valve closing before firing TDC and the first opening after it."""
    open_ = (areas > SEATED).any(axis=0)
    before = np.flatnonzero(open_[:721])
    after = np.flatnonzero(open_[720:])
    closing = 0.5 * (before[-1] + 1) if len(before) else 0.0
    opening = 360.0 + 0.5 * (after[0] - 1) if len(after) else 720.0
    return float(closing), float(opening)


def checked_span(closing: float, opening: float) -> None:
    """Refuse a cam that leaves no closed part of the cycle to compress and burn in (InputError)."""
    if closing > 360.0 - LEAST_CLOSED or opening < 360.0 + LEAST_CLOSED:
        before, after = 360.0 - closing, opening - 360.0
        msg = (f"the valves shut {before:.0f} deg before firing TDC and open {after:.0f} deg after it; "
               f"{LEAST_CLOSED:.0f} deg on either side are the least to compress and burn in. Check the cam card: "
               "durations, centrelines, and intake against exhaust")
        raise InputError(msg)


def timing_at(engine: Engine, rpm: float) -> tuple[float, float]:
    """Timing kind (0 CA50, 1 spark) and its value (deg) at a speed."""
    rows = np.array(sorted(engine.burn.table))
    return (1.0 if engine.burn.timing == "spark" else 0.0), float(np.interp(rpm, rows[:, 0], rows[:, 1]))


def flame_row(fuel_key: str, phi: float) -> np.ndarray:
    """Laminar speed coefficients (8,) in the order of ``kernels.burn`` at equivalence ratio ``phi``."""
    b_m, b_2, phi_m, alpha, beta = burning_coefficients(fuel_key, phi)
    return np.array([b_m, b_2, phi_m, phi, alpha, beta, *RESIDUAL])


def chamber_of(engine: Engine) -> Chamber:
    """The combustion chamber as the flame sees it."""
    b, burn = engine.block, engine.burn
    return Chamber(burn.chamber, b.bore, b.stroke, b.clearance_volume, burn.plug, burn.squish, burn.squish_gap)


def front_row(engine: Engine) -> np.ndarray:
    """What a predicted burn adds to the laminar speed coefficients, in the order of ``kernels.flame``."""
    c = chamber_of(engine)
    return np.array([c.squish * np.pi / 4 * c.bore**2, c.clearance, c.edge,
                     SPARK_RADIUS, c.stroke, ROWS, COLUMNS, engine.burn.tumble, *front_table(c).ravel()])


def oxygen_factor(engine: Engine) -> float:
    """phi^-0.77 X^-1.41 of the delay of He et al. 2005, X oxygen in mole per cent of the unburned mixture."""
    gas = gas_table(engine.fuel.key, engine.mixture.lambda_)
    air = gas.mix[2] / 0.028965
    oxygen = 20.95 * air / (air + 1.0 / gas.mix[5])
    return float((1.0 / engine.mixture.lambda_) ** -0.77 * oxygen**-1.41)


def burn_arrays(engine: Engine, rpm: float) -> tuple[np.ndarray, np.ndarray]:
    """Burn law (14,) and laminar speed coefficients (8,), with a predicted burn followed by its front, for the
    kernels."""
    flame = flame_row(engine.fuel.key, 1.0 / engine.mixture.lambda_)
    predicted = engine.burn.law == "flame"
    if predicted:
        flame = np.concatenate([flame, front_row(engine)])
    reference = flame_row("petrol", REFERENCE_PHI)
    kind, value = timing_at(engine, rpm)
    stroke = engine.block.stroke
    return np.array([
        kind, value, engine.burn.duration_10_90_deg, engine.burn.delay_deg, engine.burn.efficiency,
        2 * stroke * rpm / 60, 2 * stroke * engine.burn.reference_rpm / 60,
        laminar_speed(reference, REFERENCE_T, REFERENCE_P, REFERENCE_X), float(predicted),
        engine.burn.turbulence, laminar_speed(reference, REFERENCE_HALF_T, REFERENCE_HALF_P, REFERENCE_X),
        KNOCK_DELAYS[engine.burn.knock_delay], oxygen_factor(engine),
        engine.burn.crevice * engine.block.clearance_volume,
    ]), flame


def start_state(engine: Engine, gas: GasTable, geometry: np.ndarray, closing: float, opening: float,
                local: float) -> np.ndarray:
    """A plausible content of a cylinder at ``local`` deg, to start the march from."""
    s = np.zeros(L.S_COUNT)
    p0, Ta = engine.day.pressure, engine.day.temperature
    yf, yb, p, T = 0.92 / (1 + gas.mix[2]), 0.08, p0, Ta + 45.0
    V = volume(geometry, local)
    if closing <= local < 360.0:
        ratio = volume(geometry, closing) / V
        p, T = p0 * ratio**1.32, T * ratio**0.32
    elif 360.0 <= local < opening:
        ratio = volume(geometry, opening) / V
        yf, yb, p, T, s[L.S_MODE] = 0.0, 1.0, 5 * p0 * ratio**1.27, 1550.0 * ratio**0.27, 2.0
    elif local >= opening:
        yf, yb, p, T, s[L.S_MODE] = 0.0, 1.0, 1.1 * p0, 1100.0, 2.0
    h, R = hot_h(gas, T, p, yf, yb)
    m = p * V / (R * T)
    s[[L.S_M, L.S_FUEL, L.S_BURNED, L.S_U, L.S_P, L.S_T]] = m, m * yf, m * yb, m * (h - R * T), p, T
    return s


def cylinder_arrays(engine: Engine, gas: GasTable, rpm: float) -> L.Cylinders:
    """All cylinder arrays of an engine at a speed, with a start state."""
    b, mix = engine.block, engine.mixture
    nc = b.cylinders
    geometry = np.array([b.bore, b.stroke, b.rod, b.pin_offset, b.clearance_volume, HEAD_AREA])
    forward, reverse = valve_areas(engine, rpm)
    closing, opening = closed_span(np.maximum(forward, reverse))
    checked_span(closing, opening)
    phase = np.array(b.phase_deg)
    burn, flame = burn_arrays(engine, rpm)
    local = (-phase) % 720.0
    state = np.array([start_state(engine, gas, geometry, closing, opening, float(a)) for a in local])
    rows = np.arange(nc, dtype=np.int64)
    w = engine.walls
    in_cylinder = mix.evaporated if mix.preparation == "direct" else 0.0
    return L.Cylinders(
        geometry=geometry, phase=phase, area_fwd=np.tile(forward, (nc, 1)), area_rev=np.tile(reverse, (nc, 1)),
        intake_row=2 * rows, exhaust_row=2 * rows + 1, closed=np.tile([closing, opening], (nc, 1)), burn=burn,
        flame=flame, walls=np.array([w.piston, w.head, w.liner, HEAT_MODELS[w.model], w.factor]),
        fuelling=np.array([in_cylinder, engine.fuel.temperature]), state=state, acc=np.zeros((nc, L.A_COUNT)),
        out=np.zeros((nc, L.C_COUNT)),
    )



"""Fuel joining passing air upstream of the valve."""

from pullcast.kernels import layout as L
from pullcast.kernels.gas import mix_h, mix_hf, mix_R
from pullcast.kernels.jit import inner
from pullcast.kernels.mixture import temperature_frozen


@inner
def inject(model, dt):
    """Add fuel to the downstream cell of every injector face: only air that flows towards the valve and has none yet.

    The share ``evaporated`` enters as liquid enthalpy (vapour enthalpy at its temperature less the heat of
    evaporation), so the charge pays for it; the rest of the fuel travels as a film and joins at the valve.
    Mass and energy are booked; momentum is unchanged.
    """
    gas, flow, ducts, books = model.gas, model.flow, model.ducts, model.books
    inj = model.injectors
    for n in range(inj.face.shape[0]):
        j = inj.face[n]
        s = inj.sign[n]
        total = s * flow.flux[0, j]
        fuel = s * flow.flux[3, j]
        air = total - fuel - s * flow.flux[4, j]
        add = max(inj.evaporated[n] * air / gas.mix[2] - fuel, 0.0) if total > 0.0 else 0.0
        if add <= 0.0:
            continue
        c = j if s > 0 else j - 1
        dm = add * ducts.face[j] * dt
        d = dm / ducts.vol[c]
        h = mix_h(gas, inj.temperature[n], 1.0, 0.0) - gas.mix[3]
        r = flow.rho[c]
        yf = flow.rf[c] / r
        yb = flow.rb[c] / r
        R = mix_R(gas, yf, yb)
        T = flow.p[c] / (r * R)
        inner = r * (mix_h(gas, T, yf, yb) - R * T)
        kinetic = 0.5 * flow.mom[c] ** 2
        inner += kinetic / r - kinetic / (r + d) + d * h
        flow.rho[c] = r + d
        flow.rf[c] += d
        flow.ene[c] += d * h
        yf = flow.rf[c] / (r + d)
        yb = flow.rb[c] / (r + d)
        T = temperature_frozen(gas, inner / (r + d), T, yf, yb)
        flow.p[c] = (r + d) * mix_R(gas, yf, yb) * T
        books[L.B_FUEL] += dm
        books[L.B_H_FUEL] += dm * (h + mix_hf(gas, 1.0, 0.0))

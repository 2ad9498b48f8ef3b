"""The boundary condition of one duct end: the wave that reaches it against what lies beyond it.

Velocities here are outward (from the duct towards the end), so that left and right ends look the
same: the arriving characteristic says p + Z v = K (its invariant, with impedance Z), the particle path
gives the density of gas that leaves. What lies beyond is a stagnation state (p0, rho0, T0, cp, gamma).

Assumptions: quasi-steady flow through throats; no pressure recovery behind a throat, so its
pressure is that of the space it discharges into; stagnation enthalpy kept; isentropic relations
with gamma held at the stagnation state.
"""

from math import sqrt

from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.ends.nozzle import mass_flux

TOLERANCE = 1e-10
MOST_SECANTS = 8
CLOSE = 1e4
FIRST_SLOPE_RATIO = 2.0
SLOW = 0.01  # (Mach number 0.22)
LEAST_DENSITY = 0.05  # of that at the foot: the linear law would go below nought in strong expansions


@inlined
def leaving_density(p, rho_f, p_f, a2):
    """Density of gas that left isentropically from (rho_f, p_f): drho = dp / a^2."""
    return max(rho_f + (p - p_f) / a2, LEAST_DENSITY * rho_f)


@inlined
def stagnation(p, rho, v, g):
    """Stagnation pressure and density."""
    rise = 1.0 + 0.5 * (g - 1.0) * v * v * rho / (g * p)
    density = rise ** (1.0 / (g - 1.0))
    return p * rise * density, rho * density


@inlined
def to_rest(x, n):
    """(1 - x)^-n: stagnation over static pressure for x = w^2/(2 cp T0) and n = cp/R. By its
    binomial series where that is exact to rounding (x below SLOW), as powers take long."""
    if x > SLOW:
        return (1.0 - x) ** -n
    s = 1.0 + (n + 8.0) * x * (1.0 / 9.0)
    s = 1.0 + (n + 7.0) * x * 0.125 * s
    s = 1.0 + (n + 6.0) * x * (1.0 / 7.0) * s
    s = 1.0 + (n + 5.0) * x * (1.0 / 6.0) * s
    s = 1.0 + (n + 4.0) * x * 0.2 * s
    s = 1.0 + (n + 3.0) * x * 0.25 * s
    s = 1.0 + (n + 2.0) * x * (1.0 / 3.0) * s
    s = 1.0 + (n + 1.0) * x * 0.5 * s
    return 1.0 + n * x * s


@inlined
def entered_from_rest(p0, rt0, per_cp_r, loss, w):
    """Pressure, and its slope over speed, of gas that enters a bore from rest at ``p0`` at speed w.

    It keeps its enthalpy and loses ``loss`` of its dynamic head rho w^2/2 in stagnation pressure,
    which is what handbooks mean by a loss coefficient (Idelchik, Handbook of Hydraulic Resistance,
    section 1: the loss of total pressure over the dynamic head of the stated section):

        T/T0 = t = 1 - w^2/(2 cp T0),   p t^(-cp/R) = p0 - loss rho w^2/2

    with rho = p/(R T) an equation for p alone. rt0: R T0, J/kg; per_cp_r: R/cp, held.
    """
    rt = rt0 - 0.5 * per_cp_r * w * w
    per_rt = 1.0 / rt
    fall = to_rest(1.0 - rt / rt0, 1.0 / per_cp_r)
    head = 0.5 * w * w * per_rt
    p = p0 / (fall + loss * head)
    slope = fall * w * per_rt + loss * per_rt * (w + head * per_cp_r * w)
    return p, -p * p / p0 * slope


@inlined
def entered(p0, rt0, per_cp_r, loss, regained, w):
    """Pressure, and its slope, of gas that enters a bore out of gas moving past the mouth: of the
    head that the flow had before it turned off, ``regained`` is won back, as a share of that in
    the bore at equal density (ends/legs.py). At low speed p0 - p = (1 + loss - regained) rho
    w^2/2; in general

        p t^(-cp/R) = p0 - (loss - regained rho/rho0) rho w^2/2.
    """
    rt = rt0 - 0.5 * per_cp_r * w * w
    per_rt, slope_rt = 1.0 / rt, -per_cp_r * w
    fall = to_rest(1.0 - rt / rt0, 1.0 / per_cp_r)
    head = 0.5 * w * w * per_rt
    slope_head = per_rt * (w - head * slope_rt)
    lost, slope_lost = fall + loss * head, fall * w * per_rt + loss * slope_head
    back = regained * head * rt0 * per_rt
    slope_back = regained * rt0 * per_rt * (slope_head - head * slope_rt * per_rt)
    share = 2.0 / (lost + sqrt(max(lost * lost - 4.0 * back, 0.0)))
    slope = -share * (slope_lost - share * slope_back) / max(lost - 2.0 * share * back, 0.1)
    return p0 * share, p0 * slope


@routine
def out_of_volume_through_mouth(invariant, impedance, p0, rho0, gamma, loss, guess):
    """Inward speed w and pressure for flow from rest at (p0, rho0) into the open bore.

    p = K + Z w (invariant K, impedance Z) meets ``entered_from_rest``, by Newton from the guess, or the
    acoustic one. The flow begins sonic at most; what then comes back up the duct no longer counts.
    """
    rt0, per_cp_r = p0 / rho0, (gamma - 1.0) / gamma
    w = guess
    if guess <= 0.0:
        w = (p0 - invariant) / (impedance + sqrt(0.5 * rho0 * max(p0 - invariant, 0.0)) * (1.0 + loss))
    sonic = sqrt(2.0 * gamma * rt0 / (gamma + 1.0))
    w = min(w, sonic)
    for _ in range(30):
        p, slope = entered_from_rest(p0, rt0, per_cp_r, loss, w)
        step = (invariant + impedance * w - p) / (impedance - slope)
        w = min(max(w - step, 0.0), sonic)
        if step * step < 1e-10 * sonic * sonic:  # what is left is of its square
            break
    if w == sonic:
        p, _ = entered_from_rest(p0, rt0, per_cp_r, loss, sonic)
        return sonic, max(p, invariant + impedance * sonic)
    return w, invariant + impedance * w


@inlined
def inflow_density(p, w, p0, rho0, gamma):
    """Density in the bore of gas that kept its stagnation enthalpy: T = T0 - w^2 / (2 cp)."""
    return p / (p0 / rho0 - 0.5 * (gamma - 1.0) / gamma * w * w)


@inlined
def excess(leaves, state, p):
    """Duct flow minus throat flow, kg/s, at the pressure ``p`` of the end node (through_throat)."""
    invariant, impedance, area, throat, p_ref, rho_ref, gamma, a2, p_beyond = state
    v = (invariant - p) / impedance
    if leaves:
        rho = leaving_density(p, rho_ref, p_ref, a2)
        rise = 1.0 + 0.5 * (gamma - 1.0) * v * v * rho / (gamma * p)
        rho0 = rho * rise ** (1.0 / (gamma - 1.0))
        return area * rho * v - throat * mass_flux(p * rise * rho0 / rho, rho0, gamma, p_beyond)
    rho = inflow_density(p, v, p_ref, rho_ref, gamma)
    return -area * rho * v - throat * mass_flux(p_ref, rho_ref, gamma, p)


@inlined
def flow_scale(area, throat, rho, drop, impedance):
    """Size of the flow through bore and throat for a pressure difference, kg/s."""
    return min(area * rho * drop / impedance, throat * sqrt(rho * drop))


@inlined
def next_guess(lo, f_lo, hi, f_hi, x, f, side):
    """Narrow the bracket with (x, f) and propose a point: false position, Illinois weighting.

    An end of the bracket kept twice has its weight halved (Dowell & Jarratt, BIT 11, 1971).
    """
    if f * f_hi > 0.0:
        hi, f_hi = x, f
        if side == 1:
            f_lo *= 0.5
        side = 1
    else:
        lo, f_lo = x, f
        if side == -1:
            f_hi *= 0.5
        side = -1
    return lo, f_lo, hi, f_hi, hi - f_hi * (hi - lo) / (f_hi - f_lo), side


@routine
def through_throat(leaves, state, guess, slope_ratio):
    """Pressure at the end node for gas that leaves the duct through a throat, or enters it so from rest, and
    the slope ratio for the next stage.

    state: invariant and impedance of the arriving wave, areas of bore and throat; pressure, density and gamma
    at the particle path's foot, with its a^2 and the pressure beyond, which is below the invariant; or those
    of the gas at rest, whose pressure is above it (and nought twice).
    Secants from the guess (the stage before is close), kept if they stay inside the bracket;
    otherwise false position, which cannot miss. slope_ratio: slope of the flows' difference over that
    of the duct's flow alone, as the stage before found it; as gas leaves it falls with pressure, as it enters
    it rises.
    """
    invariant, impedance, area, throat, p_ref, rho_ref, gamma, _, p_beyond = state
    lo, hi, unit = p_beyond, invariant, -area * rho_ref / impedance
    if not leaves:
        # Never faster than sound in the bore: w <= a0 sqrt(2/(gamma+1)).
        sonic = sqrt(2.0 / (gamma + 1.0) * gamma * p_ref / rho_ref)
        lo, hi, unit = invariant, min(p_ref, invariant + impedance * sonic), -unit
    scale = TOLERANCE * flow_scale(area, throat, rho_ref, hi - lo, impedance)
    x = guess if lo < guess < hi else 0.5 * (lo + hi)
    f = excess(leaves, state, x)
    slope = unit * (slope_ratio if slope_ratio > 0.0 else FIRST_SLOPE_RATIO)
    for _ in range(MOST_SECANTS):
        y = x - f / slope
        if abs(f) <= CLOSE * scale:  # the next secant would be right to TOLERANCE
            return min(max(y, lo), hi), slope / unit
        if not lo < y < hi:
            break
        g = excess(leaves, state, y)
        slope = (g - f) / (y - x)
        x, f = y, g

    f_lo, f_hi = excess(leaves, state, lo), excess(leaves, state, hi)
    if (f_lo if leaves else f_hi) <= 0.0:  # the throat is as wide as the bore: it no longer restricts
        return lo if leaves else hi, 0.0
    x = 0.5 * (lo + hi)
    side = 0
    for _ in range(60):
        f = excess(leaves, state, x)
        if abs(f) <= scale or hi - lo <= 1e-13 * hi:
            break
        lo, f_lo, hi, f_hi, x, side = next_guess(lo, f_lo, hi, f_hi, x, f, side)
    return x, 0.0

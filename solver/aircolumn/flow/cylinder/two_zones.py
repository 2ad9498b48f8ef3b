"""The charge while it burns: gas that has burned and gas that has not, at one pressure.

Of the mass m of a cylinder the share x has burned (its Wiebe law). Volume and energy are known; p and the
temperature Tb of the burned gas follow from

    V = (m - m x) Ru Tu/p + m x Rb Tb/p,    U = (m - m x) eu(Tu) + m x eb(Tb)

The unburned gas is compressed without loss from where the burn begins, dTu/Tu = (Ru/cpu) dp/p: all heat to
the walls is taken from the burned gas, which meets them at the higher temperature. Burned gas is mixed, and
in chemical equilibrium at its own temperature and density (Heywood 1988, section 9.2.2, without his
boundary layer). With one zone instead the burned gas is as cool as the mean of both and dissociates too
little while it burns: 0.3 % too much work (tests/flow/test_two_zones.py, against Cantera).
"""

from math import exp, log

from aircolumn.flow.compiled.decorators import inlined
from aircolumn.flow.gas.kernels import (
    cv_at_most,
    cv_coefficients,
    cv_from,
    energy_at_most,
    energy_from,
    gas_constant,
)
from aircolumn.flow.gas.products import beyond_frozen

LEAST = 1e-4  # share burned, from which there are two zones
PASSES = 4
COLDEST, HOTTEST = 250.0, 4500.0  # K, of burned gas


@inlined
def in_equilibrium(c, products, yb, e, log_density, guess):
    """Temperature (K) of gas of energy ``e`` (J/kg) whose burned share is in equilibrium, and the
    gas constant (J/(kg K)) that adds. Newton from a temperature close by (the last one): two steps,
    more where burning is sudden."""
    t, r, step = guess, 0.0, 0.0
    for k in range(6):
        held, slope, r = beyond_frozen(products, t, log_density)
        step = (energy_at_most(c, t) + yb * held - e) / (cv_at_most(c, t) + yb * slope)
        t -= step
        if k > 0 and abs(step) < 0.1:  # what is left is of its square
            break
    return t, yb * r


@inlined
def two_zones(gas, products, unburned, last, contents, volume, share, p):
    """(pressure Pa, temperature of the unburned gas K, of the burned gas K).

    ``unburned``: its fuel and burned shares; ``last``: pressure and temperature of the unburned gas before,
    and temperature of the burned gas; ``contents``: mass kg, energy J, fuel and burned gas kg of both;
    volume m3; share: of the mass that has burned; p: a pressure close by.
    """
    yf, yb = unburned
    p0, t0, tb = last
    mass, energy = contents[0], contents[1]
    burned, fresh = mass * share, mass * (1.0 - share)
    fuel = min(max((contents[2] - fresh * yf) / burned, 0.0), 1.0)
    spent = min(max((contents[3] - fresh * yb) / burned, 0.0), 1.0 - fuel)  # the rest is air left over
    cu, ru = cv_coefficients(gas, yf, yb), gas_constant(gas, yf, yb)
    cb, rb = cv_coefficients(gas, fuel, spent), gas_constant(gas, fuel, spent)
    power = ru / (ru + cv_from(cu, t0))
    tu = t0
    for _ in range(PASSES):
        tu = t0 * exp(power * log(p / p0))
        e = (energy - fresh * energy_from(cu, tu)) / burned
        tb, more = in_equilibrium(cb, products, spent, e, log(p / (rb * tb)), tb)
        tb = min(max(tb, COLDEST), HOTTEST)
        found = (fresh * ru * tu + burned * (rb + more) * tb) / volume
        change = found - p
        p = found
        if abs(change) < 1e-7 * p:
            break
    return p, tu, tb

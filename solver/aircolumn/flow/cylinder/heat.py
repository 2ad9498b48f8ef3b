"""Gas-to-wall heat transfer in the cylinder: three published laws (constants from memory unless
said otherwise).

Woschni (SAE 670931, as in Heywood 1988, eqs. 12.19 and 12.20):

    h = 3.26 B^-0.2 p^0.8 T^-0.53 w^0.8      W/(m2 K), p in kPa, B in m, T in K, w in m/s
    w = C1 Sp + C2 (Vd Tr / (pr Vr)) (p - pm)

C1 = 6.18 during gas exchange, 2.28 otherwise; C2 = 3.24e-3 m/(s K) from start of burn to EVO, else
0. Constant and exponent are one pair: 110 kcal/(m2 h K) with p in kgf/cm2, as first published, is
3.26 in kPa, and goes with T^-0.53. With air's properties at 300 and 600 K Nu = 0.035 Re^0.8, from
which it comes, gives as much within 3.1 % (tests/flow/test_cylinder.py); 3.26 with T^-0.55, as the
exponents of conductivity and viscosity alone would have it (0.75 - 1.62 x 0.8), lies 10 to 11 %
below. The laws differ by more than that (notebooks/guide/level.md).
r: state at IVC; pm: motored pressure, polytropic from there with exponent MOTORED.

Annand (Proc. IMechE 177, 1963; Heywood section 12.4.3), spark ignition:

    h = 0.49 k/B Re^0.7 + 0.075 sigma (T^2 + Tw^2)(T + Tw) while burning,   Re = rho Sp B / mu

0.49 lies in Annand's range of 0.35 to 0.8 (higher with intenser motion); 0.075 is his radiation
share for spark ignition; k from Prandtl number 0.7 and cp of the gas; Tw: mean wall temperature.

Hohenberg (SAE 790825):

    h = 130 V^-0.06 p^0.8 T^-0.4 (Sp + 1.4)^0.8     p in bar, V in m3
"""

from math import exp, log

from aircolumn.flow.compiled.decorators import inlined
from aircolumn.flow.gas.kernels import viscosity

MOTORED = 1.32
NONE, WOSCHNI, ANNAND, HOHENBERG = 0, 1, 2, 3
LAWS = {"adiabatic": NONE, "woschni": WOSCHNI, "annand": ANNAND, "hohenberg": HOHENBERG}
STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4)
PRANDTL = 0.7


@inlined
def woschni(bore, p, temperature, piston_speed, exchange, burning, swept, reference, volume):
    """Heat-transfer coefficient, W/(m2 K). ``reference``: (p, T, V) at IVC."""
    p_r, t_r, v_r = reference
    w = (6.18 if exchange else 2.28) * piston_speed
    if burning:
        motored = p_r * (v_r / volume) ** MOTORED
        w += 3.24e-3 * swept * t_r / (p_r * v_r) * max(p - motored, 0.0)
    # The powers as one exponential: a third of the time of four powers.
    return 3.26 * exp(0.8 * log(1e-3 * p * w) - 0.53 * log(temperature) - 0.2 * log(bore))


@inlined
def annand(bore, rho, cp, temperature, piston_speed, burning, wall):
    """Heat-transfer coefficient, W/(m2 K), radiation included. ``wall``: mean temperature, K."""
    mu = viscosity(temperature)
    conductivity = mu * cp / PRANDTL
    h = 0.49 * conductivity / bore * (rho * piston_speed * bore / mu) ** 0.7
    if burning:
        total = (temperature * temperature + wall * wall) * (temperature + wall)
        h += 0.075 * STEFAN_BOLTZMANN * total
    return h


@inlined
def hohenberg(volume, p, temperature, piston_speed):
    """Heat-transfer coefficient, W/(m2 K)."""
    motion = (piston_speed + 1.4) ** 0.8
    return 130.0 * volume**-0.06 * (1e-5 * p) ** 0.8 * temperature**-0.4 * motion


@inlined
def film(law, crank, gas, reference, wall, exchange, burning):
    """Heat-transfer coefficient by one of LAWS, W/(m2 K). crank: bore m, mean piston speed m/s, swept volume
    m3; gas: pressure Pa, temperature K, density kg/m3, ratio of heat capacities, volume m3; reference: of
    :func:`woschni`; wall: mean temperature, K."""
    bore, speed, swept = crank
    p, t, rho, gamma, volume = gas
    if law == NONE:
        return 0.0
    if law == ANNAND:
        cp = gamma / (gamma - 1.0) * p / (rho * t)
        return annand(bore, rho, cp, t, speed, burning, wall)
    if law == HOHENBERG:
        return hohenberg(volume, p, t, speed)
    return woschni(bore, p, t, speed, exchange, burning, swept, reference, volume)

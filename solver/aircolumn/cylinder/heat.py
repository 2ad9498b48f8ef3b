"""Gas-to-wall heat transfer in the cylinder.

Woschni (SAE 670931, constants as in Heywood 1988, eqs. 12.19 and 12.20, from memory):

    h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8      W/(m2 K), p in kPa, B in m, T in K, w in m/s
    w = C1 Sp + C2 (Vd Tr / (pr Vr)) (p - pm)

C1 = 6.18 during gas exchange, 2.28 otherwise; C2 = 3.24e-3 m/(s K) from start of burn to EVO, else
0. r: state at IVC; pm: motored pressure, polytropic from there with exponent MOTORED.
"""

from aircolumn.compiled import small

MOTORED = 1.32
NONE, WOSCHNI = 0, 1


@small
def woschni(bore, p, temperature, piston_speed, exchange, burning, swept, reference, volume):
    """Heat-transfer coefficient, W/(m2 K). ``reference``: (p, T, V) at IVC."""
    p_r, t_r, v_r = reference
    w = (6.18 if exchange else 2.28) * piston_speed
    if burning:
        motored = p_r * (v_r / volume) ** MOTORED
        w += 3.24e-3 * swept * t_r / (p_r * v_r) * max(p - motored, 0.0)
    return 3.26 * bore**-0.2 * (1e-3 * p) ** 0.8 * temperature**-0.55 * w**0.8

"""Combustion as a conversion of fuel and air into burned gas along a Wiebe law.

    x = 1 - exp(-c ((th - th0)/D)^(m+1))      (Heywood 1988, section 9.2.2)

given by the angle of half burn (CA50), the 10 to 90 % duration and the form factor m. c is chosen
so that 99.9 % is burned at th0 + D; the table is then scaled to end at exactly 1.

Cycles do not burn alike. A closed cylinder's pressure is linear in the heat released before (first law with
constant heat capacities), so the mean pressure, and the work, of many cycles is that of their mean burned
share: the law averaged over a normal distribution of its angle.

D grows with speed and in mixtures that burn slowly:

    D = D_ref (Sp/Sp_ref)^a (S_L(phi)/S_L(phi_ref))^-b,    S_L = Bm + Bphi (phi - phim)^2

a 0.3: burning takes 1.6 times the crank angle at four times the speed (Heywood 1988, section 9.3), as
turbulence grows with the mean piston speed Sp, but not quite as much. S_L: laminar burning velocity at 1 atm
and 298 K, Metghalchi & Keck 1982 (Combust. Flame 48) and, for gasoline, Rhodes & Keck 1985 (SAE 850047), as
in Heywood's table 9.3; b 1/2: the turbulent flame moves with the square root of it (Damkoehler's small
scales). All from memory.
"""

from math import log
from typing import Any

import numpy as np

COMPLETENESS = 0.999
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(9)  # of a normal distribution
WEIGHTS = WEIGHTS / WEIGHTS.sum()
LEAD = float(NODES.max())  # standard deviations before the mean start of burn
USUAL_PISTON_SPEED = 9.0  # m/s, to which a duration belongs unless its speed is stated
USUAL_LAMBDA = 0.9
#: Fuel: equivalence ratio at which it burns fastest, burning velocity there and curvature, m/s.
VELOCITIES = {
    "gasoline": (1.21, 0.305, -0.549),
    "propane": (1.08, 0.342, -1.387),
    "methanol": (1.11, 0.369, -1.405),
}
SLOWEST = 0.2  # of the highest: the parabola holds about its top


def wiebe_timing(ca50: float, duration_10_90: float, form: float) -> tuple[float, float]:
    """Start of burn and total duration, degrees, from CA50 and the 10 to 90 % duration."""
    c = -log(1.0 - COMPLETENESS)

    def reach(x: Any) -> Any:  # (th - th0)/D at burned share x of the scaled law
        return (-log(1.0 - x * COMPLETENESS) / c) ** (1.0 / (form + 1.0))

    total = duration_10_90 / (reach(0.9) - reach(0.1))
    return ca50 - total * reach(0.5), total


def wiebe_share(angle: np.ndarray, start: float, total: float, form: float) -> np.ndarray:
    """Burned share 0 to 1 at ``angle`` (degrees, array)."""
    c = -log(1.0 - COMPLETENESS)
    z = np.clip((np.asarray(angle, dtype=float) - start) / total, 0.0, 1.0)
    return (1.0 - np.exp(-c * z ** (form + 1.0))) / COMPLETENESS


def scattered_share(angle: np.ndarray, total: float, form: float, scatter: float) -> np.ndarray:
    """Burned share of the mean of many cycles at ``angle`` (degrees, array), counted from LEAD standard
    deviations ``scatter`` (degrees) before the mean start of burn."""
    late = (LEAD + NODES) * scatter
    return np.sum([w * wiebe_share(angle, s, total, form) for w, s in zip(WEIGHTS, late, strict=True)], 0)


def slowness(fuel: str, relative_air: float) -> float:
    """Burning velocity at USUAL_LAMBDA over that at ``relative_air`` (lambda); 1 for a fuel without
    figures."""
    if fuel not in VELOCITIES:
        return 1.0
    richest, best, bend = VELOCITIES[fuel]

    def velocity(ratio: float) -> float:
        return max(best + bend * (1.0 / ratio - richest) ** 2, SLOWEST * best)

    return velocity(USUAL_LAMBDA) / velocity(relative_air)

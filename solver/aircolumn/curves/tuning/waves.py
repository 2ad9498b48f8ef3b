"""Pressure and velocity at a place split into the waves that run forward (+x) and backward.

In isentropic flow two simple waves superpose in X = (p/p0)^((gamma-1)/(2 gamma)) (Benson, vol. 1;
Landau & Lifshitz section 104):

    X = Xf + Xb - 1,   u = 2 a0/(gamma - 1) (Xf - Xb),
    Xf, Xb = (X + 1 +- (gamma-1) u / (2 a0)) / 2

with a0 = a/X, the sound speed the gas would have at p0. Each wave's pressure is p0 Xf^(2 gamma/
(gamma-1)). The split adds up to the pressure exactly at any amplitude, and is that of acoustics
(p' = (p' +- rho a u)/2) for small ones. A steady flow counts as a pair of waves of opposite sign;
changes of entropy and friction between two places make waves exchange strength, as they really do.
"""

from typing import Any

import numpy as np


def wave_split(p: Any, u: Any, a: Any, gamma: Any, reference: float) -> tuple[Any, Any]:
    """Split pressure and velocity into the waves that run forward and backward, by the Riemann variables
    (Benson, vol. 1): X = (p/p0)^((gamma-1)/(2 gamma)) = Xf + Xb - 1, so that pressures of strong waves do
    not simply add.

    Parameters
    ----------
    p, u, a : array_like
        Pressure Pa, velocity and sound speed m/s.
    gamma : array_like
        Ratio of heat capacities.
    reference : float
        Pressure p0 of the gas at rest, Pa.

    Returns
    -------
    (forward, backward) : ndarray
        Pressures of the two waves, Pa.

    Examples
    --------
    >>> forward, backward = wave_split(1.1e5, 23.5, 340.0, 1.4, 1.0e5)  # nearly one wave alone
    >>> round(float(forward)), round(float(backward))
    (110116, 99894)
    """
    power = (gamma - 1.0) / (2.0 * gamma)
    x = (np.asarray(p) / reference) ** power
    swing = 0.5 * (gamma - 1.0) * np.asarray(u) * x / np.asarray(a)
    forward, backward = 0.5 * (x + 1.0 + swing), 0.5 * (x + 1.0 - swing)
    return reference * forward ** (1.0 / power), reference * backward ** (1.0 / power)


def together(forward: float, backward: float, gamma: float, reference: float) -> float:
    """Pressure, Pa, of the two waves together."""
    power = (gamma - 1.0) / (2.0 * gamma)
    x = (forward / reference) ** power + (backward / reference) ** power - 1.0
    return reference * x ** (1.0 / power)

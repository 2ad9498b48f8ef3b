"""Quasi-steady isentropic flow through a throat (Shapiro vol. 1, ch. 4; Heywood app. C).

    m / A = p0 / sqrt(R T0) * sqrt( 2 g/(g-1) ( r^(2/g) - r^((g+1)/g) ) ),   r = p_throat / p0

choked at r = (2/(g+1))^(g/(g-1)). g is taken at the stagnation state and held.
"""

from math import sqrt

from aircolumn.flow.compiled.decorators import inlined

ALWAYS_SUBSONIC = 0.61  # above the choking ratio of any gas (0.607 at gamma 1): a power saved


@inlined
def choking_ratio(gamma):
    """Throat to stagnation pressure at which the flow is sonic."""
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


@inlined
def mass_flux(p0, rho0, gamma, p_throat):
    """Mass flow per effective throat area, kg/(m2 s), for p_throat <= p0."""
    r = min(p_throat / p0, 1.0)
    if r < ALWAYS_SUBSONIC:
        r = max(r, choking_ratio(gamma))
    root = r ** (1.0 / gamma)  # density ratio
    return sqrt(2.0 * gamma / (gamma - 1.0) * p0 * rho0 * root * max(root - r, 0.0))

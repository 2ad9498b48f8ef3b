"""Wall friction and wall heat transfer of turbulent and laminar duct flow.

Friction: tau_w = f rho u |u| / 2 with the Fanning factor f; momentum loses 2 f u |u| / D per unit
mass. Laminar f = 16/Re; turbulent from Haaland, J. Fluids Eng. 105 (1983):

    1/sqrt(4 f) = -1.8 log10[ (k/(3.7 D))^1.11 + 6.9/Re ]

blended between Re 2000 and 4000, linearly in 1/Re. Heat: Reynolds-Colburn analogy St Pr^(2/3) = f/2
(Colburn 1933), Pr = 0.71, so q per volume = (2 f/D) Pr^(-2/3) rho |u| cp (T_w - T).
Both are steady correlations applied at each instant. Pulsating flow exceeds the second: a fit of
measurements surveyed in the literature gives Nu = 0.07 Re^0.75 for intake and exhaust (Depcik &
Assanis, SAE 2002-01-0372; abstract), 1.85 to 2.1 times Colburn at Re 2e5 to 2e4, so the pipes of an
engine file take twice Colburn unless they say otherwise (heat_factor).
"""

from aircolumn.flow.compiled.decorators import inlined
from aircolumn.flow.compiled.vector_math import log2

COLBURN = 0.71 ** (-2.0 / 3.0)


def rough_term(relative_roughness):
    """The roughness part of Haaland's formula, (k/(3.7 D))^1.11 (number or array)."""
    return (relative_roughness / 3.7) ** 1.11


@inlined
def fanning(inverse_reynolds, roughness_term):
    """Fanning friction factor from 1/Re; ``roughness_term`` from :func:`rough_term`."""
    inverse = min(inverse_reynolds, 0.1)
    root = 0.541854 * log2(roughness_term + min(6.9 * inverse, 0.069))  # 1.8 log10(2)
    turbulent = 0.25 / (root * root)
    laminar = 16.0 * inverse
    share = min(max(2.0 - 4000.0 * inverse, 0.0), 1.0)
    return laminar + share * (turbulent - laminar)


@inlined
def heating_rate(rho, u, a2, gamma, film, wall_a2, braking):
    """(gamma - 1)(q + rho u phi), Pa/s: wall heat and what friction turns into heat.

    With the Colburn analogy and (gamma - 1) cp = gamma R the first part is
    film |u| rho (gamma R T_w - a^2); wall_a2 = gamma R T_w; braking = phi, m/s2.
    """
    return rho * (abs(u) * film * (wall_a2 - a2) + (gamma - 1.0) * u * braking)

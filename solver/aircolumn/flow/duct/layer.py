"""Damping of waves by the boundary layer they make: unsteady friction.

Steady friction (walls.py) knows nothing of the thin layer that swings with a wave at the wall; in a
runner whose valve is shut it is that layer which lets the ringing die. While it is thin against the
bore, shear on a wall under the speed u(t) is (Stokes; the early part of Zielke's weighting function
for laminar flow, J. Basic Eng. 90, 1968)

    tau = rho sqrt(nu) D^(1/2) u,    D^(1/2) u = 1/sqrt(pi) int u'(s) / sqrt(t - s) ds

and momentum loses phi = (4/D) sqrt(nu) D^(1/2) u per unit mass. The temperature of the gas swings
with its pressure and loses heat through a layer of its own; in a travelling and in a standing wave
that damps in the ratio (gamma - 1)/sqrt(Pr) to the shear (Kirchhoff 1868), so it is counted as so
much more shear. Turbulence shortens the memory of the layer (Vardy & Brown, J. Sound Vib. 259,
2003), which is left out: there steady friction damps far more.

The half derivative is taken as four fading memories (Trikha, J. Fluids Eng. 97, 1975, with three),

    D^(1/2) u = sum m_i y_i,    y_i' = u' - y_i r_i

with m and r fitted so that the damping is right within 2 % from 20 to 1200 Hz.
"""

from math import exp, sqrt

import numpy as np

from aircolumn.flow.compiled.decorators import inlined, kernel
from aircolumn.flow.gas.kernels import SUTHERLAND, viscosity_numerator

RATES = (41.083, 388.96, 2176.7, 21510.0)  # 1/s
WEIGHTS = (7.6887, 11.035, 26.039, 178.39)  # 1/sqrt(s)
HEAT = 0.4 / np.sqrt(0.71)  # (gamma - 1)/sqrt(Pr)
MEMORIES = len(RATES)


@inlined
def fading(rate, dt):
    """What a step leaves of a memory, and how much it adds for a steady change of speed."""
    left = exp(-rate * dt)
    return left, (1.0 - left) / (rate * dt)


@kernel
def swing(mesh, middles, layer, braking, dt, last):
    """Friction of the layer, m/s2, in the middle of the step to come, into ``braking``.

    layer: speed a step of length ``dt`` before and the memories, per place; they move on.
    """
    d0, g0 = fading(RATES[0], dt)
    d1, g1 = fading(RATES[1], dt)
    d2, g2 = fading(RATES[2], dt)
    d3, g3 = fading(RATES[3], dt)
    # Half a step on, at the same acceleration.
    h0, k0 = fading(RATES[0], 0.5 * dt)
    h1, k1 = fading(RATES[1], 0.5 * dt)
    h2, k2 = fading(RATES[2], 0.5 * dt)
    h3, k3 = fading(RATES[3], 0.5 * dt)
    w0, w1, w2, w3 = WEIGHTS[0] * h0, WEIGHTS[1] * h1, WEIGHTS[2] * h2, WEIGHTS[3] * h3
    w4 = 0.5 * (WEIGHTS[0] * k0 + WEIGHTS[1] * k1 + WEIGHTS[2] * k2 + WEIGHTS[3] * k3)
    for j in range(1, last):
        t = middles.temperature[j]
        more = middles.u[j] - layer[0, j]
        y0 = layer[1, j] * d0 + more * g0
        y1 = layer[2, j] * d1 + more * g1
        y2 = layer[3, j] * d2 + more * g2
        y3 = layer[4, j] * d3 + more * g3
        layer[0, j] = middles.u[j]
        layer[1, j], layer[2, j], layer[3, j], layer[4, j] = y0, y1, y2, y3
        nu = viscosity_numerator(t) / ((t + SUTHERLAND) * middles.rho[j])
        rate = 4.0 * (1.0 + HEAT) * mesh.friction[j] * mesh.per_diameter[j] * sqrt(nu)
        braking[j] = rate * (w0 * y0 + w1 * y1 + w2 * y2 + w3 * y3 + w4 * more)

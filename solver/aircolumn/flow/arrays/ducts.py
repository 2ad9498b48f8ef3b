"""The arrays in which all ducts of a network lie one behind the other.

A duct of n cells takes n + 2 places (a duct with sudden changes of bore lies there as several, one
a reach). Node j stands between cell j - 1 and cell j; the place after a duct's last node is
padding, so that every duct has a ghost cell at each end:

    place   j0-1   j0    j0+1   ...   j0+n-1   j0+n
    node           x     x            x        x          (n + 1 nodes)
    cell    ghost  o     o            o        ghost      (n cells)

One loop then serves the whole network, whatever it consists of.
"""

from collections import namedtuple
from typing import Any

import numpy as np

VECTOR = 8  # numbers a processor works on at once, or a multiple

#: Geometry and wall, per place. dx: cell length, m (also in ghosts). area, area_mid: flow area at
#: the node and at the cell's middle, m2. volume: mean area of the cell by Simpson's rule, m2.
#: slope_l, slope_m, slope_r: dF/dx at the cell's left, middle, right, m. taper_l, taper_r:
#: d ln F/dx there, 1/m. diameter: hydraulic, of the cell, m. rough: roughness term of Haaland's
#: formula. wall: wall temperature, K. bend: loss coefficient per length, 1/m. friction, heat:
#: multipliers of wall friction and heat transfer (1; 0 when off). inside: 1 in real cells, 0 in
#: ghosts. coarse: 1 in cells too long for their taper, which are always treated as steep, else 0.
#: per_reach: reciprocal of the length that limits the time step, 1/m (0 in ghosts); that is shorter
#: than dx where a coarse cell holds less than its faces pass. per_*: reciprocals (division is what
#: the kernels would spend their time on): 1/dx, 1/volume, 1/(4 area_mid), 1/diameter. even_l,
#: even_r: weights of the neighbours in second differences, 1 between equal cells.
Mesh = namedtuple(
    "Mesh",
    "dx area area_mid volume slope_l slope_m slope_r taper_l taper_r "
    "diameter rough wall bend friction heat inside coarse per_reach "
    "per_dx per_volume per_mid per_diameter even_l even_r",
)

#: Node states (old, half, new): density kg/m3, velocity m/s, pressure Pa, sound speed m/s, gamma,
#: mass fraction of fuel vapour and of burned gas, sensible internal energy J/kg.
Nodes = namedtuple("Nodes", "rho u p a gamma yf yb e")

#: Slopes u + a, u - a and u at the feet of the half step, m/s.
Feet = namedtuple("Feet", "fast slow drift")

#: Cell contents per length: mass, momentum, energy, fuel-vapour mass, burned mass (SI, per m).
Cells = namedtuple("Cells", "mass momentum energy fuel burned")

#: Coefficients q = q0 + q1 s + q2 s^2 (s from 0 at the left node to 1 at the right) of the
#: reconstruction in each cell; wall coefficients held over the step: drag = 2 f / D with bends,
#: 1/m, film: its part that carries heat, swing: friction of the layer, m/s2 (layer.py); and what
#: follows in the middle of the cell: braking = friction per mass, m/s2, heating = H of
#: characteristics.py, Pa/s.
Profile = namedtuple(
    "Profile",
    "r0 r1 r2 u0 u1 u2 p0 p1 p2 a0 a1 a2 g0 g1 g2 f0 f1 f2 b0 b1 b2 drag film swing braking heating",
)

#: States at the middle of each cell (its temperature is the next step's guess), the means the
#: limiter looks at, steepness: what it finds in each cell by itself, and steep, the most of that and
#: the cells beside it: 0 where the parabola is trusted, 1 where the limited line takes
#: its place.
Middle = namedtuple("Middle", "rho u p a gamma yf yb temperature density inner share steepness steep")

#: Time-mean flux through each node over the step (per second: mass, momentum, energy, fuel,
#: burned) and time-mean node pressure.
Fluxes = namedtuple("Fluxes", "mass momentum energy fuel burned pressure")


def block(kind: Any, places: int, value: float = 0.0) -> np.ndarray:
    """Array with one row for each field of the namedtuple ``kind``."""
    return np.full((len(kind._fields), places), value)


def rows(kind: type, values: np.ndarray) -> Any:
    """The rows of a block under their names (views)."""
    return kind(*values)

"""Entry losses and acoustic end corrections of duct mouths.

Entry-loss coefficients on the dynamic head in the bore D (Idelchik, Handbook of Hydraulic
Resistance, diagrams 3-1 and 3-4; the tables as quoted in the Modelica Standard Library):

plain      pipe standing in the open, by the thickness t of its wall (PLAIN); from t/D 0.05 on, and
           flush with a wall ("flanged"), 0.5
bellmouth  rounded with radius r, in a wall: 0.03 + 0.47 * 10^(-7.7 r / D), which meets the table
           within 0.016; standing free, as a stack does, by r/D (FREE)

End corrections as length to add, in bore radii: plain 0.6133 (Levine & Schwinger, Phys. Rev. 73,
1948, low-frequency limit); flanged 0.8216 (Norris & Sheng, J. Sound Vib. 135, 1989, from memory).
A bellmouth takes that of its surroundings: flanged in a wall, plain in the open, as the flare is
part of the outer field (common practice, no source for a flare).
"""

from math import inf, sqrt
from typing import Any

import numpy as np

from aircolumn.errors import no_such

END_CORRECTION = {"plain": 0.6133, "flanged": 0.8216, "bellmouth": 0.8216}
#: Wall thickness over bore, loss.
PLAIN = (0.0, 0.008, 0.016, 0.024, 0.04, 0.05), (1.0, 0.88, 0.77, 0.68, 0.54, 0.5)
#: Radius over bore, loss.
FREE = (0.0, 0.01, 0.03, 0.05, 0.08, 0.16, 0.20), (1.0, 0.87, 0.61, 0.40, 0.20, 0.06, 0.03)


def entry_loss(
    shape: str, bore: float, *, radius: Any = 0.0, thickness: Any = 0.0, free: Any = False
) -> float:
    """Loss coefficient of inflow.

    Parameters
    ----------
    shape : {"plain", "flanged", "bellmouth"}
    bore, radius, thickness : float
        m; radius of a bellmouth, thickness of a plain pipe's wall.
    free : bool
        Of a bellmouth: it stands free, no wall around it.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        For another shape.

    Examples
    --------
    >>> entry_loss("plain", 0.040, thickness=0.0016)
    0.54
    """
    if shape == "plain":
        return float(np.interp(thickness / bore, *PLAIN))
    if shape == "flanged":
        return 0.5
    if shape == "bellmouth" and free:
        return float(np.interp(radius / bore, *FREE))
    if shape == "bellmouth":
        return 0.03 + 0.47 * 10.0 ** (-7.7 * radius / bore)
    raise ValueError(f"unknown mouth shape {shape!r}")


def area_of_loss(flow: float, density: float, pressure_drop: float) -> float:
    """Effective area, m2, of a throat that loses ``pressure_drop`` (Pa) at the mass flow ``flow``
    (kg/s), incompressible: A = m / sqrt(2 rho dp)."""
    return flow / sqrt(2.0 * density * pressure_drop)


def end_correction(shape: str, bore: float, free: bool = False) -> float:
    """Length to add for the air that moves with the column outside the mouth.

    Parameters
    ----------
    shape : {"plain", "flanged", "bellmouth"}
    bore : float
        m.
    free : bool
        Of a bellmouth: it stands free.

    Returns
    -------
    float
        m.

    Raises
    ------
    ValueError
        For another shape, or a bore that is not above 0.

    Examples
    --------
    >>> round(1e3 * end_correction("plain", 0.040), 2)  # 0.6133 radii (Levine & Schwinger 1948)
    12.27
    """
    if shape not in END_CORRECTION:
        raise ValueError(no_such("shape of mouth", str(shape), END_CORRECTION))
    if not 0.0 < bore < inf:
        raise ValueError(f"a bore of {bore} m: a finite number above 0 is expected")
    return END_CORRECTION["plain" if free else shape] * 0.5 * bore

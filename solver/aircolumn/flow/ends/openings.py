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

A plate with a round hole of radius a = x R across a mouth of radius R moves air on both its sides (thin
plate; low frequency; from memory): inside (pi/4) a (1 - 1.4092 x + 0.33818 x^3 + 0.06793 x^5 - 0.02287 x^6
+ 0.03015 x^7 - 0.01641 x^8), Fok's function as in Ingard, J. Acoust. Soc. Am. 25, 1953 (it is within 0.1 %
of a sum over modes for x up to 0.4, and below its upper bound throughout); outside a (0.8216 - 0.2083 x +
0.057 x (1 - x^5)), a flange as wide as the plate (Dalmont, Nederveen & Joly, J. Sound Vib. 244, 2001),
0.8216 a in a wall. In lengths of the whole bore both count (R/a)^2 times.
"""

from math import inf, pi, sqrt
from typing import Any

import numpy as np

from aircolumn.errors import no_such

END_CORRECTION = {"plain": 0.6133, "flanged": 0.8216, "bellmouth": 0.8216}
FOK = 1.0, -1.4092, 0.0, 0.33818, 0.0, 0.06793, -0.02287, 0.03015, -0.01641  # powers of x
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


def end_correction(shape: str, bore: float, free: bool = False, open_share: float = 1.0) -> float:
    """Length to add for the air that moves with the column outside the mouth.

    Parameters
    ----------
    shape : {"plain", "flanged", "bellmouth"}
    bore : float
        m.
    free : bool
        Of a bellmouth: it stands free.
    open_share : float
        What a plate with a round hole leaves open of the bore's area, above 0 to 1.

    Returns
    -------
    float
        m, of a pipe of this bore.

    Raises
    ------
    ValueError
        For another shape, a bore that is not above 0, or a share that is not above 0 to 1.

    Examples
    --------
    >>> round(1e3 * end_correction("plain", 0.040), 2)  # 0.6133 radii (Levine & Schwinger 1948)
    12.27
    """
    if shape not in END_CORRECTION:
        raise ValueError(no_such("shape of mouth", str(shape), END_CORRECTION))
    if not 0.0 < bore < inf:
        raise ValueError(f"a bore of {bore} m: a finite number above 0 is expected")
    if not 0.0 < open_share <= 1.0:
        raise ValueError(f"an open share of {open_share}: above 0 to 1 is expected")
    radii = END_CORRECTION["plain" if free else shape]
    x = sqrt(open_share)
    if x < 1.0:
        flange = 0.057 * x * (1.0 - x**5) if radii == END_CORRECTION["plain"] else 0.0
        outside = END_CORRECTION["flanged"] + x * (radii - END_CORRECTION["flanged"]) + flange
        radii = (0.25 * pi * float(np.polynomial.polynomial.polyval(x, FOK)) + outside) / x
    return radii * 0.5 * bore

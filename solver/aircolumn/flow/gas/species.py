"""Thermodynamic data of the pure species: NASA seven-coefficient polynomials.

cp / R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4  below and above 1000 K
h / (R T) = a1 + a2 T/2 + a3 T^2/3 + a4 T^3/4 + a5 T^4/5 + a6/T
s / R = a1 ln T + a2 T + a3 T^2/2 + a4 T^3/3 + a5 T^4/4 + a7   at 1 atm

Source: the thermodynamic set of NASA (McBride, Gordon & Reno, NASA TM-4513, 1993) in the copies of
GRI-Mech 3.0 and, for the alcohols and propane, of Cantera's ``nasa_gas`` file; checked against both
in the tests.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from aircolumn.constants import ATMOSPHERE

GAS_CONSTANT = 8314.462618  # J/(kmol K), CODATA 2018
REFERENCE_TEMPERATURE = 298.15  # K, where heats of combustion are quoted
PRESSURE = ATMOSPHERE  # Pa, of the entropies


@dataclass(frozen=True)
class Species:
    """One pure species: molar mass (kg/kmol) and the two NASA coefficient rows."""

    molar_mass: float
    low: tuple[float, ...]
    high: tuple[float, ...]

    def molar_cp(self, temperature: np.ndarray) -> np.ndarray:
        """Molar heat capacity, J/(kmol K), at ``temperature`` (K, scalar or array)."""
        t = np.asarray(temperature, dtype=float)
        low = np.polynomial.polynomial.polyval(t, self.low[:5])
        high = np.polynomial.polynomial.polyval(t, self.high[:5])
        return GAS_CONSTANT * np.where(t <= 1000.0, low, high)

    def molar_enthalpy(self, temperature: Any) -> Any:
        """Molar enthalpy including formation, J/kmol, at ``temperature`` (K, scalar or
        array)."""
        t = np.asarray(temperature, dtype=float)
        low, high = (
            t * sum(row[k] * t**k / (k + 1) for k in range(5)) + row[5] for row in (self.low, self.high)
        )
        return GAS_CONSTANT * np.where(t <= 1000.0, low, high)

    def molar_entropy(self, temperature: np.ndarray) -> np.ndarray:
        """Molar entropy at PRESSURE, J/(kmol K), at ``temperature`` (K, scalar or array)."""
        t = np.asarray(temperature, dtype=float)
        low, high = (
            row[0] * np.log(t) + sum(row[k] * t**k / k for k in range(1, 5)) + row[6]
            for row in (self.low, self.high)
        )
        return GAS_CONSTANT * np.where(t <= 1000.0, low, high)


N2 = Species(
    28.0134,
    (3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12, -1020.8999, 3.950372),
    (2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15, -922.7977, 5.980528),
)
O2 = Species(
    31.9988,
    (3.78245636, -2.99673416e-3, 9.84730201e-6, -9.68129509e-9, 3.24372837e-12, -1063.94356, 3.65767573),
    (3.28253784, 1.48308754e-3, -7.57966669e-7, 2.09470555e-10, -2.16717794e-14, -1088.45772, 5.45323129),
)
AR = Species(39.948, (2.5, 0, 0, 0, 0, -745.375, 4.366), (2.5, 0, 0, 0, 0, -745.375, 4.366))
CO2 = Species(
    44.0095,
    (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697, 9.90105222),
    (3.85746029, 4.41437026e-3, -2.21481404e-6, 5.23490188e-10, -4.72084164e-14, -48759.166, 2.27163806),
)
H2O = Species(
    18.01528,
    (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267, -0.849032208),
    (3.03399249, 2.17691804e-3, -1.64072518e-7, -9.7041987e-11, 1.68200992e-14, -30004.2971, 4.9667701),
)
CO = Species(
    28.0101,
    (3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -14344.086, 3.50840928),
    (2.71518561, 2.06252743e-3, -9.98825771e-7, 2.30053008e-10, -2.03647716e-14, -14151.8724, 7.81868772),
)
H2 = Species(
    2.01588,
    (2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12, -917.935173, 0.683010238),
    (3.3372792, -4.94024731e-5, 4.99456778e-7, -1.79566394e-10, 2.00255376e-14, -950.158922, -3.20502331),
)
OH = Species(
    17.00734,
    (3.99201543, -2.40131752e-3, 4.61793841e-6, -3.88113333e-9, 1.3641147e-12, 3615.08056, -0.103925458),
    (3.09288767, 5.48429716e-4, 1.26505228e-7, -8.79461556e-11, 1.17412376e-14, 3858.657, 4.4766961),
)
O = Species(
    15.9994,
    (3.1682671, -3.27931884e-3, 6.64306396e-6, -6.12806624e-9, 2.11265971e-12, 29122.2592, 2.05193346),
    (2.56942078, -8.59741137e-5, 4.19484589e-8, -1.00177799e-11, 1.22833691e-15, 29217.5791, 4.78433864),
)
H = Species(
    1.00794,
    (2.5, 0, 0, 0, 0, 25473.6599, -0.446682853),
    (2.5, 0, 0, 0, 0, 25473.6599, -0.446682914),
)
NO = Species(
    30.0061,
    (4.2184763, -4.638976e-3, 1.1041022e-5, -9.3361354e-9, 2.803577e-12, 9844.623, 2.2808464),
    (3.2606056, 1.1911043e-3, -4.2917048e-7, 6.9457669e-11, -4.0336099e-15, 9920.9746, 6.3693027),
)
CH4 = Species(
    16.0425,
    (5.14987613, -1.36709788e-2, 4.91800599e-5, -4.84743026e-8, 1.66693956e-11, -10246.6476, -4.64130376),
    (7.4851495e-2, 1.33909467e-2, -5.73285809e-6, 1.22292535e-9, -1.0181523e-13, -9468.34459, 18.437318),
)
C2H5OH = Species(
    46.06844,
    (4.85868178, -3.7400674e-3, 6.95550267e-5, -8.86541147e-8, 3.5168443e-11, -29996.1309, 4.80192294),
    (6.5628977, 1.52034264e-2, -5.38922247e-6, 8.62150224e-10, -5.12824683e-14, -31525.7984, -9.47557644),
)
CH3OH = Species(
    32.04186,
    (5.71539582, -1.52309129e-2, 6.52441155e-5, -7.10806889e-8, 2.61352698e-11, -25642.7656, -1.50409823),
    (3.60134486, 1.02430954e-2, -3.59985517e-6, 5.72505986e-10, -3.3911764e-14, -25997.191, 4.70512253),
)
C3H8 = Species(
    44.09562,
    (4.2110262, 1.71599803e-3, 7.06183472e-5, -9.19594116e-8, 3.64421372e-11, -14381.2106, 5.60930491),
    (6.66789363, 2.06120214e-2, -7.36553027e-6, 1.18440761e-9, -7.0695321e-14, -16274.8521, -13.1859503),
)

DRY_AIR = {N2: 0.78084, O2: 0.20946, AR: 0.00970}  # mole fractions; CO2 counted as argon

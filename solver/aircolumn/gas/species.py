"""Thermodynamic data of the pure species: NASA seven-coefficient polynomials.

cp / R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4  below and above 1000 K
h / (R T) = a1 + a2 T/2 + a3 T^2/3 + a4 T^3/4 + a5 T^4/5 + a6/T

Source: coefficients of the NASA/GRI-Mech 3.0 thermodynamic set (McBride, Gordon & Reno, NASA
TM-4513, 1993, as used there), entered from memory and checked against Cantera's copy of the set
in ``validation/``. Gasoline vapour: Heywood, Internal Combustion Engine Fundamentals (1988),
table 4.10, C8.26 H15.5, from memory.
"""

from dataclasses import dataclass

import numpy as np

GAS_CONSTANT = 8314.462618  # J/(kmol K), CODATA 2018
REFERENCE_TEMPERATURE = 298.15  # K, where heats of combustion are quoted
_CALORIE = 4184.0  # J/kcal


@dataclass(frozen=True)
class Species:
    """One pure species: molar mass (kg/kmol) and the two NASA coefficient rows."""

    molar_mass: float
    low: tuple[float, ...]
    high: tuple[float, ...]

    def molar_cp(self, temperature):
        """Molar heat capacity, J/(kmol K), at ``temperature`` (K, scalar or array)."""
        t = np.asarray(temperature, dtype=float)
        low = np.polynomial.polynomial.polyval(t, self.low[:5])
        high = np.polynomial.polynomial.polyval(t, self.high[:5])
        return GAS_CONSTANT * np.where(t <= 1000.0, low, high)

    def molar_enthalpy(self, temperature: float) -> float:
        """Molar enthalpy including formation, J/kmol, at ``temperature`` (K)."""
        row = self.low if temperature <= 1000.0 else self.high
        terms = sum(row[k] * temperature**k / (k + 1) for k in range(5))
        return GAS_CONSTANT * (temperature * terms + row[5])


N2 = Species(
    28.0134,
    (3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12, -1020.8999),
    (2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15, -922.7977),
)
O2 = Species(
    31.9988,
    (3.78245636, -2.99673416e-3, 9.84730201e-6, -9.68129509e-9, 3.24372837e-12, -1063.94356),
    (3.28253784, 1.48308754e-3, -7.57966669e-7, 2.09470555e-10, -2.16717794e-14, -1088.45772),
)
AR = Species(39.948, (2.5, 0.0, 0.0, 0.0, 0.0, -745.375), (2.5, 0.0, 0.0, 0.0, 0.0, -745.375))
CO2 = Species(
    44.0095,
    (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697),
    (3.85746029, 4.41437026e-3, -2.21481404e-6, 5.23490188e-10, -4.72084164e-14, -48759.166),
)
H2O = Species(
    18.01528,
    (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267),
    (3.03399249, 2.17691804e-3, -1.64072518e-7, -9.7041987e-11, 1.68200992e-14, -30004.2971),
)
CO = Species(
    28.0101,
    (3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -14344.086),
    (2.71518561, 2.06252743e-3, -9.98825771e-7, 2.30053008e-10, -2.03647716e-14, -14151.8724),
)
H2 = Species(
    2.01588,
    (2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12, -917.935173),
    (3.3372792, -4.94024731e-5, 4.99456778e-7, -1.79566394e-10, 2.00255376e-14, -950.158922),
)

DRY_AIR = {N2: 0.78084, O2: 0.20946, AR: 0.00970}  # mole fractions; CO2 counted as argon

FUEL_CARBON = 8.26  # atoms in the gasoline formula C8.26 H15.5
FUEL_HYDROGEN = 15.5
FUEL_MOLAR_MASS = 12.011 * FUEL_CARBON + 1.008 * FUEL_HYDROGEN


def fuel_molar_cp(temperature):
    """Molar heat capacity of gasoline vapour, J/(kmol K); held constant above 1500 K."""
    t = np.minimum(np.asarray(temperature, dtype=float), 1500.0) / 1000.0
    a1, a2, a3, a4, a5 = -24.078, 256.63, -201.68, 64.75, 0.5808
    return _CALORIE * (a1 + a2 * t + a3 * t**2 + a4 * t**3 + a5 / t**2)

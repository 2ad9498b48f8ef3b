"""How much of a fuel can be vapour: its saturation pressure at a temperature.

A fuel, or a part of a blend, that boils at Tb under 101 325 Pa has at T the pressure

    p = 101325 Pa exp(k (1 - (1 + r) Tb / (T + r Tb))),

Antoine's equation (Antoine, Comptes Rendus 107, 1888) anchored at the boiling point. k and r are
fitted to the reference equations of state that CoolProp carries, over 225 to 400 K (methanol: de
Reuck & Craven 1993; ethanol: Schroeder et al. 2014; n-alkanes: Span & Wagner 2003; propane: Lemmon
et al. 2009; methane: Setzmann & Wagner 1991); how well is checked in
validation/case_evaporation.py.

A blend gives off its light parts first. What is left in equilibrium with a share x of it as vapour
is taken to boil at

    Tb(x) = boils_from + x (boils_to - boils_from),

with k and r of an n-alkane that boils there, and the two boiling points such that the pressures
hold at intake temperatures (a blend of alkanes follows that within 30 %, 4 K, from 270 to 330 K).
Gasoline: 325 and 400 K, of the usual size, from memory; that makes a Reid vapour pressure of 61 kPa
(EN 228 allows 45 to 100 kPa by class and season) and a stoichiometric mixture saturated at 24 degC.
A blend with ethanol takes means by mass; ethanol in gasoline raises the pressure more than that
(azeotropes), so the bound errs on the side of too little vapour.
"""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Volatility:
    """k and r of the law above, and where the fuel boils, K."""

    steepness: float
    shift: float
    boils_from: float
    boils_to: float

    def pressure(self, temperature: Any, share: float = 0.0) -> float:
        """Saturation pressure, Pa, at ``temperature`` (K, number or array) when ``share`` of the
        fuel is vapour."""
        from aircolumn.flow.gas.saturation import saturation_pressure

        return saturation_pressure(
            self.steepness, self.shift, self.boils_from, self.boils_to, temperature, share
        )


def blended(first: Volatility, second: Volatility, mass_share: float) -> Volatility:
    """Volatility of a blend: means by mass of all four figures."""
    pairs = zip(vars(first).values(), vars(second).values(), strict=True)
    return Volatility(*((1.0 - mass_share) * a + mass_share * b for a, b in pairs))


GASOLINE = Volatility(9.5, -0.134, 325.0, 400.0)
ETHANOL = Volatility(12.54, -0.1010, 351.57, 351.57)
METHANOL = Volatility(12.18, -0.0853, 337.63, 337.63)
PROPANE = Volatility(9.08, -0.1095, 231.04, 231.04)
METHANE = Volatility(8.68, -0.0568, 111.67, 111.67)
#: of what has no heat of evaporation: a gas
GASEOUS = Volatility(10.0, 0.0, 1.0, 1.0)

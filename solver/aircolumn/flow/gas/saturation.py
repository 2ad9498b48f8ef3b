"""The saturation pressure of a fuel, for compiled code and Python (its law: volatility.py)."""

from numpy import exp

from aircolumn.constants import ATMOSPHERE
from aircolumn.flow.compiled.decorators import inlined


@inlined
def saturation_pressure(steepness, shift, boils_from, boils_to, temperature, share):
    """Pa, at ``temperature`` (K) when ``share`` of the fuel is vapour: Antoine's equation anchored
    at the boiling point, p = 101325 Pa exp(k (1 - (1 + r) Tb / (T + r Tb)))."""
    boils = boils_from + share * (boils_to - boils_from)
    return ATMOSPHERE * exp(steepness * (1.0 - (1.0 + shift) * boils / (temperature + shift * boils)))

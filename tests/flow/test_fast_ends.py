"""Gas that reaches the end of a duct faster than sound (ends/fast.py)."""

from math import sqrt

import numpy as np
import pytest

from aircolumn.flow.arrays.ends import Arrivals
from aircolumn.flow.duct.rescue import wave_side
from aircolumn.flow.ends.fast import ahead_of_throat, at_speed

GAMMA, PRESSURE, DENSITY = 1.4, 20e3, 0.3
SOUND = sqrt(GAMMA * PRESSURE / DENSITY)


def coming_at(mach) -> Arrivals:
    """One end whose last cell holds gas of this outward Mach number."""
    given = {"rho": DENSITY, "p": PRESSURE, "a2": SOUND**2, "gamma": GAMMA, "behind": mach * SOUND}
    return Arrivals(*(np.array([given.get(field, 0.0)]) for field in Arrivals._fields))


@pytest.mark.parametrize(
    ("mach", "pressure", "density"),
    [(1.2, 1.513, 1.342), (1.5, 2.458, 1.862), (2.0, 4.500, 2.667)],
)
def test_standing_shock(mach, pressure, density):
    """Normal-shock table of NACA Report 1135 (gamma 1.4; from memory)."""
    p, rho = at_speed(coming_at(mach), 0, mach * SOUND / density)
    assert p / PRESSURE == pytest.approx(pressure, rel=1e-3)
    assert rho / DENSITY == pytest.approx(density, rel=1e-3)


@pytest.mark.parametrize("v", [0.0, 200.0, 450.0, 600.0])
def test_speed_and_pressure_are_those_of_one_wave(v):
    """A shock below the speed it comes with (458 m/s), a fan above."""
    arr = coming_at(1.5)
    p, rho = at_speed(arr, 0, v)
    change, _ = wave_side(p, PRESSURE, DENSITY, SOUND, GAMMA)
    assert arr.behind[0] - change == pytest.approx(v, abs=1e-9)
    assert (rho > DENSITY) == (v < arr.behind[0])


@pytest.mark.parametrize("share", [0.92, 0.95])
def test_a_wide_throat_swallows_the_shock(share):
    """At Mach 1.5 a throat of 1/1.0938 = 0.914 of the bore chokes behind a standing shock (Mach
    0.7011 behind it; NACA Report 1135, from memory); the gas passes a wider one undisturbed."""
    v, p, rho = ahead_of_throat(coming_at(1.5), 0, 1.0, share, 0.5 * PRESSURE)
    assert (v, p, rho) == (pytest.approx(1.5 * SOUND), PRESSURE, DENSITY)


@pytest.mark.parametrize("share", [0.0, 0.5, 0.8, 0.91])
def test_a_narrow_throat_throws_a_shock_back(share):
    """Stronger than a standing one, and of one state with the speed and density behind it."""
    arr = coming_at(1.5)
    v, p, rho = ahead_of_throat(arr, 0, 1.0, share, 0.5 * PRESSURE)
    assert p > 2.458 * PRESSURE
    assert (p, rho) == pytest.approx(at_speed(arr, 0, v), rel=1e-9)

"""Friction mean effective pressure: the terms of Chen & Flynn (SAE 650733), and a squared one.

    FMEP = A + B p_max + C Sp + D Sp^2

Sp is the mean piston speed. Theirs are the constant, the peak pressure and the speed; the square of
the speed is added here, for windage and pumping of oil, as is common (no source). Their constants
belong to a single diesel engine, so this project asks for them in the engine file.
"""


def fmep(
    constant: float,
    peak_factor: float,
    speed_factor: float,
    square_factor: float,
    peak_pressure: float,
    piston_speed: float,
) -> float:
    """Friction mean effective pressure, Pa (peak_pressure in Pa, piston_speed in m/s)."""
    return (
        constant + peak_factor * peak_pressure + speed_factor * piston_speed + square_factor * piston_speed**2
    )

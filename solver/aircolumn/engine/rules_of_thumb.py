"""Rules of thumb for the tuned speed of a runner (see tuning_map.py for what they mean)."""

from math import pi, sqrt

from aircolumn.flow.duct.geometry import Shape

NECK_K = (2.0, 2.5)  # Engelman's range, from memory


def neck_and_volume_speed(
    area: float, length: float, swept: float, ratio: float, sound: float, k: float
) -> float:
    """Tuning speed, rev/min, of the neck-and-volume rule: the runner as neck, the cylinder at
    mid-stroke as volume, resonating at k times the crank frequency (Engelman, ASME 73-WA/DGP-2,
    1973, from memory): N = 60 sqrt(2) / (2 pi k) c sqrt(A / (L V)) sqrt((r - 1) / (r + 1)).

    area m2 and length m of the neck, swept volume m3, compression ratio, sound speed m/s."""
    rest = sqrt(area / (length * swept)) * sqrt((ratio - 1.0) / (ratio + 1.0))
    return 60.0 * sqrt(2.0) / (2.0 * pi * k) * sound * rest


def quarter_wave_speed(length: float, sound: float, order: int) -> float:
    """Speed, rev/min, at which a runner of ``length`` m, shut at the valve, swings ``order`` times
    in a four-stroke cycle: N = 120 c / (4 L order)."""
    return 30.0 * sound / (length * order)


def mean_neck(shape: Shape) -> float:
    """Length over area of a duct of varying bore, 1/m: the inertance divided by density."""
    return shape.inertance()

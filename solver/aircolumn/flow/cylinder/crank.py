"""Slider-crank kinematics with pin offset (Heywood 1988, section 2.2).

Piston height above the crank axis: s = r cos th + sqrt(l^2 - (r sin th - d)^2). Crank angle th in
degrees, 0 with the crank pin up at the firing stroke, 360 at the gas-exchange top.
"""

from math import cos, pi, sin, sqrt

from aircolumn.flow.compiled.decorators import inlined


def swept_volume(bore: float, stroke: float, rod: float, pin_offset: float = 0.0) -> float:
    """Swept volume, m3, from bore, stroke (twice the throw), rod and pin offset, all in m."""
    throw = 0.5 * stroke
    top = sqrt((rod + throw) ** 2 - pin_offset**2)
    bottom = sqrt((rod - throw) ** 2 - pin_offset**2)
    return 0.25 * pi * bore * bore * (top - bottom)


@inlined
def volume_and_slope(throw, rod, pin_offset, area, clearance, top, angle):
    """Cylinder volume, m3, and dV/d(angle), m3/rad, at ``angle`` in degrees."""
    th = angle * (pi / 180.0)
    side = throw * sin(th) - pin_offset
    leg = sqrt(rod * rod - side * side)
    height = throw * cos(th) + leg
    slope = throw * sin(th) + side * throw * cos(th) / leg
    return clearance + area * (top - height), area * slope

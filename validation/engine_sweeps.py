"""The classroom engine with one thing varied: VE or torque over speed."""

from functools import lru_cache
from pathlib import Path

import numpy as np

from aircolumn import load
from aircolumn.curves.points import all_points
from aircolumn.curves.tuning.tuning_map import with_length
from aircolumn.engine.description.pipes import Taper

CLASSROOM = Path(__file__).parent.parent / "configs" / "classroom-single.yaml"
RPM = np.arange(1500.0, 8001.0, 250.0)


def classroom():
    """The classroom engine drawing from open air: no plenum to add a resonance of its own."""
    return load(CLASSROOM).engine.with_intake(throttle=None, plenum=None)


def figures(engines, rpm=RPM, name="ve") -> np.ndarray:
    """Figure ``name`` of each engine (rows) at each speed (columns)."""
    jobs = [((i, k), e, float(n), 1.0) for i, e in enumerate(engines) for k, n in enumerate(rpm)]
    found = all_points(jobs)
    return np.array([[found[i, k].figures[name] for k in range(len(rpm))] for i in range(len(engines))])


def peak_speed(values, rpm=RPM) -> float:
    """Speed of the highest value, by a parabola through it and its neighbours."""
    k = int(np.argmax(values))
    if not 0 < k < len(rpm) - 1:
        return float(rpm[k])
    a, b, _ = np.polyfit(rpm[k - 1 : k + 2], values[k - 1 : k + 2], 2)
    return float(-b / (2 * a))


def straight_bore(bore):
    """A bore that does not change."""
    return Taper.model_construct(start=bore, end=bore)


def closing(angle):
    """Intake valve closing ``angle`` degrees after bottom dead centre."""
    base = classroom()
    return base.with_intake(valve=base.intake.valve.changed(closes_abdc=angle))


def wide(bore):
    """Runner and port of ``bore`` metres."""
    base = classroom()
    i = base.intake
    pipes = {k: getattr(i, k).changed(bore=straight_bore(bore)) for k in ("runner", "port")}
    return base.with_intake(**pipes)


def long(length):
    """Runner of ``length`` metres."""
    return with_length(classroom(), length)


def exhaust(length):
    """Exhaust primary of ``length`` metres."""
    base = classroom()
    primary = base.exhaust.primary.changed(length=length)
    return base.changed(exhaust=base.exhaust.changed(primary=primary))


def warm(temperature):
    """Dry ambient air of ``temperature`` kelvin."""
    base = classroom()
    ambient = base.intake.ambient.changed(temperature=temperature, humidity=0.0)
    return base.with_intake(ambient=ambient)


#: sweep: (what builds the engine, its values, how a value is written, figure)
SWEEPS = {
    "intake closing, deg ABDC": (closing, (30.0, 48.0, 66.0, 84.0), "{:.0f}", "ve"),
    "bore of runner and port, mm": (wide, (0.034, 0.038, 0.042, 0.046), "{:.0f}", "ve"),
    "runner length, mm": (long, (0.2, 0.3, 0.4, 0.6), "{:.0f}", "ve"),
    "exhaust primary, mm": (exhaust, (0.5, 0.8, 1.2), "{:.0f}", "ve"),
    "air temperature, K": (warm, (273.15, 288.15, 303.15, 318.15), "{:.0f}", "torque"),
}


@lru_cache
def sweep(name) -> np.ndarray:
    """The figure of a sweep (values x RPM)."""
    build, values, _, figure = SWEEPS[name]
    return figures([build(v) for v in values], RPM, figure)

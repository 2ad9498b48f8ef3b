"""The classroom engine with one thing varied: VE or torque over speed."""

from pathlib import Path

import numpy as np

from aircolumn import load
from aircolumn.curves import points
from aircolumn.description.models import Taper

CLASSROOM = Path(__file__).parent.parent / "configs" / "classroom-single.yaml"
RPM = np.arange(1500.0, 8001.0, 250.0)


def with_(part, **changes):
    """A copy of a part of the engine file with some keys changed."""
    return part.model_copy(update=changes)


def with_intake(engine, **changes):
    """The engine with some keys of its intake changed."""
    return with_(engine, intake=with_(engine.intake, **changes))


def classroom():
    """The classroom engine drawing from open air: no plenum to add a resonance of its own."""
    return with_intake(load(CLASSROOM).engine, throttle=None, plenum=None)


def figures(engines, rpm=RPM, name="ve") -> np.ndarray:
    """Figure ``name`` of each engine (rows) at each speed (columns)."""
    jobs = [((i, k), e, float(n), 1.0) for i, e in enumerate(engines) for k, n in enumerate(rpm)]
    found = points(jobs)
    return np.array(
        [[found[i, k].figures[name] for k in range(len(rpm))] for i in range(len(engines))]
    )


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
    return with_intake(base, valve=with_(base.intake.valve, closes_abdc=angle))


def wide(bore):
    """Runner and port of ``bore`` metres."""
    base = classroom()
    i = base.intake
    pipes = {k: with_(getattr(i, k), bore=straight_bore(bore)) for k in ("runner", "port")}
    return with_intake(base, **pipes)


def long(length):
    """Runner of ``length`` metres."""
    base = classroom()
    return with_intake(base, runner=with_(base.intake.runner, length=length))


def exhaust(length):
    """Exhaust primary of ``length`` metres."""
    base = classroom()
    primary = with_(base.exhaust.primary, length=length)
    return with_(base, exhaust=with_(base.exhaust, primary=primary))


def warm(temperature):
    """Dry ambient air of ``temperature`` kelvin."""
    base = classroom()
    ambient = with_(base.intake.ambient, temperature=temperature, humidity=0.0)
    return with_intake(base, ambient=ambient)


#: sweep: (what builds the engine, its values, how a value is written, figure)
SWEEPS = {
    "intake closing, deg ABDC": (closing, (30.0, 48.0, 66.0, 84.0), "{:.0f}", "ve"),
    "bore of runner and port, mm": (wide, (0.034, 0.038, 0.042, 0.046), "{:.0f}", "ve"),
    "runner length, mm": (long, (0.2, 0.3, 0.4, 0.6), "{:.0f}", "ve"),
    "exhaust primary, mm": (exhaust, (0.5, 0.8, 1.2), "{:.0f}", "ve"),
    "air temperature, K": (warm, (273.15, 288.15, 303.15, 318.15), "{:.0f}", "torque"),
}


def sweep(name) -> np.ndarray:
    """The figure of a sweep (values x RPM)."""
    build, values, _, figure = SWEEPS[name]
    return figures([build(v) for v in values], RPM, figure)

"""A made-up engine: every figure of an operating point from a formula that depends on what the
engine file says, no two figures alike. With it in place of the march a command takes no time, and
all that it prints, writes and draws is known beforehand. Nothing here is physics.
"""

from contextlib import contextmanager
from math import exp, pi

import numpy as np
import pytest

# Bound before anything is replaced: what a fit to traces compares is marched in earnest.
import aircolumn.measured.traces.predicted  # noqa: F401
from aircolumn.curves.tuning import explain, trace
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model import stretches
from aircolumn.engine.model.figures import OperatingPoint
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.ledger import Ledger
from aircolumn.engine.model.piping import intake_piping
from aircolumn.errors import ComputationError
from aircolumn.point_figures import FIGURES

#: What each thing the engine file states gives to VE or takes from it, in points of VE: read by the
#: test of the filling account.
TAKEN = {
    "runner heat": 1.3,
    "port heat": 0.8,
    "cylinder heat": 0.5,
    "vapour": 0.7,
    "cooling": 0.9,
    "reverse": 1.1,
    "mouth": 0.6,
    "runner friction": 0.4,
    "port friction": 0.3,
    "throttle": 1.7,
    "plenum": 0.2,
    "bends": 0.15,
    "discharge": 2.1,
    "exhaust": 1.9,
    "back pressure": 1.2,
}


def tuned_speed(engine: Engine) -> float:
    """Where the made-up hump stands, rev/min."""
    return 3400.0 * (0.43 / engine.intake.runner.total_length) ** 0.5


def taken(engine: Engine) -> dict[str, float]:
    """Points of VE by name of TAKEN."""
    i, x = engine.intake, engine.exhaust
    table = i.valve.discharge
    reverse = table.forward if table.reverse is None else table.reverse
    if table.bench is not None:
        reverse = [1.0] if table.bench.reverse_flow is None else table.bench.reverse_flow
    bends = 0.0 if i.runner.sections is None else sum(s.bend_angle for s in i.runner.sections)
    amounts = {
        "runner heat": i.runner.heat_factor,
        "port heat": i.port.heat_factor,
        "cylinder heat": engine.cylinder_walls.exchange_factor,
        "vapour": float(engine.mixture.delivery != "direct"),
        "cooling": -engine.mixture.from_charge,
        "reverse": float(max(reverse) > 0.0),
        "mouth": 1.0 if i.runner.entry.loss is None else i.runner.entry.loss,
        "runner friction": i.runner.friction_factor,
        "port friction": i.port.friction_factor,
        "throttle": float(i.throttle is not None),
        "plenum": float(i.plenum is not None),
        "bends": bends / 90.0,
        "discharge": float(table.bench is not None or min(table.forward) < 1.0),
        "exhaust": float(x.primary.total_length > 0.15),
        "back pressure": float(x.outlet.pressure is None),
    }
    return {name: TAKEN[name] * share for name, share in amounts.items()}


def filling(engine: Engine, rpm: float) -> float:
    """VE."""
    bore = engine.intake.runner.last_bore
    width = 1100.0 * bore / 0.042
    hump = 0.24 * exp(-(((rpm - tuned_speed(engine)) / width) ** 2))
    opens, closes = engine.intake_events()
    later = 0.5 * (opens + closes) - 471.0
    volume = (engine.intake.plenum and engine.intake.plenum.volume) or 0.0
    cam = 1e-3 * later * (rpm - 3500.0) / 1000.0
    slope = -1.2e-5 * (rpm - 3000.0) + 1e-3 * (closes - opens - 226.0) * (rpm - 3000.0) / 1e4
    ve = 0.94 + hump + cam + slope + 0.5 * volume - 0.01 * sum(taken(engine).values())
    return ve * engine.intake.valve.discharge.factor**0.4


def let_in(engine: Engine) -> float:
    """What the throttle leaves of the manifold pressure: 1 wide open."""
    angle = 90.0 if engine.intake.throttle is None else engine.intake.throttle.angle
    return (1.0 - exp(-angle / 12.0)) / (1.0 - exp(-90.0 / 12.0))


def point(engine: Engine, rpm: float, refinement: float = 1.0) -> OperatingPoint:
    """All figures; a finer mesh adds to VE what a first-order method would."""
    ve = filling(engine, rpm) * (1.0 + 1e-3 / refinement)
    g = geometry_of(engine)
    n = engine.block.cylinders
    volume, cycles = g.swept * n, rpm / 120.0
    air = engine.intake.ambient
    density = air.pressure / (287.0 * air.temperature)
    ratio = engine.mixture.air_fuel_ratio or 14.7 * engine.mixture.relative_air_fuel_ratio
    fmep = engine.friction.constant + 12.0 * rpm
    imep = 17.0e5 * ve * air.pressure / 99e3 * (1.0 - (rpm / 16000.0) ** 2)
    bmep = imep - fmep
    torque = bmep * volume / (4.0 * pi)
    power = torque * rpm * pi / 30.0
    delivered = 1.03 * ve * density * volume * cycles
    each = ve * (1.0 + 0.01 * np.arange(n)) if engine.computes_every_cylinder else np.array([ve])
    figures = {
        "ve": ve,
        "ve_delivered": 1.03 * ve,
        "ve_plenum": 1.07 * ve,
        "ve_spread": float(np.ptp(each) / ve),
        "torque": torque,
        "power": power,
        "bmep": bmep,
        "imep": imep,
        "pmep": 0.11e5 + rpm,
        "fmep": fmep,
        "residual": 0.09 - 1e-5 * rpm,
        "lost_in_overlap": 0.013 + 1e-6 * rpm,
        "blow_by": 0.004 + 1e-7 * rpm,
        "peak_pressure": 52e5 * ve,
        "air_flow": delivered,
        "fuel_flow": delivered / ratio,
        "bsfc": delivered / ratio / power,
        "charge_temperature": 371.0 + 1e-3 * rpm,
        "ca50": engine.combustion.ca50,
        "inlet_mach": 0.4 + 1e-4 * rpm if engine.intake.inlet else 0.0,
        "plenum_pressure": (0.985 * air.pressure - rpm) * let_in(engine),
        "plenum_temperature": air.temperature + 1e-3 * rpm,
        "wall_heat": 310.0 - 0.02 * rpm,
        "cycles": 4.0 + rpm // 2000.0,
        "cylinders_computed": float(each.size),
        "alternation": 1e-4 + 1e-9 * rpm,
        "mass_error": 1e-12 * rpm,
        "energy_error": 2e-12 * rpm,
        "periodicity": 3e-9 * rpm,
    }
    differing = sorted(set(figures) ^ set(FIGURES))
    assert not differing, f"tests/made_up.py and point_figures.py differ in {differing}"
    mass = {"in from the air": 1e-3 * ve, "out through the exhaust": -1.1e-3 * ve, "stored": 2e-5}
    energy = {"in from the air": 310.0 * ve, "heat released": 1900.0 * ve, "work": -700.0 * ve}
    return OperatingPoint(rpm, figures, Ledger(mass, energy), each)


def cycle(engine: Engine, rpm: float, change=None):
    """A recorded cycle of the same engine (see curves/tuning/trace.py): a suction wave that leaves the
    valve, and its return; everything else from formulas no two of which are alike."""
    import xarray as xr

    g = geometry_of(engine)
    length = intake_piping(engine).shape.length
    angle, x = np.arange(0.0, 720.0, trace.STEP), np.linspace(0.0, length, 9)
    a, p0, gamma = 341.0, 98.0e3, 1.39
    delay = 6.0 * rpm * (length - x)[:, None] / a  # deg from the valve to x

    def pulse(at, height):
        return height * np.exp(-(((angle - at) / 28.0) ** 2))

    launch = 440.0
    backward = p0 + pulse(launch + delay, -21e3) + pulse(g.intake_seats - 20.0 + delay, 6e3)
    forward = p0 + pulse(launch + 2.0 * delay[:1] - delay, 17e3) + pulse(380.0, 2.5e3)
    pressure = together(forward, backward, gamma, p0)
    u = velocity(forward, backward, gamma, p0, a)
    data = xr.Dataset(coords={"angle": angle, "distance": x})
    fields = {
        "p": pressure,
        "u": u,
        "a": np.full_like(u, a),
        "forward": forward,
        "backward": backward,
        "burned": 1e-3 * (x[:, None] + angle / 720.0),
    }
    series = {
        "cylinder_p": 1e5 + 4e6 * np.exp(-((np.minimum(angle, 720.0 - angle) / 30.0) ** 2)),
        "cylinder_T": 350.0 + angle,
        "cylinder_mass": 6e-4 + 1e-7 * angle,
        "volume": g.clearance + g.swept * np.sin(np.radians(angle) / 2.0) ** 2,
        "plenum_p": p0 + 50.0 * np.sin(np.radians(angle)),
        "exhaust_p": 104e3 + 9.0 * angle,
        "intake_flow": 0.1 * np.sin(np.radians(angle - 360.0)) + 0.02,
        "exhaust_flow": 0.12 * np.sin(np.radians(angle - 100.0)),
        "intake_area": 1e-4 * np.clip((angle - g.intake_opens) * (g.intake_seats - angle), 0, 900),
        "exhaust_area": 2e-4 * np.clip((angle - g.exhaust_opens) * (g.exhaust_closes - angle), 0, 900),
    }
    for name, (unit, text) in trace.FIELDS.items():
        data[name] = (("distance", "angle"), fields[name], {"units": unit, "long_name": text})
    for name, (unit, text) in trace.SERIES.items():
        data[name] = ("angle", series[name], {"units": unit, "long_name": text})
    data.attrs = {
        "title": engine.title,
        "rpm": rpm,
        "ve": filling(engine, rpm) * 1.001,
        "reference_pressure_Pa": p0,
        "runner": "",
        "cylinder": 1,
        **{name: getattr(g, name) for name in trace.EVENTS},
    }
    return data


def together(forward, backward, gamma, p0):
    """Pressure of two waves (Benson, vol. 1): X = Xf + Xb - 1, X = (p/p0)^((gamma-1)/(2 gamma))."""
    k = (gamma - 1.0) / (2.0 * gamma)
    return p0 * ((forward / p0) ** k + (backward / p0) ** k - 1.0) ** (1.0 / k)


def velocity(forward, backward, gamma, p0, a):
    """Velocity of two waves: 2 a0/(gamma - 1) (Xf - Xb), with a0 taken as a."""
    k = (gamma - 1.0) / (2.0 * gamma)
    return 2.0 * a / (gamma - 1.0) * ((forward / p0) ** k - (backward / p0) ** k)


def without_waves(engine: Engine, rpm: float, change) -> float:
    """VE with one side's waves silenced: the intake's hump gone, or 2 points of the exhaust."""
    if change.__qualname__.startswith("silent_exhaust"):
        return filling(engine, rpm) - 0.02
    return min(filling(engine, rpm), 0.9)


@contextmanager
def in_place(missing=()):
    """The made-up engine in place of the march everywhere. missing: speeds that cannot be
    computed."""

    def computed(engine, rpm, refinement=1.0):
        if rpm in missing:
            raise ComputationError(f"at {rpm:g} rpm made up to fail")
        return point(engine, rpm, refinement)

    def beside(engine, rpm, refinement, at, neighbours):
        return computed(engine, rpm, refinement), None

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stretches, "point_beside", beside)
        patch.setattr(trace, "trace", cycle)
        patch.setattr("aircolumn.commands.trace.trace", cycle)
        patch.setattr(explain, "trace", cycle)
        patch.setattr(explain, "ve_with", without_waves)
        yield

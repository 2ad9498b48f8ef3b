"""One converged cycle in detail: what happens in runner, port, cylinder and exhaust by crank angle.

The operating point is marched to its periodic cycle; the next cycle is recorded at every step at
all nodes of the intake and at both ends of the exhaust of cylinder 1, and brought to even crank
angles by straight lines.
"""

from __future__ import annotations

from collections.abc import Callable
from math import pi
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.tuning.waves import wave_split
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import engine_of, one_speed
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.operating_point import converged
from aircolumn.engine.model.valves import TABLE_ANGLES, TABLE_LEAD, forward_area
from aircolumn.flow.cylinder.crank import volume_and_slope
from aircolumn.flow.network.record import Record

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.reader import Description
    from aircolumn.engine.model.engine_network import EngineNetwork
    from aircolumn.engine.model.geometry import Geometry
    from aircolumn.flow.network.run import Run

STEP = 0.5  # deg
FIRST = 1  # the cylinder looked at


def trace(engine: Engine | Description, rpm: float, change: Callable | None = None) -> xr.Dataset:
    """One converged cycle of cylinder 1 in detail.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description the engine of the file.
    rpm : float
        Speed, rev/min.
    change : callable, optional
        Called with the network before it is marched, for asking what-if.

    Returns
    -------
    xarray.Dataset
        Over angle (deg, 0 at firing top dead centre) and distance (m from the runner's mouth, end
        correction included; at a sudden change of bore the same distance twice); SI. Waves are counted
        from the plenum's mean pressure over the cycle (attribute reference_pressure_Pa). Attributes in
        degrees: intake_opens, intake_closes, exhaust_opens, exhaust_closes at the lift at which the engine
        file states them; intake_seats: where the valve meets its seat, a little later.

    Raises
    ------
    ComputationError
        If the cycle does not repeat.
    RequestError
        For a speed no engine turns at.
    """
    return recorded(engine_of(engine), one_speed(rpm), change)[0]


def recorded(engine: Engine, rpm: float, change: Callable | None = None) -> tuple[xr.Dataset, Run]:
    """(as :func:`trace`, the run at the end of the cycle)."""
    import xarray as xr

    engine, run, point = converged(engine, rpm, change=change)
    net = run.network
    record = _record(run, rpm, _mouth(engine, net))
    engine = engine.of_cylinder(FIRST)
    geometry = geometry_of(engine)
    at = np.arange(0.0, 720.0, STEP)

    def even(values: Any) -> Any:
        return np.interp(at, record.angle, values, period=720.0)

    duct = run.ducts[net.intake(FIRST)]
    nodes = [record.probes[_name(net.intake(FIRST), k)] for k in range(duct.nodes.size)]
    fields = ("p", "u", "a", "rho", "burned")
    field = {q: np.array([even(getattr(n, q)) for n in nodes]) for q in fields}
    gamma = field["a"] ** 2 * field["rho"] / field["p"]
    mouth = _mouth(engine, net)
    plenum = even(record.volumes[net.PLENUM].p if mouth is None else record.probes[mouth].p)
    reference = float(plenum.mean())  # what the column rests at: a steady offset is not a wave
    field["forward"], field["backward"] = wave_split(field["p"], field["u"], field["a"], gamma, reference)
    data = xr.Dataset(coords={"angle": at, "distance": duct.node_positions})
    data["angle"].attrs = {"units": "deg", "long_name": "crank angle, 0 at firing top dead centre"}
    data["distance"].attrs = {"units": "m", "long_name": "distance from the runner's mouth"}
    for name, (unit, text) in FIELDS.items():
        data[name] = (("distance", "angle"), field[name], {"units": unit, "long_name": text})
    out, inside = record.probes[_name(net.exhaust(FIRST), 0)], record.volumes[net.chamber(FIRST)]
    series = {
        "cylinder_p": even(inside.p),
        "cylinder_T": even(inside.T),
        "cylinder_mass": even(inside.mass),
        "plenum_p": plenum,
        "exhaust_p": even(out.p),
        "intake_flow": field["rho"][-1] * field["u"][-1] * _area(run, net.intake(FIRST), -1),
        "exhaust_flow": even(out.rho * out.u) * _area(run, net.exhaust(FIRST), 0),
        **_valves(engine, geometry, at),
        "volume": _volume(run, at),
    }
    for name, (unit, text) in SERIES.items():
        data[name] = ("angle", series[name], {"units": unit, "long_name": text})
    data.attrs = {
        "title": engine.title,
        "rpm": rpm,
        "runner": "",
        "cylinder": FIRST,
        "ve": float(point.figures["ve"]),
        "reference_pressure_Pa": reference,
        **{name: getattr(geometry, name) for name in EVENTS},
    }
    return data, run


#: quantity over distance and angle: (unit, what it is)
FIELDS = {
    "p": ("Pa", "pressure in runner and port"),
    "u": ("m/s", "velocity towards the cylinder"),
    "a": ("m/s", "sound speed"),
    "forward": ("Pa", "pressure of the wave running towards the valve"),
    "backward": ("Pa", "pressure of the wave running towards the mouth"),
    "burned": ("1", "burned gas in runner and port, mass share"),
}
#: quantity over angle: (unit, what it is)
SERIES = {
    "cylinder_p": ("Pa", "cylinder pressure"),
    "cylinder_T": ("K", "cylinder temperature"),
    "cylinder_mass": ("kg", "cylinder mass"),
    "volume": ("m3", "cylinder volume"),
    "plenum_p": ("Pa", "plenum pressure"),
    "exhaust_p": ("Pa", "pressure in the exhaust port at the valve"),
    "intake_flow": ("kg/s", "flow into the cylinder through the intake valves"),
    "exhaust_flow": ("kg/s", "flow out of the cylinder through the exhaust valves"),
    "intake_area": ("m2", "effective area of the intake valves"),
    "exhaust_area": ("m2", "effective area of the exhaust valves"),
}
EVENTS = ("intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes", "intake_seats")


def _name(duct: str, k: int) -> str:
    return f"{duct} node {k}"


def _mouth(engine: Engine, net: EngineNetwork) -> str | None:
    """The segment of a log that ends where the runner joins the log."""
    log = engine.intake.log
    return None if log is None else net.log(1 + log.places.index(log.runners_at[FIRST - 1]))


def _record(run: Run, rpm: float, mouth: str | None) -> Record:
    """The next cycle, every step: all nodes of the intake, both ends of the exhaust, the log."""
    probes: dict[str, Any] = {} if mouth is None else {mouth: (mouth, "right")}
    intake, exhaust = run.network.intake(FIRST), run.network.exhaust(FIRST)
    for duct in (intake, exhaust):
        places = run.ducts[duct].nodes  # at a sudden change of bore two stand at one distance
        last = places.size - 1
        wanted = range(last + 1) if duct == intake else (0, last)
        probes |= {_name(duct, k): int(places[k]) for k in wanted}
    omega = rpm * pi / 30.0
    return run.march(4.0 * pi / omega, omega=omega, probes=probes, room=4000)


def _area(run: Run, duct: str, k: int) -> float:
    d = run.ducts[duct]
    return float(d.declared.shape.area(d.node_positions[k]))


def _valves(engine: Engine, geometry: Geometry, at: np.ndarray) -> dict:
    """Effective areas over the cycle for flow in the usual direction."""
    areas = {}
    for side, opens, closes in (
        ("intake", geometry.intake_opens, geometry.intake_closes),
        ("exhaust", geometry.exhaust_opens, geometry.exhaust_closes),
    ):
        area = forward_area(getattr(engine, side).valve, opens, closes)[:-1]
        angle = opens - TABLE_LEAD + TABLE_ANGLES[:-1]
        areas[f"{side}_area"] = np.interp(at, angle, area, period=720.0)
    return areas


def _volume(run: Run, at: np.ndarray) -> np.ndarray:
    c = run.network.cylinders[0]
    crank = (c.throw, c.rod, c.pin_offset, c.area, c.clearance, c.top)
    return np.array([volume_and_slope(*crank, x)[0] for x in at])

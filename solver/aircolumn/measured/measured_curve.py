"""Pulls at common engine speeds: what was measured, corrected, with its repeatability.

A sweep's rows near a speed are fitted by a local polynomial (second degree where rows are many,
first where they are few) and read off at that speed (Cleveland 1979, J. Am. Stat. Assoc. 74, the
idea of local regression; without his weights). Rows that stand alone, as in a table of steady
points, are joined by straight lines.

Repeatability is the standard deviation between pulls of one manifold, taken together over all
speeds (ISO 5725-2's within-laboratory standard deviation), for torque and air flow relative to the
reading. Its degrees of freedom are the pulls less one, not pulls times speeds: what moves a pull
moves all of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import pi
from typing import Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.geometry import geometry_of as geometry
from aircolumn.engine.model.mixture import ambient_gas
from aircolumn.errors import RequestError
from aircolumn.flow.gas.humid_air import vapour_mole_fraction
from aircolumn.flow.gas.mixture import moist_air_constant
from aircolumn.measured.atmosphere import Atmosphere, factor, pressure_at_altitude, same_vapour, warnings
from aircolumn.measured.logs.pull_file import PullFile
from aircolumn.measured.logs.statement import BY_FACTOR
from aircolumn.measured.logs.sweeps import are_steps

MANY_ROWS = 8  # from which a parabola is fitted
OWN_SPEEDS = 0.4  # of the step: points of a step test as far apart are compared where they are
AT = 0.02  # of the step: so near, a reading is one at the speed
GAUGE_APART = 0.02  # of the usual ratio: a fuel that differs by more reads wrongly on a usual gauge
ALTITUDE_GAP = 0.05  # by which a barometer may differ from the standard atmosphere at its altitude

USUAL_GAUGE = 14.7  # what most gauges show at lambda 1; common practice, no source


@dataclass
class MeasuredCurve:
    """One manifold's pulls at common speeds.

    rpm: speeds, rev/min, shape (s,). readings: channel to array (pulls, s), SI, NaN where a pull has nothing.
    air: what was drawn, arrays (pulls, s). between: where torque is only a straight line between readings, of
    every pull (s,). stated: how the file states torque; standard: what `corrected` is at ("observed": as
    measured). remarks: for the reader. order: of the pulls, in the session. level_known: torque is the
    engine's (not the wheels' with losses that are not known)."""

    name: str
    rpm: np.ndarray
    readings: dict[str, np.ndarray]
    air: Atmosphere
    between: np.ndarray
    stated: str
    standard: str
    remarks: list[str]
    order: np.ndarray = field(default_factory=lambda: np.array([]))
    level_known: bool = True

    def read_off(self) -> "MeasuredCurve":
        """The curve at the speeds where there are readings."""
        keep = ~self.between
        drawn = self.air.pressure, self.air.temperature, self.air.humidity
        air = Atmosphere(*(values[:, keep] for values in drawn))
        readings = {c: v[:, keep] for c, v in self.readings.items()}
        return replace(self, rpm=self.rpm[keep], readings=readings, air=air, between=self.between[keep])

    @property
    def pulls(self) -> int:
        """How many pulls."""
        return len(self.readings["torque"])

    @property
    def observed(self) -> np.ndarray:
        """Torque as measured, N m (pulls, s)."""
        if self.stated == BY_FACTOR:
            return self.readings["torque"] / self.readings["correction"]
        return self.readings["torque"] / factor(self.stated, self.air)

    @property
    def corrected(self) -> np.ndarray:
        """Torque at the standard, N m (pulls, s)."""
        return self.observed * factor(self.standard, self.air)


def mean_of_pulls(values: np.ndarray) -> np.ndarray:
    """Mean over the pulls (the first axis) of what there is; NaN where there is nothing."""
    there = np.isfinite(values)
    count = there.sum(axis=0)
    total = np.where(there, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def measured_curve(
    file: PullFile, engine: Engine, name: str, standard: str, speeds: np.ndarray | None = None
) -> MeasuredCurve:
    """The pulls of a file at ``speeds`` (rev/min; left out: those of common_speeds). Raises RequestError if
    there is none that a pull covers."""
    notes = engine.pull
    speeds = common_speeds([file], notes) if speeds is None else speeds
    steps = is_step_test([file], notes)
    channels = [c for c in file.pulls[0].readings if c not in ("pull", "rpm", "time", "power")]
    read = at_steps if steps else at_speeds
    readings = {
        c: np.array([read(p.readings["rpm"], p.readings[c], speeds, notes.step) for p in file.pulls])
        for c in channels
    }
    covered = ~np.all(np.isnan(readings["torque"]), axis=0)
    if not covered.any():
        raise RequestError(
            f"{file.path}: no pull covers a multiple of {notes.step:g} rpm; make pull.step smaller"
        )
    between = (
        np.zeros(covered.sum(), dtype=bool)
        if steps
        else ~np.any(
            [
                [
                    _read_at(p.readings["rpm"][np.isfinite(p.readings["torque"])] - s, notes.step)
                    for s in speeds[covered]
                ]
                for p in file.pulls
            ],
            axis=0,
        )
    )
    readings = {c: v[:, covered] for c, v in readings.items()}
    readings["sweep_rate"] = _sweep_rates(file, covered.sum())
    remarks = list(file.remarks)
    air = _air(readings, engine, remarks)
    if file.volume_flow and "air_flow" in readings:
        readings["air_flow"] = readings["air_flow"] * density(air)
        remarks.append("air flow is a volume flow: taken at the pressure and temperature drawn")
    if "lambda" in readings and "air_fuel_ratio" not in readings:
        readings["air_fuel_ratio"] = readings["lambda"] * stoichiometric_of(engine)
    elif "air_fuel_ratio" in readings:
        _gauge_undone(readings, engine, remarks)
    for s in dict.fromkeys((file.stated, standard)):
        remarks += warnings(s, air) if s != BY_FACTOR else []
    if file.stated == BY_FACTOR:
        logged = readings["correction"]
        readings["correction"] = np.where(np.isnan(logged), np.nanmedian(logged), logged)
    order = np.array([p.order for p in file.pulls])
    return MeasuredCurve(
        name, speeds[covered], readings, air, between, file.stated, standard, remarks, order, file.level_known
    )


def _gauge_undone(readings: dict[str, np.ndarray], engine: Engine, remarks: Any) -> None:
    """Air-fuel ratio as kilograms to one, where the gauge shows lambda times a fixed ratio."""
    column, own = engine.pull.columns.get("air_fuel_ratio"), stoichiometric_of(engine)
    shown = None if column is None else column.at_lambda_one
    if shown is not None:
        readings["air_fuel_ratio"] = readings["air_fuel_ratio"] * own / shown
        remarks.append(
            f"air-fuel ratio: {shown:g} on the gauge is lambda 1, which is {own:.2f} of this fuel and air"
        )
    elif abs(own / USUAL_GAUGE - 1.0) > GAUGE_APART:
        remarks.append(
            "air-fuel ratio is taken as kilograms of air to one of fuel; if the gauge"
            " shows lambda times a fixed ratio, state that as at_lambda_one in"
            " pull.columns"
        )


def stoichiometric_of(engine: Engine) -> float:
    """Stoichiometric air-fuel ratio of the engine's fuel and air."""
    return ambient_gas(engine).stoichiometric


def density(air: Atmosphere) -> Any:
    """Density of moist air, kg/m3."""
    vapour = vapour_mole_fraction(air.pressure, air.temperature, air.humidity)
    return air.pressure / (moist_air_constant(vapour) * air.temperature)


def at_speeds(rpm: np.ndarray, values: np.ndarray, speeds: Any, step: float) -> np.ndarray:
    """``values`` of one pull, logged at ``rpm`` in any order, at each of ``speeds``; NaN where the
    pull has no row on one side within ``step``."""
    sound = np.isfinite(values)
    rpm, values = rpm[sound], values[sound]
    order = np.argsort(rpm, kind="stable")
    return np.array([_local(rpm[order] - s, values[order], step) for s in speeds])


def _many_near(x: np.ndarray, step: float) -> tuple[np.ndarray, bool]:
    """Which rows are near x = 0, and whether they are enough for a fit."""
    slack, near = 0.1 * step, np.abs(x) <= 0.5 * step
    there = x[near]
    return near, there.size >= 3 and there.min() <= slack and there.max() >= -slack


def _read_at(x: np.ndarray, step: float) -> bool:
    """Whether there are readings at x = 0, not only on both sides of it."""
    return bool(_many_near(x, step)[1] or np.any(np.abs(x) <= AT * step))


def _local(x: np.ndarray, y: np.ndarray, step: float) -> float:
    """The value at x = 0."""
    near, enough = _many_near(x, step)
    if enough:
        distinct = np.unique(np.round(x[near], 6)).size
        degree = min(2 if near.sum() >= MANY_ROWS else 1, distinct - 1)
        return float(np.polyfit(x[near] / step, y[near], degree)[-1])
    at = np.abs(x) <= AT * step
    if at.any():
        return float(y[at].mean())
    below, above = x[(x < 0.0) & (x >= -step)], x[(x > 0.0) & (x <= step)]
    if below.size and above.size:
        ends = [float(y[x == e].mean()) for e in (below[-1], above[0])]
        return float(np.interp(0.0, [below[-1], above[0]], ends))
    return float("nan")


def is_step_test(files: Sequence[PullFile], notes: Any) -> bool:
    """Whether all pulls are tables of single steady points, not much closer than ``pull.step``, and the
    engine file asks for no steps of its own."""
    if "step" in notes.model_fields_set:
        return False
    each = [p.readings["rpm"] for f in files for p in f.pulls]
    far = OWN_SPEEDS * notes.step
    return all(
        are_steps(rpm) and np.median(np.diff(np.unique(rpm)) if len(rpm) > 1 else far) >= far for rpm in each
    )


def common_speeds(files: Sequence[PullFile], notes: Any) -> np.ndarray:
    """Speeds at which pulls are compared, rev/min: those of a step test, else steps of ``pull.step``."""
    rpm = np.concatenate([p.readings["rpm"] for f in files for p in f.pulls])
    if not is_step_test(files, notes):
        return notes.step * np.arange(np.floor(rpm.min() / notes.step), np.ceil(rpm.max() / notes.step) + 1)
    rpm = np.sort(rpm)
    parts = np.split(rpm, np.flatnonzero(np.diff(rpm) > _near(notes.step)) + 1)
    return np.array([np.round(np.mean(p), 1) for p in parts])


def _near(step: float) -> float:
    """How near two readings of a step test are at one speed, rev/min."""
    return 0.1 * step


def at_steps(rpm: np.ndarray, values: np.ndarray, speeds: Any, step: float) -> np.ndarray:
    """``values`` of one pull's steady points at each of ``speeds``: the mean of the readings there, moved to
    the speed along the line to the next readings; NaN where the pull has none."""
    sound = np.isfinite(values)
    rpm, values = rpm[sound], values[sound]
    order = np.argsort(rpm, kind="stable")
    rpm, values = rpm[order], values[order]
    parts = np.split(np.arange(len(rpm)), np.flatnonzero(np.diff(rpm) > _near(step)) + 1)
    if not len(rpm):
        return np.full(len(speeds), np.nan)
    at = np.array([rpm[p].mean() for p in parts])
    mean = np.array([values[p].mean() for p in parts])
    near = np.array([np.min(np.abs(at - s)) <= 2.0 * _near(step) for s in speeds])
    return np.where(near, np.interp(speeds, at, mean), np.nan)


def _sweep_rates(file: PullFile, count: int) -> np.ndarray:
    """Speed gained per second, rev/min/s, of each pull (NaN without a time), at every speed."""
    rates = []
    for p in file.pulls:
        time = p.readings.get("time", np.full(len(p.lines), np.nan))
        usable = np.isfinite(time)
        rate = float("nan")
        if usable.sum() >= 3 and np.ptp(time[usable]) > 0.0:
            rate = float(np.polyfit(time[usable], p.readings["rpm"][usable], 1)[0])
        rates.append(np.full(count, rate))
    return np.array(rates)


def _air(readings: dict[str, np.ndarray], engine: Engine, remarks: Any) -> Atmosphere:
    """The air drawn: from the file's columns, else the ``pull`` section, else intake.ambient."""
    notes, ambient = engine.pull, engine.intake.ambient
    pressure = _drawn("barometer", readings, notes.barometer, ambient.pressure, remarks)
    inlet = _drawn("inlet_air", readings, notes.inlet_air, ambient.temperature, remarks)
    _check_altitude(float(np.mean(pressure)), notes.altitude, remarks)
    return Atmosphere(pressure, inlet, _humidity(readings, engine, inlet, remarks))


def _drawn(
    channel: str, readings: dict[str, np.ndarray], stated: float | None, assumed: float, remarks: Any
) -> np.ndarray:
    """A quantity of the air at every reading: as logged, as stated, or as assumed."""
    shape = readings["torque"].shape
    if is_logged(readings, channel):
        logged = readings[channel]
        return np.where(np.isnan(logged), np.nanmean(logged), logged)
    if stated is None:
        remarks.append(f"{channel} is neither logged nor stated: intake.ambient is taken")
    return np.broadcast_to(assumed if stated is None else stated, shape)


def is_logged(readings: dict[str, np.ndarray], channel: str) -> bool:
    """Whether there is any reading of a channel."""
    return channel in readings and bool(np.isfinite(readings[channel]).any())


def _humidity(readings: dict[str, np.ndarray], engine: Engine, inlet: np.ndarray, remarks: Any) -> np.ndarray:
    """Relative humidity of the inlet air. Air that warms up in the test cell keeps its vapour: what
    was measured elsewhere, or stated once for all pulls, is one vapour pressure."""
    notes, ambient = engine.pull, engine.intake.ambient
    measured = _drawn("humidity", readings, notes.humidity, ambient.humidity, remarks)
    at = np.asarray(ambient.temperature if notes.humidity is None else np.mean(inlet))
    if is_logged(readings, "humidity_temperature"):
        at = _drawn("humidity_temperature", readings, None, 0.0, remarks)
    elif notes.humidity_temperature is not None:
        at = np.asarray(notes.humidity_temperature)
    elif is_logged(readings, "humidity"):
        at = inlet
    found = same_vapour(measured, at, inlet)
    if np.max(found) > 1.0:
        remarks.append(
            "the inlet air is so much colder than where humidity was measured that its vapour would"
            " condense: it is taken as saturated"
        )
    return np.minimum(found, 1.0)


def _check_altitude(barometer: float, altitude: float | None, remarks: Any) -> None:
    if altitude is None:
        return
    due, pressure = pressure_at_altitude(altitude), unit("pressure")
    if abs(barometer / due - 1.0) > ALTITUDE_GAP:
        remarks.append(
            f"barometer {pressure.said(barometer)} cannot be right at {altitude:.0f} m: the standard"
            f" atmosphere has {pressure.said(due)} there (a reading reduced to sea level?)"
        )


def displacement(engine: Engine) -> float:
    """Swept volume of all cylinders, m3."""
    return geometry(engine).swept * engine.block.cylinders


def ve_of_air_flow(air_flow: np.ndarray, rpm: np.ndarray, engine: Engine, air: Atmosphere) -> np.ndarray:
    """Delivered VE: m_dot / (n V rpm/120 rho), rho the density of the air drawn (four-stroke)."""
    return air_flow / (displacement(engine) * rpm / 120.0 * density(air))


def bmep_of(torque: np.ndarray, engine: Engine) -> np.ndarray:
    """Brake mean effective pressure, Pa, of a torque (N m): 4 pi T / (n V)."""
    return torque * 4.0 * pi / displacement(engine)

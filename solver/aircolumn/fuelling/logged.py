"""What pulls with this manifold ask of its table: the filling that was measured, speed by speed, beside what
the table has there.

Filling is measured by what was logged (the first there is):

    air flow                         m' as logged
    fuel flow, air-fuel ratio        m' = fuel flow x ratio
    pulse width, air-fuel ratio      m' = cylinders x n/120 x fuel of a pulse (metering.py) x ratio
    lambda                           filling = table x lambda / target, if the pull was run with this table

With m = m' / (cylinders x n/120) it is referred as the table is (filling.py), to the air of the day. The
manifold's pressure and temperature are those logged; where they are not, those predicted for the open
throttle, in proportion to the air outside. The correction is measured over table; its interval is that of the
pulls' mean, of one standard deviation between pulls at all speeds (like_for_like.py)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.errors import RequestError
from aircolumn.fuelling.filling import filling_of
from aircolumn.fuelling.metering import fuel_of_pulse
from aircolumn.fuelling.table_file import read_at
from aircolumn.measured.atmosphere import OBSERVED
from aircolumn.measured.impossible import check_possible
from aircolumn.measured.like_for_like import half_width, spread_between_pulls
from aircolumn.measured.logs.days import as_one_file, in_order
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import (
    is_logged,
    mean_of_pulls,
    measured_curve,
    stoichiometric_of,
    ve_of_air_flow,
)
from aircolumn.measured.overlay import measured_air_flow

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.fuelling.at_load import AtLoad
    from aircolumn.measured.logs.pull_file import PullFile
    from aircolumn.measured.measured_curve import MeasuredCurve

PULSES, BY_LAMBDA = "pulse width and air-fuel ratio", "lambda, as run with this table"


@dataclass(frozen=True)
class LogAsks:
    """At speeds (s,), rev/min: pressure of the manifold, Pa; filling measured and in the table; correction:
    measured over table, less 1; known_to: half-width of each (NaN of a single pull); mixture: lambda that was
    measured and ``target``, None without. source: what filling is from; pulls: how many; remarks: for the
    reader."""

    file: PullFile
    source: str
    pulls: int
    rpm: np.ndarray
    pressure: np.ndarray
    measured: np.ndarray
    table: np.ndarray
    known_to: float
    mixture: np.ndarray | None
    target: np.ndarray
    remarks: list[str]

    @property
    def correction(self) -> np.ndarray:
        """What the table is to be changed by, relative."""
        return self.measured / self.table - 1.0

    @property
    def shown(self) -> np.ndarray:
        """Where the correction is more than its interval."""
        return np.abs(self.correction) > self.known_to


class PullLog(NamedTuple):
    """Pulls as they were read, and at common speeds, (s,); inside: those among the table's, (s,)."""

    file: PullFile
    curve: MeasuredCurve
    inside: np.ndarray


class TableCells(NamedTuple):
    """A table at the places of AtLoad: filling and the lambda that is metered for, (s, l)."""

    filling: np.ndarray
    target: np.ndarray


def log_of(paths: Sequence[Path], engine: Engine, name: str, rpm: np.ndarray) -> PullLog:
    """Read pulls of the manifold ``name``, which ``engine`` has; rpm: speeds of the table, rising. Raises
    RequestError if nothing of filling is logged or no speed is the table's, InputError for files that cannot
    be read and readings that cannot be the engine's."""
    file = as_one_file(in_order([read_pulls(path, engine.pull) for path in paths]))
    curve = measured_curve(file, engine, name, OBSERVED)
    check_possible(file, engine, curve)
    inside = (curve.rpm >= rpm[0]) & (curve.rpm <= rpm[-1])
    if not inside.any():
        raise RequestError(f"{file.path}: no speed of the pulls is among those of the table")
    if measured_air_flow(curve) is None and not is_logged(curve.readings, "air_fuel_ratio"):
        raise RequestError(f"{file.path}: neither air flow, fuel flow, pulse width nor lambda is logged")
    return PullLog(file, curve, inside)


def asked_by(log: PullLog, engine: Engine, at: AtLoad, cells: TableCells, referred_to: str) -> LogAsks:
    """What pulls ask of a table."""
    curve, inside = log.curve, log.inside
    pressure, cooler, fresher = _in_the_manifold(curve, engine, at)
    load = np.ones(len(curve.rpm)) if at.by_opening else mean_of_pulls(pressure)
    table = read_at(at.rpm, at.loads, _to_the_ends(cells.filling), curve.rpm, load)
    target = read_at(at.rpm, at.loads, cells.target, curve.rpm, load)
    mixture = None
    if is_logged(curve.readings, "air_fuel_ratio"):
        mixture = curve.readings["air_fuel_ratio"] / stoichiometric_of(engine)
    flow = measured_air_flow(curve) or _of_pulses(curve, engine, pressure)
    if flow is not None:
        filling = ve_of_air_flow(flow[0], curve.rpm, engine, curve.air)
        if referred_to != "ambient":
            filling = filling * curve.air.pressure / pressure / cooler
        filling, source = filling * (fresher if referred_to == "fresh" else 1.0), flow[1]
    else:
        filling, source = table * required(mixture) / target, BY_LAMBDA
    spread, freedom = spread_between_pulls([filling], relative=True)
    return LogAsks(
        log.file,
        source,
        curve.pulls,
        curve.rpm[inside],
        mean_of_pulls(pressure)[inside],
        mean_of_pulls(filling)[inside],
        table[inside],
        half_width(spread, freedom, curve.pulls, np.inf),  # against a value known exactly
        None if mixture is None else mean_of_pulls(mixture)[inside],
        target[inside],
        [*curve.remarks, *_not_used(curve, engine)],
    )


def _not_used(curve: MeasuredCurve, engine: Engine) -> list[str]:
    """Why pulse widths tell nothing."""
    if engine.fuelling.injectors is not None or not is_logged(curve.readings, "pulse_width"):
        return []
    return ["pulse widths are logged; what fuel they are is known with fuelling.injectors in the engine file"]


def _in_the_manifold(
    curve: MeasuredCurve, engine: Engine, at: AtLoad
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(Pressure, Pa, (pulls, s); temperature of the air outside over that in the manifold, (pulls, s); what
    filling referred to fresh air is of that referred to all gas, (s,))."""
    outside, r = engine.intake.ambient, curve.readings

    def wide_open(values: np.ndarray) -> np.ndarray:
        return np.interp(curve.rpm, at.rpm, values)

    pressure = curve.air.pressure * wide_open(at.open["plenum_pressure"] / outside.pressure)
    if is_logged(r, "manifold_pressure"):
        pressure = np.where(np.isfinite(r["manifold_pressure"]), r["manifold_pressure"], pressure)
    warmer = wide_open(at.open["plenum_temperature"] / outside.temperature)
    temperature = curve.air.temperature * warmer
    if is_logged(r, "manifold_temperature"):
        temperature = np.where(np.isfinite(r["manifold_temperature"]), r["manifold_temperature"], temperature)
    fresh, every = (filling_of(at.open, engine, way) for way in ("fresh", "manifold"))
    return pressure, curve.air.temperature / temperature, wide_open(fresh / every)


def _of_pulses(curve: MeasuredCurve, engine: Engine, pressure: np.ndarray) -> tuple[np.ndarray, str] | None:
    """(Air flow by pulse width and mixture, kg/s, (pulls, s); what from), or None without them."""
    r, injectors = curve.readings, engine.fuelling.injectors
    if injectors is None or not (is_logged(r, "pulse_width") and is_logged(r, "air_fuel_ratio")):
        return None
    fuel = fuel_of_pulse(injectors, r["pulse_width"], curve.air.pressure, pressure)
    return fuel * r["air_fuel_ratio"] * engine.block.cylinders * curve.rpm / 120.0, PULSES


def _to_the_ends(values: np.ndarray) -> np.ndarray:
    """A table (s, l) whose cells out of reach hold what the nearest load of the same speed has."""
    places, filled = np.arange(values.shape[1]), values.copy()
    for row in filled:
        known = np.isfinite(row)
        if known.any():
            row[:] = np.interp(places, places[known], row[known])
    return filled

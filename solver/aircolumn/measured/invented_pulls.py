"""Invented pulls: the model's curve as a logger in a test cell would have written it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import CubicSpline

from aircolumn.curves.points import all_points
from aircolumn.engine.description.given import check_speeds, engine_of
from aircolumn.engine.description.units import unit_factor
from aircolumn.engine.model.mixture import ambient_gas
from aircolumn.errors import RequestError, no_such
from aircolumn.measured.calibration import UNKNOWNS, with_values
from aircolumn.measured.logs.channels import known_unit

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description

FIRST_LINE = "# Invented: no engine was measured. A computed curve with noise and drift added.\n"
HEADINGS = (
    "pull,time [s],engine speed [rpm],torque [{}],air flow [kg/h],AFR,spark [deg],coolant [degC],"
    "oil [degC],inlet air [degC],barometer [kPa],humidity [%]\n"
)
RATE = 300.0  # rev/min per s
SPARK, COOLANT, OIL = 24.0, 88.0, 104.0  # deg before top dead centre, degC
LEAST_SPEEDS, MOST_PULLS = 4, 100


@dataclass(frozen=True)
class DynoCell:
    """How a test cell errs.

    Parameters
    ----------
    torque_row, air_row : float
        Standard deviation from row to row, relative.
    torque_pull, air_pull : float
        The same from pull to pull.
    torque_scale, air_scale : float
        Wrong calibration: reading over truth less 1.
    drift : float
        Relative change of torque from the first pull to the last.
    barometer_error : float
        Reading less truth, Pa.
    afr_shift, spark_shift, inlet_shift : float
        By how much air-fuel ratio, spark (deg) and inlet temperature (K) differ from what they were meant to
        be: what was not like for like.
    spacing : float
        Rev/min from row to row.
    torque_unit : str
        What the dyno shows, such as "lb-ft".
    """

    torque_row: float = 0.006
    torque_pull: float = 0.002
    air_row: float = 0.010
    air_pull: float = 0.003
    torque_scale: float = 0.0
    air_scale: float = 0.0
    drift: float = 0.0
    barometer_error: float = 0.0
    afr_shift: float = 0.0
    spark_shift: float = 0.0
    inlet_shift: float = 0.0
    spacing: float = 30.0
    torque_unit: str = "N m"


@dataclass(frozen=True)
class TrueCurve:
    """What the engine really does: torque (N m) and air flow (kg/s) over speed (rev/min)."""

    rpm: np.ndarray
    torque: np.ndarray
    air_flow: np.ndarray


def invent_pulls(
    path: str | Path,
    engine: Engine | Description,
    rpm: Sequence[float],
    hidden: Mapping[str, float] | None = None,
    pulls: int = 3,
    cell: DynoCell = DynoCell(),
    seed: Any = 0,
) -> None:
    """Write the log of full-load pulls that such an engine would give: a CSV file that ``read_pulls`` and
    ``measure`` take, and that says it is invented.

    Parameters
    ----------
    path : str or Path
        The file to write.
    engine : Engine or Description
        What ran, in its ambient air.
    rpm : sequence of float
        Speeds to compute, rev/min, at least 4; between them a cubic spline.
    hidden : dict, optional
        What is wrong with the engine, by the names that ``measure`` fits, SI: discharge (factor), fmep (Pa
        added), walls (K warmer), cam (deg later).
    pulls : int
        How many, 1 to 100.
    cell : DynoCell
        How the cell errs.
    seed : int or numpy.random.Generator
        Of the noise: the same seed, the same file.

    Raises
    ------
    RequestError
        For an unknown name in ``hidden``, too few speeds, too many pulls.
    ComputationError
        If a point cannot be computed.

    Examples
    --------
    >>> import aircolumn
    >>> engine = aircolumn.load("configs/classroom-single.yaml").engine
    >>> invent_pulls("pulls.csv", engine, range(2000, 5001, 500), {"discharge": 0.97})  # doctest: +SKIP
    """
    wrong = [n for n in hidden or {} if n not in UNKNOWNS]
    if wrong:
        raise RequestError(no_such("fault", wrong[0], UNKNOWNS, ""))
    if len(check_speeds(rpm)) < LEAST_SPEEDS:
        raise RequestError(f"give at least {LEAST_SPEEDS} engine speeds: the curve runs between them")
    if not 1 <= pulls <= MOST_PULLS:
        raise RequestError(f"pulls must be 1 to {MOST_PULLS}")
    ran = with_values(engine_of(engine), dict(hidden or {}))
    write_pulls(path, true_curve(ran, check_speeds(rpm)), ran, seed, pulls, cell)


def true_curve(engine: Engine, speeds: Sequence[float] | np.ndarray) -> TrueCurve:
    """Compute the engine at ``speeds``, rev/min."""
    found = all_points([(k, engine, float(n), 1.0) for k, n in enumerate(speeds)])
    torque, air = ([found[k].figures[f] for k in range(len(speeds))] for f in ("torque", "air_flow"))
    return TrueCurve(np.asarray(speeds, float), np.array(torque), np.array(air))


def write_pulls(
    path: str | Path, curve: TrueCurve, engine: Engine, seed: Any, pulls: int, cell: DynoCell
) -> None:
    """Write a log of ``pulls`` sweeps along ``curve``; engine: for its air and its mixture."""
    rng = np.random.default_rng(seed)
    rpm = np.arange(curve.rpm[0], curve.rpm[-1] + 1.0, cell.spacing)
    torque, air = (CubicSpline(curve.rpm, v)(rpm) for v in (curve.torque, curve.air_flow))
    ambient = engine.intake.ambient
    lines = [FIRST_LINE, HEADINGS.format(cell.torque_unit)]
    shown = _size_of(cell.torque_unit)
    ratio = ambient_gas(engine).air_fuel_ratio + cell.afr_shift + rng.normal(0, 0.02, pulls)
    spark = SPARK + cell.spark_shift + rng.normal(0, 0.05, pulls)
    coolant, oil = COOLANT + rng.normal(0, 0.8, pulls), OIL + rng.normal(0, 1.2, pulls)
    inlet = ambient.temperature - 273.15 + cell.inlet_shift + rng.normal(0, 0.4, pulls)
    barometer = 1e-3 * (ambient.pressure + cell.barometer_error + rng.normal(0, 20.0, pulls))
    gains = 1.0 + cell.torque_scale + rng.normal(0, cell.torque_pull, pulls)
    gains = gains + cell.drift * np.linspace(0.0, 1.0, pulls)
    air_gains = 1.0 + cell.air_scale + rng.normal(0, cell.air_pull, pulls)
    for k in range(pulls):
        noise = rng.normal(0.0, 1.0, (6, rpm.size))
        columns = [
            np.full(rpm.size, k + 1),
            (rpm - rpm[0]) / RATE,
            rpm + 2.0 * noise[0],
            torque * gains[k] * (1.0 + cell.torque_row * noise[1]) / shown,
            3600.0 * air * air_gains[k] * (1.0 + cell.air_row * noise[2]),
            ratio[k] + 0.06 * noise[3],
            spark[k] + 0.2 * noise[4] + 0.0016 * (rpm - rpm[0]),
            np.full(rpm.size, coolant[k]),
            np.full(rpm.size, oil[k]) + 0.002 * (rpm - rpm[0]),
            inlet[k] + 0.2 * noise[5],
            np.full(rpm.size, barometer[k]),
            np.full(rpm.size, 100.0 * ambient.humidity),
        ]
        for row in zip(*columns, strict=True):
            lines.append(",".join(f"{v:.5g}" for v in row) + "\n")
    Path(path).write_text("".join(lines))


def _size_of(torque_unit: str) -> float:
    """N m. Raises RequestError for what is no unit of torque."""
    factor = unit_factor(known_unit(torque_unit) or "", "torque")
    if factor is None:
        raise RequestError(f"'{torque_unit[:40]}' is no unit of torque; use N m or lb-ft")
    return factor[0]

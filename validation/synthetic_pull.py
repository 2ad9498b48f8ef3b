"""Pulls made from the model, with the noise, drift and faults of a test cell: to see whether
calibration finds what was hidden and the like-for-like check what was spoiled. Invented, and the
files say so.

    python -m validation.synthetic_pull DIR     writes the demo pulls of configs/
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

import aircolumn
from aircolumn.curves.points import all_points
from aircolumn.engine.description.engine_file import Engine
from aircolumn.measured.calibration import with_values

HEADER = "# Invented: no engine was measured. A computed curve with noise and drift added.\n"
HIDDEN = {"discharge": 0.95, "fmep": 0.12e5, "cam": 2.0}  # of the demo files


@dataclass(frozen=True)
class Cell:
    """How a test cell errs. *_row: from row to row, *_pull: from pull to pull (standard
    deviations; torque and air relative); drift: relative change of torque over the session;
    barometer_error: reading less truth, Pa. Shifts: what the second manifold's test got wrong."""

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
    spacing: float = 30.0  # rev/min from row to row


@dataclass(frozen=True)
class TrueCurve:
    """What the engine really does: torque (N m) and air flow (kg/s) over speed (rev/min)."""

    rpm: np.ndarray
    torque: np.ndarray
    air_flow: np.ndarray


def true_curve(engine: Engine, speeds) -> TrueCurve:
    """March the engine at ``speeds``."""
    found = all_points([(k, engine, float(n), 1.0) for k, n in enumerate(speeds)])
    torque, air = ([found[k].figures[f] for k in range(len(speeds))] for f in ("torque", "air_flow"))
    return TrueCurve(np.asarray(speeds, float), np.array(torque), np.array(air))


def write_pulls(path, curve: TrueCurve, engine: Engine, rng, pulls=4, cell=Cell()):
    """Write a logger file of ``pulls`` sweeps at 300 rev/min per second."""
    rpm = np.arange(curve.rpm[0], curve.rpm[-1] + 1.0, cell.spacing)
    torque, air = (CubicSpline(curve.rpm, v)(rpm) for v in (curve.torque, curve.air_flow))
    ambient = engine.intake.ambient
    lines = [
        HEADER,
        "pull,time [s],engine speed [rpm],torque [lb-ft],air flow [kg/h],AFR,"
        "spark [deg],coolant [degC],oil [degC],inlet air [degC],"
        "barometer [kPa],humidity [%]\n",
    ]
    ratio = engine.mixture.air_fuel_ratio + cell.afr_shift + rng.normal(0, 0.02, pulls)
    spark = 24.0 + cell.spark_shift + rng.normal(0, 0.05, pulls)
    coolant, oil = 88.0 + rng.normal(0, 0.8, pulls), 104.0 + rng.normal(0, 1.2, pulls)
    inlet = ambient.temperature - 273.15 + cell.inlet_shift + rng.normal(0, 0.4, pulls)
    barometer = 1e-3 * (ambient.pressure + cell.barometer_error + rng.normal(0, 20.0, pulls))
    gains = 1.0 + cell.torque_scale + rng.normal(0, cell.torque_pull, pulls)
    gains = gains + cell.drift * np.linspace(0.0, 1.0, pulls)
    air_gains = 1.0 + cell.air_scale + rng.normal(0, cell.air_pull, pulls)
    for k in range(pulls):
        noise = rng.normal(0.0, 1.0, (6, rpm.size))
        columns = [
            np.full(rpm.size, k + 1),
            (rpm - rpm[0]) / 300.0,
            rpm + 2.0 * noise[0],
            torque * gains[k] * (1.0 + cell.torque_row * noise[1]) / 1.3558179483,
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


def write_demo(folder):
    """The two demo files: the same hidden faults behind both manifolds."""
    description = aircolumn.load(Path(__file__).parent.parent / "configs" / "rescue-four.yaml")
    rng = np.random.default_rng(6)
    for name in ("long", "short"):
        engine = with_values(description.with_runner(name), HIDDEN)
        curve = true_curve(engine, np.arange(1500.0, 6001.0, 125.0))
        cell = Cell(drift=0.003)
        write_pulls(Path(folder) / f"invented-pulls-{name}.csv", curve, engine, rng, 3, cell)


if __name__ == "__main__":
    write_demo(sys.argv[1])

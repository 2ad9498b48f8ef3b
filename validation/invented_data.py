"""The invented files of configs/ and of the lessons: ``python -m validation.invented_data DIR`` writes them.
What is hidden in them stands here, and in the answers to the lessons."""

import sys
import tempfile
from contextlib import closing
from pathlib import Path

import numpy as np

import aircolumn
from aircolumn import DynoCell, invent_pulls, invent_traces
from aircolumn.fuelling.at_load import Throttled, cells_for_load, filling_at_load
from aircolumn.fuelling.filling import filling_of
from aircolumn.measured.calibration import with_values
from aircolumn.study.executors import Cores
from aircolumn.study.store import store_in

ROOT = Path(__file__).resolve().parent.parent
CONFIGS = ROOT / "configs"
IN_PULLS = {"discharge": 0.95, "fmep": 0.12e5, "cam": 2.0}  # fmep in Pa, cam in deg
IN_TRACES = {
    "length": 0.006,
    "temperature": -10.0,
    "timing": 1.5,
    "tdc": 0.6,
    "peg p cyl": 1500.0,
    "peg p port": -800.0,
    "peg runner 150 mm": 600.0,
}
METER = 0.97  # what the air meter of lesson 5 shows over what flows
SCATTER = 1.2  # of VE in lesson 5, points
TABLE_SPEEDS, TABLE_LOADS = np.arange(1000.0, 6001.0, 500.0), np.arange(30e3, 91e3, 10e3)
VE_SPEEDS = np.arange(1750.0, 6001.0, 250.0)
VE_FIRST_LINES = (
    "# Invented: no engine was measured. A computed curve with a hidden fault and scatter added.\nrpm,VE %\n"
)


def write_pulls(folder: Path) -> None:
    """Both manifolds of the demo: the same faults behind them."""
    description, rng = aircolumn.load(CONFIGS / "rescue-four.yaml"), np.random.default_rng(6)
    speeds = np.arange(1500.0, 6001.0, 125.0)
    cell = DynoCell(drift=0.003, torque_unit="lb-ft")
    for name in ("long", "short"):
        engine = description.with_runner(name)
        invent_pulls(folder / f"invented-pulls-{name}.csv", engine, speeds, IN_PULLS, 3, cell, rng)


def write_traces(folder: Path) -> None:
    """The classroom engine at 4000 rpm."""
    engine = aircolumn.load(CONFIGS / "classroom-single.yaml").engine
    invent_traces(folder / "invented-traces.csv", engine, 4000.0, hidden=IN_TRACES, seed=11)


def write_table(folder: Path) -> None:
    """The control unit's table of the demo's middle runner, as tuned on an engine with the faults behind the
    pulls."""
    description = aircolumn.load(CONFIGS / "rescue-four.yaml")
    engine = with_values(description.with_runner("middle"), IN_PULLS)
    with tempfile.TemporaryDirectory() as place, closing(store_in(place)) as store:
        cells = cells_for_load([engine], TABLE_SPEEDS, store, Cores())
        throttled = Throttled(engine, cells)
        at = filling_at_load(throttled, TABLE_SPEEDS, TABLE_LOADS, False, store, Cores())
    ve = 100.0 * filling_of(at.figures, engine, "manifold")
    said = "# Invented: no engine was measured. A computed table of an engine with hidden faults."
    rows = [said, f"rpm \\ kPa,{','.join(f'{p / 1e3:.0f}' for p in TABLE_LOADS)}"]
    rows += [f"{n:.0f},{','.join(f'{v:.1f}' for v in row)}" for n, row in zip(TABLE_SPEEDS, ve, strict=True)]
    (folder / "invented-ve-middle.csv").write_text("\n".join(rows) + "\n")


def true_ve() -> np.ndarray:
    """VE of the classroom engine at VE_SPEEDS, %."""
    engine = aircolumn.load(CONFIGS / "classroom-single.yaml").engine
    return 100.0 * aircolumn.curve(engine, VE_SPEEDS).ve.values


def shown_ve(true: np.ndarray, seed: int) -> np.ndarray:
    """What lesson 5's air meter shows."""
    return METER * true + np.random.default_rng(seed).normal(0.0, SCATTER, true.size)


def write_ve(folder: Path) -> None:
    """A VE curve by the air meter: the runner is as drawn, the meter is not."""
    rows = zip(VE_SPEEDS, shown_ve(true_ve(), 5), strict=True)
    text = "".join(f"{n:.0f},{ve:.1f}\n" for n, ve in rows)
    (folder / "invented-pull.csv").write_text(VE_FIRST_LINES + text)


def write_all(folder: Path) -> None:
    """All of them into one folder."""
    write_pulls(folder)
    write_traces(folder)
    write_ve(folder)
    write_table(folder)


if __name__ == "__main__":
    write_all(Path(sys.argv[1]))

"""A logged drive: how long the engine ran at which speed, from a CSV file with a column of engine speeds.

The first line that is no comment holds the headings. Without a column of time
(heading "time ...", seconds) every line counts alike; with one, each lasts until the next. Pauses of the
logger, longer than PAUSE times the usual step, do not count.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from aircolumn.engine.description.text_file import AsRead, wrong, wrong_line
from aircolumn.engine.description.text_table import TextTable, read_table
from aircolumn.errors import no_such

LOG = "log"  # key of speeds.use that names the file
LARGEST_LOG = 10_000_000  # bytes
WIDTH = 100.0  # rev/min, of the ranges that are made
PAUSE = 10.0  # times the usual step of time
SLOWEST, FASTEST = 100.0, 30_000.0  # rev/min that count
SPEED_WORDS = ("rpm", "1/min", "engine speed", "u/min", "tr/min")


def ranges_in(file: AsRead, column: str | None) -> list[dict]:
    """Ranges of WIDTH with their share of the time, in the words of the engine file. Raises InputError naming
    file, line and column."""
    due = "a line of headings and two or more lines of figures are expected"
    table = read_table(file, due)
    if len(table.rows) < 2:
        raise wrong(file.path, due)
    at = _column(file, table.headings, column, table.line)
    timed = next((k for k, h in enumerate(table.headings) if h.lower().startswith("time")), None)
    speeds = _numbers(table, at)
    times = np.zeros(speeds.size) if timed is None else _numbers(table, timed)
    return _histogram(file, speeds, _lasting(times, timed is not None))


def _column(file: AsRead, headings: Sequence[str], asked: str | None, line: int) -> int:
    if asked is not None:
        if asked in headings:
            return headings.index(asked)
        raise wrong(file.path, no_such("column", asked, headings), line)
    found = [k for k, h in enumerate(headings) if any(word in h.lower() for word in SPEED_WORDS)]
    if len(found) != 1:
        said = "no column names rpm" if not found else "several columns name rpm"
        raise wrong(file.path, f"{said}; say which one holds the engine speed: column: HEADING", line)
    return found[0]


def _numbers(table: TextTable, at: int) -> np.ndarray:
    """A column as numbers, NaN where a cell is empty. Raises InputError."""
    found = []
    for line, cells in table.rows:
        text = cells[at] if at < len(cells) else ""
        value = table.number(text) if text else float("nan")
        if value is None:
            raise wrong_line(table.file.path, line, table.headings[at], f"'{text[:40]}' is not a number")
        found.append(value)
    return np.array(found)


def _lasting(times: np.ndarray, timed: bool) -> np.ndarray:
    """How long each line lasts."""
    if not timed:
        return np.ones(times.size)
    steps = np.diff(times, append=np.nan)
    usual = float(np.nanmedian(steps[steps > 0.0])) if np.any(steps > 0.0) else 0.0
    steps[-1] = usual
    return np.where(np.isfinite(steps) & (steps > 0.0) & (steps <= PAUSE * usual), steps, 0.0)


def _histogram(file: AsRead, speeds: np.ndarray, lasting: np.ndarray) -> list[dict]:
    counts = np.isfinite(speeds) & (speeds >= SLOWEST) & (speeds < FASTEST) & (lasting > 0.0)
    if not counts.any():
        raise wrong(file.path, f"no engine speed from {SLOWEST:.0f} to {FASTEST:.0f} rpm in this column")
    bins = np.floor(speeds[counts] / WIDTH).astype(int)
    time = np.bincount(bins, weights=lasting[counts])
    time = time / time.sum()
    return [
        {"from": f"{k * WIDTH:g} rpm", "to": f"{(k + 1) * WIDTH:g} rpm", "weight": float(share)}
        for k, share in enumerate(time)
        if share > 0.0
    ]

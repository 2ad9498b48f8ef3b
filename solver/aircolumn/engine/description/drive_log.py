"""A logged drive: how long the engine ran at which speed, from a CSV file with a column of engine speeds.

Lines that begin with # are passed over; the first other line holds the headings. Without a column of time
(heading "time ...", seconds) every line counts alike; with one, each lasts until the next. Pauses of the
logger, longer than PAUSE times the usual step, do not count.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from aircolumn.engine.description.text_file import AsRead, separator_of, table_cells, table_text, wrong
from aircolumn.errors import no_such

LOG = "log"  # key of speeds.use that names the file
LARGEST_LOG = 10_000_000  # bytes
MOST_LINES = 200_000
WIDTH = 100.0  # rev/min, of the ranges that are made
PAUSE = 10.0  # times the usual step of time
SLOWEST, FASTEST = 100.0, 30_000.0  # rev/min that count
SPEED_WORDS = ("rpm", "1/min", "engine speed", "u/min", "tr/min")


def ranges_in(file: AsRead, column: str | None) -> list[dict]:
    """Ranges of WIDTH with their share of the time, in the words of the engine file. Raises InputError naming
    file, line and column."""
    rows = [(n, r) for n, r in enumerate(table_text(file.path, file.raw).splitlines(), 1) if r.strip()]
    rows = [(n, r) for n, r in rows if r.lstrip()[0] != "#"]
    if len(rows) < 3:
        raise wrong(file.path, "a line of headings and two or more lines of figures are expected")
    if len(rows) > MOST_LINES:
        raise wrong(file.path, f"{len(rows)} lines; at most {MOST_LINES}")
    separator = separator_of(rows[0][1])
    headings = table_cells(rows[0][1], separator)
    at = _column(file, headings, column, rows[0][0])
    timed = next((k for k, h in enumerate(headings) if h.lower().startswith("time")), None)
    speeds, times = [], []
    for number, row in rows[1:]:
        cells = table_cells(row, separator)
        speeds.append(_number(file, number, cells, at, headings))
        times.append(_number(file, number, cells, timed, headings) if timed is not None else 0.0)
    return _histogram(file, np.array(speeds), _lasting(np.array(times), timed is not None))


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


def _number(file: AsRead, line: int, cells: Sequence[str], at: int, headings: Sequence[str]) -> float:
    text = cells[at] if at < len(cells) else ""
    try:
        return float(text) if text else float("nan")
    except ValueError:
        raise wrong(file.path, f"'{text[:40]}' is not a number", line, key=headings[at]) from None


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

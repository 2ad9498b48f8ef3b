"""Rows of a log to readings in SI, and the rows that cannot be used."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import pi

import numpy as np

from aircolumn.display_units import percent
from aircolumn.engine.description.cells import number, seconds
from aircolumn.measured.logs.channels import CHANNELS, scale_of
from aircolumn.measured.logs.guess import UNKNOWN, LogColumn
from aircolumn.measured.logs.log_table import LogTable
from aircolumn.measured.logs.pull_file import Omission, PullFile

FULL_LOAD = 0.95  # of the widest throttle opening, above which a row counts as full load
WIDE_OPEN = 0.8  # throttle: a log that stays below was not run at full load
NO_RELATION = 0.05  # relative: power and torque of a row do not go together
SUMMARY = re.compile(
    r"(av(era)?ge?|mean|max(imum)?|min(imum)?|peak|total|sum|std( ?dev)?|mittel(wert)?|moyenne|medi[ao]"
    r"|promedio|gemiddeld[e]?|medel(varde)?|srednia|summe|durchschnitt)\b.*",
    re.IGNORECASE,
)


def readings_of(
    table: LogTable, found: Sequence[LogColumn], result: PullFile
) -> tuple[np.ndarray, dict[int, np.ndarray]]:
    """(line numbers, readings by number of column, SI) of the rows that have all their cells and are no
    summaries; unreadable or impossible cells are NaN, and noted where the row can still be used."""
    lines, rows = [], []
    for line, cells in table.rows:
        reason = _whole_row_fault(cells, table)
        if reason:
            result.omitted.append(Omission(line, reason, True))
            continue
        lines.append(line)
        rows.append(cells)
    read = {
        c.number: _column(c, lines, [r[c.number] for r in rows], table.decimal_comma, result) for c in found
    }
    return np.array(lines, dtype=int), read


def _whole_row_fault(cells: Sequence[str], table: LogTable) -> str:
    due = len(table.headings)
    extra = [c for c in cells[due:] if c]
    summary = next((c for c in cells if c[:1].isalpha() and SUMMARY.fullmatch(c)), None)
    if summary is not None:
        return f"'{summary[:20]}': a summary, not a reading"
    if len(cells) < due or extra:
        return f"{len(cells)} cells where {due} are needed"
    return ""


def _column(
    c: LogColumn, lines: Sequence[int], cells: Sequence[str], decimal_comma: bool, result: PullFile
) -> np.ndarray:
    """Readings of a column in SI; NaN where a cell is empty, no number, or cannot be."""
    if c.channel == "pull":
        return _labels(cells)
    about = CHANNELS[c.channel]
    factor, shift = (1.0, 0.0) if c.unit == UNKNOWN else scale_of(c.channel, c.unit)
    values = [number(cell, decimal_comma) for cell in cells]
    if c.channel == "time":
        values = [seconds(cell) if v is None else v for v, cell in zip(values, cells, strict=True)]
    with np.errstate(over="ignore"):  # a figure too large to be one is found out below
        read = factor * np.array([np.nan if v is None else v for v in values], dtype=float) + shift
    if c.channel == "rpm" and c.how == "guessed":
        read = _thousands(read, c, result)
    ok = (read >= about.low) & (read <= about.high) if c.unit != UNKNOWN else np.isfinite(read)
    if c.channel not in ("rpm", "torque", "power"):  # faults there cost the row, not the cell alone
        for k in np.flatnonzero(~ok).tolist():
            if cells[k]:
                fault = "is not a number" if np.isnan(read[k]) else "cannot be"
                text = f"{c.heading or c.channel}: '{cells[k][:40]}' {c.unit} {fault}; cell left out"
                result.omitted.append(Omission(lines[k], " ".join(text.split()), False))
    return np.where(ok, read, np.nan)


def _labels(cells: Sequence[str]) -> np.ndarray:
    """Numbers of pulls: as they stand, the last number in a label, or labels counted as they come."""
    values = [number(cell, False) for cell in cells]
    if all(v is not None or not c for v, c in zip(values, cells, strict=True)):
        return np.array([np.nan if v is None else v for v in values])
    places = {c: k + 1.0 for k, c in enumerate(dict.fromkeys(c for c in cells if c))}
    last = {c: re.search(r"(\d+)\D*$", c) for c in places}
    if all(last.values()) and len({m[1] for m in last.values() if m}) == len(places):
        places = {c: float(m[1]) for c, m in last.items() if m}
    return np.array([places.get(c, np.nan) for c in cells])


def _thousands(rpm: np.ndarray, c: LogColumn, result: PullFile) -> np.ndarray:
    """Speeds that no engine runs at, but a thousand times of them are, in rpm."""
    there = rpm[np.isfinite(rpm)]
    if there.size and c.unit == "rpm" and 0.3 < np.median(there) < 25.0 and there.max() < 30.0:
        result.remarks.append(
            f"'{c.heading}' is taken as thousands of rpm: no engine runs at {np.median(there):.3g}"
        )
        return 1000.0 * rpm
    return rpm


def sound_rows(lines: np.ndarray, readings: dict[str, np.ndarray], result: PullFile) -> np.ndarray:
    """Numbers of the rows that can be used; the others are noted."""
    faults = _faults(readings)
    reasons = np.full(len(lines), "", dtype=object)
    for bad, reason in faults:
        reasons[(reasons == "") & bad] = reason
    result.omitted += left_out(lines, np.arange(len(lines)), {k: r for k, r in enumerate(reasons) if r})
    return np.flatnonzero(reasons == "")


def _faults(readings: dict[str, np.ndarray]) -> list[tuple[np.ndarray, str]]:
    """(rows, why they cannot be used), the first that holds being the reason."""
    rpm, torque = readings["rpm"], readings["torque"]
    found = [(np.isnan(rpm), "no engine speed from 100 to 30000 rpm in it")]
    if "pull" in readings:
        found.append((np.isnan(readings["pull"]), "no pull number in it"))
    found.append((np.isnan(torque), "no valid torque in it"))
    if "throttle" in readings and np.isfinite(readings["throttle"]).any():
        throttle = readings["throttle"]
        widest = float(np.nanquantile(throttle, 0.9))
        least = FULL_LOAD * min(max(widest, WIDE_OPEN), 1.0)
        found.append((throttle < least, f"throttle less than {percent(least, '.0f')} open: not full load"))
    found.append((torque <= 0.0, "torque is not above zero: no load"))
    if "power" in readings:
        with np.errstate(divide="ignore", invalid="ignore"):
            share = readings["power"] / (torque * rpm * pi / 30.0)
        usual = np.nanmedian(share) if np.isfinite(share).any() else 1.0
        found.append((np.abs(share / usual - 1.0) > NO_RELATION, "power and torque do not go together"))
    return found


def left_out(lines: np.ndarray, rows: np.ndarray, why: dict[int, str]) -> list[Omission]:
    """Omissions of rows (numbers into ``lines``)."""
    return [Omission(int(lines[rows[k]]), reason, True) for k, reason in sorted(why.items())]

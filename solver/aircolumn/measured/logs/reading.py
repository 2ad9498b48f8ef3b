"""A measured file to pulls at full load: columns found and shown, readings in SI, what was left out and
why."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import numpy as np

from aircolumn.display_units import counted
from aircolumn.engine.description.measured import Measured
from aircolumn.engine.description.text_file import wrong_line
from aircolumn.measured.logs.channels import is_volume_flow, known_unit
from aircolumn.measured.logs.guess import find_columns, recognised
from aircolumn.measured.logs.log_table import LogTable, heading_key, read_log_table
from aircolumn.measured.logs.preamble import read_above
from aircolumn.measured.logs.pull_file import Omission, PullFile
from aircolumn.measured.logs.pulls import FEWEST_ROWS, split_pulls
from aircolumn.measured.logs.rows import readings_of, sound_rows
from aircolumn.measured.logs.statement import BY_FACTOR
from aircolumn.measured.logs.torque import at_the_engine, how_stated, used

MOSTLY = 0.8  # of the rows


def read_pulls(path: str | Path, notes: Measured | None = None) -> PullFile:
    """Read a logger's data file.

    Parameters
    ----------
    path : str or Path
        CSV as loggers write it.
    notes : Measured, optional
        The engine file's ``pull`` section: what cannot be guessed from the headings.

    Returns
    -------
    PullFile
        Pulls (SI; rev/min, deg), columns found, how torque is stated, and what was left out and why.

    Raises
    ------
    InputError
        If the file cannot be used, or speaks of a correction that cannot be told; rows that cannot be used
        are left out and listed.
    """
    path, notes = Path(path), notes or Measured()
    table = read_log_table(path, partial(recognised, notes), known_unit)
    _check_mapping(table, notes)
    found, unused = find_columns(table, notes)
    result = PullFile(table.file, [], {}, unused, heading_line=table.heading_line)
    if table.passed_over:
        result.remarks.append(f"{counted(table.passed_over, 'line')} skipped (comments, titles or blank)")
    lines, cells = readings_of(table, found, result)
    above = read_above(table.above)
    readings, evidence = used(table, found, cells, above, result)
    at_the_engine(readings, notes.wheel, result)
    kept = sound_rows(lines, readings, result)
    if len(kept) < FEWEST_ROWS:
        said = _too_few(len(kept), result)
        if np.sum(readings["torque"] < 0.0) > MOSTLY * max(len(lines), 1):
            said += "; torque is negative in nearly all rows: is its sign reversed?"
        raise wrong_line(path, table.heading_line, "", said)
    lines, readings = lines[kept], {c: v[kept] for c, v in readings.items()}
    result.statement = how_stated(table, readings, evidence, notes, result)
    if result.stated != BY_FACTOR:
        readings.pop("correction", None)
    if "air_flow" in result.columns:
        result.volume_flow = is_volume_flow(result.columns["air_flow"].unit)
    result.pulls = split_pulls(lines, readings, table.breaks, result)
    result.omitted = _as_ranges(result.omitted, table)
    return result


def _check_mapping(table: LogTable, notes: Measured) -> None:
    there = {heading_key(h) for h in table.headings}
    for channel, column in notes.columns.items():
        if heading_key(column.name) not in there:
            listed = ", ".join(f"'{h}'" for h in table.headings)
            raise wrong_line(
                table.path,
                table.heading_line,
                f"pull.columns.{channel}",
                f"the file has no column '{column.name}'; it has {listed}",
            )


def _as_ranges(omitted: Sequence[Omission], table: LogTable) -> list[Omission]:
    """Rows that follow each other with one reason as one range; whole rows before single cells."""
    place = {line: k for k, (line, _) in enumerate(table.rows)}
    found: list[Omission] = []
    for o in sorted(omitted, key=lambda o: (not o.whole_row, o.line)):
        last = found[-1] if found else None
        follows = last is not None and place[o.line] == place[max(last.last, last.line)] + 1
        if last is not None and follows and o.whole_row and last.whole_row and o.reason == last.reason:
            found[-1] = Omission(last.line, o.reason, True, o.line)
        else:
            found.append(o)
    return found


def _too_few(count: int, result: PullFile) -> str:
    text = f"only {count} rows can be used, at least {FEWEST_ROWS} are needed"
    whole = [o for o in result.omitted if o.whole_row]
    if whole:
        text += f" ({whole[0].lines}: {whole[0].reason})"
    return text

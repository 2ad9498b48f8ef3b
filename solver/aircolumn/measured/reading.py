"""A measured file to pulls: columns found and shown, readings in SI, what was left out and why."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from math import pi
from pathlib import Path
from typing import Any

import numpy as np

from aircolumn.display_units import counted
from aircolumn.engine.description.measured import ChannelName, Measured
from aircolumn.engine.description.text_file import AsRead
from aircolumn.measured.channels import (
    CHANNELS,
    channel_of,
    channel_of_symbol,
    channel_of_unit,
    is_volume_flow,
    known_unit,
    plain_words,
    scale_of,
    split_heading,
)
from aircolumn.measured.log_table import LogTable, heading_key, number, read_log_table, wrong_line

FULL_LOAD = 0.95  # throttle opening above which a row counts as full load
FEWEST_ROWS, MOST_PULLS = 3, 200
RISING = 0.7  # of the steps of a sweep go up: less is a hold or a run down, with noise
POWER_GAP = 0.02  # by which power may differ from torque x speed before a unit must be wrong
_ROW_NEEDS = ("pull", "rpm", "torque", "power")  # faults there cost the row, not the cell alone
#: What the channel is called when a unit has to be asked for.
_EXAMPLES = {
    "temperature": "degC",
    "torque": "lbf ft",
    "power": "hp",
    "pressure": "kPa",
    "mass flow": "kg/h",
    "air flow": "kg/h",
}


@dataclass(frozen=True)
class UsedColumn:
    """A column that is used: its heading, its unit, and how it was found (mapped or guessed)."""

    heading: str
    unit: str
    how: str


@dataclass(frozen=True)
class Omission:
    """A row, or a cell of it, that is not used."""

    line: int
    reason: str
    whole_row: bool


@dataclass(frozen=True)
class Pull:
    """One sweep: line numbers, and readings by channel in SI (rpm in rev/min, spark in degrees),
    arrays of one length in order of the file; missing readings are NaN."""

    lines: np.ndarray
    readings: dict[str, np.ndarray]


@dataclass
class PullFile:
    """All that was read from a file: pulls, columns by channel, headings not used, omissions,
    remarks for the reader, and whether the air flow is a volume flow (m3/s)."""

    file: AsRead
    pulls: list[Pull]
    columns: dict[str, UsedColumn]
    unused: list[str]
    omitted: list[Omission] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    stated: str = "observed"
    volume_flow: bool = False

    @property
    def path(self) -> Path:
        """Path of the data file."""
        return self.file.path


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
        Pulls (SI; rev/min, deg), columns found, and what was left out and why.

    Raises
    ------
    InputError
        If the file cannot be used; rows that cannot be are left out and listed.
    """
    path, notes = Path(path), notes or Measured()
    mapped = {heading_key(c.name): channel for channel, c in notes.columns.items()}
    table = read_log_table(path, partial(_recognised, mapped, notes), known_unit)
    _check_mapping(table, notes)
    found = _columns(table, notes, mapped)
    columns = {channel: taken for channel, (_, taken) in found.items()}
    used = {k for k, _ in found.values()}
    unused = [h for k, h in enumerate(table.headings) if k not in used and h]
    result = PullFile(table.file, [], columns, unused)
    if table.passed_over:
        result.remarks.append(f"{counted(table.passed_over, 'line')} skipped (comments, titles or blank)")
    result.stated = _stated(table, columns, notes)
    lines, readings = _readings(table, found, result)
    if len(lines) < FEWEST_ROWS:
        raise wrong_line(path, table.heading_line, "", _too_few(len(lines), result))
    _complete(readings, table, result)
    if "air_flow" in columns:
        result.volume_flow = is_volume_flow(columns["air_flow"].unit)
    result.pulls = _split(lines, readings, table.breaks, result)
    return result


def _recognised(mapped: Any, notes: Measured, cells: Sequence[str], below: Sequence[str]) -> tuple[int, str]:
    """How many cells name channels, given the cells below them, and what is missing among them."""
    below = [*below, *[""] * len(cells)]
    named = (
        mapped.get(heading_key(c)) or guessed_channel(c, b)[0] for c, b in zip(cells, below, strict=False)
    )
    channels = {channel for channel in named if channel}
    return len(channels), _lacking(channels, notes)


def _lacking(channels: set[str], notes: Measured) -> str:
    """What is missing among the channels of a line of headings; "" if it can be used."""
    lost = [f"engine speed{_mapped_name('rpm', notes)}"] if "rpm" not in channels else []
    if not channels & {"torque", "power"}:
        lost.append(f"torque{_mapped_name('torque', notes)} or power{_mapped_name('power', notes)}")
    return f"{' and '.join(lost)} {'is' if len(lost) == 1 else 'are'} not in it" if lost else ""


def _mapped_name(channel: ChannelName, notes: Measured) -> str:
    """The heading that the engine file gives for a channel."""
    column = notes.columns.get(channel)
    return f" ('{column.name}' by pull.columns)" if column else ""


def guessed_channel(heading: str, below: str = "") -> tuple[str | None, str | None]:
    """(channel, unit) a heading stands for by itself; ``below``: the cell below it, which may hold
    its unit."""
    name, unit = split_heading(heading)
    if not name:
        return channel_of_unit(unit), unit
    return channel_of(name) or channel_of_symbol(name, unit or known_unit(below.strip("[]() "))), unit


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


def _columns(table: LogTable, notes: Measured, mapped: Any) -> dict:
    """Channel to (number, column); the first of several wins, but not for torque or power."""
    found: dict[str, tuple[int, UsedColumn]] = {}
    for k, heading in enumerate(table.headings):
        channel, unit, how = mapped.get(heading_key(heading)), None, "mapped"
        below = table.units[k] if k < len(table.units) else ""
        guessed, unit = guessed_channel(heading, below)
        if channel is None:
            if guessed in notes.columns:
                continue
            channel, how = guessed, "guessed"
        if channel is None:
            continue
        if channel in found:
            _check_rivals(table, channel, found[channel][1].heading, heading)
            continue
        stated = notes.columns[channel].unit if how == "mapped" else None
        given = known_unit(stated) if stated else None
        if stated and given is None:
            given = stated
        found[channel] = (
            k,
            UsedColumn(heading, _unit(table, channel, heading, given, unit, known_unit(below)), how),
        )
    return found


def _check_rivals(table: LogTable, channel: str, first: str, second: str) -> None:
    if channel in ("rpm", "torque", "power"):
        raise wrong_line(
            table.path,
            table.heading_line,
            channel,
            f"columns '{first}' and '{second}' both read as {channel}; name one under"
            " pull.columns in the engine file",
        )


def _unit(
    table: LogTable, channel: str, heading: str, stated: str | None, inside: str | None, below: str | None
) -> str:
    """The column's unit: from the engine file, the heading, the row of units, or taken for
    granted."""
    about = CHANNELS[channel]
    if about.kind is None:
        return ""
    unit = stated or inside or below or about.unit
    if not unit:
        example = _EXAMPLES[about.kind]
        raise wrong_line(
            table.path,
            table.heading_line,
            channel,
            f"column '{heading}' names no unit; write it into the heading, or state pull.columns:"
            f" {{{channel}: {{name: {heading}, unit: {example}}}}} in the engine file",
        )
    try:
        scale_of(channel, unit)
    except ValueError as error:
        raise wrong_line(table.path, table.heading_line, channel, f"column '{heading}': {error}") from None
    return unit


def _stated(table: LogTable, columns: dict[str, UsedColumn], notes: Measured) -> str:
    """What torque and power are stated at; a column called corrected must say by which standard."""
    if notes.stated is not None:
        return notes.stated
    for channel in ("torque", "power"):
        if channel in columns and "corr" in plain_words(columns[channel].heading):
            raise wrong_line(
                table.path,
                table.heading_line,
                channel,
                f"column '{columns[channel].heading}' is corrected, but does not say to what; state"
                " pull.stated in the engine file (j1349, j607, din70020, iso1585, or observed)",
            )
    return "observed"


def _readings(
    table: LogTable, found: dict[str, tuple[int, UsedColumn]], result: PullFile
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Line numbers and readings of the rows that can be used; the others are noted."""
    scales = {c: scale_of(c, taken.unit) for c, (_, taken) in found.items()}
    lines, rows = [], []
    for line, cells in table.rows:
        reason = _whole_row_fault(cells, table)
        values = {} if reason else _row(line, cells, found, scales, table.decimal_comma, result)
        reason = reason or _row_fault(values, found)
        if reason:
            result.omitted.append(Omission(line, reason, True))
            continue
        lines.append(line)
        rows.append([values[c] for c in found])
    array = np.array(rows, dtype=float).reshape(len(rows), len(found))
    return np.array(lines), dict(zip(found, array.T, strict=True))


def _whole_row_fault(cells: Sequence[str], table: LogTable) -> str:
    due = len(table.headings)
    extra = [c for c in cells[due:] if c]
    if len(cells) < due or extra:
        return f"{len(cells)} cells where {due} are needed"
    return ""


def _row(
    line: int,
    cells: Sequence[str],
    found: dict[str, tuple[int, UsedColumn]],
    scales: dict[str, tuple[float, float]],
    decimal_comma: bool,
    result: PullFile,
) -> dict:
    """Readings of one row; unreadable or impossible ones are NaN and, where the row can
    still be used, noted here."""
    values = {}
    for channel, (k, taken) in found.items():
        about, cell = CHANNELS[channel], cells[k]
        reading = number(cell, decimal_comma)
        factor, shift = scales[channel]
        value = float("nan") if reading is None else factor * reading + shift
        ok = about.low <= value <= about.high
        values[channel] = value if ok else float("nan")
        if not ok and cell and channel not in _ROW_NEEDS:
            fault = "is not a number" if reading is None else "cannot be"
            text = f"{taken.heading or channel}: '{cell[:40]}' {taken.unit} {fault}; cell left out"
            result.omitted.append(Omission(line, " ".join(text.split()), False))
    return values


def _row_fault(values: dict[str, float], found: dict[str, tuple[int, UsedColumn]]) -> str:
    """Why a whole row cannot be used, or nothing."""
    if np.isnan(values["rpm"]):
        return "no engine speed from 100 to 30000 rpm in it"
    if np.isnan(values.get("pull", 0.0)):
        return "no pull number in it"
    needed = [c for c in ("torque", "power") if c in found]
    if all(np.isnan(values[c]) for c in needed):
        return f"no valid {' or '.join(needed)} in it"
    if values.get("throttle", 1.0) < FULL_LOAD:
        return f"throttle {100 * values['throttle']:.0f} % open: not full load"
    return ""


def _too_few(count: int, result: PullFile) -> str:
    text = f"only {count} rows can be used, at least {FEWEST_ROWS} are needed"
    if result.omitted:
        first = result.omitted[0]
        text += f" (line {first.line}: {first.reason})"
    return text


def _complete(readings: dict[str, np.ndarray], table: LogTable, result: PullFile) -> None:
    """Torque from power where it was not logged; both must agree where both were."""
    omega = readings["rpm"] * pi / 30.0
    if "power" not in readings:
        return
    from_power = readings["power"] / omega
    if "torque" not in readings:
        readings["torque"] = from_power
        result.remarks.append("torque from power and speed")
        return
    ratios = from_power / readings["torque"]
    ratio = float(np.median(ratios[np.isfinite(ratios)])) if np.isfinite(ratios).any() else 1.0
    if abs(ratio - 1.0) > POWER_GAP:
        raise wrong_line(
            table.path,
            table.heading_line,
            "power",
            f"power is {ratio:.3f} times torque x speed: one of the units must be wrong"
            f" (torque taken as {result.columns['torque'].unit}, power as"
            f" {result.columns['power'].unit})",
        )
    missing = np.isnan(readings["torque"])
    readings["torque"][missing] = from_power[missing]


def _split(
    lines: np.ndarray, readings: dict[str, np.ndarray], breaks: Sequence[int], result: PullFile
) -> list[Pull]:
    """One Pull per sweep: by the pull column, by headings that stand again, or where the speed
    starts from below again."""
    if "pull" in readings:
        numbers = np.unique(readings["pull"])
        _check_pulls(numbers.size, result)
        starts = [readings["pull"] == v for v in numbers]
        how = "by the pull column"
    else:
        cuts = np.searchsorted(lines, breaks) if breaks else _restarts(readings["rpm"])
        how = "the headings are repeated" if breaks else "the speed starts again from below"
        _check_pulls(len(cuts) + 1, result)
        starts = [p for p in np.split(np.arange(len(lines)), cuts) if p.size]
    pulls = [Pull(lines[s], {c: v[s] for c, v in readings.items()}) for s in starts]
    kept = [p for p in pulls if len(p.lines) >= FEWEST_ROWS]
    for p in pulls:
        if len(p.lines) < FEWEST_ROWS:
            reason = f"a pull of only {len(p.lines)} rows"
            result.omitted += [Omission(int(line), reason, True) for line in p.lines]
    if not kept:
        raise wrong_line(result.path, int(lines[0]), "", f"no pull has {FEWEST_ROWS} rows or more")
    if len(kept) > 1:
        at = ", ".join(str(int(p.lines[0])) for p in kept)
        result.remarks.append(f"{len(kept)} pulls ({how}), from lines {at}")
    return kept


def _check_pulls(count: int, result: PullFile) -> None:
    if count > MOST_PULLS:
        raise wrong_line(result.path, 1, "", f"{count} pulls; at most {MOST_PULLS} are read")


def _restarts(rpm: np.ndarray) -> np.ndarray:
    """Row numbers where a new sweep begins: the speed falls back by half of the whole range or
    more, and what lies between such falls mostly rises. Unordered rows are one pull."""
    falls = np.flatnonzero(np.diff(rpm) < -0.5 * np.ptp(rpm)) + 1
    pieces = np.split(rpm, falls)
    rising = all(p.size >= FEWEST_ROWS and np.mean(np.diff(p) >= 0.0) > RISING for p in pieces)
    return falls if rising else np.array([], dtype=int)

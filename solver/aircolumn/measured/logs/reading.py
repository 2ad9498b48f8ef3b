"""A measured file to pulls at full load: columns found and shown, readings in SI, what was left out and why."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from math import pi
from pathlib import Path

import numpy as np

from aircolumn.display_units import counted
from aircolumn.engine.description.measured import Measured, Wheel
from aircolumn.engine.description.text_file import AsRead
from aircolumn.measured.atmosphere import Atmosphere
from aircolumn.measured.logs.cells import number, seconds
from aircolumn.measured.logs.channels import CHANNELS, is_volume_flow, known_unit, scale_of
from aircolumn.measured.logs.choose import POWER_GAP, Rivals, choose, power_over_torque
from aircolumn.measured.logs.full_load import Rows, alike, at_full_load
from aircolumn.measured.logs.guess import Found, find_columns, recognised
from aircolumn.measured.logs.log_table import LogTable, heading_key, read_log_table, wrong_line
from aircolumn.measured.logs.outliers import stand_apart
from aircolumn.measured.logs.preamble import Above, read_above
from aircolumn.measured.logs.statement import BY_FACTOR, Evidence, Statement, Untold, statement
from aircolumn.measured.logs.sweeps import FEW, are_steps, legs

FULL_LOAD = 0.95  # of the widest throttle opening, above which a row counts as full load
WIDE_OPEN = 0.8  # throttle: a log that stays below was not run at full load
FEWEST_ROWS, MOST_PULLS = 3, 200
MOST_APART = 0.34  # of a pull's readings: more, and the curve itself is like this
NEAR_SPEED = 20.0  # rev/min: points of a step test so near are at one speed
NO_RELATION = 0.05  # relative: power and torque of a row do not go together
SUMMARY = re.compile(
    r"\s*(av(era)?ge?|mean|max(imum)?|min(imum)?|peak|total|sum|std( ?dev)?|mittel(wert)?|moyenne|medi[ao]|media"
    r"|promedio|gemiddeld[e]?|medel(varde)?|srednia|summe|durchschnitt)\b.*",
    re.IGNORECASE,
)
#: Channel: how far a reading must stand apart from its neighbours to be left out, share of the median reading.
FLOORS = {
    "torque": 0.06,
    "air_flow": 0.1,
    "fuel_flow": 0.1,
    "lambda": 0.05,
    "air_fuel_ratio": 0.05,
    "correction": 0.01,
    "barometer": 0.01,
    "inlet_air": 0.03,
    "coolant": 0.05,
    "oil": 0.05,
    "manifold_pressure": 0.1,
}
FLOOR_OF_STEPS = 0.12  # of torque, where rows are single steps: the curve itself bends between them


@dataclass(frozen=True)
class UsedColumn:
    """A column that is used: its heading, its unit, and how it was found (mapped or guessed)."""

    heading: str
    unit: str
    how: str


@dataclass(frozen=True)
class Omission:
    """A row (or several, to line ``last``), or a cell of it, that is not used."""

    line: int
    reason: str
    whole_row: bool
    last: int = 0

    @property
    def lines(self) -> str:
        """Which lines, in words."""
        return f"line {self.line}" if self.last <= self.line else f"lines {self.line} to {self.last}"


@dataclass(frozen=True)
class Pull:
    """One sweep: line numbers, and readings by channel in SI (rpm in rev/min, spark in degrees),
    arrays of one length in order of the file; missing readings are NaN. order: of all pulls of a session by
    the time they were run; number: in the log ("pull" column; NaN: none); clock: s, when it began (NaN)."""

    lines: np.ndarray
    readings: dict[str, np.ndarray]
    order: int = 0
    number: float = float("nan")
    clock: float = float("nan")


@dataclass
class PullFile:
    """All that was read from a file: pulls, columns by channel, headings not used and why, omissions,
    remarks for the reader, how torque is stated, whether the air flow is a volume flow (m3/s), and whether torque
    was measured at the wheels and the engine's is known from it."""

    file: AsRead
    pulls: list[Pull]
    columns: dict[str, UsedColumn]
    unused: dict[str, str]
    omitted: list[Omission] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    statement: Statement = field(default_factory=lambda: Statement("observed", "torque is taken as observed"))
    volume_flow: bool = False
    wheel: bool = False
    level_known: bool = True
    heading_line: int = 1
    other_days: tuple[AsRead, ...] = ()

    @property
    def files(self) -> tuple[AsRead, ...]:
        """The data files, as they were read."""
        return self.file, *self.other_days

    @property
    def path(self) -> Path:
        """Path of the data file."""
        return self.file.path

    @property
    def stated(self) -> str:
        """How torque is stated: observed, a standard, or factor."""
        return self.statement.by


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
        If the file cannot be used, or speaks of a correction that cannot be told; rows that cannot be used are
        left out and listed.
    """
    path, notes = Path(path), notes or Measured()
    table = read_log_table(path, partial(recognised, notes), known_unit)
    _check_mapping(table, notes)
    found, unused = find_columns(table, notes)
    result = PullFile(table.file, [], {}, unused, heading_line=table.heading_line)
    if table.passed_over:
        result.remarks.append(f"{counted(table.passed_over, 'line')} skipped (comments, titles or blank)")
    lines, cells = _readings(table, found, result)
    above = read_above(table.above)
    readings, evidence = _used(table, found, cells, above, result)
    _at_the_engine(readings, notes.wheel, result)
    kept = _without_faults(lines, readings, result)
    if len(kept) < FEWEST_ROWS:
        raise wrong_line(path, table.heading_line, "", _too_few(len(kept), result))
    lines, readings = lines[kept], {c: v[kept] for c, v in readings.items()}
    result.statement = _stated(table, readings, evidence, notes, result)
    if result.stated != BY_FACTOR:
        readings.pop("correction", None)
    if "air_flow" in result.columns:
        result.volume_flow = is_volume_flow(result.columns["air_flow"].unit)
    result.pulls = _pulls(lines, readings, table.breaks, result)
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


def _readings(
    table: LogTable, found: Sequence[Found], result: PullFile
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
    summary = next((c for c in cells if SUMMARY.fullmatch(c)), None)
    if summary is not None:
        return f"'{summary[:20]}': a summary, not a reading"
    if len(cells) < due or extra:
        return f"{len(cells)} cells where {due} are needed"
    return ""


def _column(
    c: Found, lines: Sequence[int], cells: Sequence[str], decimal_comma: bool, result: PullFile
) -> np.ndarray:
    """Readings of a column in SI; NaN where a cell is empty, no number, or cannot be."""
    if c.channel == "pull":
        return _labels(cells)
    about, (factor, shift) = CHANNELS[c.channel], scale_of(c.channel, c.unit)
    values = [number(cell, decimal_comma) for cell in cells]
    if c.channel == "time":
        values = [seconds(cell) if v is None else v for v, cell in zip(values, cells, strict=True)]
    read = factor * np.array([np.nan if v is None else v for v in values], dtype=float) + shift
    if c.channel == "rpm" and c.how == "guessed":
        read = _thousands(read, c, result)
    ok = (read >= about.low) & (read <= about.high)
    if c.channel not in ("rpm", "torque", "power"):  # faults there cost the row, not the cell alone
        for k in np.flatnonzero(~ok):
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


def _thousands(rpm: np.ndarray, c: Found, result: PullFile) -> np.ndarray:
    """Speeds that no engine runs at, but a thousand times of them are, in rpm."""
    there = rpm[np.isfinite(rpm)]
    if there.size and c.unit == "rpm" and 0.3 < np.median(there) < 25.0 and there.max() < 30.0:
        result.remarks.append(
            f"'{c.heading}' is taken as thousands of rpm: no engine runs at {np.median(there):.3g}"
        )
        return 1000.0 * rpm
    return rpm


def _used(
    table: LogTable, found: Sequence[Found], cells: dict[int, np.ndarray], above: Above, result: PullFile
) -> tuple[dict[str, np.ndarray], Evidence]:
    """(readings by channel, what is said of torque). Of several columns one is used."""
    readings: dict[str, np.ndarray] = {}
    by_channel: dict[str, list[Found]] = {}
    for c in found:
        by_channel.setdefault(c.channel, []).append(c)
    used: dict[str, Found] = {}
    over = None
    for channel, columns in by_channel.items():
        try:
            chosen = choose(columns, cells) if channel in ("torque", "power", "rpm") else None
        except Rivals as error:
            raise wrong_line(table.path, table.heading_line, channel, str(error)) from None
        one = columns[0] if chosen is None else chosen.column
        over = chosen.corrected_over if chosen is not None and channel == "torque" else over
        used[channel], readings[channel] = one, cells[one.number]
        result.columns[channel] = UsedColumn(one.heading, one.unit, one.how)
        result.unused.update({c.heading: f"'{one.heading}' is used" for c in columns if c is not one})
    count = len(readings["rpm"])
    for channel, (value, line, unit) in above.values.items():
        if channel not in readings:
            readings[channel] = np.full(count, value)
            result.columns[channel] = UsedColumn(f"line {line}", unit, "above")
    result.wheel = (used.get("torque") or used["power"]).said.wheel
    alike = _complete(readings, used, table, result)
    return readings, _evidence(used, above, over, alike)


def _at_the_engine(readings: dict[str, np.ndarray], wheel: Wheel | None, result: PullFile) -> None:
    """Torque at the engine from that at the wheels: gear ratio and losses as stated."""
    result.wheel = result.wheel or wheel is not None
    if not result.wheel:
        return
    ratio, losses = (1.0, None) if wheel is None else (wheel.ratio, wheel.losses)
    readings["torque"] = readings["torque"] / (ratio * (1.0 - (losses or 0.0)))
    result.level_known = losses is not None
    taken = f"losses of {100 * losses:.3g} % as stated" if losses is not None else "no losses"
    result.remarks.append(f"torque at the wheels: divided by a ratio of {ratio:g}, {taken} taken off")


def _through_a_gear(readings: dict[str, np.ndarray], share: float, result: PullFile) -> bool:
    """Whether torque was read at the wheels, after the gears: power over torque times engine speed is then one
    over their ratio in every row. Torque is taken from power."""
    omega = readings["rpm"] * pi / 30.0
    with np.errstate(divide="ignore", invalid="ignore"):
        each = readings["power"] / (readings["torque"] * omega)
    if not result.wheel or not 0.02 < share < 0.9 or np.nanstd(each) > 0.02 * share:
        return False
    readings["torque"] = readings["power"] / omega
    result.remarks.append(
        f"torque at the wheels is {1.0 / share:.3g} times power over engine speed: a gear, taken out"
    )
    return True


def _complete(
    readings: dict[str, np.ndarray], used: dict[str, Found], table: LogTable, result: PullFile
) -> float | None:
    """Torque from power where it was not logged. Returns power over torque times speed (None: not both), which
    is 1 or a factor of correction; else a unit is wrong: InputError."""
    if "power" not in readings:
        return None
    omega = readings["rpm"] * pi / 30.0
    if "torque" not in readings:
        readings["torque"] = readings["power"] / omega
        result.remarks.append("torque from power and speed")
        return None
    share = power_over_torque(readings["power"], readings["torque"], readings["rpm"])
    if _through_a_gear(readings, share, result):
        return None
    factors = readings.get("correction")
    known = [] if factors is None else [float(np.nanmedian(factors))]
    as_factor = any(
        abs(share / f - 1.0) < POWER_GAP / 4 or abs(share * f - 1.0) < POWER_GAP / 4 for f in known
    )
    differ = used["power"].said.corrected != used["torque"].said.corrected and 0.75 < share < 1.35
    if abs(share - 1.0) > POWER_GAP and not as_factor and not differ:
        raise wrong_line(
            table.path,
            table.heading_line,
            "power",
            f"power is {share:.3f} times torque x speed: one of the units must be wrong"
            f" (torque taken as {result.columns['torque'].unit}, power as"
            f" {result.columns['power'].unit})",
        )
    missing = np.isnan(readings["torque"])
    readings["torque"] = np.where(missing, readings["power"] / omega / share, readings["torque"])
    return share


def _evidence(used: dict[str, Found], above: Above, over: float | None, share: float | None) -> Evidence:
    """What columns and lines say of how torque is stated; the weather and the factors come later."""
    torque, power, factor = used.get("torque") or used["power"], used.get("power"), used.get("correction")
    where, said = f"the column '{torque.heading}'", torque.said
    standard = said.standard or (factor.said.standard if factor else "")
    if said.observed or said.corrected:
        return Evidence(said.corrected, said.observed, standard, where)
    if over is not None and abs(over - 1.0) > 5e-4:
        return Evidence(says_observed=True, where=f"the corrected column beside it, {over:.4f} times as high")
    if over is not None:
        return Evidence(
            says_corrected=True, standard=standard, where="the corrected column with the same figures"
        )
    if power is not None and share is not None and power.said.corrected and power is not torque:
        at = f"the column '{power.heading}'"
        if abs(share - 1.0) > 0.004:
            return Evidence(says_observed=True, where=f"{at}, {share:.4f} times torque x speed")
        return Evidence(says_corrected=True, standard=power.said.standard or standard, where=at)
    if power is not None and share is not None and factor is not None and abs(share - 1.0) > 0.004:
        return Evidence(
            says_observed=share > 1.0,
            says_corrected=share < 1.0,
            standard=standard,
            where=f"power, {share:.4f} times torque x speed",
        )
    if above.line:
        at = f"line {above.line} ('{above.text}')"
        return Evidence(above.said.corrected, above.said.observed, above.said.standard or standard, at)
    return Evidence(standard=standard, where=f"the column '{factor.heading}'" if factor else "")


def _without_faults(lines: np.ndarray, readings: dict[str, np.ndarray], result: PullFile) -> np.ndarray:
    """Numbers of the rows that can be used; the others are noted."""
    faults = _faults(readings)
    reasons = np.full(len(lines), "", dtype=object)
    for bad, reason in faults:
        reasons[(reasons == "") & bad] = reason
    result.omitted += _left_out(lines, np.arange(len(lines)), {k: r for k, r in enumerate(reasons) if r})
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
        found.append((throttle < least, f"throttle less than {100 * least:.0f} % open: not full load"))
    found.append((torque <= 0.0, "torque is not above zero: no load"))
    if "power" in readings:
        with np.errstate(divide="ignore", invalid="ignore"):
            share = readings["power"] / (torque * rpm * pi / 30.0)
        usual = np.nanmedian(share) if np.isfinite(share).any() else 1.0
        found.append((np.abs(share / usual - 1.0) > NO_RELATION, "power and torque do not go together"))
    return found


def _left_out(lines: np.ndarray, rows: np.ndarray, why: dict[int, str]) -> list[Omission]:
    """Omissions of rows (numbers into ``lines``)."""
    return [Omission(int(lines[rows[k]]), reason, True) for k, reason in sorted(why.items())]


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


def _stated(
    table: LogTable, readings: dict[str, np.ndarray], e: Evidence, notes: Measured, result: PullFile
) -> Statement:
    """How torque is stated. Raises InputError if the log speaks of a correction that cannot be told."""
    air, humid = _weather(readings, notes)
    factor = result.columns.get("correction")
    column = "no column" if factor is None else "the factor in " + factor.heading
    if factor is not None and factor.how != "above":
        column = f"the column '{factor.heading}'"
    evidence = Evidence(
        e.says_corrected, e.says_observed, e.standard, e.where, readings.get("correction"), column, air, humid
    )
    try:
        return statement(evidence, notes.stated_of(table.path))
    except Untold as error:
        raise wrong_line(table.path, table.heading_line, "torque", str(error)) from None


def _weather(readings: dict[str, np.ndarray], notes: Measured) -> tuple[Atmosphere | None, bool]:
    """(air of the rows as logged or stated, whether humidity is known); None without pressure and temperature."""

    def of(channel: str, stated: float | None) -> np.ndarray | None:
        logged = readings.get(channel)
        if logged is not None and np.isfinite(logged).any():
            return np.where(np.isnan(logged), np.nanmedian(logged), logged)
        return None if stated is None else np.full(len(readings["rpm"]), stated)

    pressure, temperature = of("barometer", notes.barometer), of("inlet_air", notes.inlet_air)
    humidity = of("humidity", notes.humidity)
    if pressure is None or temperature is None:
        return None, False
    known = humidity is not None
    return Atmosphere(pressure, temperature, humidity if known else np.full(len(pressure), 0.4)), known


def _pulls(
    lines: np.ndarray, readings: dict[str, np.ndarray], breaks: Sequence[int], result: PullFile
) -> list[Pull]:
    """One Pull per sweep: by the pull column, by headings that stand again, or where the speed turns back;
    without what was not at full load and without readings that stand apart."""
    groups, how = _groups(lines, readings, breaks)
    _check_pulls(len(groups), result)
    found: list[tuple[np.ndarray, int]] = []
    for group in groups:
        sweeps = _sweeps_of(group, lines, readings, result)
        if "pull" in readings:
            sweeps = _same_way(sweeps)
        found += sweeps
    if len(found) > len(groups):
        how = "the speed starts again"
    found = _of_one_level(found, lines, readings, result)
    _check_pulls(len(found), result)
    kept = [p for p, _ in found if len(p) >= FEWEST_ROWS]
    for p, _ in found:
        if 0 < len(p) < FEWEST_ROWS:
            reason = f"a pull of only {len(p)} rows"
            result.omitted += _left_out(lines, p, dict.fromkeys(range(len(p)), reason))
    if not kept:
        whole = [o for o in result.omitted if o.whole_row]
        because = f" ({whole[-1].lines}: {whole[-1].reason})" if whole else ""
        raise wrong_line(result.path, int(lines[0]), "", f"no pull has {FEWEST_ROWS} rows or more{because}")
    pulls = [_pull(p, lines, readings, result) for p in kept]
    if len(pulls) > 1:
        at = ", ".join(str(int(p.lines[0])) for p in pulls)
        result.remarks.append(f"{len(pulls)} pulls ({how}), from lines {at}")
    return pulls


def _groups(
    lines: np.ndarray, readings: dict[str, np.ndarray], breaks: Sequence[int]
) -> tuple[list[np.ndarray], str]:
    """(row numbers of each part that the log itself sets apart, how)."""
    rows = np.arange(len(lines))
    if "pull" in readings:
        numbers = readings["pull"]
        return [rows[numbers == v] for v in dict.fromkeys(numbers)], "by the pull column"
    parts = np.split(rows, np.searchsorted(lines, breaks)) if breaks else [rows]
    return [p for p in parts if p.size], "the headings are repeated"


def _sweeps_of(
    group: np.ndarray, lines: np.ndarray, readings: dict[str, np.ndarray], result: PullFile
) -> list[tuple[np.ndarray, int]]:
    """(row numbers, way) of each sweep of a part of the log, without rows in which the load is not on."""
    rpm, torque = readings["rpm"][group], readings["torque"][group]
    steady = are_steps(rpm)
    why: dict[int, str] = {}
    if not steady:
        spikes = stand_apart(np.arange(len(rpm), dtype=float), rpm, 0.05 * float(np.ptp(rpm)) + 50.0)
        apart = np.flatnonzero(spikes & ~_at_jumps(rpm))
        why = dict.fromkeys(apart.tolist(), "its speed stands apart from its neighbours'")
        usual = float(np.median(torque))  # figures far above the others would make these look like part load
        far = stand_apart(np.arange(len(rpm), dtype=float), torque, 0.5 * usual) & (torque > 1.5 * usual)
        why |= dict.fromkeys(np.flatnonzero(far).tolist(), "its torque stands apart from its neighbours'")
    inner = np.array([k for k in range(len(rpm)) if k not in why], dtype=int)
    ways = legs(rpm[inner])
    rows = Rows(rpm[inner], torque[inner])
    at_full_load(rows, ways)
    result.omitted += _left_out(lines, group, why | {int(inner[k]): w for k, w in rows.why.items()})
    parts = [(group[inner[a + np.flatnonzero(rows.kept[a:b])]], way) for a, b, way in ways]
    kept = rpm[inner][rows.kept]
    if steady and np.unique(np.round(kept / NEAR_SPEED)).size == kept.size:
        parts = [(np.concatenate([p for p, _ in parts]), 0)]  # every speed once: points of one pull in any order
    return [(p, way) for p, way in parts if p.size]


def _same_way(sweeps: list[tuple[np.ndarray, int]]) -> list[tuple[np.ndarray, int]]:
    """What the log calls one pull: sweeps of one direction together."""
    ways = dict.fromkeys(way for _, way in sweeps)
    return [(np.concatenate([p for p, w in sweeps if w == way]), way) for way in ways]


def _of_one_level(
    sweeps: list[tuple[np.ndarray, int]], lines: np.ndarray, readings: dict[str, np.ndarray], result: PullFile
) -> list[tuple[np.ndarray, int]]:
    """The sweeps whose torque is about that of the strongest; the others were not at full load."""
    if not sweeps:
        return sweeps
    every = np.concatenate([p for p, _ in sweeps])
    stops = np.cumsum([len(p) for p, _ in sweeps])
    ends = [(int(stop) - len(p), int(stop), way) for stop, (p, way) in zip(stops, sweeps, strict=True)]
    rows = Rows(readings["rpm"][every], readings["torque"][every])
    kept = alike(rows, ends)
    result.omitted += _left_out(lines, every, rows.why)
    return [sweep for sweep, leg in zip(sweeps, ends, strict=True) if leg in kept]


def _at_jumps(rpm: np.ndarray) -> np.ndarray:
    """Rows beside a jump of half of the range, where one sweep ends and the next begins."""
    jumps = np.flatnonzero(np.abs(np.diff(rpm)) > 0.4 * np.ptp(rpm))
    lonely = set((jumps + 1).tolist()) & set(jumps.tolist())  # out and back: a spike, no sweep
    near = {k + d for k in jumps.tolist() for d in range(-4, 6)} - lonely
    return np.isin(np.arange(len(rpm)), list(near))


def _pull(rows: np.ndarray, lines: np.ndarray, readings: dict[str, np.ndarray], result: PullFile) -> Pull:
    """A pull without the readings that stand apart from their neighbours."""
    rpm = readings["rpm"][rows]
    own = {c: v[rows] for c, v in readings.items()}
    bad = {c: stand_apart(rpm, own[c], _floor(c, rpm, own[c])) for c in FLOORS if c in own}
    apart = bad.pop("torque")
    if apart.sum() > MOST_APART * len(rows) or len(rows) - apart.sum() < FEWEST_ROWS:
        apart = np.zeros(len(rows), dtype=bool)  # not single readings: the curve itself is like this
    why = dict.fromkeys(np.flatnonzero(apart).tolist(), "its torque stands apart from its neighbours'")
    result.omitted += _left_out(lines, rows, why)
    for c, cells in bad.items():
        for k in np.flatnonzero(cells & ~apart):
            heading = result.columns[c].heading if c in result.columns else c
            said = f"{heading}: stands apart from its neighbours; cell left out"
            result.omitted.append(Omission(int(lines[rows[k]]), said, False))
        own[c] = np.where(cells, np.nan, own[c])
    numbers, time = own.pop("pull", None), own.get("time")
    clock = float("nan") if time is None or np.isnan(time).all() else float(np.nanmin(time))
    return Pull(
        lines[rows][~apart],
        {c: v[~apart] for c, v in own.items()},
        number=float("nan") if numbers is None else float(numbers[0]),
        clock=clock,
    )


def _floor(channel: str, rpm: np.ndarray, values: np.ndarray) -> float:
    share = (
        FLOOR_OF_STEPS
        if are_steps(rpm) and channel in ("torque", "air_flow", "fuel_flow")
        else FLOORS[channel]
    )
    level = np.nanmedian(np.abs(values)) if np.isfinite(values).any() else 0.0
    return share * float(level)


def _check_pulls(count: int, result: PullFile) -> None:
    if count > MOST_PULLS:
        raise wrong_line(result.path, 1, "", f"{count} pulls; at most {MOST_PULLS} are read")

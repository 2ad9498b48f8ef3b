"""From columns to cycles: crank angle, cycles at even angles, their mean and spread.

The crank angle is a column, or follows from the times of a mark that passes once a turn: even between two
marks (the crank turns evenly within a turn but for its own unevenness, which a mark cannot show). The mean
over n cycles at one angle has the standard error s / sqrt(n), s the standard deviation between cycles (any
text on statistics).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.units import unit_factor
from aircolumn.errors import InputError, Problem
from aircolumn.measured.logs.channels import known_unit, plain_words, split_heading
from aircolumn.measured.traces.table import TraceTable

if TYPE_CHECKING:
    from aircolumn.engine.description.traces import TraceChannel, Traces

STEP = 0.5  # deg
AT = np.arange(0.0, 720.0, STEP)
RADIANS = 13.0  # an angle without a unit that goes no further than two turns of these is in radians
FEWEST_IN_CYCLE = 90  # readings
CUT, STANDS, STANDS_ELSEWHERE = 1e-7, 4.0, 15.0  # of the swing; deg of a peak that stands still
WORDS = {
    "angle": r"(crank( shaft)? )?(angle|ca|deg ca|crank|phi|theta|kw|kurbelwinkel)|(crank )?degrees?",
    "time": r"(elapsed )?(time|zeit|temps|t)",
    "mark": r"(once per (turn|rev)|mark|marker|index|trigger|tdc|z|ref(erence)?|ot)( mark| pulse| signal)?",
}
#: Places that a heading names by itself; a transducer in the runner needs its distance.
VOLTS = {"V": 1.0, "mV": 1e-3}
BY_NAME = {
    "cylinder": r"(p |pressure )?(in )?cyl(inder)?( press(ure)?| p)?( 1)?|p ?cyl( 1)?|pz( 1)?",
    "plenum": r"(p |pressure )?(in )?(plenum|manifold|map)( pressure| p)?|p ?(plenum|man(ifold)?|im)",
    "exhaust": r"(p |pressure )?(in )?exh(aust)?( port)?( pressure| p)?|p ?exh(aust)?",
    "port": r"(p |pressure )?(in )?(intake |inlet )?port( pressure| p)?|p ?(port|int(ake)?|inlet)",
}
IN_RUNNER = r"(p |pressure )?(in )?runner (at )?(?P<distance>\d+) ?(?P<unit>mm|cm|in)"


@dataclass(frozen=True)
class Cycles:
    """names; readings: (channels, cycles, angles at AT), Pa, as measured; rpm: of each cycle, rev/min;
    turned: what was taken from the file's angle, deg (a turn, where marks cannot tell which); marks_at:
    crank angle, deg, of the marks from which the angle was made, even in between (None: otherwise made)."""

    names: list[str]
    readings: np.ndarray
    rpm: np.ndarray
    turned: float = 0.0
    marks_at: float | None = None

    @property
    def count(self) -> int:
        """How many cycles."""
        return self.readings.shape[1]

    @cached_property
    def mean(self) -> np.ndarray:
        """(channels, angles), Pa."""
        return self.readings.mean(axis=1)

    @cached_property
    def spread(self) -> np.ndarray:
        """Standard deviation between cycles (channels, angles), Pa; 0 for one cycle."""
        return self.readings.std(axis=1, ddof=1) if self.count > 1 else np.zeros_like(self.mean)

    def shifted(self, by: float) -> Cycles:
        """With angles ``by`` deg smaller."""
        moved = np.roll(self.readings, -round(by / STEP), axis=2)
        return replace(self, readings=moved, turned=self.turned + by)


#: channel: (column, what is known of it, factor to Pa; of volts: of what stands above ``zero``)
Found = dict[str, tuple[str, "TraceChannel", float]]


def channel_by_name(heading: str) -> TraceChannel | None:
    """What a heading without its unit names by itself, or None."""
    from aircolumn.engine.description.traces import TraceChannel

    name = plain_words(heading)
    at = re.fullmatch(IN_RUNNER, name)
    if at is not None:
        told = {"place": "runner", "distance": f"{at['distance']} {at['unit']}"}
        return TraceChannel.model_validate(told)
    place = next((p for p, words in BY_NAME.items() if re.fullmatch(words, name)), None)
    return None if place is None else TraceChannel.model_validate({"place": place})


def channels_of(table: TraceTable, asked: Traces) -> Found:
    """The channels of a file. Raises InputError."""
    wanted = dict(asked.channels)
    if not wanted:
        for heading in table.columns:
            own = _named(heading)[0] or heading
            known = channel_by_name(own)
            if known is not None:
                wanted[own] = known
    found = {}
    for name, channel in wanted.items():
        column = _column(table, channel.column or name)
        found[name] = (column, channel, _factor(table, column, channel))
    if not found:
        listed = ", ".join(f"'{h[:30]}'" for h in table.columns)
        raise _wrong(table, "", f"no pressure is known by its heading ({listed}); say which column is which"
                     " under traces.channels: {NAME: {place: runner, distance: 80 mm}}")  # fmt: skip
    return found


def _named(heading: str) -> tuple[str, str]:
    """Name and unit of a heading, also of a unit that is none of those of logs ("p cyl [V]")."""
    bare = re.fullmatch(r"(.*?)\s*[\[(]\s*(mV|V|rad)\s*[\])]", heading.strip())
    if bare is not None:
        return bare[1], bare[2]
    name, unit = split_heading(heading)
    return name, unit or ""


def _column(table: TraceTable, asked: str) -> str:
    plain = {plain_words(h): h for h in table.columns} | {
        plain_words(_named(h)[0]): h for h in table.columns if _named(h)[0]
    }
    if asked in table.columns:
        return asked
    if plain_words(asked) in plain:
        return plain[plain_words(asked)]
    listed = ", ".join(f"'{h[:30]}'" for h in table.columns)
    raise _wrong(table, asked, f"there is no column '{asked[:40]}'; there are {listed}")


def _factor(table: TraceTable, column: str, channel: TraceChannel) -> float:
    """Of a column of pressures, or volts, to Pa."""
    unit = channel.unit or _named(column)[1] or table.units.get(column) or ""
    if unit in VOLTS or (not unit and channel.gain is not None):
        if channel.gain is None:
            raise _wrong(table, column, f"in {unit}: state gain, the pressure of one volt (gain: 10 bar)")
        return VOLTS.get(unit, 1.0) * channel.gain
    factor = unit_factor(known_unit(unit) or unit, "pressure")
    if factor is None:
        said = f"'{unit[:20]}' is no unit of pressure" if unit else "the column names no unit"
        raise _wrong(table, column, f"{said}; write it into the heading, or state unit: kPa (or bar, psi)")
    return factor[0]


def unused(table: TraceTable, asked: Traces, found: Found) -> dict[str, str]:
    """Columns of a file that nothing is made of, and why."""
    channels = {column for column, _, _ in found.values()}
    kinds = {"angle": asked.angle, "time": asked.time, "mark": asked.mark}
    known = {_found(table, kind, own) for kind, own in kinds.items()}
    rest = [c for c in table.columns if c not in channels | known]
    return {**table.left, **dict.fromkeys(rest, "no channel is made of it (traces.channels)")}


def _found(table: TraceTable, what: str, asked: str | None) -> str | None:
    """The column of angle, time or mark, by name or as asked for."""
    if asked is not None:
        return _column(table, asked)
    for heading in table.columns:
        name = _named(heading)[0] or heading
        if re.fullmatch(WORDS[what], plain_words(name)):
            return heading
    return None


def _crank_angle(table: TraceTable, asked: Traces) -> tuple[np.ndarray, np.ndarray | None]:
    """(crank angle without jumps, deg; time s or None) of every row. Raises InputError."""
    time_column = _found(table, "time", asked.time)
    time = None
    if time_column is not None:
        unit = split_heading(time_column)[1] or table.units.get(time_column) or "s"
        factor = unit_factor(unit, "time")
        time = table.columns[time_column] * (1.0 if factor is None else factor[0])
    angle_column = _found(table, "angle", asked.angle)
    if angle_column is None and asked.step is not None:
        rows = len(next(iter(table.columns.values())))
        return asked.step * np.arange(rows), time
    if angle_column is not None:
        return _unwrapped(table, angle_column), time
    mark_column = _found(table, "mark", asked.mark)
    if time is None or mark_column is None:
        said = (
            "there is neither a crank angle nor a time with a once-per-turn mark; say which column is which"
            " under traces: {angle: ...} or {time: ..., mark: ...}, or how far apart rows are"
            " ({step: 0.5 deg})"
        )
        raise _wrong(table, "", said)
    signal = table.columns[mark_column]
    if asked.wheel is not None:
        return _by_teeth(table, time, signal, mark_column, asked.wheel), time
    return _by_marks(table, time, signal, mark_column), time


def _unwrapped(table: TraceTable, column: str) -> np.ndarray:
    """An angle that begins again every turn or every two, going on."""
    angle = table.columns[column]
    unit = _named(column)[1] or table.units.get(column) or ""
    if unit == "rad" or (not unit and np.ptp(angle) < RADIANS):
        angle = np.degrees(angle)
    steps = np.diff(angle)
    if np.mean(steps < 0.0) > 0.5:
        raise _wrong(table, column, "the crank angle falls; it must rise")
    jumps = np.flatnonzero(steps < -90.0)
    if np.any((steps < 0.0) & (steps >= -90.0)):
        raise _wrong(table, column, "the crank angle steps back within a turn")
    period = 720.0 if np.ptp(angle) > 400.0 else 360.0
    turns = np.zeros(angle.size)
    turns[jumps + 1] = period
    return angle + np.cumsum(turns) if jumps.size else angle


def _edges(time: np.ndarray, mark: np.ndarray) -> np.ndarray:
    """Times at which a mark rises through its middle, s."""
    middle = 0.5 * (float(mark.min()) + float(mark.max()))
    high = mark > middle
    rises = np.flatnonzero(~high[:-1] & high[1:])
    share = (middle - mark[rises]) / (mark[rises + 1] - mark[rises])
    return time[rises] + share * (time[rises + 1] - time[rises])


def _by_teeth(table: TraceTable, time: np.ndarray, signal: np.ndarray, column: str, wheel: str) -> np.ndarray:
    """Crank angle from a wheel with a gap ("60-2"): even between two teeth, so that the speed inside a turn
    is in it; the first tooth after the gap is at 0."""
    count, missing = (int(n) for n in wheel.split("-"))
    at = _edges(time, signal)
    apart = np.diff(at)
    if apart.size < 2 * count:
        raise _wrong(table, column, f"{at.size} teeth; two turns of a {wheel} wheel or more are needed")
    gaps = np.flatnonzero(apart > (0.5 * missing + 1.0) * np.median(apart)) + 1  # teeth that follow one
    between = np.diff(gaps)
    if gaps.size < 3 or np.any(between != count - missing):
        found = f"{int(np.median(between))} teeth from gap to gap" if gaps.size > 1 else "no gaps"
        said = f"{found}, a {wheel} wheel has {count - missing}: another wheel, or teeth are lost in noise"
        raise _wrong(table, column, said)
    tooth = np.arange(at.size)
    turn = np.searchsorted(gaps, tooth, side="right") - 1
    place = tooth - gaps[np.maximum(turn, 0)]
    angle = 360.0 * (turn + place / count)
    whole = turn >= 0
    return np.interp(time, at[whole], angle[whole], left=np.nan, right=np.nan)


def _by_marks(table: TraceTable, time: np.ndarray, mark: np.ndarray, column: str) -> np.ndarray:
    """Crank angle from the rising edges of a mark."""
    at = _edges(time, mark)
    if at.size < 3:
        raise _wrong(table, column, f"{at.size} marks; three or more are needed for a whole cycle")
    turns = np.diff(at)
    if turns.max() > 1.2 * np.median(turns) or turns.min() < 0.8 * np.median(turns):
        raise _wrong(table, column, "turns between marks differ by more than a fifth: marks are missing, or"
                     " others are between them (a toothed wheel? state wheel: 60-2)")  # fmt: skip
    return np.interp(time, at, 360.0 * np.arange(at.size), left=np.nan, right=np.nan)


def cycles_of(table: TraceTable, asked: Traces, rpm: float, channels: Found | None = None) -> Cycles:
    """All whole cycles of a file, angles counted from its own zero less traces.top_dead_centre; channels: as
    :func:`channels_of` finds them, if that is known. Raises InputError."""
    channels = channels or channels_of(table, asked)
    angle, time = _crank_angle(table, asked)
    angle = angle - asked.top_dead_centre
    inside = np.flatnonzero(np.isfinite(angle))
    angle = angle[inside]
    one = float(np.median(np.diff(angle)))  # from reading to reading: the last stands for its own
    first, last = np.ceil(angle[0] / 720.0 - 1e-9), np.floor((angle[-1] + one) / 720.0 + 1e-9)
    count = int(last - first)
    if count < 1:  # perhaps a cycle from another angle on
        first = angle[0] / 720.0
        count = int((angle[-1] + one - angle[0] + 1e-9) // 720.0)
    if count < 1:
        raise _wrong(table, "", f"the readings cover {np.ptp(angle):.0f} deg; a whole cycle of 720 is needed")
    if inside.size / max(np.ptp(angle) / 720.0, 1e-9) < FEWEST_IN_CYCLE:
        raise _wrong(table, "", f"fewer than {FEWEST_IN_CYCLE} readings in a cycle: too coarse for waves")
    start = 720.0 * first
    at = start + STEP * np.arange(count * AT.size)
    order = np.argsort(angle, kind="stable")
    readings = np.array(
        [
            factor * np.interp(at, angle[order], table.columns[column][inside][order]).reshape(count, AT.size)
            - (channel.gain or 0.0) * channel.zero
            for column, channel, factor in channels.values()
        ]
    )
    shift = round((start % 720.0) / STEP)
    readings = np.roll(readings, shift, axis=2)
    speeds = np.full(count, rpm)
    if time is not None:
        edges = np.interp(start + 720.0 * np.arange(count + 1), angle[order], time[inside][order])
        speeds = 120.0 / np.maximum(np.diff(edges), 1e-9)
    for (column, channel, _), one in zip(channels.values(), readings, strict=True):
        _check_saturated(table, column, one, STANDS if channel.place == "cylinder" else STANDS_ELSEWHERE)
    by_angle = asked.step is not None or _found(table, "angle", asked.angle) is not None
    marks_at = None if by_angle or asked.wheel is not None else -asked.top_dead_centre
    return Cycles(list(channels), readings, speeds, marks_at=marks_at)


def _check_saturated(table: TraceTable, column: str, readings: np.ndarray, most: float) -> None:
    """Raise InputError for readings (cycles, angles) that stand still at their highest for ``most`` deg: the
    amplifier, or the range of the logger, has cut them off. (At their lowest a coarse logger may rest.)"""
    swing = float(np.ptp(readings))
    for_long = float(np.median(_longest(readings > readings.max() - CUT * swing))) * STEP
    if swing > 0.0 and for_long >= most:
        said = (
            f"stands at its highest reading for {for_long:.0f} deg of every cycle: the range of transducer,"
        )
        raise _wrong(table, column, f"{said} amplifier or logger was too small")


def _longest(there: np.ndarray) -> np.ndarray:
    """Of each row the longest run of True."""
    best, run = np.zeros(len(there), dtype=int), np.zeros(len(there), dtype=int)
    for column in there.T:
        run = np.where(column, run + 1, 0)
        best = np.maximum(best, run)
    return best


def _wrong(table: TraceTable, key: str, message: str) -> InputError:
    return InputError(table.path, [Problem(max(table.heading_line, 1), 1, key[:60], message)])

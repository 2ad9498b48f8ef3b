"""Rows of a log to pulls: the parts that the log sets apart, sweeps within them, and what does not count."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from aircolumn.engine.description.text_file import wrong_line
from aircolumn.measured.logs.full_load import Rows, alike, at_full_load
from aircolumn.measured.logs.outliers import stand_apart
from aircolumn.measured.logs.pull_file import Omission, Pull, PullFile
from aircolumn.measured.logs.rows import left_out
from aircolumn.measured.logs.sweeps import are_steps, legs

FEWEST_ROWS, MOST_PULLS = 3, 200
MOST_SWEEPS = 2 * MOST_PULLS  # every pull with its run-down
MOST_APART = 0.34  # of a pull's readings: more, and the curve itself is like this
HUNG, SELDOM = 3, 0.1  # rows with the same torque in a row; share of all rows up to which that is no rounding
MANY_ROWS = 12  # from which a speed that stands apart is told
NEAR_SPEED = 20.0  # rev/min: points of a step test so near are at one speed
#: Channel: how far a reading must stand apart from its neighbours to be left out, share of the median
#: reading.
FLOORS = {
    "torque": 0.06,
    "air_flow": 0.1,
    "fuel_flow": 0.1,
    "pulse_width": 0.1,
    "lambda": 0.05,
    "air_fuel_ratio": 0.05,
    "correction": 0.01,
    "barometer": 0.01,
    "inlet_air": 0.03,
    "coolant": 0.05,
    "oil": 0.05,
    "manifold_pressure": 0.1,
}
TORQUE_APART = "its torque stands apart from its neighbours'"
FLOOR_OF_STEPS = 0.12  # of torque, where rows are single steps: the curve itself bends between them


def split_pulls(
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
        if len(found) > MOST_SWEEPS:  # before each is compared with each
            said = f"more than {MOST_PULLS} pulls; at most {MOST_PULLS} are read"
            raise wrong_line(result.path, 1, "", said)
    if len(found) > len(groups):
        how = "the speed starts again"
    found = _of_one_level(found, lines, readings, result)
    _check_pulls(len(found), result)
    kept = [p for p, _ in found if len(p) >= FEWEST_ROWS]
    for p, _ in found:
        if 0 < len(p) < FEWEST_ROWS:
            reason = f"a pull of only {len(p)} rows"
            result.omitted += left_out(lines, p, dict.fromkeys(range(len(p)), reason))
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
    if len(rpm) >= MANY_ROWS:
        place = np.arange(len(rpm), dtype=float)
        spikes = stand_apart(place, rpm, 0.05 * float(np.ptp(rpm)) + 50.0)
        apart = np.flatnonzero(spikes & ~_at_jumps(rpm))
        why = dict.fromkeys(apart.tolist(), "its speed stands apart from its neighbours'")
        usual = float(np.median(torque))  # figures far above the others would make these look like part load
        far = stand_apart(place, torque, 0.5 * usual) & (torque > 1.5 * usual)
        why |= dict.fromkeys(np.flatnonzero(far).tolist(), TORQUE_APART)
    inner = np.array([k for k in range(len(rpm)) if k not in why], dtype=int)
    ways = legs(rpm[inner])
    _check_pulls(sum(way > 0 for *_, way in ways), result)
    rows = Rows(rpm[inner], torque[inner])
    at_full_load(rows, ways)
    result.omitted += left_out(lines, group, why | {int(inner[k]): w for k, w in rows.why.items()})
    parts = [(group[inner[a + np.flatnonzero(rows.kept[a:b])]], way) for a, b, way in ways]
    kept = rpm[inner][rows.kept]
    if steady and np.unique(np.round(kept / NEAR_SPEED)).size == kept.size:
        # Every speed once: points of one pull in any order.
        parts = [(np.concatenate([p for p, _ in parts]), 0)]
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
    result.omitted += left_out(lines, every, rows.why)
    return [sweep for sweep, leg in zip(sweeps, ends, strict=True) if leg in kept]


def _at_jumps(rpm: np.ndarray) -> np.ndarray:
    """Rows beside a jump of half of the range, where one sweep ends and the next begins."""
    jumps = np.flatnonzero(np.abs(np.diff(rpm)) > 0.4 * np.ptp(rpm))
    lonely = set((jumps + 1).tolist()) & set(jumps.tolist())  # out and back: a spike, no sweep
    near = {k + d for k in jumps.tolist() for d in range(-4, 6)} - lonely
    return np.isin(np.arange(len(rpm)), list(near))


def _pull(rows: np.ndarray, lines: np.ndarray, readings: dict[str, np.ndarray], result: PullFile) -> Pull:
    """A pull without the readings that stand apart from their neighbours."""
    own = {c: v[rows] for c, v in readings.items()}
    rpm, steps = own["rpm"], are_steps(own["rpm"])
    bad = {c: stand_apart(rpm, own[c], _floor(c, steps, own[c])) for c in FLOORS if c in own}
    hung = _hung(own["torque"])
    apart = bad.pop("torque") & ~hung
    if apart.sum() > MOST_APART * len(rows) or len(rows) - apart.sum() < FEWEST_ROWS:
        apart = np.zeros(len(rows), dtype=bool)  # not single readings: the curve itself is like this
    why = dict.fromkeys(np.flatnonzero(apart).tolist(), TORQUE_APART)
    why |= dict.fromkeys(np.flatnonzero(hung).tolist(), "its torque repeats the row before: the logger hung")
    result.omitted += left_out(lines, rows, why)
    apart |= hung
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


def _hung(torque: np.ndarray) -> np.ndarray:
    """Rows that repeat the torque of the one before to the last digit, HUNG times or more, where hardly any
    others do."""
    same = np.concatenate([[False], np.diff(torque) == 0.0])
    starts = np.flatnonzero(~same)
    length = np.diff(np.append(starts, len(torque))) - 1  # rows that repeat the one at each start
    long = np.repeat(length >= HUNG, length + 1) & same
    return long if long.any() and same.mean() < SELDOM else np.zeros(len(torque), dtype=bool)


def _floor(channel: str, steps: bool, values: np.ndarray) -> float:
    bends = steps and channel in ("torque", "air_flow", "fuel_flow", "pulse_width")
    share = FLOOR_OF_STEPS if bends else FLOORS[channel]
    level = np.nanmedian(np.abs(values)) if np.isfinite(values).any() else 0.0
    return share * float(level)


def _check_pulls(count: int, result: PullFile) -> None:
    if count > MOST_PULLS:
        raise wrong_line(result.path, 1, "", f"{count} pulls; at most {MOST_PULLS} are read")

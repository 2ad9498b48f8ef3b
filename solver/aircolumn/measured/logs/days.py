"""Pulls of several files as one: the same manifold on several days, each with its own weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from aircolumn.display_units import counted
from aircolumn.errors import RequestError
from aircolumn.measured.atmosphere import OBSERVED
from aircolumn.measured.logs.pull_file import Pull, PullFile
from aircolumn.measured.logs.pulls import MOST_PULLS
from aircolumn.measured.logs.statement import BY_FACTOR, Statement


def as_one_file(files: Sequence[PullFile]) -> PullFile:
    """Files of one manifold as one, with the channels that all have. Raises RequestError if they state torque
    in ways that cannot be brought together, or hold too many pulls."""
    first, *others = files = _stated_alike(files)
    if not others:
        return first
    for other in others:
        if (other.volume_flow, other.wheel) != (first.volume_flow, first.wheel):
            said = "air flow" if other.volume_flow != first.volume_flow else "one is measured at the wheels"
            raise RequestError(f"{first.path} and {other.path} differ in what they state: {said}")
    common = set.intersection(*(set(p.readings) for f in files for p in f.pulls)) - {"pull"}
    pulls = [
        replace(p, readings={c: v for c, v in p.readings.items() if c in common})
        for f in files
        for p in f.pulls
    ]
    if len(pulls) > MOST_PULLS:
        raise RequestError(f"{len(pulls)} pulls together; at most {MOST_PULLS} are read")
    left_out = [replace(o, reason=f"{f.path.name}: {o.reason}") for f in files for o in f.omitted]
    days = ", ".join(f"{f.path.name} ({counted(len(f.pulls), 'pull')})" for f in files)
    dropped = sorted({c for f in files for c in f.columns} - common - {"pull", "correction"})
    remarks = [
        f"{len(files)} files together: {days}",
        *(f"{f.path.name}: {r}" for f in files for r in f.remarks),
    ]
    if dropped:
        remarks.append(f"not in all of them, so not used: {', '.join(dropped)}")
    columns = {c: taken for c, taken in first.columns.items() if c in common}
    return replace(
        first,
        pulls=pulls,
        columns=columns,
        omitted=left_out,
        remarks=remarks,
        other_days=tuple(f.file for f in others),
    )


def _stated_alike(files: Sequence[PullFile]) -> list[PullFile]:
    """The files with torque stated in one way: where they differ, those corrected by their own factor are
    brought back to observed. Raises RequestError if that is not possible."""
    ways = {f.stated for f in files}
    why = "; ".join(dict.fromkeys(f"{f.path.name}: {f.statement.why}" for f in files))
    if len(ways) == 1:
        one = files[0].statement
        return [replace(f, statement=replace(one, why=why)) if len(files) > 1 else f for f in files]
    if not ways <= {OBSERVED, BY_FACTOR}:
        raise RequestError(
            f"{files[0].path} and {files[-1].path} differ in what they state: {why}; state pull.stated for"
            " each"
            f" file: {{{files[0].path.name}: ..., {files[-1].path.name}: ...}}"
        )
    sure = all(f.statement.sure for f in files)
    return [replace(_observed(f), statement=Statement(OBSERVED, why, sure)) for f in files]


def _observed(f: PullFile) -> PullFile:
    """The file with its own factor taken out of torque."""
    if f.stated != BY_FACTOR:
        return f
    pulls: list[Pull] = []
    for p in f.pulls:
        factor = p.readings["correction"]
        factor = np.where(np.isfinite(factor), factor, np.nanmedian(factor))
        readings = {c: v for c, v in p.readings.items() if c != "correction"}
        pulls.append(replace(p, readings={**readings, "torque": readings["torque"] / factor}))
    return replace(f, pulls=pulls)


def in_order(files: Sequence[PullFile]) -> list[PullFile]:
    """Files in the order in which they were named, their pulls numbered in the order in which they were run:
    by the clock if all pulls have a date, else by their numbers if no two are the same, else as named."""
    pulls = [(k, j, p) for k, f in enumerate(files) for j, p in enumerate(f.pulls)]
    clocks, numbers = ([getattr(p, what) for _, _, p in pulls] for what in ("clock", "number"))
    dated = all(c > DATED for c in clocks)
    counted_up = len(set(numbers)) == len(numbers) and all(n == n for n in numbers) and len(files) > 1
    by = clocks if dated else numbers if counted_up else range(len(pulls))
    rank = {pulls[at][:2]: r for r, at in enumerate(np.argsort(by, kind="stable"))}
    return [
        replace(f, pulls=[replace(p, order=rank[k, j]) for j, p in enumerate(f.pulls)])
        for k, f in enumerate(files)
    ]


DATED = 1e8  # s since 1970: a clock with a date, not seconds of a log

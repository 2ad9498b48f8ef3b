"""Pulls of several files as one: the same manifold on several days, each with its own weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from aircolumn.display_units import counted
from aircolumn.engine.description.measured import Measured
from aircolumn.errors import RequestError
from aircolumn.measured.reading import MOST_PULLS, Pull, PullFile, read_pulls


def read_days(paths: Path | str | Sequence[Path | str], notes: Measured) -> PullFile:
    """The pulls of one file or of several, with the channels that all have.

    Raises
    ------
    InputError
        If a file cannot be used.
    RequestError
        If the files state torque in different ways, or hold too many pulls together.
    """
    names = [paths] if isinstance(paths, (str, Path)) else list(paths)
    first, *others = files = [read_pulls(path, notes) for path in names]
    if not others:
        return first
    for other in others:
        if (other.stated, other.volume_flow) != (first.stated, first.volume_flow):
            said = "one is corrected and the other observed" if other.stated != first.stated else "air flow"
            raise RequestError(f"{first.path} and {other.path} differ in what they state: {said}")
    common = set.intersection(*(set(p.readings) for f in files for p in f.pulls)) - {"pull"}
    pulls = [
        Pull(p.lines, {c: v for c, v in p.readings.items() if c in common}) for f in files for p in f.pulls
    ]
    if len(pulls) > MOST_PULLS:
        raise RequestError(f"{len(pulls)} pulls together; at most {MOST_PULLS} are read")
    left_out = [replace(o, reason=f"{f.path.name}: {o.reason}") for f in files for o in f.omitted]
    days = ", ".join(f"{f.path.name} ({counted(len(f.pulls), 'pull')})" for f in files)
    dropped = sorted({c for f in files for c in f.columns} - common - {"pull"})
    remarks = [
        f"{len(files)} files together: {days}",
        *(f"{f.path.name}: {r}" for f in files for r in f.remarks),
    ]
    if dropped:
        remarks.append(f"not in all of them, so not used: {', '.join(dropped)}")
    columns = {c: taken for c, taken in first.columns.items() if c in common}
    return replace(first, pulls=pulls, columns=columns, omitted=left_out, remarks=remarks)

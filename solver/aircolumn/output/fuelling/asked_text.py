"""What pulls ask of the control unit's table, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import counted, percent, unit
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    from aircolumn.fuelling.logged import LogAsks
    from aircolumn.fuelling.session import ControlTable

LEAN = 1.03  # lambda over what was to be metered, from which it is told


def asked_lines(found: ControlTable) -> list[str]:
    """What pulls with this manifold ask of the table, in a sentence or two."""
    log = found.log
    if log is None:
        return []
    shown, change = log.shown, log.correction
    most = int(np.nanargmax(np.abs(change)))
    least, highest = (percent(float(v), "+.1f") for v in (np.nanmin(change), np.nanmax(change)))
    said = (
        f"{counted(log.pulls, 'pull')} ({log.file.path.name}; filling by {log.source}) ask for"
        f" {least} to {highest}, most at {log.rpm[most]:.0f} rpm"
    )
    if np.isnan(log.known_to):
        lines = [f"{said}. It is a single pull: how well that is known cannot be told."]
    else:
        lines = [
            f"{said}, each known to {percent(log.known_to, '.1f')} by the scatter of the pulls: at"
            f" {counted(int(shown.sum()), 'speed')} of {len(shown)} it is more than that. What an instrument"
            " has wrong in all pulls alike is not in it."
        ]
    return [*lines, *_leanest(log), *log.remarks]


def _leanest(log: LogAsks) -> list[str]:
    """Where the mixture was leanest against what was to be metered."""
    if log.mixture is None or not np.isfinite(log.mixture).any():
        return []
    over = log.mixture / log.target
    k = int(np.nanargmax(over))
    if over[k] <= LEAN:
        return []
    return [
        f"Leanest against its target: lambda {log.mixture[k]:.2f} at {log.rpm[k]:.0f} rpm, to be"
        f" {log.target[k]:.2f}. Mend that before the next pull."
    ]


def asked_table(found: ControlTable) -> list[str]:
    """Measured filling beside the table's, speed by speed."""
    log, pressure = found.log, unit("pressure")
    if log is None:
        return []
    heads = ["rpm", f"manifold, {pressure.name}", "measured", "table", "correction"]
    in_doubt = ~log.shown & np.isfinite(log.known_to)
    rows = [
        [
            f"{n:.0f}",
            pressure.number(p),
            f"{100.0 * m:.1f}",
            f"{100.0 * t:.1f}",
            f"({100.0 * c:+.1f})" if doubted else f"{100.0 * c:+.1f} ",
        ]
        for n, p, m, t, c, doubted in zip(
            log.rpm, log.pressure, log.measured, log.table, log.correction, in_doubt, strict=True
        )
    ]
    what = "VE at full load, %" + ("; in brackets: within the scatter" if in_doubt.any() else "")
    return [f"{what}\n{fitted(heads, rows)}", ""]

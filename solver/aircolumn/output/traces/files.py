"""Mean, spread and model of measured traces as CSV."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.measured.traces.cycles import AT
from aircolumn.output.data_files import digits, write_rows

if TYPE_CHECKING:
    from aircolumn.measured.traces.session import TraceSession


def write_traces(session: TraceSession, path: Path) -> None:
    """Over crank angle, 0 at firing top dead centre."""
    kpa = unit("pressure")
    columns = {"angle [deg]": AT}
    for k, name in enumerate(session.cycles.names):
        columns[f"{name} mean [{kpa.name}]"] = kpa.of(session.cycles.mean[k])
        columns[f"{name} spread [{kpa.name}]"] = kpa.factor * session.cycles.spread[k]
        columns[f"{name} model [{kpa.name}]"] = kpa.of(session.model.signals[k])
        if session.fitted is not None:
            columns[f"{name} fitted [{kpa.name}]"] = kpa.of(session.fitted[k])
    rows = zip(*columns.values(), strict=True)
    write_rows(path, list(columns), ([digits(v, 8) for v in row] for row in rows))

"""How sure a comparison is, as CSV files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import digits, write_rows

if TYPE_CHECKING:
    from aircolumn.study.bands.session import HowSure
    from aircolumn.study.bands.verdict import Interval


def write_bands(found: HowSure, folder: Path) -> None:
    """bands.csv: every runner's torque and band; bands-against-BASE.csv: the others' gains, with their
    intervals; bands-measure-next.csv: every measurement and the doubt it leaves."""
    v = found.verdict
    _write(folder / "bands.csv", found, {f"torque of {n}": b for n, b in v.bands.items()})
    gains = {f"torque of {a.runner} less {a.base}": a.at for a in v.against}
    if gains:
        _write(folder / f"bands-against-{v.base}.csv", found, gains)
        rows = [[m.key, m.settle, digits(m.after)] for m in found.next.every]
        heads = ["key", "what to do", "share of wrong choices left"]
        write_rows(folder / "bands-measure-next.csv", heads, rows)


def _write(path: Path, found: HowSure, columns: dict[str, Interval]) -> None:
    torque = unit("torque")
    heads = [column_heading(f"{name}{part}", torque) for name in columns for part in ("", ", low", ", high")]
    rows: list[Sequence[str]] = []
    for k, rpm in enumerate(found.curves.rpm):
        cells = [x for one in columns.values() for x in (one.middle[k], one.low[k], one.high[k])]
        rows.append([f"{rpm:.10g}", *(digits(float(torque.of(x))) for x in cells)])
    write_rows(path, ["rpm", *heads], rows)

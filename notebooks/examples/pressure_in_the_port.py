"""Highest and lowest pressure at the intake valve over a cycle."""

from pathlib import Path

import aircolumn

configs = Path(__file__).resolve().parents[2] / "configs"
engine = aircolumn.load(configs / "rescue-four.yaml").with_runner("long")
port = aircolumn.trace(engine, 3500.0).p.isel(distance=-1) / 1e3
print(f"{float(port.min()):.1f} kPa at {float(port.idxmin()):.0f} deg")
print(f"{float(port.max()):.1f} kPa at {float(port.idxmax()):.0f} deg")

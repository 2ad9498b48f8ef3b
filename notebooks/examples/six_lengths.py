"""VE over speed and runner length as an xarray Dataset: its peak for each length, and a file for later."""

import numpy as np

import aircolumn

description = aircolumn.load("configs/classroom-single.yaml")
data = aircolumn.tuning_map(description, np.linspace(0.2, 0.7, 6), np.arange(2000.0, 6501.0, 500.0))
best = data.ve.idxmax("rpm")
for length in data.length.values:
    print(f"{1000 * length:.0f} mm: {float(best.sel(length=length)):.0f} rpm")
print(dict(data.ve.sizes))

"""Which of the file's runners has most torque at each speed."""

from pathlib import Path

import aircolumn

configs = Path(__file__).resolve().parents[2] / "configs"
description = aircolumn.load(configs / "rescue-four.yaml")
data = aircolumn.compare(description, [2500, 4000, 5500])
for rpm, name in zip(data.rpm.values, data.torque.idxmax("runner").values, strict=True):
    print(f"{rpm:.0f} rpm: {name}")

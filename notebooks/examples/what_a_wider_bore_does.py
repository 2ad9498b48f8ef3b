"""VE of the classroom engine with runners of three bores."""

from pathlib import Path

import aircolumn

configs = Path(__file__).resolve().parents[2] / "configs"
engine = aircolumn.load(configs / "classroom-single.yaml").engine
chart = aircolumn.tuning_map(engine, [0.036, 0.040, 0.044], [3000, 4500], vary="bore")
print((100 * chart.ve).round(1).to_pandas())

"""What made the hump of the long runner, in sentences."""

from pathlib import Path

import aircolumn

configs = Path(__file__).resolve().parents[2] / "configs"
engine = aircolumn.load(configs / "rescue-four.yaml").with_runner("long")
speeds = [2500, 3000, 3500, 4500]
told = aircolumn.explain(engine, speeds, aircolumn.curve(engine, speeds).ve)
for k, (extremum, cause, _) in enumerate(told):
    print(" ".join(aircolumn.sentences(extremum.kind, cause, aircolumn.beside(told, k))))

"""What to measure next, against brute force: python -m validation.brute_force_measurements [ENGINE ...]

The program ranks measurements by straight lines through its cases (study/bands/measure_next.py). Here each
thing that is not known is fixed in turn at PLACES values, all else is drawn as before, every case is marched
again, the choice is made anew, and wrong choices are counted. Three demo engines, each with two runners that
are nearly level over a range and with a cam that is known within a few degrees; the five measurements that
the program ranks highest and three that it ranks lowest (about 5 minutes an engine on 2 cores).
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from scipy.stats import norm

import aircolumn
from aircolumn.curves.interest import Range
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.source import Source
from aircolumn.study.bands.cases import Cases
from aircolumn.study.bands.measure_next import measure_next
from aircolumn.study.executors import Cores
from aircolumn.study.points import compute_missing
from aircolumn.study.store import Store
from aircolumn.study.tasks import Task

CONFIGS = Path(__file__).parent.parent / "configs"
PLACES, INNER, CASES, CELLS = 7, 64, 128, 4.0
#: engine: lengths of two runners, mm; speeds; changes of the file
ENGINES = {
    "rescue-four": ((580, 670), (2500, 3000, 3500, 4000)),
    "classroom-single": ((400, 600), (3000, 4000, 5000)),
    "student-four": ((270, 390), (7000, 8000, 9000, 10000)),
}
CAM = {"opens_btdc": 4.0, "closes_abdc": 4.0, "opens_bbdc": 4.0, "closes_atdc": 4.0}  # deg, plus_minus


def unsure_engine(name: str) -> Cases:
    """A demo engine with two runners of nearly the same mean torque, and an uncertain cam."""
    source = aircolumn.load(CONFIGS / f"{name}.yaml").source
    data = {k: v for k, v in source.data.items() if k not in ("runners", "switchable")}
    data["exhaust"] = {"collector": None, **data["exhaust"]}
    data["runners"] = {f"{mm}": {"length": f"{mm} mm"} for mm in ENGINES[name][0]}
    spreads = {
        (side, "valve", key): f"{wide} deg"
        for side in ("intake", "exhaust")
        for key, wide in CAM.items()
        if key in data[side]["valve"]
    }
    spreads[("engine", "compression_ratio")] = 0.3
    told = Source(source.path, data, source.places, source.raw, source.beside, spreads)
    return Cases.of(described(told))


def means_of(cases: Cases, numbers: np.ndarray, speeds: np.ndarray, store: Store) -> np.ndarray:
    """Mean torque of every candidate in every case, N m (cases, candidates)."""
    span = Range.between(speeds[0], speeds[-1])
    engines = [list(cases.engines(z).values()) for z in numbers]
    marched = [e.changed(numerics=e.numerics.changed(cell_scale=CELLS)) for row in engines for e in row]
    tasks = [Task.alone(e, n) for e in marched for n in speeds]
    compute_missing(tasks, store, Cores())
    keys = [t.keys()[0] for t in tasks]
    stored = store.get(keys)
    torque = np.array([stored[k].figure("torque") for k in keys]).reshape(len(marched), len(speeds))
    return np.array([span.mean(speeds, t) for t in torque]).reshape(len(numbers), -1)


def wrong_choices(means: np.ndarray) -> float:
    """Share of cases in which the candidate with the highest mean is not the best."""
    return float(np.mean(means.argmax(axis=1) != means.mean(axis=0).argmax()))


def main(names: list[str]) -> None:
    """Print both rankings."""
    for name in names or list(ENGINES):
        with TemporaryDirectory() as folder:
            store = Store(Path(folder) / "points.sqlite")
            cases, speeds = unsure_engine(name), np.array(ENGINES[name][1], dtype=float)
            numbers = cases.drawn(CASES)
            means = means_of(cases, numbers, speeds, store)
            before = wrong_choices(means)
            told = measure_next(cases, numbers, means, before)
            print(
                f"{name}: {CASES} cases, wrong choices {100 * before:.0f} %, lines explain"
                f" {100 * told.explained:.0f} % of what the runners differ by in cases left out"
            )
            inner = cases.drawn(INNER, seed=77)
            fresh = wrong_choices(means_of(cases, inner, speeds, store))
            print(f"  nothing known: {100 * before:.0f} % told, {100 * fresh:.0f} % counted in others")
            for row in [*told.every[:5], *told.every[-3:]]:
                k, counted = cases.names.index(row.key), []
                for place in norm.ppf((np.arange(PLACES) + 0.5) / PLACES):
                    fixed = inner.copy()
                    fixed[:, k] = place
                    counted.append(wrong_choices(means_of(cases, fixed, speeds, store)))
                both = f"{100 * row.after:5.1f} % told, {100 * np.mean(counted):5.1f} % counted"
                print(f"  {row.key[:60]:60s} {both}", flush=True)
            store.close()


if __name__ == "__main__":
    main(sys.argv[1:])

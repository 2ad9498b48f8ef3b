"""Points a second by the number of workers: ``python -m validation.benchmark_scaling [WORKERS ...]``.

The demo engine (invented) at 10 runner lengths 5 mm apart and 48 speeds, each point from rest and in chains
over the lengths, by threads and by processes
(aircolumn/curves/cores.py), at usual cells and at those that are chosen for an accuracy of 0.1 % and 0.5 %
(curves/accuracy.py). Compare within the table: machines differ.
"""

import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

import aircolumn
from aircolumn.curves.accuracy import cells_within, percent
from aircolumn.curves.cores import processes
from aircolumn.curves.tuning.tuning_map import with_length
from aircolumn.sources import solver_version
from aircolumn.study.tasks import Task, compute_all

DEMO = Path(__file__).parent.parent / "configs" / "rescue-four.yaml"
BUNDLE = 4
LENGTHS = np.linspace(0.4, 0.445, 10)


def tasks(accuracy: float | None) -> tuple[str, dict[str, list[Task]]]:
    """(what cells they have, the points from rest and in chains) for an accuracy, or at usual cells."""
    engine = aircolumn.load(DEMO).engine
    speeds = np.linspace(1500.0, 6000.0, 48)
    engines = [with_length(engine, x) for x in LENGTHS]
    cells = "usual"
    if accuracy is not None:
        chosen = cells_within([engine.changed(numerics=engine.numerics.changed(accuracy=accuracy))], speeds)
        engines = [chosen.apply(e) for e in engines]
        cells = f"x {chosen.scale:g}, within {percent(accuracy)}"
    beside = list(zip(map(float, LENGTHS), engines, strict=True))
    chains = [Task(tuple((at, e, float(n)) for at, e in beside), solver_version()) for n in speeds]
    return cells, {"from rest": [Task.alone(e, n) for e in engines for n in speeds], "in chains": chains}


def rate(pool, points: list[Task], warm: int) -> float:
    """Points a second, once ``warm`` workers have had a point each."""
    list(pool.map(compute_all, [[points[0]]] * (4 * warm)))
    size = max(BUNDLE // len(points[0].points), 1)
    bundles = [points[k : k + size] for k in range(0, len(points), size)]
    start = time.perf_counter()
    outcomes = [o for found in pool.map(compute_all, bundles) for task in found for o in task]
    failed = [o for o in outcomes if o.figures is None]
    assert not failed, failed[0].reason
    return len(outcomes) / (time.perf_counter() - start)


def main(counts: list[int]):
    """Print the table."""
    print("| cells | workers | from rest: threads, processes, points/s | in chains |\n|---|---|---|---|")
    for accuracy in (None, 0.001, 0.005):
        cells, ways = tasks(accuracy)
        for count in counts:
            found = []
            for once in ways.values():
                points = once * max(1, count // 2)  # enough that beginning and end do not count
                with ThreadPoolExecutor(count) as pool:
                    threads = rate(pool, points, count)
                with processes(count) as pool:
                    found.append(f"{threads:.0f}, {rate(pool, points, count):.0f}")
            print(f"| {cells} | {count} | {found[0]} | {found[1]} |", flush=True)


if __name__ == "__main__":
    cpus = os.cpu_count() or 1
    main([int(a) for a in sys.argv[1:]] or [n for n in (1, 2, 4, 8, 16, 32) if n <= cpus])

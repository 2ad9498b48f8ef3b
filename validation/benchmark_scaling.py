"""Points a second by the number of workers: ``python -m validation.benchmark_scaling [WORKERS ...]``.

The demo engine (invented) at 8 runner lengths and 48 speeds, by threads and by processes
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
from aircolumn.study.tasks import Task, compute_all

DEMO = Path(__file__).parent.parent / "configs" / "rescue-four.yaml"
BUNDLE = 4


def tasks(accuracy: float | None) -> tuple[str, list[Task]]:
    """(what cells they have, the points) for an accuracy, or at usual cells."""
    engine = aircolumn.load(DEMO).engine
    speeds = np.linspace(1500.0, 6000.0, 48)
    engines = [with_length(engine, x) for x in np.linspace(0.25, 0.75, 8)]
    cells = "usual"
    if accuracy is not None:
        chosen = cells_within([engine.changed(numerics=engine.numerics.changed(accuracy=accuracy))], speeds)
        engines = [chosen.apply(e) for e in engines]
        cells = f"x {chosen.scale:g}, within {percent(accuracy)}"
    return cells, [Task.alone(e, n) for e in engines for n in speeds]


def rate(pool, points: list[Task], warm: int) -> float:
    """Points a second, once ``warm`` workers have had a point each."""
    list(pool.map(compute_all, [[points[0]]] * (4 * warm)))
    bundles = [points[k : k + BUNDLE] for k in range(0, len(points), BUNDLE)]
    start = time.perf_counter()
    failed = [o for found in pool.map(compute_all, bundles) for (o,) in found if o.figures is None]
    assert not failed, failed[0].reason
    return len(points) / (time.perf_counter() - start)


def main(counts: list[int]):
    """Print the table."""
    print("| cells | workers | threads, points/s | processes, points/s |\n|---|---|---|---|")
    for accuracy in (None, 0.001, 0.005):
        cells, once = tasks(accuracy)
        for count in counts:
            points = once * max(1, count // 2)  # enough that beginning and end do not count
            with ThreadPoolExecutor(count) as pool:
                threads = rate(pool, points, count)
            with processes(count) as pool:
                apart = rate(pool, points, count)
            print(f"| {cells} | {count} | {threads:.1f} | {apart:.1f} |", flush=True)


if __name__ == "__main__":
    cpus = os.cpu_count() or 1
    main([int(a) for a in sys.argv[1:]] or [n for n in (1, 2, 4, 8, 16, 32) if n <= cpus])

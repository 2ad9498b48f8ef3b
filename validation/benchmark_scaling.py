"""Points a second by the number of workers: ``python -m validation.benchmark_scaling [WORKERS ...]``.

The demo engine (invented) at 8 runner lengths and 48 speeds, by threads and by processes
(aircolumn/curves/cores.py), at usual cells and at cells twice and four times as long. Compare within the
table: machines differ.
"""

import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

import aircolumn
from aircolumn.curves.cores import processes
from aircolumn.curves.tuning.tuning_map import with_length
from aircolumn.study.tasks import Task, compute_all, solver_version

DEMO = Path(__file__).parent.parent / "configs" / "rescue-four.yaml"
BUNDLE = 4


def tasks(coarser: float) -> list[Task]:
    """The points, with cells ``coarser`` times as long."""
    engine = aircolumn.load(DEMO).engine
    intake, exhaust = engine.cells
    numerics = engine.numerics.changed(intake_cell=coarser * intake, exhaust_cell=coarser * exhaust)
    engines = [with_length(engine.changed(numerics=numerics), x) for x in np.linspace(0.25, 0.75, 8)]
    speeds = np.linspace(1500.0, 6000.0, 48)
    return [Task(e, (float(n),), False, solver_version()) for e in engines for n in speeds]


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
    for coarser in (1.0, 2.0, 4.0):
        points = tasks(coarser)
        for count in counts:
            with ThreadPoolExecutor(count) as pool:
                threads = rate(pool, points, count)
            with processes(count) as pool:
                apart = rate(pool, points, count)
            print(f"| x {coarser:g} | {count} | {threads:.1f} | {apart:.1f} |", flush=True)


if __name__ == "__main__":
    cpus = os.cpu_count() or 1
    main([int(a) for a in sys.argv[1:]] or [n for n in (1, 2, 4, 8, 16, 32) if n <= cpus])

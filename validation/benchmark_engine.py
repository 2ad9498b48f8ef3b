"""What engine work costs: operating points, a curve as a process, a study on one core and two.

python -m validation.benchmark_engine
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import aircolumn
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.questions.read import read_study
from aircolumn.questions.sweep.sweep import sweep
from aircolumn.study.executors import Cores

CONFIGS = Path(__file__).parent.parent / "configs"
REPEATS = 10
STUDY = """engine: {engine}
vary: {{intake.runner.length: {{from: 250 mm, to: 800 mm, steps: 10}}}}
speeds: {{from: 1500 rpm, to: 6000 rpm, step: 225 rpm}}
"""


def long_pipes(name):
    """An engine with 0.5 m of intake and 1 m of exhaust, ports included."""
    engine = aircolumn.load(CONFIGS / name).engine
    port, exhaust = engine.intake.port.length, engine.exhaust
    primary = exhaust.primary.changed(length=1.0 - exhaust.port.length)
    engine = engine.with_intake(runner=engine.intake.runner.changed(length=0.5 - port))
    return engine.changed(exhaust=exhaust.changed(primary=primary))


def best_time(work) -> float:
    """Least of several times, s."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def points():
    """Time of single operating points at the default mesh."""
    for name in ("rescue-four.yaml", "classroom-single.yaml"):
        engine = long_pipes(name)
        operating_point(engine, 6000.0)
        for rpm in (6000.0, 3000.0, 1500.0):
            seconds = best_time(lambda e=engine, n=rpm: operating_point(e, n))
            print(f"{name:22s} one point at {rpm:.0f} rpm  {1e3 * seconds:6.1f} ms")


def curve():
    """A curve of 25 points, the whole process."""
    speeds = [str(n) for n in range(1200, 6001, 200)]
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable,
            "-m",
            "aircolumn",
            "curve",
            str(CONFIGS / "rescue-four.yaml"),
            "--out",
            folder,
            "--rpm",
            *speeds,
        ]
        times = []
        for _ in range(5):
            start = time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            times.append(time.perf_counter() - start)
    print(f"curve of {len(speeds)} points, whole process  {min(times):.2f} s")


def study():
    """A study of 210 points on one core and on two."""
    rates = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "study.yaml"
        path.write_text(STUDY.format(engine=CONFIGS / "rescue-four.yaml"))
        plan = read_study(path)
        for cores in (1, 2):
            start = time.perf_counter()
            _, _, count = sweep(plan, Path(folder) / f"{cores}.sqlite", Cores(cores))
            rates[cores] = count / (time.perf_counter() - start)
            print(f"study on {cores} core{'s' if cores > 1 else ''}  {rates[cores]:.1f} points a s")
    print(f"scaling from one core to two  {rates[2] / rates[1]:.2f}")


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    points()
    curve()
    study()

"""This checkout against another one, by turns in one run:
``python -m validation.benchmark_versions OTHER [REPETITIONS]``; OTHER: the folder of a checkout.

Prints the least seconds (wall, CPU) of whole processes and the ratio new to old: a first
``compare`` that has to compile, then, from warm caches, ``compare``, a curve of 25 points, a
``compare`` of two runners of a whole V8, a point at part throttle, and a study of 1890 points. The
V8 and the study are changes of the demo engines (invented).
"""

import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent.parent
SPEEDS = [str(n) for n in range(1200, 6001, 200)]
STUDY = """engine: {engine}
vary:
  intake.runner.length: {{from: 250 mm, to: 750 mm, steps: 9}}
  intake.runner.bore: {{from: 38 mm, to: 50 mm, steps: 10}}
speeds: {{from: 1500 rpm, to: 6000 rpm, step: 225 rpm}}
"""
POINT = """import aircolumn

aircolumn.operating_point(aircolumn.load({engine!r}).engine, 2500.0)
"""


def engines(folder: Path):
    """Write the engines and the study that are compared."""
    four = (HERE / "configs" / "rescue-four.yaml").read_text()
    whole = (HERE / "configs" / "rescue-four-manifold.yaml").read_text()
    wide = "throttle: {bore: 72 mm, shaft: 9 mm}"
    (folder / "throttled.yaml").write_text(four.replace(wide, f"{wide[:-1]}, angle: 20 deg}}"))
    changes = (
        (r"cylinders: 4", "cylinders: 8"),
        (r"\[1, 3, 4, 2\]", "[1, 8, 4, 3, 6, 5, 7, 2]"),
        (r"    lengths: .*\n", ""),
        (r"  collector: .*\n", ""),
        (r"primary: \{length: 200 mm", "primary: {length: 700 mm"),
        (r"bore: 72 mm, shaft", "bore: 95 mm, shaft"),
        (r"volume: 6 L", "volume: 10 L"),
        (r"runners:(?s:.*?)\n\n", "runners:\n  a: {length: 430 mm}\n  b: {length: 330 mm}\n\n"),
        (r"  step: 500 rpm", "  step: 281.25 rpm"),
    )
    for found, put in changes:
        whole = re.sub(found, put, whole)
    (folder / "v8.yaml").write_text(whole)
    (folder / "study.yaml").write_text(STUDY.format(engine=HERE / "configs" / "rescue-four.yaml"))


def commands(folder: Path) -> dict[str, list[str]]:
    """What is timed, by name; results go to ``folder``/out."""
    demo, out = str(HERE / "configs" / "rescue-four.yaml"), str(folder / "out")
    run = ["-m", "aircolumn"]
    return {
        "cold first compare": [*run, "compare", demo, "--out", out],
        "compare": [*run, "compare", demo, "--out", out],
        "curve of 25 points": [*run, "curve", demo, "--out", out, "--only-given", "--rpm", *SPEEDS],
        "V8, two runners, 17 speeds": [
            *run,
            "compare",
            str(folder / "v8.yaml"),
            "--out",
            out,
            "--only-given",
        ],
        "point at 20 deg throttle": ["-c", POINT.format(engine=str(folder / "throttled.yaml"))],
        "study of 1890 points": [*run, "study", str(folder / "study.yaml"), "--out", out],
    }


def timed(arguments: list[str], package: Path, cache: Path) -> tuple[float, float]:
    """(wall, CPU) seconds of a process with the package at ``package``."""
    paths = {"PYTHONPATH": str(package), "XDG_CACHE_HOME": str(cache)}
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, *arguments],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | paths,
    )
    after, wall = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter() - start
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, cpu


def main(other: Path, repetitions: int):
    """Print the comparison."""
    packages = {"old": other / "solver", "new": HERE / "solver"}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        engines(folder)
        print("| | old wall, CPU s | new wall, CPU s | new / old |\n|---|---|---|---|")
        for what, arguments in commands(folder).items():
            best = dict.fromkeys(packages, (1000000000.0, 1000000000.0))
            for _ in range(repetitions):
                for which, package in packages.items():
                    cache = folder / f"cache-{which}"
                    if what.startswith("cold"):
                        shutil.rmtree(cache, ignore_errors=True)
                    shutil.rmtree(folder / "out", ignore_errors=True)
                    best[which] = min(best[which], timed(arguments, package, cache))
            (w0, c0), (w1, c1) = best["old"], best["new"]
            print(
                f"| {what} | {w0:.2f}, {c0:.2f} | {w1:.2f}, {c1:.2f} | {w1 / w0:.2f}, {c1 / c0:.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve(), int(sys.argv[2]) if len(sys.argv) > 2 else 5)

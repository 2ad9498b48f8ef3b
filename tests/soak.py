"""An endurance run: random studies one after another on all cores, killed at random.

    python -m tests.soak FOLDER 3600 5        (s, seed)

A worker process computes studies of seeds 0, 1, 2, ... in FOLDER; it is killed (-9) after random
times, 20 s on average, and started again. In the end every study is asked for once more without a
kill: nothing may be left to compute, no row damaged, no scratch left over, and the first few must
be byte for byte what a folder of their own gives. Prints points, kills and the largest memory.
"""

import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.conftest import CLASSROOM, DEMO

from aircolumn.output.replace import SCRATCH, result_folder
from aircolumn.questions.answer import answer_text, write_study_tables
from aircolumn.questions.read import read_study
from aircolumn.questions.session import answer
from aircolumn.study.executors import Cores

BETWEEN = 20.0  # s between kills, mean
COMPARED = 6  # studies computed again elsewhere


def study_text(seed: int) -> str:
    """A random study of one of the demos, of some dozens of points."""
    rng = random.Random(seed)
    engine = rng.choice((DEMO, CLASSROOM))
    low, high = sorted(rng.sample(range(220, 800, 10), 2))
    speeds = sorted(rng.sample(range(2000, 6001, 250), rng.randrange(2, 5)))
    lines = [f"engine: {engine}", f"speeds: [{', '.join(f'{n} rpm' for n in speeds)}]", "vary:"]
    steps = rng.randrange(3, 9)
    kind = rng.choice(("grid", "sample", "search", "warm"))
    inner = f", steps: {steps}" if kind in ("grid", "warm") else ""
    lines.append(f"  intake.runner.length: {{from: {low} mm, to: {high + 20} mm{inner}}}")
    if kind == "sample":
        lines.append(f"sample: {{count: {2 * steps}, seed: {seed}}}")
    if kind == "search":
        lines.append(f"search: {{evaluations: {10 + steps}, seed: {seed}}}")
    if kind == "warm":
        lines.append("warm_start: true")
    return "\n".join(lines) + "\n"


def computed(folder: Path, seed: int):
    """A study in a folder, from where it was: (points computed now, places damaged)."""
    path, out = folder / f"s{seed}.yaml", folder / f"o{seed}"
    if not path.exists():
        path.write_text(study_text(seed))
    plan = read_study(path)
    found = answer(plan, out, Cores())
    with result_folder(out) as scratch:
        (scratch / "origin.json").write_text(json.dumps({"file": path.name}))
        (scratch / "study.txt").write_text(answer_text(plan, found))
        write_study_tables(plan, found, scratch, {})
    return found.fresh, found.damaged


def memory() -> int:
    """Resident, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() // 2**20


def work(folder: Path):
    """Studies without end; a line of the log for each."""
    seed = 0
    while (folder / f"o{seed}" / "study.nc").exists():
        seed += 1
    while True:
        fresh, damaged = computed(folder, seed)
        with open(folder / "log.txt", "a") as log:
            log.write(f"{time.time():.0f} {os.getpid()} {seed} {fresh} {damaged} {memory()}\n")
        seed += 1


def soak(folder: Path, seconds: float, seed: int) -> list[str]:
    """Run and kill for some time; what is wrong in the end."""
    (folder / "first").mkdir(parents=True)
    computed(folder / "first", 0)  # what must be compiled is, before the clock runs
    rng, kills, end = random.Random(seed), 0, time.monotonic() + seconds
    while time.monotonic() < end:
        process = subprocess.Popen([sys.executable, "-m", "tests.soak", "work", str(folder)])
        try:
            process.wait(min(rng.expovariate(1.0 / BETWEEN), max(end - time.monotonic(), 0.1)))
            return [f"the worker ended by itself: {process.returncode}"]
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
            kills += 1
    return [*checked(folder), *told(folder, kills)]


def checked(folder: Path) -> list[str]:
    """Every study once more; some of them elsewhere."""
    wrong = []
    seeds = sorted(int(p.stem[1:]) for p in folder.glob("s*.yaml"))
    for seed in seeds[:-1]:  # the last was still being computed
        fresh, damaged = computed(folder, seed)
        if fresh or damaged:
            wrong.append(f"study {seed}: {fresh} points computed again, {damaged} damaged")
    elsewhere = folder / "elsewhere"
    elsewhere.mkdir()
    for seed in seeds[: min(COMPARED, len(seeds) - 1)]:
        computed(elsewhere, seed)
        for name in ("study.nc", "study.csv", "study.txt"):
            one, other = (f / f"o{seed}" / name for f in (folder, elsewhere))
            if one.read_bytes() != other.read_bytes():
                wrong.append(f"study {seed}: {name} differs from a run of its own")
    shutil.rmtree(elsewhere)
    left = [str(p) for p in folder.rglob(f"{SCRATCH}*")]
    return wrong + [f"left over: {p}" for p in left]


def told(folder: Path, kills: int) -> list[str]:
    """Print what was done; complain of memory that grows."""
    rows = [list(map(int, r.split())) for r in (folder / "log.txt").read_text().splitlines()]
    by_process: dict[int, list[int]] = {}
    for _, process, _, _, _, megabytes in rows:
        by_process.setdefault(process, []).append(megabytes)
    longest = max(by_process.values(), key=len)
    points, most = sum(r[3] for r in rows), max(r[5] for r in rows)
    print(
        f"{len(rows)} studies, {points} points in finished runs, {kills} kills; memory at most"
        f" {most} MB; in the longest life: {longest} MB"
    )
    grown = longest[-1] - longest[len(longest) // 2]
    return [f"memory grew by {grown} MB in half a life"] if grown > 30 else []


if __name__ == "__main__":
    if sys.argv[1] == "work":
        work(Path(sys.argv[2]))
    problems = soak(Path(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3]))
    print("\n".join(problems) or "all as promised")
    sys.exit(bool(problems))

"""Do the tests notice a wrong line? Seeded faults, one at a time, each in a copy of the project.

    python -m tests.mutants --count 60                 a sample over all modules but the kernels
    python -m tests.mutants --since main               every fault in the lines changed since then
    python -m tests.mutants --only output/tables.py    every fault in one file

A fault swaps an operator or a comparison, changes a number, turns a condition round, takes min for
max, or drops a statement. It is noticed if a test of its wing (TESTS) fails or does not end. What
survives is printed with its place: a test is missing there, or the fault has no effect. Looks
(colours, sizes, places of labels) are left alone, and so are kernels: the validation watches those
(validation/mutations.py). Exit code 1 if less than --least of the faults were noticed.
"""

import argparse
import compileall
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from py_compile import PycInvalidationMode
from queue import Queue

from tests.faults import Finder, Mutant

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "solver" / "aircolumn"

#: wing: folders of tests that hold its results, its own first
TESTS = {
    "commands": "commands output",
    "curves": "curves output",
    "engine": "engine output",
    "flow": "flow engine",
    "measured": "measured output",
    "output": "output",
    "study": "study output",
}
#: Decide on the way to an answer, not on the answer.
ON_THE_WAY = {"engine/model/plenum_balance.py", "engine/model/initial_guess.py"}
_HOLDS_KERNELS = re.compile(r"^@(kernel|routine|small|inlined|entry)\b", re.MULTILINE)


def tests_of(file: Path) -> list[str]:
    """The test files of a module, those that name it first, or none if it is not looked at."""
    module = ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts)
    folders = TESTS.get(file.relative_to(PACKAGE).parts[0], "").split()
    files = [f for folder in folders for f in sorted((ROOT / "tests" / folder).glob("test_*.py"))]
    files.sort(key=lambda f: module not in f.read_text())
    return [f.relative_to(ROOT).as_posix() for f in files]


def watched() -> list[Path]:
    """The modules that are looked at."""
    return [
        f
        for f in sorted(PACKAGE.rglob("*.py"))
        if tests_of(f)
        and not _HOLDS_KERNELS.search(f.read_text())
        and f.relative_to(PACKAGE).as_posix() not in ON_THE_WAY
    ]


def changed_lines(since: str) -> dict[Path, set[int]]:
    """Lines of each module that differ from a revision."""
    command = ["git", "diff", "-U0", since, "--", str(PACKAGE)]
    text = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    lines, file = {}, None
    for row in text.splitlines():
        if row.startswith("+++ "):
            file = ROOT / row[6:]
        elif hunk := re.match(r" -\S+ \+(\d+)(?:,(\d+))? ", row):
            first, count = int(hunk[1]), int(hunk[2] or 1)
            lines.setdefault(file, set()).update(range(first, first + count))
    return lines


def _within(file: Path, places) -> bool:
    """Whether a module is one of ``places`` or lies in one."""
    place = file.relative_to(PACKAGE)
    return any(place.is_relative_to(p) for p in places)


def chosen(arguments) -> list[Mutant]:
    """The faults asked for; a sample takes as many from each module as it can."""
    files = watched()
    if arguments.only:
        files = [f for f in files if _within(f, arguments.only)]
    rng = random.Random(arguments.seed)
    found = {f: Finder(f).found for f in files}
    if arguments.since:
        lines = changed_lines(arguments.since)
        found = {f: [m for m in ms if m.line in lines.get(f, ())] for f, ms in found.items()}
    for mutants in found.values():
        rng.shuffle(mutants)
    most = arguments.count or sum(map(len, found.values()))
    rounds = max(map(len, found.values()), default=0)
    order = [ms[k] for k in range(rounds) for ms in found.values() if k < len(ms)]
    return order[:most]


def copy_of_the_project(folder: Path) -> Path:
    """What the tests need, without what they do not."""
    copy = folder / "copy"
    copy.mkdir(parents=True)
    for name in ("solver", "tests", "validation", "configs", "notebooks"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("*.egg-info"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, copy)
    return copy


class CycleConvergence:
    """A copy of the project, and a process in it that runs tests (zygote.py)."""

    def __init__(self, folder: Path):
        self.copy = copy_of_the_project(folder)
        compileall.compile_dir(
            self.copy / "solver", quiet=1, invalidation_mode=PycInvalidationMode.CHECKED_HASH
        )
        environment = {**os.environ, "PYTHONPATH": str(self.copy / "solver"), "PYTHONDONTWRITEBYTECODE": "1"}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.zygote"],
            cwd=self.copy,
            env=environment,
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )

    def notices(self, mutant: Mutant) -> bool:
        """Whether a test fails, or does not end, with the fault in the copy."""
        target = self.copy / mutant.file.relative_to(ROOT)
        source = mutant.file.read_text()
        target.write_text(mutant.applied(source))
        try:
            return not self.passes(tests_of(mutant.file))
        finally:
            target.write_text(source)

    def passes(self, files) -> bool:
        """Whether these tests pass in the copy as it is."""
        self.process.stdin.write(" ".join(files) + "\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip() == "0"

    def close(self):
        """End the process."""
        self.process.stdin.close()
        self.process.wait()


def campaign(mutants: list[Mutant], workers: int) -> list[Mutant]:
    """Try all; prints each survivor as it is found and the score of each module; the survivors."""
    survivors, done = [], {}
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(workers) as pool:
        judges = [CycleConvergence(Path(scratch) / str(k)) for k in range(workers)]
        free: Queue[CycleConvergence] = Queue()
        for judge in judges:
            free.put(judge)
        needed = sorted({name for m in mutants for name in tests_of(m.file)})
        if not all(
            pool.map(
                lambda judge, part: all(judge.passes([f]) for f in part),
                judges,
                [needed[k::workers] for k in range(workers)],
            )
        ):
            raise SystemExit("the tests fail without a fault: mend that first")

        def judged(mutant):
            judge = free.get()
            try:
                return mutant, judge.notices(mutant)
            finally:
                free.put(judge)

        for mutant, red in pool.map(judged, mutants):
            tally = done.setdefault(mutant.file, [0, 0])
            tally[0] += red
            tally[1] += 1
            if not red:
                survivors.append(mutant)
                place = mutant.file.relative_to(PACKAGE).parent
                print(f"survived  {place}/{mutant}", flush=True)
        for judge in judges:
            judge.close()
    for file, (red, total) in sorted(done.items()):
        print(f"{red:4d} of {total:4d} noticed  {file.relative_to(PACKAGE)}")
    return survivors


def main() -> int:
    """The command line."""
    parser = argparse.ArgumentParser(description="Do the tests notice a wrong line?")
    parser.add_argument("--count", type=int, help="how many faults (default: all)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--since", metavar="REV", help="only in lines changed since a revision")
    parser.add_argument("--only", nargs="+", metavar="PLACE", help="only these files or folders")
    parser.add_argument("--least", type=float, default=0.9, help="share to be noticed")
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    arguments = parser.parse_args()
    mutants = chosen(arguments)
    if not mutants:
        print("no fault to try there")
        return 0
    survivors = campaign(mutants, arguments.workers)
    share = 1.0 - len(survivors) / len(mutants)
    print(f"{len(mutants) - len(survivors)} of {len(mutants)} faults noticed ({100 * share:.1f} %)")
    return 0 if share >= arguments.least else 1


if __name__ == "__main__":
    sys.exit(main())

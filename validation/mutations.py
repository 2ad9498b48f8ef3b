"""Does the validation notice a broken solver? ``python -m validation.mutations``

Five single-character changes of the kernels (a sign, a factor, an index) and one of the arrays'
layout with compiled code in the cache, each in a copy of the project in a scratch folder; the
cases of pipe flow must be green without a fault and go red for every one. Exit code 0 if they do.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FLOW = Path("solver", "aircolumn", "flow")
#: (file of FLOW, text that stands there once, changed text): one character each.
MUTATIONS = (
    ("duct/characteristics.py", "p + sign * u * (z - sign", "p - sign * u * (z - sign"),
    ("duct/conservation.py", "0.5 * uh * uh", "0.6 * uh * uh"),
    ("duct/reconstruction.py", "4.0 * m - 3.0 * l - r, ", "4.0 * m - 2.0 * l - r, "),
    ("duct/conservation.py", "flux.mass[j] - flux.mass[k]", "flux.mass[j] - flux.mass[j]"),
    ("duct/characteristics.py", "0.25 * (plus[2] + minus[2])", "0.25 * (plus[2] + minus[3])"),
)


#: The cases that are run.
PIPES = (
    "closed_end",
    "simple_wave",
    "entropy_wave",
    "shock_tubes",
    "conservation",
    "reflection",
    "chained_sections",
    "throat",
    "steady_flow",
)


#: A fault in the layout of the arrays, planted after sound code was compiled and kept: two rows
#: change places, in one of the files that compiled code comes from.
LAYOUT = ("arrays/ducts.py", '"Cells", "mass momentum energy', '"Cells", "momentum mass energy')


def goes_red(file, text, changed, warm=False) -> bool:
    """Whether the validation fails with the change made. warm: with compiled code of the sound
    sources in the cache."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "copy"
        shutil.copytree(ROOT / "solver", copy / "solver", ignore=shutil.ignore_patterns("*.egg-info"))
        for folder in ("validation", "configs"):
            shutil.copytree(ROOT / folder, copy / folder)
        shutil.copy(ROOT / "pyproject.toml", copy)
        environment = {
            **os.environ,
            "PYTHONPATH": str(copy / "solver"),
            "XDG_CACHE_HOME": str(Path(scratch) / "cache"),
        }
        if warm:
            _validated(copy, environment, ["closed_end"])
        target = copy / FLOW / file
        source = target.read_text()
        target.write_text(source.replace(text, changed))
        return _validated(copy, environment) == 1


def _validated(copy, environment, cases=PIPES) -> int:
    """Exit code of the validation in a copy of the project."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "validation", "-p", "no:cacheprovider"]
    done = subprocess.run(
        [*command, "-k", " or ".join(cases)],
        cwd=copy,
        env=environment,
        capture_output=True,
        text=True,
    )
    return done.returncode


def main() -> int:
    """Try all mutations."""
    file, text, _ = MUTATIONS[0]
    if goes_red(file, text, text):
        raise SystemExit("the sound sources fail: nothing can be said about faults")
    survivors = 0
    for fault, warm in [(m, False) for m in MUTATIONS] + [(LAYOUT, True)]:
        file, text, changed = fault
        red = goes_red(file, text, changed, warm)
        survivors += not red
        when = " (with a warm cache)" if warm else ""
        said = "noticed " if red else "SURVIVED"
        print(f"{said}  {file}: {text}  ->  {changed}{when}", flush=True)
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())

"""Does the validation notice a broken solver? ``python -m validation.mutations``

Five single-character changes of the kernels (a sign, a factor, an index), each in a copy of the
project in a scratch folder; the validation cases must go red for every one. Exit code 0 if they do.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
#: (file, text, changed text): one character each.
MUTATIONS = (
    ("duct/characteristics.py", "p + sign * u * (z - sign", "p - sign * u * (z - sign"),
    ("duct/conservation.py", "0.5 * uh * uh", "0.6 * uh * uh"),
    ("duct/reconstruction.py", "4.0 * m - 3.0 * l - r, ", "4.0 * m - 2.0 * l - r, "),
    ("duct/conservation.py", "flux.mass[j] - flux.mass[k]", "flux.mass[j] - flux.mass[j]"),
    ("duct/characteristics.py", "0.25 * (plus[2] + minus[2])", "0.25 * (plus[2] + minus[3])"),
)


def goes_red(file, text, changed) -> bool:
    """Whether the validation fails with the change made."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "copy"
        shutil.copytree(
            ROOT / "solver", copy / "solver", ignore=shutil.ignore_patterns("*.egg-info")
        )
        shutil.copytree(ROOT / "validation", copy / "validation")
        shutil.copy(ROOT / "pyproject.toml", copy)
        target = copy / "solver" / "aircolumn" / file
        source = target.read_text()
        if source.count(text) != 1:
            raise SystemExit(f"{file} no longer holds {text!r} just once: update the mutation")
        target.write_text(source.replace(text, changed))
        environment = {
            **os.environ,
            "PYTHONPATH": str(copy / "solver"),
            "XDG_CACHE_HOME": str(Path(scratch) / "cache"),
        }
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-x",
            "validation",
            "-p",
            "no:cacheprovider",
        ]
        done = subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True)
        return done.returncode == 1


def main() -> int:
    """Try all mutations."""
    survivors = 0
    for file, text, changed in MUTATIONS:
        red = goes_red(file, text, changed)
        survivors += not red
        print(f"{'noticed ' if red else 'SURVIVED'}  {file}: {text}  ->  {changed}", flush=True)
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())

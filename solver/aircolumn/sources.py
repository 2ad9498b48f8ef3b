"""Which sources decide on what is kept: compiled code, and computed points.

Whole folders (and the constants): what is added to one counts without anybody thinking of it, and what
stands elsewhere (a word of a report) makes nothing stale. ``tests/flow/test_compiled.py`` holds that
kernels use nothing from other folders. ``space`` decides on points too, but not beside the key: the sections
that routes are made of are part of the engine that a point is of.
"""

import hashlib
from collections.abc import Iterable
from functools import cache
from importlib.metadata import version
from pathlib import Path

PACKAGE = Path(__file__).parent
#: What compiled code is made of: kernels, the names of rows and the constants they hold.
KERNELS = (
    "constants.py",
    "flow/arrays",
    "flow/compiled",
    "flow/cylinder",
    "flow/duct",
    "flow/ends",
    "flow/gas",
    "flow/march",
)
#: What computes a point from a checked engine.
SOLVER = ("constants.py", "engine/description", "engine/model", "flow", "point_figures.py")


def digest_of(folders: Iterable[str], before: str = "", package: Path = PACKAGE) -> str:
    """Sixteen letters that change with any source in ``folders``, and with ``before``."""
    digest = hashlib.sha256(before.encode())
    for folder in sorted(folders):
        place = package / folder
        for source in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(source.relative_to(package).as_posix().encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


@cache
def solver_version() -> str:
    """Digest of all that computes a point: the solver's sources, numpy, scipy and numba."""
    made_by = " ".join(version(name) for name in ("numpy", "scipy", "numba"))
    return digest_of(SOLVER, made_by)

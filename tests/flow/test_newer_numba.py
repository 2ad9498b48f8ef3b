"""Whether a Numba beyond the cap of pyproject.toml works: told in the summary of the slow tests."""

import os
import re
import subprocess
import sys

import pytest
from tests.conftest import CLASSROOM, ROOT

SCRIPT = (
    "import sys, numba, aircolumn; from aircolumn.flow.compiled import machine_code;"
    "machine_code.ready = lambda *_: None; engine = aircolumn.load(sys.argv[1]).engine;"
    " print(numba.__version__, float(aircolumn.operating_point(engine, 4000.0).figures['ve']))"
)


def cap() -> str:
    """The first version of Numba that is not allowed."""
    (found,) = re.findall(r'"numba>=[\d.]+,<([\d.]+)"', (ROOT / "pyproject.toml").read_text())
    return found


def point(cache, *folders) -> tuple[str, float]:
    """(version of Numba, VE of one point compiled with it) with ``folders`` first on the path and code kept
    in ``cache``; ("", 0) if it fails."""
    environment = {
        **os.environ,
        "XDG_CACHE_HOME": str(cache),
        "PYTHONPATH": os.pathsep.join([*map(str, folders), str(ROOT / "solver")]),
    }
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(CLASSROOM)],
        env=environment,
        text=True,
        capture_output=True,
        check=False,
    )
    version, ve = done.stdout.split() if done.returncode == 0 else ("", "0")
    return version, float(ve)


@pytest.mark.slow
def test_a_newer_numba_is_told(tmp_path):
    """Nothing fails because of what others publish; the summary says what to do."""
    install = [sys.executable, "-m", "pip", "install", "-q", "--target", str(tmp_path / "numba")]
    done = subprocess.run(
        [*install, f"numba>={cap()}"], text=True, capture_output=True, check=False, timeout=300
    )
    if done.returncode != 0:
        pytest.skip(f"there is no Numba {cap()} or newer here")
    version, ve = point(tmp_path / "new", tmp_path / "numba")
    if version and ve == pytest.approx(point(tmp_path / "old")[1], rel=1e-6):
        pytest.skip(f"Numba {version} works: run the suite with it, then raise the cap in pyproject.toml")
    pytest.skip(f"the Numba beyond {cap()} does not work yet: flow/compiled/seam.py")


def test_the_cap_is_above_what_is_tested():
    import numba

    assert tuple(map(int, numba.__version__.split(".")[:2])) < tuple(map(int, cap().split(".")))

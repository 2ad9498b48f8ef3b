"""Points on all cores: threads or processes give the same, and end with the program."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn import process
from aircolumn.curves import cores
from aircolumn.engine.model.operating_point import operating_point

#: the program with processes from two cores and a few points on
PROGRAM = (
    "import sys; from aircolumn.curves import cores; cores.MANY_CORES, cores.MANY_JOBS = 2, 4;"
    " sys.argv[0] = 'aircolumn'; from aircolumn.startup import run; run()"
)
STUDY = """engine: {engine}
vary:
  intake.runner.length: {{from: 300 mm, to: 500 mm, steps: {steps}}}
speeds: [3000 rpm, 4500 rpm, 6000 rpm]
"""


def test_a_script_keeps_threads():
    """Processes would run it anew; a few points and a few cores do not need them either."""
    with cores.pool(16, 10_000) as pool:
        assert isinstance(pool, ThreadPoolExecutor)


def test_when_the_program_uses_processes(monkeypatch):
    monkeypatch.setattr(process, "as_program", True)
    linux = sys.platform == "linux"
    assert cores.uses_processes(16, 1000) is linux
    assert not cores.uses_processes(2, 1000)
    assert not cores.uses_processes(16, 20)


@pytest.mark.skipif(sys.platform != "linux", reason="threads there")
def test_processes_compute_what_threads_do():
    engine = aircolumn.load(CLASSROOM).engine
    speeds = (3000.0, 4500.0)
    with cores.processes(2) as pool:
        apart = list(pool.map(operating_point, [engine] * 2, speeds))
    here = [operating_point(engine, rpm) for rpm in speeds]
    assert [p.figures["ve"] for p in apart] == [p.figures["ve"] for p in here]


def study(folder: Path, steps: int, *options) -> list[str]:
    """The command of a study of ``steps`` engines in ``folder``."""
    folder.mkdir()
    (folder / "study.yaml").write_text(STUDY.format(engine=CLASSROOM, steps=steps))
    return [*options, "study", str(folder / "study.yaml"), "--workers", "2", "--out", str(folder / "o")]


def workers(store: Path) -> list[int]:
    """Processes of the server of workers that were started with ``store`` in their environment."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            marked = f"AIRCOLUMN_TEST={store}".encode() in (place / "environ").read_bytes()
        except OSError:
            continue
        found += [int(place.name)] if marked else []
    return found


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="threads there")
def test_a_study_by_processes(tmp_path):
    """The same bytes, and nothing is left over, even if the program is killed."""
    plain = [sys.executable, "-m", "aircolumn"]
    apart = [sys.executable, "-c", PROGRAM]
    subprocess.run([*plain, *study(tmp_path / "a", 3)], check=True, capture_output=True)
    subprocess.run([*apart, *study(tmp_path / "b", 3)], check=True, capture_output=True)
    assert (tmp_path / "a/o/study.csv").read_bytes() == (tmp_path / "b/o/study.csv").read_bytes()

    environment = {**os.environ, "AIRCOLUMN_TEST": str(tmp_path)}
    command = [*apart, *study(tmp_path / "c", 200)]
    program = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 60.0
    while len(workers(tmp_path)) < 4 and time.monotonic() < deadline:  # program, tracker, server, workers
        time.sleep(0.1)
    assert program.poll() is None
    program.send_signal(signal.SIGKILL)
    program.wait()
    deadline = time.monotonic() + 20.0
    while workers(tmp_path) and time.monotonic() < deadline:
        time.sleep(0.2)
    assert workers(tmp_path) == []

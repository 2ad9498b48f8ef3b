"""A study that is killed goes on where it was; on many machines it gives the same."""

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time

import pytest
from tests.conftest import CLASSROOM
from tests.studies import GRID, plan_of

from aircolumn.cli import main
from aircolumn.errors import ComputationError
from aircolumn.questions.sweep.sweep import sweep
from aircolumn.sources import solver_version
from aircolumn.study.executors import Cores
from aircolumn.study.store import Store


def study_command(folder, out, *more):
    return [sys.executable, "-m", "aircolumn", "study", str(folder / "study.yaml"), "--out", str(out), *more]


def kill_at_random(folder, out, kills, seed, longest):
    """Run a study, kill -9 it after random times until ``kills`` were in the middle, go on to the
    end; returns how many points were lost on the way (computed and not found again)."""
    rng = random.Random(seed)
    struck = 0
    while struck < kills:
        process = subprocess.Popen(study_command(folder, out), stdout=subprocess.DEVNULL)
        time.sleep(rng.uniform(0.5, longest))
        if process.poll() is None:
            struck += 1
            os.kill(process.pid, signal.SIGKILL)
            process.wait()
        else:  # it had come to the end: begin again
            for item in out.iterdir():
                item.unlink()
    subprocess.run(study_command(folder, out), check=True, stdout=subprocess.DEVNULL)


def same_results(one, other, names=("study.nc", "study.csv", "study-contour.png")):
    for name in names:
        assert (one / name).read_bytes() == (other / name).read_bytes(), name


@pytest.mark.slow
def test_killed_and_gone_on_gives_the_same_bytes(tmp_path):
    plan_of(tmp_path)
    whole, pieces = tmp_path / "whole", tmp_path / "pieces"
    subprocess.run(study_command(tmp_path, whole), check=True, stdout=subprocess.DEVNULL)
    kill_at_random(tmp_path, pieces, 1, 1, 1.3)
    same_results(whole, pieces)


SEARCH = f"""engine: {CLASSROOM}
vary:
  runner: [short, middle]
  intake.runner.length: {{from: 250 mm, to: 500 mm}}
  intake.runner.bore: {{choices: [36 mm, 40 mm, 44 mm]}}
speeds: [3000 rpm, 4000 rpm, 5000 rpm]
search:
  aim: {{of: mean_torque, from: 3000 rpm, to: 5000 rpm}}
  MORE
  evaluations: 16
"""
#: what is asked beside the aim
KINDS = {
    "limits": "limits: [{of: power, at: 5000 rpm, at_least: 97 % of short}]",
    "front": "second_aim: {of: torque, at: 3000 rpm}",
    "engines": "over: {engines: 16}",
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_a_search_killed_20_times_gives_the_same_bytes(kind, tmp_path):
    plan_of(tmp_path, SEARCH.replace("MORE", KINDS[kind]))
    whole, pieces = tmp_path / "whole", tmp_path / "pieces"
    subprocess.run(study_command(tmp_path, whole), check=True, stdout=subprocess.DEVNULL)
    kill_at_random(tmp_path, pieces, 20, 7, 2.5)
    written = sorted(p.name for p in whole.iterdir() if p.suffix in (".nc", ".csv", ".png", ".yaml"))
    assert "study-best.yaml" in written
    assert written == sorted(p.name for p in pieces.iterdir() if p.suffix in (".nc", ".csv", ".png", ".yaml"))
    same_results(whole, pieces, written)
    # What is printed is the same but for the counts.
    texts = [(folder / "study.txt").read_text() for folder in (whole, pieces)]
    assert texts[0] == texts[1]


def test_every_announced_point_is_on_disk(tmp_path, store):
    """Seen from another connection, as after a kill."""
    plan = plan_of(tmp_path)
    other = sqlite3.connect(store.path)

    def check(done, _):
        assert other.execute("SELECT count(*) FROM points").fetchone()[0] >= done

    sweep(plan, store, Cores(), check)
    other.close()


def test_changed_engine_file_is_noticed(tmp_path, capsys):
    engine = tmp_path / "engine.yaml"
    engine.write_text(CLASSROOM.read_text())
    plan_of(tmp_path, GRID.replace(str(CLASSROOM), "engine.yaml"))
    assert main(["study", str(tmp_path / "study.yaml"), "--out", str(tmp_path / "out")]) == 0
    first = (tmp_path / "out" / "study.nc").read_bytes()
    engine.write_text(CLASSROOM.read_text().replace("ca50: 9 deg", "ca50: 12 deg"))
    capsys.readouterr()
    assert main(["study", str(tmp_path / "study.yaml"), "--out", str(tmp_path / "out")]) == 0
    printed = capsys.readouterr().out
    assert "24 points computed" in printed
    assert "24 points there belong to another engine file" in printed
    assert (tmp_path / "out" / "study.nc").read_bytes() != first
    assert "solver_version" not in first.decode("latin-1")
    assert solver_version() in first.decode("latin-1")


@pytest.mark.slow
def test_cluster_gives_the_same_results_even_if_a_worker_dies(tmp_path):
    distributed = pytest.importorskip("distributed")
    plan = plan_of(tmp_path, GRID.replace("steps: 4", "steps: 8"))
    from aircolumn.study.executors import Cluster

    here = Store(tmp_path / "here.sqlite")
    due, _, _ = sweep(plan, here, Cores())
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        executor = Cluster(cluster.scheduler_address)
        there = Store(tmp_path / "there.sqlite")
        data, _, fresh = sweep(plan, there, executor)
        assert fresh == 48
        assert data.identical(due)

        half = Store(tmp_path / "half.sqlite")
        victim = next(iter(cluster.workers.values()))

        def kill_half_way(done, total):
            if done == total // 2:
                os.kill(victim.pid, signal.SIGKILL)

        data, _, fresh = sweep(plan, half, executor, kill_half_way)
        assert fresh == 48
        assert data.identical(due)
        executor.close()
    for store in (here, there, half):
        store.close()


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # what Dask says of connections that are gone
@pytest.mark.parametrize("gone", ["the last worker", "the scheduler"])
def test_a_cluster_that_is_gone_is_told(gone, tmp_path, monkeypatch):
    """Within a minute; what was finished is kept, and the study can go on here."""
    pytest.importorskip("distributed")
    from aircolumn.study import executors

    monkeypatch.setattr(executors, "WORKERLESS", 5.0)
    monkeypatch.setattr(executors, "LOOK", 1.0)
    plan = plan_of(tmp_path, GRID.replace("steps: 4", "steps: 8"))
    scheduler = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "distributed.cli.dask_scheduler",
            "--port",
            "0",
            "--no-dashboard",
            "--scheduler-file",
            str(tmp_path / "where.json"),
        ],
        stderr=subprocess.DEVNULL,
    )
    worker = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "distributed.cli.dask_worker",
            "--no-nanny",
            "--nthreads",
            "1",
            "--scheduler-file",
            str(tmp_path / "where.json"),
        ],
        stderr=subprocess.DEVNULL,
    )
    store = Store(tmp_path / "points.sqlite")
    try:
        while not (tmp_path / "where.json").exists():
            time.sleep(0.1)
        address = json.loads((tmp_path / "where.json").read_text())["address"]
        executor = executors.Cluster(address)

        def strike(done, total):
            if done == 6:
                (worker if gone == "the last worker" else scheduler).kill()

        start = time.monotonic()
        with pytest.raises(ComputationError, match="run the same command to go on"):
            sweep(plan, store, executor, strike)
        assert time.monotonic() - start < 90.0
        assert store.count() >= 6
        executor.close()
    finally:
        for process in (worker, scheduler):
            process.kill()
            process.wait()
    _, _, fresh = sweep(plan, store, Cores())
    assert fresh <= 42
    store.close()

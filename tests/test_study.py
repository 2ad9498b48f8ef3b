"""Studies: plans, the store, sweeps that stop and go on, search, sensitivity, tolerance."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from tests.conftest import CLASSROOM, DEMO

import aircolumn
from aircolumn.cli import main
from aircolumn.errors import ComputationError, InputError, RequestError
from aircolumn.study import search as searching
from aircolumn.study import work
from aircolumn.study.aims import check_aim, value_of
from aircolumn.study.executors import Threads
from aircolumn.study.models import Aim
from aircolumn.study.plan import read_study
from aircolumn.study.search import Candidate, RunnerSearch, front_of
from aircolumn.study.sensitivity import sobol_indices
from aircolumn.study.store import Store
from aircolumn.study.sweep import sweep
from aircolumn.study.tolerance import tolerance
from aircolumn.study.work import NAMES, Outcome, Task, compute, solver_version

GRID = f"""engine: {CLASSROOM}
vary:
  intake.runner.length: {{from: 250 mm, to: 400 mm, steps: 4}}
  intake.valve.closes_abdc: [44 deg, 48 deg]
speeds: [4000 rpm, 5000 rpm, 6000 rpm]
"""
ONE = f"engine: {CLASSROOM}\nspeeds: [4000 rpm, 5000 rpm]\n"


def plan_of(folder, text=GRID):
    path = folder / "study.yaml"
    path.write_text(text)
    return read_study(path)


@pytest.fixture
def store(tmp_path):
    store = Store(tmp_path / "points.sqlite")
    yield store
    store.close()


# --- plans


def test_grid_sample_and_cases(tmp_path):
    grid = plan_of(tmp_path)
    assert [a.name for a in grid.axes] == ["length", "closes_abdc"]
    assert len(grid.cases) == 8
    assert grid.cases[3].engine.intake.runner.length == pytest.approx(0.3)
    assert grid.cases[3].engine.intake.valve.closes_abdc == 48.0
    spans = (
        "vary:\n  intake.runner.length: {from: 10 in, to: 20 in}\n"
        "  intake.valve.count: {from: 1, to: 2}\n"
    )
    for method in ("sobol", "halton", "latin-hypercube"):
        sample = plan_of(tmp_path, f"{ONE}{spans}sample: {{count: 9, method: {method}}}\n")
        lengths = [c.engine.intake.runner.length for c in sample.cases]
        assert len(set(lengths)) == 9
        assert 0.254 <= min(lengths) < 0.34
        assert max(lengths) <= 0.508
        assert {c.engine.intake.valve.count for c in sample.cases} == {1, 2}
    listed = (
        "cases:\n  - {intake.plenum.volume: 4 L, mixture.delivery: port}\n"
        "  - {intake.plenum.volume: 9 L, mixture.delivery: premixed}\n"
    )
    cases = plan_of(tmp_path, ONE + listed)
    assert [c.engine.mixture.delivery for c in cases.cases] == ["port", "premixed"]
    assert cases.cases[1].engine.intake.plenum.volume == pytest.approx(9e-3)


def test_base_is_the_runner_asked_for(tmp_path):
    text = f"engine: {DEMO}\nrunner: long\nvary: {{intake.runner.bore.from: [46 mm, 48 mm]}}\n"
    plan = plan_of(tmp_path, text)
    assert plan.axes[0].name == "bore_from"
    assert all(c.engine.intake.runner.length == pytest.approx(0.65) for c in plan.cases)
    assert len(plan.speeds) == 10  # the engine file's


#: what is wrong: (study file, what the message must say)
WRONG = {
    "nothing": ("", "the file is empty"),
    "no engine file": (GRID.replace(str(CLASSROOM), "none.yaml"), "cannot be read"),
    "nothing varied": (ONE, "give either vary or cases"),
    "unknown key of the study": (GRID.replace("vary:", "varry:"), "did you mean 'vary'?"),
    "unknown key of the engine": (GRID.replace("runner.length", "runner.lenght"), "'length'"),
    "unknown runner": (GRID + "runner: huge\n", "no runner 'huge'"),
    "no unit": (GRID.replace("44 deg, 48 deg", "44, 48"), "44 has no unit"),
    "two units": (GRID.replace("to: 400 mm", "to: 16 in"), "all values in one unit"),
    "wrong unit": (GRID.replace("44 deg, 48 deg", "44 kPa, 48 kPa"), "is no angle"),
    "backwards": (GRID.replace("to: 400 mm", "to: 100 mm"), "'to' must be above 'from'"),
    "no steps": (GRID.replace(", steps: 4", ""), "steps is missing"),
    "two questions": (GRID + "search: {}\nsample: {count: 8}\n", "one question"),
    "speeds of a lorry": (GRID.replace("4000 rpm", "20 rpm"), "at least 100 rpm"),
    "list in a search": (GRID + "search: {}\n", "a span {from: ..., to: ...} is due"),
    "count": (GRID + "sensitivity: {count: 12}\n", "power of two"),
    "no tolerance": (GRID + "tolerance: {}\n", "plus_minus is due"),
    "aim without speed": (GRID + "search: {aim: {of: torque}}\n", "'at' belongs to"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_study_files(name, tmp_path, capsys, monkeypatch):
    text, said = WRONG[name]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "study.yaml").write_text(text)
    assert main(["study", "study.yaml"]) == 2
    assert said in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["study.yaml"]


def test_wrong_requests(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "study.yaml").write_text(GRID)
    assert main(["study", "study.yaml", "--workers", "0"]) == 2
    beyond = GRID.replace(", steps: 4", "").replace(
        "[44 deg, 48 deg]", "{from: 44 deg, to: 48 deg}"
    )
    (tmp_path / "aim.yaml").write_text(beyond + "search: {aim: {of: torque, at: 3000 rpm}}\n")
    assert main(["study", "aim.yaml"]) == 2
    assert "the aim needs 3000 rpm" in capsys.readouterr().err
    assert not (tmp_path / "aim-study").exists()
    (tmp_path / "here").write_text("a file")
    assert main(["study", "study.yaml", "--out", "here"]) == 2
    assert "cannot be a folder" in capsys.readouterr().err
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "points.sqlite").write_text("no store of points at all, but long enough")
    assert main(["study", "study.yaml", "--out", "out"]) == 2
    assert "cannot be used as a store" in capsys.readouterr().err


# --- the store


def test_points_are_found_by_all_they_depend_on(tmp_path, monkeypatch):
    engine = plan_of(tmp_path).cases[0].engine
    keys = Task(engine, (4000.0, 5000.0), False, "v1").keys()
    assert len(set(keys)) == 2
    assert Task(engine.changed(title="x"), (4000.0,), False, "v1").keys() == keys[:1]
    warmer = engine.with_intake(ambient=engine.intake.ambient.changed(temperature=300.0))
    for other in (
        Task(warmer, (4000.0,), False, "v1"), Task(engine, (4000.0,), False, "v2"),
        Task(engine, (4000.0,), True, "v1"), Task(engine, (4000.0,), False, "v1", 2.0),
    ):  # fmt: skip
        assert other.keys()[0] not in keys
    with pytest.raises(RequestError, match="same version everywhere"):
        compute(Task(engine, (4000.0,), False, "another"))


def test_store_gives_back_what_it_was_given(store):
    figures = np.random.default_rng(1).normal(size=len(NAMES))
    store.put(["a", "b"], [Outcome(figures), Outcome(None, "why")])
    found = store.get(["a", "b", "c"])
    assert list(found) == ["a", "b"]
    assert np.array_equal(found["a"].figures, figures)
    assert found["b"].figures is None
    assert found["b"].reason == "why"
    with pytest.raises(sqlite3.Error):  # all points of a task or none
        store.put(["c", "d"], [Outcome(figures), Outcome(None, object())])
    assert store.get(["c", "d"]) == {}


# --- sweeps


def test_sweep_is_labelled_and_is_what_curve_computes(tmp_path, store):
    plan = plan_of(tmp_path)
    seen = []
    data, failures, fresh = sweep(plan, store, Threads(), lambda *n: seen.append(n))
    assert not failures
    assert fresh == 24
    assert seen[-1] == (24, 24)
    assert [d for d, _ in seen] == list(range(25))
    assert data.ve.dims == ("length", "closes_abdc", "rpm")
    assert data.length.attrs["units"] == "mm"
    assert list(data.length.values) == [250.0, 300.0, 350.0, 400.0]
    alone = aircolumn.curve(plan.cases[5].engine, plan.speeds)
    assert np.array_equal(data.torque.values[2, 1], alone.torque.values)
    _, _, again = sweep(plan, store, Threads())
    assert again == 0


def test_failed_points_are_recorded_and_stop_nothing(tmp_path, store, monkeypatch):
    real = work.converged

    def fails(engine, rpm, *rest, **more):
        if rpm == 5000.0:
            raise ComputationError("the state stopped being finite")
        return real(engine, rpm, *rest, **more)

    monkeypatch.setattr(work, "converged", fails)
    text = ONE + "vary: {intake.valve.closes_abdc: [44 deg, 48 deg]}\n"
    data, failures, _ = sweep(plan_of(tmp_path, text), store, Threads())
    assert [(v, rpm) for v, rpm, _ in failures] == [((44.0,), 5000.0), ((48.0,), 5000.0)]
    assert "stopped being finite" in failures[0][2]
    assert np.isnan(data.ve.sel(rpm=5000.0)).all()
    assert np.isfinite(data.ve.sel(rpm=4000.0)).all()


def test_cases_no_engine_can_have_are_failures_not_errors(tmp_path, store):
    text = ONE + "vary: {intake.valve.diameter: [33 mm, 80 mm]}\n"
    _, failures, fresh = sweep(plan_of(tmp_path, text), store, Threads())
    assert fresh == 2
    assert {v for v, _, _ in failures} == {(80.0,)}
    assert "do not fit the cylinder bore" in failures[0][2]


def test_warm_start_changes_the_way_and_not_the_answer(tmp_path, store):
    text = GRID.replace(
        "[4000 rpm, 5000 rpm, 6000 rpm]", "{from: 3000 rpm, to: 4000 rpm, step: 250 rpm}"
    )
    cold, _, _ = sweep(plan_of(tmp_path, text), store, Threads())
    warm, _, fresh = sweep(plan_of(tmp_path, text + "warm_start: true\n"), store, Threads())
    assert fresh == cold.ve.size
    within = 2.0 * plan_of(tmp_path).engine.numerics.repeat_within
    for name in ("ve", "torque"):
        assert np.max(np.abs(warm[name] / cold[name] - 1.0)) < within
    assert not np.array_equal(warm.ve, cold.ve)


# --- stopping and going on


def study_command(folder, out, *more):
    return [sys.executable, "-m", "aircolumn", "study", str(folder / "study.yaml"), "--out",
            str(out), *more]  # fmt: skip


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


def same_results(one, other):
    for name in ("study.nc", "study.csv", "failed.csv", "study-contour.png"):
        assert (one / name).read_bytes() == (other / name).read_bytes(), name


def test_killed_and_gone_on_gives_the_same_bytes(tmp_path):
    plan_of(tmp_path)
    whole, pieces = tmp_path / "whole", tmp_path / "pieces"
    subprocess.run(study_command(tmp_path, whole), check=True, stdout=subprocess.DEVNULL)
    kill_at_random(tmp_path, pieces, 2, 1, 1.3)
    same_results(whole, pieces)


@pytest.mark.slow
def test_twenty_kills(tmp_path):
    plan_of(tmp_path, GRID.replace("steps: 4", "steps: 12").replace("400 mm", "700 mm"))
    whole, pieces = tmp_path / "whole", tmp_path / "pieces"
    subprocess.run(study_command(tmp_path, whole), check=True, stdout=subprocess.DEVNULL)
    kill_at_random(tmp_path, pieces, 20, 2, 1.9)
    same_results(whole, pieces)


def test_every_announced_point_is_on_disk(tmp_path, store):
    """Seen from another connection, as after a kill."""
    plan = plan_of(tmp_path)
    other = sqlite3.connect(store.path)

    def check(done, _):
        assert other.execute("SELECT count(*) FROM point").fetchone()[0] >= done

    sweep(plan, store, Threads(), check)
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
    assert "24 of them belong to another engine file" in printed
    assert (tmp_path / "out" / "study.nc").read_bytes() != first
    assert "solver_version" not in first.decode("latin-1")
    assert solver_version() in first.decode("latin-1")


# --- many machines


def test_cluster_gives_the_same_results_even_if_a_worker_dies(tmp_path):
    distributed = pytest.importorskip("distributed")
    plan = plan_of(tmp_path, GRID.replace("steps: 4", "steps: 8"))
    from aircolumn.study.executors import Cluster

    here = Store(tmp_path / "here.sqlite")
    due, _, _ = sweep(plan, here, Threads())
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:
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


def test_no_scheduler_there(tmp_path, capsys):
    pytest.importorskip("distributed")
    plan_of(tmp_path)
    study = str(tmp_path / "study.yaml")
    assert main(["study", study, "--scheduler", "nonsense://", "--out", str(tmp_path / "o")]) == 2
    assert "no Dask scheduler at nonsense://" in capsys.readouterr().err


# --- aims and search


def test_aims_by_hand():
    rpm = np.array([1000.0, 2000.0, 3000.0])
    torque = np.array([100.0, 200.0, 100.0])
    values = {
        "mean_torque": 150.0, "peak_torque": 200.0, "flatness": 0.5,
    }  # fmt: skip
    for of, due in values.items():
        aim = check_aim(Aim.model_validate({"of": of}), rpm, None)
        assert value_of(aim, rpm, torque) == pytest.approx(due)
    at = Aim.model_validate({"of": "power", "at": "1500 rpm"})
    assert value_of(at, rpm, torque) == pytest.approx(
        np.interp(1500, rpm, torque * rpm * np.pi / 30)
    )
    weighted = Aim.model_validate(
        {"of": "mean_torque", "speeds": ["1000 rpm", "2000 rpm"], "weights": [0, 1]}
    )
    # integral of x (100 + 100 x) over that of x, x from 0 to 1
    assert value_of(check_aim(weighted, rpm, None), rpm, torque) == pytest.approx(
        (50 + 100 / 3) / 0.5, rel=1e-6
    )
    with pytest.raises(RequestError, match="the study computes 1000 to 3000"):
        check_aim(Aim.model_validate({"of": "torque", "at": "5000 rpm"}), rpm, None)


def analytic(monkeypatch, function):
    """Let searches look at a function of the axes' values instead of marching."""
    counted = set()

    def outcomes(plan, cases, *_, **__):
        counted.update(c.values for c in cases)
        speeds, at = plan.speeds, NAMES.index("torque")
        table = []
        for case in cases:
            row = np.zeros((len(speeds), len(NAMES)))
            row[:, at] = function(speeds, *case.values)
            table.append([Outcome(r) for r in row])
        return table

    monkeypatch.setattr(searching, "computed", outcomes)
    return counted


def two_humps(rpm, length, bore):
    """A ridge with a lesser hump at short length, as intakes have."""
    high = 250.0 * np.exp(-(((length - 620.0) / 110.0) ** 2) - ((bore - 42.0) / 6.0) ** 2)
    low = 235.0 * np.exp(-(((length - 290.0) / 90.0) ** 2) - ((bore - 45.0) / 5.0) ** 2)
    return np.full_like(rpm, high + low)


SEARCH = f"""engine: {DEMO}
vary:
  intake.runner.length: {{from: 200 mm, to: 900 mm}}
  intake.runner.bore: {{from: 38 mm, to: 48 mm}}
speeds: {{from: 2500 rpm, to: 4000 rpm, step: 250 rpm}}
"""


def test_search_beats_a_dense_grid_with_a_tenth_of_it(tmp_path, monkeypatch):
    lengths, bores = np.linspace(200, 900, 29), np.linspace(38, 48, 16)
    rpm = np.array([3000.0])
    best = max(two_humps(rpm, length, bore)[0] for length in lengths for bore in bores)
    for seed in range(10):
        looked = analytic(monkeypatch, two_humps)
        plan = plan_of(tmp_path, f"{SEARCH}search: {{evaluations: 32, seed: {seed}}}\n")
        found = RunnerSearch(plan, None, None).run()
        assert found.best.aims[0] >= best
        assert len(looked) <= lengths.size * bores.size // 10


def test_search_ends_with_a_local_search(tmp_path, monkeypatch):
    """A plain dome: the best is found to a hundredth of a span's fortieth, finer than any step
    along an axis and than the places that start and interpolant propose."""

    def dome(rpm, length, bore):
        return np.full_like(rpm, 200.0 - ((length - 487.3) / 80.0) ** 2 - (bore - 43.27) ** 2)

    analytic(monkeypatch, dome)
    for seed in range(3):
        text = f"{SEARCH}search: {{evaluations: 40, seed: {seed}}}\n"
        found = RunnerSearch(plan_of(tmp_path, text), None, None).run()
        assert found.values == pytest.approx((487.3, 43.27), abs=0.4)


def test_what_another_curve_beats_in_one_aim_and_equals_in_the_other_is_not_in_front():
    aims = [(200.0, 100.0), (200.0, 90.0), (190.0, 100.0), (180.0, 120.0), (180.0, 120.0)]
    known = [Candidate(np.zeros(2), np.array(a), np.zeros(0), np.zeros(1)) for a in aims]
    limit = Candidate(np.zeros(2), np.array([300.0, 300.0]), np.array([-1.0]), np.zeros(1))
    failed = Candidate(np.zeros(2), np.array([np.nan, 300.0]), np.zeros(0), np.zeros(1))
    front = front_of([*known, limit, failed])
    assert [tuple(k.aims) for k in front] == [(180.0, 120.0), (180.0, 120.0), (200.0, 100.0)]


def test_search_keeps_limits(tmp_path, monkeypatch):
    """Most torque where length and bore are free, at least 200 N m at the top, which wants short
    runners: the best lies on the limit."""

    def torque(rpm, length, bore):
        climb = 200.0 + 0.1 * (length - 200.0) - (bore - 42.0) ** 2
        top = 260.0 - 0.2 * (length - 200.0)
        return np.where(rpm < 3900.0, climb, top)

    analytic(monkeypatch, torque)
    text = (
        "search:\n  aim: {of: torque, at: 3000 rpm}\n"
        "  limits: [{at: 4000 rpm, at_least: 200 N m}]\n"
    )
    found = RunnerSearch(plan_of(tmp_path, SEARCH + text), None, None).run()
    assert found.best.margins[0] >= 0.0
    assert found.values[0] == pytest.approx(500.0, abs=12.0)
    assert found.values[1] == pytest.approx(42.0, abs=0.7)
    step, below, above = found.neighbours["length"]
    assert step == "20.0 mm"
    assert below.fits
    assert not above.fits
    impossible = text.replace("200 N m", "900 N m")
    with pytest.raises(ComputationError, match="keeps all limits"):
        RunnerSearch(plan_of(tmp_path, SEARCH + impossible), None, None).run()


def test_trade_off_front(tmp_path, monkeypatch):
    """Two aims that pull the length apart: the front is where bore is best for both."""

    def torque(rpm, length, bore):
        slant = (length - 550.0) / 350.0 * (3250.0 - rpm) / 750.0
        return 200.0 + 50.0 * slant - 20.0 * slant**2 - (bore - 43.0) ** 2

    analytic(monkeypatch, torque)
    text = (
        "search:\n  aim: {of: torque, at: 2500 rpm}\n"
        "  second_aim: {of: torque, at: 4000 rpm}\n  evaluations: 60\n"
    )
    found = RunnerSearch(plan_of(tmp_path, SEARCH + text), None, None).run()
    front = np.array([k.aims for k in found.front])
    assert len(front) >= 8
    assert np.all(np.diff(front[:, 0]) > 0)
    assert np.all(np.diff(front[:, 1]) < 0)
    bores = [38.0 + 10.0 * k.share[1] for k in found.front]
    assert np.mean(np.abs(np.array(bores) - 43.0) < 1.5) > 0.7
    assert front_of(found.known) == found.front


@pytest.mark.slow
def test_real_search_against_a_dense_sweep(tmp_path, store):
    """29 x 16 runners of the demo engine; the best of the grid to what a point repeats within."""
    grid = SEARCH.replace("to: 900 mm", "to: 900 mm, steps: 29").replace(
        "to: 48 mm", "to: 48 mm, steps: 16"
    )
    data, failures, _ = sweep(plan_of(tmp_path, grid), store, Threads())
    assert not failures
    aim = check_aim(Aim(), data.rpm.values, (2500.0, 4000.0))
    curves = data.torque.values.reshape(-1, data.sizes["rpm"])
    best = max(value_of(aim, data.rpm.values, c) for c in curves)
    found = []
    for seed in range(10):
        plan = plan_of(tmp_path, f"{SEARCH}search: {{evaluations: 32, seed: {seed}}}\n")
        result = RunnerSearch(plan, store, Threads()).run()
        assert len(result.known) <= len(curves) // 10
        found.append(result.best.aims[0])
    print(f"best of the grid {best:.3f} N m, searches {np.round(found, 3)}")
    assert min(found) >= best * (1.0 - plan.engine.numerics.repeat_within)


# --- sensitivity and tolerance


def test_sobol_indices_of_ishigami():
    """Ishigami & Homma 1990: V = a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2 with a = 7, b = 0.1."""
    pytest.importorskip("SALib")

    def ishigami(shares):
        x = np.pi * (2.0 * shares - 1.0)
        return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])

    found = sobol_indices(["a", "b", "c"], ishigami, 4096, 1)
    assert found.first == pytest.approx([0.3139, 0.4424, 0.0], abs=0.02)
    assert found.total == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.02)
    with pytest.raises(ComputationError, match="have no value"):
        sobol_indices(["a", "b"], lambda s: np.full(len(s), np.nan), 8, 1)


def test_sensitivity_without_its_library_says_what_to_install(tmp_path, capsys, monkeypatch):
    from aircolumn.study import sensitivity

    monkeypatch.setattr(sensitivity, "find_spec", lambda _: None)
    with pytest.raises(RequestError, match="pip install"):
        sobol_indices(["a"], np.sum, 8, 1)
    vary = "vary: {intake.runner.length: {from: 250 mm, to: 350 mm}}\n"
    plan_of(tmp_path, ONE + vary + "sensitivity: {count: 8, aim: {of: torque, at: 5000 rpm}}\n")
    assert main(["study", str(tmp_path / "study.yaml"), "--out", str(tmp_path / "o")]) == 2
    assert "pip install 'aircolumn[sensitivity]'" in capsys.readouterr().err
    assert not list((tmp_path / "o").glob("*.sqlite"))


def test_sensitivity_of_an_engine(tmp_path, capsys):
    pytest.importorskip("SALib")
    plan_of(tmp_path, ONE + "vary:\n  intake.runner.length: {from: 250 mm, to: 350 mm}\n"
            "  intake.plenum.volume: {from: 8 L, to: 8.1 L}\n"
            "sensitivity: {count: 8, aim: {of: torque, at: 5000 rpm}}\n")  # fmt: skip
    out = tmp_path / "out"
    assert main(["study", str(tmp_path / "study.yaml"), "--out", str(out)]) == 0
    rows = capsys.readouterr().out.splitlines()
    table = [r for r in rows if r.strip().startswith(("length", "volume"))]
    assert table[0].strip().startswith("length")  # what matters comes first
    names = ["points.sqlite", "study.csv", "study.png", "study.svg", "study.txt"]
    assert sorted(p.name for p in out.iterdir()) == names


def test_tolerance_band_and_slopes(tmp_path, store):
    text = f"engine: {DEMO}\nrunner: long\nspeeds: [4000 rpm, 6000 rpm]\n" \
           "vary: {intake.runner.bore: {plus_minus: 0.4 mm}}\ntolerance: {count: 6}\n"  # fmt: skip
    plan = plan_of(tmp_path, text)
    shifted = plan.case((0.4,)).engine.intake.runner.bore
    assert (shifted.start, shifted.end) == pytest.approx((0.0464, 0.0424))
    band = tolerance(plan, store, Threads())
    assert np.all(band.torque_low <= band.torque)
    assert np.all(band.torque <= band.torque_high)
    wide, narrow = (aircolumn.curve(plan.case((d,)).engine, plan.speeds).torque.values
                    for d in (0.4, -0.4))  # fmt: skip
    assert band.slopes["bore"] == pytest.approx((wide - narrow) / 0.8, abs=0.5)
    with pytest.raises(InputError, match="is not in the engine file"):
        plan_of(tmp_path, text.replace("runner.bore", "runner.rougness_of_it"))


def test_study_configs_read():
    for path in sorted((Path(__file__).parent.parent / "configs").glob("study-*.yaml")):
        plan = read_study(path)
        assert plan.axes

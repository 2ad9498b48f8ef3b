"""The store of points, and sweeps from it."""

import numpy as np
import pytest
from tests.studies import GRID, ONE, cases_of, plan_of

import aircolumn
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.errors import ComputationError, RequestError
from aircolumn.study import tasks as work
from aircolumn.study import ties
from aircolumn.study.cells import StudyCells, cells_of
from aircolumn.study.executors import Cores
from aircolumn.study.sweep import sweep
from aircolumn.study.tasks import NAMES, Outcome, Task, compute


def test_points_are_found_by_all_they_depend_on(tmp_path, monkeypatch):
    engine = cases_of(plan_of(tmp_path))[0].engine
    keys = Task(engine, (4000.0, 5000.0), False, "v1").keys()
    assert len(set(keys)) == 2
    assert Task(engine.changed(title="x"), (4000.0,), False, "v1").keys() == keys[:1]
    warmer = engine.with_intake(ambient=engine.intake.ambient.changed(temperature=300.0))
    for other in (
        Task(warmer, (4000.0,), False, "v1"),
        Task(engine, (4000.0,), False, "v2"),
        Task(engine, (4000.0,), True, "v1"),
        Task(engine, (4000.0,), False, "v1", 2.0),
    ):
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
    store.base.execute(  # all points of a task or none
        "CREATE TRIGGER full BEFORE INSERT ON points WHEN NEW.key = 'd'"
        " BEGIN SELECT RAISE(ABORT, 'database or disk is full'); END"
    )
    with pytest.raises(ComputationError, match="make room, then run the same command to go on"):
        store.put(["c", "d"], [Outcome(figures), Outcome(figures)])
    assert store.get(["c", "d"]) == {}


def test_sweep_is_labelled_and_is_what_curve_computes(tmp_path, store):
    plan = plan_of(tmp_path)
    seen = []
    data, failures, fresh = sweep(plan, store, Cores(), lambda *n: seen.append(n))
    assert not failures
    assert fresh == 24
    assert seen[-1] == (24, 24)
    assert [d for d, _ in seen] == list(range(25))
    assert data.ve.dims == ("length", "closes_abdc", "rpm")
    assert data.length.attrs["units"] == "mm"
    assert list(data.length.values) == [250.0, 300.0, 350.0, 400.0]
    alone = aircolumn.curve(cases_of(plan)[5].engine, plan.speeds)
    assert np.array_equal(data.torque.values[2, 1], alone.torque.values)
    _, _, again = sweep(plan, store, Cores())
    assert again == 0


def test_failed_points_are_recorded_and_stop_nothing(tmp_path, store, monkeypatch):
    real = work.converged

    def fails(engine, rpm, *rest, **more):
        if rpm == 5000.0:
            raise ComputationError("the state stopped being finite")
        return real(engine, rpm, *rest, **more)

    monkeypatch.setattr(work, "converged", fails)
    text = ONE + "vary: {intake.valve.closes_abdc: [44 deg, 48 deg]}\n"
    data, failures, _ = sweep(plan_of(tmp_path, text), store, Cores())
    assert [(v, rpm) for v, rpm, _ in failures] == [((44.0,), 5000.0), ((48.0,), 5000.0)]
    assert "stopped being finite" in failures[0][2]
    assert np.isnan(data.ve.sel(rpm=5000.0)).all()
    assert np.isfinite(data.ve.sel(rpm=4000.0)).all()


def test_cases_no_engine_can_have_are_failures_not_errors(tmp_path, store):
    text = ONE + "vary: {intake.valve.diameter: [33 mm, 80 mm]}\n"
    _, failures, fresh = sweep(plan_of(tmp_path, text), store, Cores())
    assert fresh == 2
    assert {v for v, _, _ in failures} == {(80.0,)}
    assert "do not fit the cylinder bore" in failures[0][2]


def test_warm_start_changes_the_way_and_not_the_answer(tmp_path, store):
    text = GRID.replace("[4000 rpm, 5000 rpm, 6000 rpm]", "{from: 3000 rpm, to: 4000 rpm, step: 250 rpm}")
    cold, _, _ = sweep(plan_of(tmp_path, text), store, Cores())
    warm, _, fresh = sweep(plan_of(tmp_path, text + "warm_start: true\n"), store, Cores())
    assert fresh == cold.ve.size
    within = 2.0 * plan_of(tmp_path).engine.numerics.repeat_within
    for name in ("ve", "torque"):
        assert np.max(np.abs(warm[name] / cold[name] - 1.0)) < within
    assert not np.array_equal(warm.ve, cold.ve)


def test_the_store_survives_a_killed_process(store):
    """Write-ahead logging (sqlite.org/wal.html): what is committed is there after a kill."""
    assert store.base.execute("PRAGMA journal_mode").fetchone()[0] == "wal"


def test_a_sweep_screens_and_computes_the_best_again(tmp_path, store):
    """All cases on the cells of `screening`, the best at a speed or on average on those of the engine file;
    a stopped sweep goes on with the same cells."""
    text = GRID.replace("steps: 4", "steps: 17").replace("[44 deg, 48 deg]", "[42 deg, 45 deg, 48 deg]")
    plan = plan_of(tmp_path, text)
    assert plan.count * len(plan.speeds) == 153
    cells = cells_of(plan, store, Cores())
    assert cells.screens
    data, failures, fresh = sweep(plan, store)
    assert not failures
    fine = data.accuracy.values == cells.final.accuracy
    assert np.all(data.accuracy.values[~fine] == 0.005)
    assert fresh == 153 + fine.sum()
    torque = data.torque.values.reshape(-1, 3)
    fine = fine.reshape(-1, 3)
    assert fine[torque.argmax(axis=0), range(3)].all()
    assert fine[ties.means_of(plan, data).argmax()].all()
    assert 3 <= fine.sum() <= 12
    rows = {True: cells.final, False: cells.screening}
    for k in (0, int(torque[:, 1].argmax())):
        engine = rows[bool(fine[k, 1])].apply(plan.case(plan.rows[k]).engine)
        assert torque[k, 1] == operating_point(engine, 5000.0).figures["torque"]
    assert sweep(plan, store)[2] == 0
    stated = plan_of(tmp_path, text.replace("speeds:", "screening: 0.1 %\nspeeds:"))
    same = cells_of(stated, store, Cores())
    assert not same.screens
    assert same.final == same.screening == cells.final


def test_a_study_of_the_cells_themselves_or_a_small_one_chooses_none(tmp_path, store):
    assert cells_of(plan_of(tmp_path), store, Cores()) == StudyCells()
    text = f"{ONE}vary: {{numerics.cell_scale: {{from: 1, to: 4, steps: 60}}}}\n"
    assert cells_of(plan_of(tmp_path, text), store, Cores()) == StudyCells()
    assert store.written == 0

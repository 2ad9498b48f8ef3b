"""The store of points, and sweeps from it."""

import numpy as np
import pytest
from tests.studies import CLASSROOM, GRID, ONE, cases_of, plan_of

import aircolumn
from aircolumn.engine.model import stretches
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.errors import ComputationError, RequestError
from aircolumn.questions.sweep import ties
from aircolumn.questions.sweep.sweep import sweep
from aircolumn.study.cells import StudyCells, cells_of
from aircolumn.study.executors import Cores
from aircolumn.study.points import goes_in_close_steps
from aircolumn.study.store import store_in
from aircolumn.study.tasks import NAMES, Outcome, Task, compute


def test_points_are_found_by_all_they_depend_on(tmp_path, monkeypatch):
    engine = cases_of(plan_of(tmp_path))[0].engine

    def task(engine, *speeds, solver="v1", refinement=1.0):
        return Task(tuple((n, engine, n) for n in speeds), solver, refinement)

    keys = task(engine, 4000.0, 5000.0).keys()
    assert len(set(keys)) == 2
    assert task(engine.changed(title="x"), 4000.0).keys() == keys[:1]
    assert task(engine, 4000.0, 5000.0, 6000.0).keys()[:2] == keys  # what comes after does not count
    assert Task(((0.3, engine, 4000.0),), "v1").keys() == keys[:1]  # from rest, wherever it stands
    warmer = engine.with_intake(ambient=engine.intake.ambient.changed(temperature=300.0))
    for other in (
        task(warmer, 4000.0),
        task(engine, 4000.0, solver="v2"),
        task(engine, 5000.0, 4000.0),
        task(engine, 5000.0),
        task(engine, 4000.0, refinement=2.0),
    ):
        assert other.keys()[-1] not in keys
    with pytest.raises(RequestError, match="same version everywhere"):
        compute(Task(((4000.0, engine, 4000.0),), "another"))


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
    real = stretches.point_beside

    def fails(engine, rpm, *rest, **more):
        if rpm == 5000.0:
            raise ComputationError("the state stopped being finite")
        return real(engine, rpm, *rest, **more)

    monkeypatch.setattr(stretches, "point_beside", fails)
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


@pytest.mark.slow
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


CLOSE = f"""engine: {CLASSROOM}
vary:
  intake.valve.closes_abdc: [44 deg, 60 deg]
  intake.runner.length: {{from: 300 mm, to: 306 mm, steps: 4}}
speeds: [4000 rpm, 5000 rpm]
"""


def test_cases_in_close_steps_start_from_each_other(tmp_path, store):
    """They end where cases from rest do, in fewer cycles; the first of each row is from rest itself."""
    plan = plan_of(tmp_path, CLOSE)
    assert goes_in_close_steps(plan)
    data, _, _ = sweep(plan, store, Cores())
    alone = [aircolumn.curve(case.engine, plan.speeds) for case in cases_of(plan)]
    for name in ("ve", "torque"):
        rest = np.array([one[name].values for one in alone]).reshape(data[name].shape)
        assert np.abs(data[name].values / rest - 1.0).max() < 2.0 * plan.engine.numerics.repeat_within
        assert np.array_equal(data[name].values[:, 0], rest[:, 0])
        assert not np.array_equal(data[name].values, rest)
    cycles = np.array([one.cycles.values for one in alone]).mean()
    assert data.cycles.values[:, 1:].mean() < cycles


def test_a_chain_is_the_same_however_it_was_interrupted(tmp_path):
    """Half of the points are there from a study of one speed less, some of a shorter row."""
    whole, parts = (store_in(tmp_path / name) for name in ("whole", "parts"))
    for text in (
        CLOSE.replace(", 5000 rpm", ""),
        CLOSE.replace("306 mm, steps: 4", "304 mm, steps: 3"),
        CLOSE,
    ):
        cut, _, _ = sweep(plan_of(tmp_path, text), parts, Cores(1))
    data, _, fresh = sweep(plan_of(tmp_path, CLOSE), whole, Cores(2))
    assert fresh == data.ve.size
    assert cut.equals(data)
    for base in (whole, parts):
        base.close()


@pytest.mark.parametrize(
    ("change", "close"),
    [
        (("306 mm, steps: 4", "330 mm, steps: 3"), False),  # 15 mm of 300
        (("steps: 4", "steps: 2"), False),
        (("{from: 300 mm, to: 306 mm, steps: 4}", "[300 mm, 310 mm, 321 mm]"), True),
        (
            (
                "intake.runner.length: {from: 300 mm, to: 306 mm, steps: 4}",
                "engine.compression_ratio: [10, 10.1, 10.2]",
            ),
            False,
        ),
        (("speeds:", "warm_start: true\nspeeds:"), False),
        (("speeds:", "sample: {count: 4}\nspeeds:"), False),
    ],
)
def test_which_grids_go_in_close_steps(tmp_path, change, close):
    text = CLOSE.replace(*change)
    if "sample" in text:
        text = text.replace(", steps: 4", "").replace("[44 deg, 60 deg]", "{from: 44 deg, to: 60 deg}")
    assert goes_in_close_steps(plan_of(tmp_path, text)) == close

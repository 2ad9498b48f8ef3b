"""Aims, the search for the best, and the trade-off between two aims."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.studies import plan_of

from aircolumn.curves.accuracy import ChosenCells
from aircolumn.curves.interest import Range
from aircolumn.errors import ComputationError, RequestError
from aircolumn.questions.aims import Aim, check_aim, value_of
from aircolumn.questions.search import search as searching
from aircolumn.questions.search.search import Candidate, RunnerSearch, front_of
from aircolumn.questions.sweep.sweep import sweep
from aircolumn.study.cells import StudyCells
from aircolumn.study.executors import Cores
from aircolumn.study.tasks import NAMES, Outcome


def test_aims_by_hand():
    rpm = np.array([1000.0, 2000.0, 3000.0])
    torque = np.array([100.0, 200.0, 100.0])
    values = {
        "mean_torque": 150.0,
        "peak_torque": 200.0,
        "flatness": 0.5,
    }
    for of, due in values.items():
        aim = check_aim(Aim.model_validate({"of": of}), rpm, None)
        assert value_of(aim, rpm, torque) == pytest.approx(due)
    at = Aim.model_validate({"of": "power", "at": "1500 rpm"})
    assert value_of(at, rpm, torque) == pytest.approx(np.interp(1500, rpm, torque * rpm * np.pi / 30))
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

    def outcomes(plan, rows, *_, **__):
        counted.update(rows)
        speeds, at = plan.speeds, NAMES.index("torque")
        table = []
        for values in rows:
            row = np.zeros((len(speeds), len(NAMES)))
            row[:, at] = function(speeds, *values)
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
    for seed in range(4):
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
    text = "search:\n  aim: {of: torque, at: 3000 rpm}\n  limits: [{at: 4000 rpm, at_least: 200 N m}]\n"
    found = RunnerSearch(plan_of(tmp_path, SEARCH + text), None, None).run()
    assert found.best.margins[0] >= 0.0
    assert found.values[0] == pytest.approx(500.0, abs=12.0)
    assert found.values[1] == pytest.approx(42.0, abs=0.7)
    step, below, above = found.neighbours["length"]
    assert step == "20 mm"
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
    grid = SEARCH.replace("to: 900 mm", "to: 900 mm, steps: 29").replace("to: 48 mm", "to: 48 mm, steps: 16")
    data, failures, _ = sweep(plan_of(tmp_path, grid), store, Cores())
    assert not failures
    aim = check_aim(Aim(), data.rpm.values, Range.between(2500.0, 4000.0))
    curves = data.torque.values.reshape(-1, data.sizes["rpm"])
    best = max(value_of(aim, data.rpm.values, c) for c in curves)
    found = []
    for seed in range(4):
        plan = plan_of(tmp_path, f"{SEARCH}search: {{evaluations: 32, seed: {seed}}}\n")
        result = RunnerSearch(plan, store, Cores()).run()
        assert len(result.known) <= len(curves) // 10
        found.append(result.best.aims[0])
    print(f"best of the grid {best:.3f} N m, searches {np.round(found, 3)}")
    assert min(found) >= best * (1.0 - plan.engine.numerics.repeat_within)


def test_the_best_are_looked_at_again_on_shorter_cells(tmp_path, monkeypatch):
    """On the long cells a dome stands 60 mm off; what is said of the best is what short ones give."""
    text = f"{SEARCH}search: {{evaluations: 40}}\n"
    screening, final = (ChosenCells(s, 1e-3, 5e-3, (2500.0, 4000.0)) for s in (8.0, 2.0))
    scales = []

    def outcomes(plan, rows, *_, **__):
        scales.extend([plan.cells.scale] * len(rows))
        off = 60.0 if plan.cells is screening else 0.0
        table = []
        for length, bore in rows:
            torque = 200.0 - ((length - 480.0 - off) / 80.0) ** 2 - (bore - 43.0) ** 2
            row = np.zeros((len(plan.speeds), len(NAMES)))
            row[:, NAMES.index("torque")] = torque
            table.append([Outcome(r) for r in row])
        return table

    monkeypatch.setattr(searching, "computed", outcomes)
    found = RunnerSearch(plan_of(tmp_path, text), None, None, None, StudyCells(screening, final)).run()
    assert found.values == pytest.approx((480.0, 43.0), abs=3.0)
    assert found.best.aims[0] == pytest.approx(200.0, abs=0.01)
    assert found.again == searching.AGAIN
    turn = scales.index(2.0)
    assert set(scales[:turn]) == {8.0}
    assert set(scales[turn:]) == {2.0}
    assert len({tuple(k.share) for k in found.known}) == len(found.known)

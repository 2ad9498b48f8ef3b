"""Aims, and the search for the best."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.studies import analytic, plan_of

from aircolumn.curves.accuracy import ChosenCells
from aircolumn.curves.interest import Range
from aircolumn.errors import RequestError
from aircolumn.questions.aims import Aim, check_aim, value_of
from aircolumn.questions.search import search as searching
from aircolumn.questions.search.interpolant import Interpolant
from aircolumn.questions.search.search import RunnerSearch
from aircolumn.questions.search.trials import Trial, Trials
from aircolumn.questions.sweep.sweep import sweep
from aircolumn.study.cells import StudyCells
from aircolumn.study.executors import Cores


def test_aims_by_hand():
    rpm = np.array([1000.0, 2000.0, 3000.0])
    torque = np.array([100.0, 200.0, 100.0])
    values = {
        "mean_torque": 150.0,
        "peak_torque": 200.0,
        "peak_power": 200.0 * 2000.0 * np.pi / 30.0,
        "least_torque": 100.0,
        "flatness": 0.5,
    }
    for of, due in values.items():
        aim = check_aim(Aim.model_validate({"of": of}), rpm, None)
        assert value_of(aim, rpm, torque) == pytest.approx(due)
    within = Aim.model_validate({"of": "least_torque", "from": "1500 rpm", "to": "2500 rpm"})
    assert value_of(within, rpm, torque) == pytest.approx(150.0)
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


def searched(folder, text, cells=None):
    """What a search of a study file with this text finds."""
    return RunnerSearch(plan_of(folder, text), None, None, None, cells).run()


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
        found = searched(tmp_path, f"{SEARCH}search: {{evaluations: 32, seed: {seed}}}\n")
        assert found.best.aims[0] >= best
        assert len({values for values, _, _ in looked}) <= lengths.size * bores.size // 10


def test_search_ends_with_a_local_search(tmp_path, monkeypatch):
    """A plain dome: the best is found to a hundredth of a span's fortieth, finer than any step
    along an axis and than the places that start and interpolant propose."""

    def dome(rpm, length, bore):
        return np.full_like(rpm, 200.0 - ((length - 487.3) / 80.0) ** 2 - (bore - 43.27) ** 2)

    analytic(monkeypatch, dome)
    for seed in range(3):
        found = searched(tmp_path, f"{SEARCH}search: {{evaluations: 40, seed: {seed}}}\n")
        assert found.values == pytest.approx((487.3, 43.27), abs=0.4)


def test_the_interpolant_finds_which_key_matters():
    """A fast wave along one key and slow slopes along the others: with a length of its own along each,
    designs left out are foretold at least three times better than with one for all."""
    rng = np.random.default_rng(1)

    def wave(at):
        return np.sin(12.0 * at[:, 0]) + 0.5 * at[:, 1] ** 2 - at[:, 2]

    at, there = rng.random((40, 3)), 0.1 + 0.8 * rng.random((400, 3))
    own = Interpolant(at, wave(at))
    alike = Interpolant.__new__(Interpolant)
    alike.at, alike.values = at, wave(at)
    error = alike._error(np.ones(3))
    assert own.missed < error / 3.0
    assert own.stretch[0] > 3.0 * own.stretch[1]
    off = np.sqrt(np.mean((own(there) - wave(there)) ** 2))
    assert off < 0.15


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
        assert len({d.key for d in result.known}) <= len(curves) // 10
        found.append(result.best.aims[0])
    print(f"best of the grid {best:.3f} N m, searches {np.round(found, 3)}")
    assert min(found) >= best * (1.0 - plan.engine.numerics.repeat_within)


def test_the_best_are_looked_at_again_on_shorter_cells(tmp_path, monkeypatch):
    """On the long cells a dome stands 60 mm off; what is said of the best is what short ones give."""
    screening, final = (ChosenCells(s, 1e-3, 5e-3, (2500.0, 4000.0)) for s in (8.0, 2.0))
    scales = []

    def dome(plan, length, bore):
        off = 60.0 if plan.cells is screening else 0.0
        return 200.0 - ((length - 480.0 - off) / 80.0) ** 2 - (bore - 43.0) ** 2

    def of(trials, rows, refinement=1.0):
        plan = trials.plan
        scales.extend([plan.cells.scale] * len(rows))
        return [Trial(np.full((1, len(plan.speeds)), dome(plan, *v)), plan.case(v).engine) for v in rows]

    analytic(monkeypatch, two_humps)
    monkeypatch.setattr(Trials, "of", of)
    found = searched(tmp_path, f"{SEARCH}search: {{evaluations: 40}}\n", StudyCells(screening, final))
    assert found.values == pytest.approx((480.0, 43.0), abs=3.0)
    assert found.best.aims[0] == pytest.approx(200.0, abs=0.01)
    assert found.again >= searching.AGAIN
    turn = scales.index(2.0)
    assert set(scales[:turn]) == {8.0}
    assert set(scales[turn:]) == {2.0}


SIZES = f"""engine: {DEMO}
vary:
  runner: [short, long]
  intake.runner.length: {{from: 250 mm, to: 700 mm}}
  intake.plenum.volume: {{choices: [8 L, 3 L, 5 L]}}
  runners.long.wall_temperature: {{from: 30 degC, to: 90 degC}}
  mixture.delivery: [port, direct]
speeds: {{from: 2500 rpm, to: 4000 rpm, step: 500 rpm}}
search: {{evaluations: 60}}
"""


def test_candidates_sizes_that_exist_and_words(tmp_path, monkeypatch):
    """The best is the long candidate with its own key at 72 degC, 5 L and direct injection: found, with what
    every other choice costs."""

    def torque(rpm, runner, length, volume, wall, delivery):
        own = -(((wall - 72.0) / 10.0) ** 2) if runner == "long" else -3.0
        rest = (
            -(((length - 433.0) / 60.0) ** 2) - (volume - 5.2) ** 2 + (1.0 if delivery == "direct" else 0.0)
        )
        return np.full_like(rpm, 200.0 + own + rest)

    looked = analytic(monkeypatch, torque)
    found = searched(tmp_path, SIZES)
    runner, length, volume, wall, delivery = found.values
    assert (runner, volume, delivery) == ("long", 5.0, "direct")
    assert (length, wall) == pytest.approx((433.0, 72.0), abs=2.0)
    assert {v[2] for v, _, _ in looked} == {3.0, 5.0, 8.0}
    costs = {
        name: [(word, d and round(200.96 - d.aims[0], 1)) for word, d in row]
        for name, row in found.beside.items()
    }
    assert costs["runner"] == [("short", 3.0)]
    assert costs["volume"] == [("3 L", 4.8), ("8 L", 7.8)]
    assert costs["delivery"] == [("port", 1.0)]
    # A key of the long runner's own is one and the same for the short one.
    walls = {(v[1], v[2], v[4]): set() for v, _, _ in looked if v[0] == "short"}
    for v, _, _ in looked:
        if v[0] == "short":
            walls[v[1], v[2], v[4]].add(v[3])
    assert all(len(w) == 1 for w in walls.values())


def test_candidates_as_they_stand_are_looked_at_first(tmp_path, monkeypatch):
    looked = analytic(monkeypatch, lambda rpm, *values: np.full_like(rpm, 200.0))
    searched(tmp_path, SIZES)
    assert [(v[0], v[1]) for v, _, _ in looked[:2]] == [
        ("short", pytest.approx(290.0)),
        ("long", pytest.approx(650.0)),
    ]


def test_a_search_over_two_sizes_only(tmp_path, monkeypatch):
    """Nothing runs through a span: every one of four engines is looked at, and no local search."""
    analytic(monkeypatch, lambda rpm, length, volume: np.full_like(rpm, length - volume))
    text = (
        f"engine: {DEMO}\nvary:\n  intake.runner.length: [300 mm, 400 mm]\n"
        "  intake.plenum.volume: [3 L, 5 L]\n"
        "speeds: {from: 2500 rpm, to: 4000 rpm, step: 500 rpm}\nsearch: {evaluations: 10}\n"
    )
    found = searched(tmp_path, text)
    assert found.values == (400.0, 3.0)
    assert len(found.known) == 4

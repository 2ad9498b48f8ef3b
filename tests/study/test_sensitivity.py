"""Sobol indices and tolerance bands."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.studies import ONE, plan_of

import aircolumn
from aircolumn.cli import main
from aircolumn.errors import ComputationError, InputError, RequestError
from aircolumn.questions.sensitivity.question import unsettled_text
from aircolumn.questions.sensitivity.sensitivity import Indices, sobol_indices
from aircolumn.questions.tolerance.tolerance import tolerance
from aircolumn.study.executors import Cores


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
    from aircolumn.questions.sensitivity import sensitivity

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
    plan_of(
        tmp_path,
        ONE + "vary:\n  intake.runner.length: {from: 250 mm, to: 350 mm}\n"
        "  intake.plenum.volume: {from: 8 L, to: 8.1 L}\n"
        "sensitivity: {count: 8, aim: {of: torque, at: 5000 rpm}}\n",
    )
    out = tmp_path / "out"
    assert main(["study", str(tmp_path / "study.yaml"), "--out", str(out)]) == 0
    rows = capsys.readouterr().out.splitlines()
    table = [r for r in rows if r.strip().startswith(("length", "volume"))]
    assert table[0].strip().startswith("length")  # what matters comes first
    names = [
        "classroom-single.yaml",
        "origin.json",
        "points.sqlite",
        "study.csv",
        "study.nc",
        "study.png",
        "study.svg",
        "study.txt",
        "study.yaml",
    ]
    assert sorted(p.name for p in out.iterdir()) == names


def test_tolerance_band_and_slopes(tmp_path, store):
    text = (
        f"engine: {DEMO}\nrunner: long\nspeeds: [4000 rpm, 6000 rpm]\n"
        "vary: {intake.runner.bore: {plus_minus: 0.4 mm}}\ntolerance: {count: 6}\n"
    )
    plan = plan_of(tmp_path, text)
    shifted = plan.case((0.4,)).engine.intake.runner.bore
    assert (shifted.start, shifted.end) == pytest.approx((0.0464, 0.0424))
    band = tolerance(plan, store, Cores())
    assert np.all(band.torque_low <= band.torque)
    assert np.all(band.torque <= band.torque_high)
    wide, narrow = (aircolumn.curve(plan.case((d,)).engine, plan.speeds).torque.values for d in (0.4, -0.4))
    assert band.slopes["bore"] == pytest.approx((wide - narrow) / 0.8, abs=0.5)
    with pytest.raises(InputError, match="is not in the engine file"):
        plan_of(tmp_path, text.replace("runner.bore", "runner.rougness_of_it"))


def test_indices_that_cannot_be_are_told_with_the_count_that_would_do():
    """Intervals shrink with the root of the count: from 0.584 to 0.1 takes 34 times as many."""
    found = Indices(
        ["length", "bore", "volume", "angle"],
        np.array([0.805, 0.2, 0.01, 0.3]),
        np.array([0.584, 0.05, 0.05, 0.05]),
        np.array([0.580, 0.2, 0.02, 0.31]),
        np.array([0.1, 0.3, 0.09, 0.06]),
        1.0,
        1.0,
    )
    said = unsettled_text(found, 16)
    assert said == (
        "Too few samples: length (first order above total); bore (an interval wider than its"
        " value). With count: 1024 the intervals would be about +-0.1."
    )
    settled = Indices(["a"], *(np.array([x]) for x in (0.7, 0.1, 0.8, 0.1)), 1.0, 1.0)
    assert unsettled_text(settled, 16) == ""


def test_intervals_are_the_same_at_every_run():
    """A seed of 0 too, which is the one of a file that states none."""
    for seed in (0, 3):
        one, other = (sobol_indices(["a", "b"], lambda x: x[:, 0] + x[:, 1] ** 2, 64, seed) for _ in range(2))
        assert np.array_equal(one.total_wide, other.total_wide)
        assert np.array_equal(one.first_wide, other.first_wide)

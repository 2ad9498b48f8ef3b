"""A point that cannot be computed costs that point, not the curve; results that do not balance are
none; and one cylinder never stands for cylinders that differ."""

import csv

import numpy as np
import pytest
import xarray as xr
from tests.conftest import DEMO, ROOT
from tests.printed import is_picture

import aircolumn
from aircolumn.cli import main
from aircolumn.engine.model import figures as points_figures
from aircolumn.engine.model import stretches
from aircolumn.engine.model.operating_point import operating_point, point_beside
from aircolumn.errors import ComputationError

REASON = "at 3000 rpm the cycle does not repeat"


@pytest.fixture
def gap(monkeypatch):
    """3000 rpm cannot be computed."""

    def computed(engine, rpm, *others):
        if rpm == 3000.0:
            raise ComputationError(REASON)
        return point_beside(engine, rpm, *others)

    monkeypatch.setattr(stretches, "point_beside", computed)


def run(command, *options, out):
    return main([command, str(DEMO), "--rpm", "2500", "3000", "3500", *options, "--out", str(out)])


def test_curve_keeps_the_other_points(gap, tmp_path, capsys):
    assert run("curve", out=tmp_path) == 1
    told = capsys.readouterr()
    row = next(line.split() for line in told.out.splitlines() if line.split()[:1] == ["3000"])
    assert set(row[1:]) == {"-"}
    assert f"3000 rpm: {REASON}" in told.out
    assert "could not compute: 1 of 3 points; the others are written" in told.err
    data = xr.open_dataset(tmp_path / "curve.nc", engine="scipy")
    assert np.isfinite(data.ve.values).tolist() == [[True, False, True]]
    assert str(data.failure.values[0, 1]) == REASON
    rows = list(csv.reader((tmp_path / "curve.csv").read_text().splitlines()))
    assert rows[0][-1] == "failure"
    assert set(rows[2][2:-1]) == {""}
    assert rows[2][-1] == REASON
    assert rows[1][-1] == ""
    assert is_picture(tmp_path / "curve.png")


@pytest.mark.slow
def test_compare_map_account_and_explain_keep_the_others(gap, tmp_path, capsys):
    for command, options in (
        ("compare", ("--uncertainty",)),
        ("map", ("--steps", "2")),
        ("account", ()),
        ("explain", ()),
    ):
        assert run(command, *options, out=tmp_path / command) == 1
        told = capsys.readouterr()
        assert "the others are written" in told.err
        assert REASON in told.out
        assert list((tmp_path / command).glob("*.png"))
    data = xr.open_dataset(tmp_path / "compare" / "compare.nc", engine="scipy")
    assert int(np.isnan(data.torque.values).sum()) == 3
    assert int(np.isnan(data.ve_uncertainty.values).sum()) == 3


def test_pull_keeps_the_others(monkeypatch, tmp_path, capsys):
    def computed(engine, rpm, *others):
        if rpm == 2500.0:
            raise ComputationError(REASON)
        return point_beside(engine, rpm, *others)

    monkeypatch.setattr(stretches, "point_beside", computed)
    data = f"long={ROOT / 'configs' / 'invented-pulls-long.csv'}"
    assert main(["pull", str(DEMO), data, "--out", str(tmp_path)]) == 1
    told = capsys.readouterr()
    assert f"no prediction at 2500 rpm: {REASON}" in told.out
    assert (tmp_path / "pull.csv").exists()


def test_nothing_at_all_is_an_error(gap, demo):
    with pytest.raises(ComputationError, match="does not repeat"):
        aircolumn.curve(demo, [3000.0])


def test_a_result_must_balance(demo, monkeypatch):
    """A mesh point came out with a mass error of 15 and was shown."""
    monkeypatch.setitem(points_figures.LEDGER_GAP, "mesh", 1e-4)
    mesh = demo.engine.changed(numerics=demo.engine.numerics.changed(method="mesh"))
    with pytest.raises(ComputationError, match="ledger does not close"):
        operating_point(mesh, 3000.0)
    monkeypatch.undo()
    point = operating_point(mesh, 3000.0).figures
    assert 1e-4 < max(point["mass_error"], point["energy_error"]) < 0.05


def test_no_air_is_no_result(demo):
    figures = dict.fromkeys(points_figures.FIGURES, 1e-12) | {"ve": 0.0}
    with pytest.raises(ComputationError, match="traps no fresh air"):
        points_figures._check_balance(demo.engine, 3000.0, figures)


COLLECTOR = "  collector: {length: 500 mm, bore: 55 mm, wall_temperature: 400 degC}\n"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("mixture: {", COLLECTOR + "mixture: {", "exhaust.collector"),
        (
            "firing_order: [1, 3, 4, 2]",
            "firing_angles: [0 deg, 90 deg, 270 deg, 450 deg]",
            "engine.firing_angles",
        ),
        (
            "    length: 430 mm\n",
            "    length: 430 mm\n    lengths: [400 mm, 430 mm, 430 mm, 400 mm]\n",
            "intake.runner.lengths",
        ),
    ],
)
def test_cylinders_that_differ_are_all_computed(tmp_path, capsys, old, new, key):
    path = tmp_path / "engine.yaml"
    text = DEMO.read_text().replace(old, new, 1)
    if key == "intake.runner.lengths":
        text = text[: text.index("runners:")] + text[text.index("speeds:") :]
    path.write_text(text)
    engine = aircolumn.load(path).engine
    assert engine.why_cylinders_differ == key
    assert engine.computes_every_cylinder
    assert engine.changed(model="single").has_echoes  # what was done, without a word
    path.write_text("model: single\n" + text)
    assert main(["check", str(path)]) == 2
    assert f"{key} makes them differ" in capsys.readouterr().err


def test_alike_cylinders_need_only_one(demo):
    assert not demo.engine.computes_every_cylinder
    angles = [0.0, 180.0, 360.0, 540.0]
    even = demo.engine.changed(block=demo.engine.block.changed(firing_angles=angles))
    assert not even.computes_every_cylinder

"""The tuning map and the rules of thumb."""

import csv

import numpy as np
import pytest
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn.cli import main
from aircolumn.curves.curve import curve
from aircolumn.curves.tuning.tuning_map import rule_errors, tuning_map, with_bore, with_length
from aircolumn.engine.rules_of_thumb import mean_neck, neck_and_volume_speed, quarter_wave_speed
from aircolumn.errors import RequestError
from aircolumn.flow.duct.geometry import straight

SPEEDS = np.arange(2500.0, 7001.0, 250.0)


@pytest.fixture(scope="module")
def engine():
    return aircolumn.load(CLASSROOM).engine


@pytest.fixture(scope="module")
def chart(engine):
    return tuning_map(engine, [0.2, 0.3, 0.4, 0.6, 0.9], SPEEDS)


def test_rules_by_hand():
    """13.505/K c sqrt(A/(L V)) sqrt((r-1)/(r+1)) (Engelman 1973, from memory); 30 c/(L q)."""
    by_hand = 13.505 / 2.1 * 340.0 * np.sqrt(1.2e-3 / (0.4 * 5e-4)) * np.sqrt(9.0 / 11.0)
    speed = neck_and_volume_speed(1.2e-3, 0.4, 5e-4, 10.0, 340.0, 2.1)
    assert speed == pytest.approx(by_hand, rel=1e-4)
    # A 0.5 m runner rings at 170 Hz; four swings in a cycle of 4/170 s: 5100 rpm.
    assert quarter_wave_speed(0.5, 340.0, 4) == pytest.approx(120 * 170 / 4)


def test_mean_neck_by_hand():
    """Integral of dx/A: 4 L / (pi d1 d2) of a cone (closed form); of two pipes, the sum."""
    cone = mean_neck(straight(0.4, 0.046, 0.042))
    assert cone == pytest.approx(4.0 * 0.4 / (np.pi * 0.046 * 0.042), rel=1e-12)
    x = np.linspace(0.0, 0.4, 100001)
    area = np.pi / 4 * (0.046 - 0.01 * x) ** 2
    assert cone == pytest.approx(np.trapezoid(1.0 / area, x), rel=1e-8)
    two = mean_neck(straight(0.3, 0.05).then(straight(0.1, 0.04)))
    assert two == pytest.approx(4.0 / np.pi * (0.3 / 0.05**2 + 0.1 / 0.04**2), rel=1e-12)


def test_ridge_lies_near_neck_and_volume(chart):
    """K of 2.0 to 2.5 within 10 % (Engelman 1973, from memory)."""
    order, rows = rule_errors(chart)
    assert order in (2, 3, 4, 5)
    for _, _, fits, _ in rows:
        assert 2.0 / 1.1 < fits < 2.5 * 1.1


@pytest.mark.slow
def test_ridge_bends_from_square_root_toward_quarter_wave(engine):
    """N falls about as L^-0.5 while the runner is short and steeper, toward L^-1, as it grows."""
    chart = tuning_map(engine, [0.2, 0.3, 0.4, 0.5, 0.6, 0.7], SPEEDS)
    x, y = np.log(chart.acoustic_length.values), np.log(chart.ridge.values)
    short, long = (np.polyfit(x[s], y[s], 1)[0] for s in (slice(0, 3), slice(3, 6)))
    assert -0.65 < short < -0.4
    assert -1.05 < long < -0.65


@pytest.mark.slow
def test_map_over_bore(engine):
    """A wider runner's hump lies higher (common practice, no source), near Helmholtz (neck and volume)."""
    chart = tuning_map(engine, [0.034, 0.040, 0.046], SPEEDS, vary="bore")
    assert chart.ve.dims == ("bore", "rpm")
    ridge = chart.ridge.values
    assert np.all(np.diff(ridge) > 0.0)
    neck = chart.neck_and_volume.sel(k=2.0).values
    assert np.all(np.diff(neck) > 0.0)
    own = curve(engine, SPEEDS).ve
    assert np.allclose(chart.ve.sel(bore=0.040), own, rtol=1.5 * engine.numerics.accuracy, atol=0.0)


def test_map_over_bore_command(tmp_path, capsys):
    out = tmp_path / "out"
    given = ["--vary", "bore", "--from", "36 mm", "--to", "44 mm", "--steps", "2"]
    assert main(["map", str(CLASSROOM), *given, "--rpm", "3000", "4000", "5000", "--out", str(out)]) == 0
    assert "runner bore mm" in capsys.readouterr().out
    assert (out / "map-bore.csv").read_text().startswith("bore [mm],ve at 3000 rpm [%]")


def test_ridge_falls_with_length(chart):
    assert np.all(np.diff(chart.ridge.values) < 0.0)


def test_map_holds_the_curves(engine, chart):
    one = curve(with_length(engine, 0.4), SPEEDS)
    assert np.allclose(chart.ve.sel(length=0.4), one.ve, rtol=1.5 * engine.numerics.accuracy, atol=0.0)


def test_hump_outside_the_range_is_not_invented(engine):
    narrow = tuning_map(engine, [0.2, 0.3], [2000.0, 2500.0, 3000.0])
    assert np.all(np.isnan(narrow.ridge))


def test_map_command(tmp_path, capsys):
    out = tmp_path / "out"
    given = ["--from", "200 mm", "--to", "0.5 m", "--steps", "3", "--out", str(out)]
    assert main(["map", str(CLASSROOM), *given, "--rpm", "3000", "4000", "5000", "6000"]) == 0
    assert "Helmholtz K" in capsys.readouterr().out
    assert {p.name for p in out.iterdir()} == {
        "map.csv",
        "map.nc",
        "map.png",
        "map.svg",
        "origin.json",
        "classroom-single.yaml",
    }
    with open(out / "map.csv") as file:
        rows = list(csv.DictReader(file))
    assert [float(r["length [mm]"]) for r in rows] == pytest.approx([200.0, 350.0, 500.0])


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--from", "200"], "has no unit"),
        (["--from", "2 fathoms"], "is not a known unit; use one of mm"),
        (["--from", "2 kg"], "is not a unit of length"),
        (["--from", "500 mm", "--to", "200 mm"], "greater than --from"),
        (["--steps", "1"], "from 2 to 200"),
        (["--to", "90 m"], "30 mm to 5 m"),
    ],
)
def test_wrong_requests(given, said, tmp_path, capsys):
    assert main(["map", str(CLASSROOM), *given, "--out", str(tmp_path / "o")]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "o").exists()


def test_runner_in_sections_has_no_length_to_vary(engine):
    from aircolumn.engine.description.pipes import Section, Taper

    section = Section.model_construct(
        length=0.3, bore=Taper.model_construct(start=0.04, end=0.04), bend_angle=0.0
    )
    runner = engine.intake.runner.model_copy(update={"sections": [section], "length": None, "bore": None})
    intake = engine.intake.model_copy(update={"runner": runner})
    port = engine.intake.port.changed(sections=[section], length=None, bore=None)
    with pytest.raises(RequestError, match="runner and port given by length and bore"):
        with_bore(engine.with_intake(port=port), 0.04)
    with pytest.raises(RequestError, match="not by sections"):
        tuning_map(engine.model_copy(update={"intake": intake}), [0.2, 0.3], [3000.0])

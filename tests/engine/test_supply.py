"""Supplied air: its table over speed, what it feeds, what is shown."""

import numpy as np
import pytest
from tests.conftest import DEMO, ROOT
from tests.printed import right_aligned

import aircolumn
from aircolumn.cli import main
from aircolumn.engine.description.supply import Supply
from aircolumn.engine.model.operating_point import converged, operating_point

TABLE = {
    "speeds": ["2000 rpm", "4000 rpm"],
    "pressure": ["140 kPa", "200 kPa"],
    "temperature": "50 degC",
}


def supplied(engine, outlet=None, **keys):
    """The engine fed with a supply of these keys, its exhaust at ``outlet`` Pa."""
    x = engine.exhaust
    return engine.with_intake(supply=Supply.model_validate(keys)).changed(
        exhaust=x.changed(outlet=x.outlet.changed(pressure=outlet))
    )


def with_supply(folder, text):
    """The demo's file with a supply."""
    path = folder / "engine.yaml"
    assert "  throttle: {" in DEMO.read_text()
    path.write_text(DEMO.read_text().replace("  throttle: {", f"  supply: {text}\n  throttle: {{", 1))
    return path


@pytest.mark.parametrize(
    ("rpm", "pressure"), [(1000, 140e3), (2000, 140e3), (3000, 170e3), (4000, 200e3), (9000, 200e3)]
)
def test_table_over_speed(rpm, pressure):
    found = Supply.model_validate(TABLE).at(float(rpm))
    assert found.source == pytest.approx((pressure, 323.15))
    assert found.at(99.0) == found


def test_scaled_together_with_the_outlet_ve_stays(demo):
    """Twice the pressure on both sides: VE at plenum density within 1 point, torque about twice."""
    engine = demo.with_runner("long")
    dry = engine.intake.ambient.changed(humidity=0.0)  # else more water condenses at the higher pressure
    mixture = engine.mixture.changed(charge_cooling=0.1)  # walls give twice the fuel no more than once
    engine = engine.with_intake(ambient=dry).changed(mixture=mixture)
    for rpm in (2000.0, 4500.0):
        one, two = (
            operating_point(supplied(engine, p, pressure=f"{p} Pa", temperature="25 degC"), rpm).figures
            for p in (99e3, 198e3)
        )
        assert two["ve_plenum"] == pytest.approx(one["ve_plenum"], abs=0.01)
        assert two["ve"] == pytest.approx(2.0 * one["ve"], rel=0.01)  # at ambient density
        assert 1.95 < two["torque"] / one["torque"] < 2.25
        assert two["mass_error"] < 1e-9
        assert two["energy_error"] < 1e-9


def test_supply_at_ambient_state_changes_nothing(demo):
    a = demo.engine.intake.ambient
    fed = supplied(demo.engine, pressure=f"{a.pressure} Pa", temperature=f"{a.temperature} K")
    found, plain = (operating_point(e, 3000.0).figures for e in (fed, demo.engine))
    for name in ("ve", "ve_plenum", "torque", "plenum_pressure"):
        assert found[name] == pytest.approx(plain[name], rel=1e-12), name


def test_every_speed_has_its_own_state(demo):
    """The plenum stands near the table's pressure; the crankcase and the outlet at the air's."""
    engine = supplied(demo.engine, **TABLE)
    for rpm, pressure in ((2000.0, 140e3), (3500.0, 185e3)):
        marched, run, point = converged(engine, rpm)
        assert point.figures["plenum_pressure"] == pytest.approx(pressure, rel=0.02)
        assert marched.intake.source.pressure == pytest.approx(pressure)
        volumes = run.network.volumes
        assert volumes["air"].pressure == pytest.approx(pressure)
        assert volumes["crankcase"].pressure == volumes["outlet"].pressure == 99e3


def test_without_plenum_the_runners_draw_from_the_supply(demo):
    engine = supplied(demo.engine, pressure="150 kPa", temperature="40 degC")
    f = operating_point(engine.with_intake(throttle=None, plenum=None), 3000.0).figures
    assert f["plenum_pressure"] == pytest.approx(150e3)
    assert f["ve"] == pytest.approx(f["ve_plenum"] * 150 / 99 * 298.15 / 313.15, rel=0.01)


def test_plenum_ve_is_shown_first(tmp_path, capsys):
    path = with_supply(tmp_path, "{pressure: 150 kPa, temperature: 40 degC}")
    assert main(["curve", str(path), "--rpm", "3000", "--out", str(tmp_path / "o")]) == 0
    headings, (row,) = right_aligned(capsys.readouterr().out, "rpm")
    assert headings[:2] == ["rpm", "VE (plenum) %"]
    assert "VE %" not in headings
    data = aircolumn.curve(aircolumn.load(path), [3000])
    assert float(row[1]) == pytest.approx(100 * float(data.ve_plenum[0]), abs=0.051)
    more = ["--rpm", "3000", "4000", "--out", str(tmp_path / "p")]
    assert main(["compare", str(path), *more]) == 0
    said = capsys.readouterr().out
    assert "short plenum VE %" in said
    assert "peak VE (plenum)" in said


def test_check_tells_the_supply(tmp_path, capsys):
    table = "{speeds: [2000 rpm, 4000 rpm], pressure: [140 kPa, 200 kPa], temperature: 50 degC}"
    assert main(["check", str(with_supply(tmp_path, table))]) == 0
    assert "\nsupply: air at 140.0 to 200.0 kPa and 50.0 degC\n" in capsys.readouterr().out


#: what is wrong: (supply, what the message must say)
WRONG = {
    "too much": ("{pressure: 401 kPa, temperature: 20 degC}", "at most 400 kPa"),
    "too hot": ("{pressure: 150 kPa, temperature: 250 degC}", "at most 200 degC"),
    "no temperature": ("{pressure: 150 kPa}", "supply.temperature: this key is missing"),
    "a table without speeds": (
        "{pressure: [150 kPa, 160 kPa], temperature: 40 degC}",
        "2 values of pressure for 1 speeds",
    ),
    "too few": (
        "{speeds: [2000 rpm, 3000 rpm, 4000 rpm], pressure: [150 kPa, 160 kPa], temperature: 40 degC}",
        "2 values of pressure for 3 speeds; give one for each",
    ),
    "falling": (
        "{speeds: [3000 rpm, 2000 rpm], pressure: 150 kPa, temperature: 40 degC}",
        "must rise",
    ),
    "no unit": ("{pressure: 150, temperature: 40 degC}", "has no unit"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_supplies(name, tmp_path, capsys):
    text, said = WRONG[name]
    path = with_supply(tmp_path, text)
    assert main(["check", str(path)]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert f"{path}:" in error


def test_no_standard_for_supplied_air(tmp_path, capsys):
    path = with_supply(tmp_path, "{pressure: 150 kPa, temperature: 40 degC}")
    given = ["--rpm", "3000", "--standard", "j1349", "--out", str(tmp_path / "o")]
    assert main(["curve", str(path), *given]) == 2
    assert "draw from the open air" in capsys.readouterr().err
    assert not (tmp_path / "o").exists()
    pulls = [
        "pull",
        str(path),
        f"long={ROOT / 'configs' / 'invented-pulls-long.csv'}",
        "--out",
        str(tmp_path / "o"),
    ]
    assert main([*pulls, "--standard", "j1349"]) == 2
    assert "draw from the open air" in capsys.readouterr().err


def test_pulls_of_supplied_air_are_compared_as_observed(tmp_path, capsys):
    """At the manifold pressure that was logged: the prediction follows it (the old program refused to
    read)."""
    path = with_supply(tmp_path, "{pressure: 150 kPa, temperature: 40 degC}")
    predicted = []
    for pressure in (140, 150):
        rows = "".join(f"{n},{300 + n / 100},{pressure},40\n" for n in range(2000, 4001, 500))
        log = tmp_path / "log.csv"
        log.write_text(f"rpm,torque [Nm],p_im [kPa],T_im [degC]\n{rows}")
        assert main(["pull", str(path), f"long={log}", "--out", str(tmp_path / "o")]) == 0
        said = capsys.readouterr().out
        assert "Torque as measured; one pull, so no interval." in " ".join(said.split())
        _, table = right_aligned(said, "rpm")
        predicted.append(float(table[2][3]))
        assert {row[-1] for row in table} == {"1.0000"}
    assert predicted[1] / predicted[0] == pytest.approx(150.0 / 140.0, abs=0.03)


def test_supply_is_found_in_a_study_key(tmp_path):
    """Any key of the engine file may be varied, this one too."""
    path = with_supply(tmp_path, "{pressure: 150 kPa, temperature: 40 degC}")
    (tmp_path / "study.yaml").write_text(
        f"engine: {path.name}\nvary:\n  intake.supply.pressure: [120 kPa, 180 kPa]\nspeeds: [3000 rpm]\n"
    )
    plan = aircolumn.read_study(tmp_path / "study.yaml")
    states = [plan.case((v,)).engine.intake.source.pressure for v in plan.axes[0].values]
    assert np.allclose(states, [120e3, 180e3])

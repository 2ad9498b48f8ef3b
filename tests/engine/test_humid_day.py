"""Water vapour stays with the air: measured at one temperature, drawn at another."""

import re

import numpy as np
import pytest
from tests import made_up_pulls
from tests.conftest import DEMO

import aircolumn
from aircolumn.cli import main
from aircolumn.flow.gas.humid_air import water_saturation_pressure
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import measured_curve

WARM = np.array([26.0, 29.0, 32.0]) + 273.15  # K, of the inlet air in three pulls


def pulls_of(folder, demo, notes="", drop=("humidity [%]",), more=None):
    """The demo's made-up pulls, each warmer than the last, with what the engine file says."""
    path = made_up_pulls.write(folder, demo, "long", drop=drop)
    rows = path.read_text().splitlines()
    head = next(k for k, row in enumerate(rows) if "inlet air" in row)
    names = rows[head].split(",")
    column, pull = names.index("inlet air [degC]"), names.index("pull")
    lines = []
    for row in rows[head + 1 :]:
        cells = row.split(",")
        number = int(float(cells[pull]))
        cells[column] = f"{WARM[number - 1] - 273.15:.2f}"
        lines.append(",".join([*cells, *([more[1]] if more else [])]))
    heading = rows[head] + (f",{more[0]}" if more else "")
    path.write_text("\n".join([*rows[:head], heading, *lines]) + "\n")
    text = DEMO.read_text() + (f"pull: {notes}\n" if notes else "")
    (folder / "engine.yaml").write_text(text)
    engine = aircolumn.load(folder / "engine.yaml").with_runner("long")
    file = read_pulls(path, engine.pull)
    return measured_curve(file, engine, "long", "j1349")


def vapour(curve):
    """Vapour pressure of each pull, Pa."""
    air = curve.air
    return (air.humidity * water_saturation_pressure(air.temperature)).mean(axis=1)


def test_ambient_humidity_keeps_its_vapour(tmp_path, demo):
    """40 % at 25 degC in the file is the same water in all pulls, however warm the cell gets: by
    relative humidity the third pull would hold 40 % more than the first."""
    found = vapour(pulls_of(tmp_path, demo))
    assert found == pytest.approx([0.4 * water_saturation_pressure(298.15)] * 3, rel=1e-12)


def test_humidity_with_its_own_temperature(tmp_path, demo):
    notes = "{humidity: 55 %, humidity_temperature: 20 degC}"
    due = 0.55 * water_saturation_pressure(293.15)
    assert vapour(pulls_of(tmp_path, demo, notes)) == pytest.approx([due] * 3, rel=1e-12)


def test_humidity_stated_alone_is_that_of_the_mean_inlet_air(tmp_path, demo):
    due = 0.35 * water_saturation_pressure(WARM.mean())
    found = vapour(pulls_of(tmp_path, demo, "{humidity: 35 %}"))
    assert found == pytest.approx([due] * 3, rel=1e-3)


def test_logged_beside_its_own_thermometer(tmp_path, demo):
    curve = pulls_of(tmp_path, demo, drop=(), more=("RH temp [degC]", "21"))
    logged = curve.readings["humidity"].mean(axis=1)
    assert vapour(curve) == pytest.approx(logged * water_saturation_pressure(294.15), rel=1e-9)


def test_logged_humidity_is_that_of_the_inlet_air(tmp_path, demo):
    curve = pulls_of(tmp_path, demo, drop=())
    assert curve.air.humidity == pytest.approx(curve.readings["humidity"])


def test_colder_air_holds_no_more_than_it_can(tmp_path, demo):
    curve = pulls_of(tmp_path, demo, "{humidity: 90 %, humidity_temperature: 40 degC}")
    assert curve.air.humidity == pytest.approx(np.ones_like(curve.air.humidity))
    assert any("would condense" in remark for remark in curve.remarks)


def test_atmosphere_takes_it_too(capsys):
    """The worked example of the finding: 45 % at 78 degF is 33 % at 88 degF."""

    def printed(*humidity):
        assert (
            main(
                [
                    "atmosphere",
                    "400 lbf ft",
                    "--pressure",
                    "29.06 inHg",
                    "--temperature",
                    "88 degF",
                    *humidity,
                ]
            )
            == 0
        )
        return float(re.search(r"J1349.*?(\d{3}\.\d+)", capsys.readouterr().out)[1])

    moved = printed("--humidity", "45 %", "--humidity-temperature", "78 degF")
    assert moved == pytest.approx(415.07, abs=0.1)
    assert printed("--humidity", "45 %") == pytest.approx(417.81, abs=0.01)

"""The tables that pull writes and the picture it draws."""

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.made_up_pulls import AFR, AIR, SPEEDS, write
from tests.printed import command, lines_of, rows_of, significant


def test_tables_written(pulled, pull_due):
    rows = rows_of(pulled.out / "pull.csv")
    data = xr.load_dataset(pulled.out / "pull.nc")
    assert data.attrs == {"title": "Mountain-rescue 2.5-litre four (invented)", "standard": "SAE J1349"}
    points = [(name, k) for name in AIR for k in range(SPEEDS.size)]
    for row, (name, k) in zip(rows, points, strict=True):
        d, omega = pull_due[name], SPEEDS[k] * np.pi / 30.0
        pressure, temperature, humidity = AIR[name]
        expected = {  # heading: (value as written, unit and value in SI)
            "torque observed [N m]": (d["observed"][k], "N m", 1.0),
            "torque corrected [N m]": (d["corrected"][k], "N m", 1.0),
            "half-width of torque [N m]": (d["half"][k], "N m", 1.0),
            "torque predicted, corrected [N m]": (d["predicted"][k], "N m", 1.0),
            "correction": (d["correction"], "1", 1.0),
            "ve measured [%]": (100 * d["ve"][k], "1", 0.01),
            "ve predicted [%]": (100 * d["ve_predicted"][k], "1", 0.01),
            "power corrected [kW]": (1e-3 * d["corrected"][k] * omega, "W", 1e3),
            "power predicted, corrected [kW]": (1e-3 * d["predicted"][k] * omega, "W", 1e3),
            "air-fuel ratio": (AFR[name].mean(), "1", 1.0),
            "pressure [kPa]": (1e-3 * pressure, "Pa", 1e3),
            "temperature [degC]": (temperature - 273.15, "K", 1.0),
            "humidity [%]": (100 * humidity, "1", 0.01),
            "between readings": (0.0, "1", 1.0),
        }
        assert list(row) == ["runner", "rpm", *expected]
        assert (row["runner"], float(row["rpm"])) == (name, SPEEDS[k])
        assert max(significant(v) for k, v in row.items() if k != "runner") <= 8
        for heading, (value, unit, factor) in expected.items():
            assert float(row[heading]) == pytest.approx(value, rel=1e-3, abs=2e-2), heading
            title = heading.split(" [")[0]
            there = data[title.replace(", ", "_").replace(" ", "_").replace("-", "_")]
            added = 273.15 if unit == "K" else 0.0
            si = factor * float(row[heading]) + added
            assert float(there.sel(runner=name, rpm=SPEEDS[k])) == pytest.approx(si, rel=1e-7)
            assert there.attrs == {"units": unit, "long_name": title}
    assert (pulled.out / "pull.txt").read_text().startswith(pulled.said.split("\n\nwritten to")[0])


def test_pull_drawn(pulled):
    top, middle, low, below = pulled.pictures["pull.png"].axes
    rows = rows_of(pulled.out / "pull.csv")
    table = {
        name: {
            h: np.array([float(r[h]) for r in rows if r["runner"] == name]) for h in rows[0] if h != "runner"
        }
        for name in AIR
    }
    for name in AIR:
        t = table[name]
        for panel, measured, predicted, unit in (
            (top, "ve measured", "ve predicted", "%"),
            (middle, "torque corrected", "torque predicted, corrected", "N m"),
        ):
            marks = next(c for c in panel.containers if c.get_label() == f"{name}, measured")
            assert marks[0].get_ydata() == pytest.approx(t[f"{measured} [{unit}]"], rel=1e-6)
            assert bool(marks.has_yerr) == (panel is middle)
            y = lines_of(panel)[f"{name}, predicted"][1]
            assert y == pytest.approx(t[f"{predicted} [{unit}]"], rel=1e-6)
        bars = next(c for c in middle.containers if c.get_label() == f"{name}, measured")[2][0]
        heights = [s[1, 1] - s[0, 1] for s in bars.get_segments()]
        assert heights == pytest.approx(2.0 * t["half-width of torque [N m]"], rel=1e-6)
        off = 100 * (t["torque predicted, corrected [N m]"] / t["torque corrected [N m]"] - 1)
        x, y = lines_of(low)[name]
        assert list(x) == list(SPEEDS)
        assert y == pytest.approx(off, abs=1e-4)
        assert np.all(np.abs(lines_of(low)[f"{name}, calibrated"][1]) < 0.2)
    marks = below.containers[0][0].get_ydata()
    torque = [table[n]["torque corrected [N m]"] for n in ("long", "short")]
    assert marks == pytest.approx(torque[0] - torque[1], abs=1e-4)
    predicted = [table[n]["torque predicted, corrected [N m]"] for n in ("long", "short")]
    assert lines_of(below)["predicted"][1] == pytest.approx(predicted[0] - predicted[1], abs=1e-4)
    assert below.get_xlabel() == "engine speed, rpm"
    assert middle.get_ylabel() == "brake torque, N m\n(SAE J1349)"
    assert not low.get_xlabel()
    for panel in (low, below):  # the zero line
        assert any(list(m.get_ydata()) == [0.0, 0.0] for m in panel.lines)
    grey = [p for p in below.patches if p.get_width() == 250.0]
    assert [p.get_x() for p in grey] == list(SPEEDS - 125.0)
    assert "Grey: more than the manifold changed." in pulled.pictures["pull.png"]._supxlabel.get_text()


def test_a_runner_with_an_awkward_name_is_in_the_legend(demo, tmp_path):
    text = DEMO.read_text().replace("  long:", '  "_$x_$":').replace("[long,", '["_$x_$",')
    (tmp_path / "e.yaml").write_text(text)
    path = write(tmp_path, demo, "long")
    with made_up.in_place():
        ran = command("pull", tmp_path / "e.yaml", f"_$x_$={path}", out=tmp_path / "o")
    assert ran.code == 0
    top = ran.pictures["pull.png"].axes[0]
    said = [t.get_text() for t in top.get_legend().get_texts()]
    assert said == [" _$x_$, predicted", " _$x_$, measured"]

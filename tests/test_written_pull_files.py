"""The tables that pull writes and the picture it draws."""

import numpy as np
import pytest
import xarray as xr
from scipy.stats import t as student
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, lines_of, rows_of, significant

from aircolumn.dyno.calibration import with_values

SPEEDS = np.arange(2000.0, 4501.0, 250.0)


GAINS = np.array([0.998, 1.0, 1.002])  # of the pulls: standard deviation 0.2 %


HIDDEN = {"discharge": 0.95, "fmep": 0.12e5, "cam": 2.0}


VOLUME = np.pi / 4 * 0.089**2 * 0.1 * 4


AIR = {"long": (98.0e3, 301.15, 0.35), "short": (98.3e3, 302.15, 0.35)}  # Pa, K, share


AFR = {"long": 13.0 + 0.02 * np.arange(3), "short": 13.3 + 0.02 * np.arange(3)}


SPARK = {"long": 24.0 + 0.1 * np.arange(3), "short": 24.5 + 0.1 * np.arange(3)}


RATE = {"long": (299.0, 300.0, 301.0), "short": (299.0, 300.0, 301.0)}  # rpm/s


VAPOUR = {301.15: 3782.0, 302.15: 4008.0}  # saturation, Pa (IAPWS: 28 and 29 degC)


def dry(name):
    p, t, h = AIR[name]
    return p - h * VAPOUR[t]


def density(name):
    _p, t, h = AIR[name]
    return dry(name) / (287.055 * t) + h * VAPOUR[t] / (461.52 * t)


def j1349(name):
    return 1.18 * (99e3 / dry(name)) * ((AIR[name][1] - 0.15) / 298.0) ** 0.5 - 0.18


def in_its_air(engine, name):
    pressure, temperature, humidity = AIR[name]
    air = engine.intake.ambient.changed(
        pressure=pressure, temperature=temperature, humidity=humidity
    )
    mixture = engine.mixture.changed(air_fuel_ratio=float(AFR[name].mean()))
    return engine.with_intake(ambient=air).changed(mixture=mixture)


def figures(engine, name, figure):
    """A figure of the made-up engine in the air of a manifold's pulls, at every speed."""
    return np.array([made_up.point(in_its_air(engine, name), n).figures[figure] for n in SPEEDS])


def write(folder, demo, name, drop=()):
    """A logger's file of three pulls, its hidden values in; one torque and one oil reading bad."""
    engine = with_values(demo.with_runner(name), HIDDEN)
    torque, air = (figures(engine, name, f) for f in ("torque", "air_flow"))
    pressure, temperature, humidity = AIR[name]
    columns = {
        "pull": lambda k: np.full(SPEEDS.size, k + 1.0),
        "time [s]": lambda k: (SPEEDS - SPEEDS[0]) / RATE[name][k],
        "rpm": lambda k: SPEEDS, "torque [N m]": lambda k: torque * GAINS[k],
        "air flow [kg/h]": lambda k: 3600.0 * air * GAINS[k] ** 2,
        "AFR": lambda k: np.full(SPEEDS.size, AFR[name][k]),
        "spark [deg]": lambda k: np.full(SPEEDS.size, SPARK[name][k]),
        "coolant [degC]": lambda k: np.full(SPEEDS.size, 88.0 + k),
        "oil [degC]": lambda k: np.full(SPEEDS.size, 104.0 + 3.0 * k),
        "inlet air [degC]": lambda k: np.full(SPEEDS.size, temperature - 273.15),
        "barometer [kPa]": lambda k: np.full(SPEEDS.size, 1e-3 * pressure),
        "humidity [%]": lambda k: np.full(SPEEDS.size, 100.0 * humidity),
        "gear": lambda k: np.full(SPEEDS.size, 4.0),
    }  # fmt: skip
    kept = {h: c for h, c in columns.items() if h not in drop}
    lines = ["# made up\n", ",".join(kept) + "\n"]
    for k in range(3):
        for row in zip(*(c(k) for c in kept.values()), strict=True):
            lines.append(",".join(f"{v:.12g}" for v in row) + "\n")
    spoiled = lines[-1].split(",")
    lines.append(",".join([*spoiled[:3], "???", *spoiled[4:]]))
    path = folder / f"{name}.csv"
    path.write_text("".join(lines))
    return path


@pytest.fixture(scope="module")
def files(demo, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pulls")
    return {name: write(folder, demo, name) for name in AIR}


@pytest.fixture(scope="module")
def ran(files, tmp_path_factory):
    data = [f"{name}={path}" for name, path in files.items()]
    out = tmp_path_factory.mktemp("pull") / "o"
    with made_up.in_place():
        found = command("pull", DEMO, *data, "--fit", "discharge", "fmep", "cam", out=out)
    assert found.code == 0, found.complaints
    return found


@pytest.fixture(scope="module")
def due(demo):
    """Hand calculation: {runner: {figure: values at each speed}}."""
    table = {}
    for name in AIR:
        true, plain = with_values(demo.with_runner(name), HIDDEN), demo.with_runner(name)
        observed = figures(true, name, "torque")
        air = figures(true, name, "air_flow") * np.mean(GAINS**2)
        ratio = j1349(name)
        table[name] = {
            "observed": observed, "corrected": observed * ratio, "correction": ratio,
            "half": student.ppf(0.975, 2) * 0.002 / 3**0.5 * observed * ratio,
            "predicted": figures(plain, name, "torque") * ratio,
            "ve": air / (VOLUME * SPEEDS / 120.0 * density(name)),
            "ve_predicted": figures(plain, name, "ve_delivered"),
            "tuned": figures(true, name, "torque") * ratio,
            "ve_tuned": figures(true, name, "ve_delivered"),
        }  # fmt: skip
    return table


def test_tables_written(ran, due):
    rows = rows_of(ran.out / "pull.csv")
    data = xr.load_dataset(ran.out / "pull.nc")
    assert data.attrs == {"title": "Mountain-rescue 2.5-litre four (invented)",
                          "standard": "SAE J1349"}  # fmt: skip
    points = [(name, k) for name in AIR for k in range(SPEEDS.size)]
    for row, (name, k) in zip(rows, points, strict=True):
        d, omega = due[name], SPEEDS[k] * np.pi / 30.0
        expected = {
            "rpm [rev/min]": SPEEDS[k], "torque observed [N m]": d["observed"][k],
            "torque corrected [N m]": d["corrected"][k], "half-width [N m]": d["half"][k],
            "torque predicted, corrected [N m]": d["predicted"][k],
            "correction [1]": d["correction"],
            "ve measured [1]": d["ve"][k], "ve predicted [1]": d["ve_predicted"][k],
            "power corrected [W]": d["corrected"][k] * omega,
            "power predicted, corrected [W]": d["predicted"][k] * omega,
            "air-fuel ratio [1]": AFR[name].mean(), "pressure [Pa]": AIR[name][0],
            "temperature [K]": AIR[name][1], "humidity [1]": AIR[name][2],
        }  # fmt: skip
        assert list(row) == ["runner", *expected]
        assert row["runner"] == name
        assert max(significant(v) for k, v in row.items() if k != "runner") <= 8
        for heading, value in expected.items():
            assert float(row[heading]) == pytest.approx(value, rel=1e-3), heading
            title, unit = heading.rstrip("]").split(" [")
            key = title.replace(", ", "_").replace(" ", "_").replace("-", "_")
            if key == "rpm":
                continue
            there = data[key].sel(runner=name, rpm=SPEEDS[k])
            assert float(there) == pytest.approx(float(row[heading]), rel=1e-7)
            assert there.attrs == {"units": unit, "long_name": title}
    assert (ran.out / "pull.txt").read_text().startswith(ran.said.split("\n\nwritten to")[0])


def test_pull_drawn(ran):
    top, middle, low, below = ran.pictures["pull.png"].axes
    rows = rows_of(ran.out / "pull.csv")
    table = {name: {h: np.array([float(r[h]) for r in rows if r["runner"] == name])
                    for h in rows[0] if h != "runner"} for name in AIR}  # fmt: skip
    for name in AIR:
        t = table[name]
        for panel, measured, predicted, unit in (
            (top, "ve measured", "ve predicted", "1"),
            (middle, "torque corrected", "torque predicted, corrected", "N m"),
        ):
            marks = next(c for c in panel.containers if c.get_label() == f"{name}, measured")
            assert marks[0].get_ydata() == pytest.approx(t[f"{measured} [{unit}]"], rel=1e-6)
            assert bool(marks.has_yerr) == (panel is middle)
            y = lines_of(panel)[f"{name}, predicted"][1]
            assert y == pytest.approx(t[f"{predicted} [{unit}]"], rel=1e-6)
        bars = next(c for c in middle.containers if c.get_label() == f"{name}, measured")[2][0]
        heights = [s[1, 1] - s[0, 1] for s in bars.get_segments()]
        assert heights == pytest.approx(2.0 * t["half-width [N m]"], rel=1e-6)
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
    assert below.get_xlabel() == "engine speed, rev/min"
    assert not low.get_xlabel()
    for panel in (low, below):  # the zero line
        assert any(list(m.get_ydata()) == [0.0, 0.0] for m in panel.lines)
    grey = [p for p in below.patches if p.get_width() == 250.0]
    assert [p.get_x() for p in grey] == list(SPEEDS - 125.0)
    assert (
        "Grey: more than the manifold differed." in ran.pictures["pull.png"]._supxlabel.get_text()
    )

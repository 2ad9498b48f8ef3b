"""What the engine file says about pulls where the data cannot, and columns that stand in."""

import re

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, left_aligned, right_aligned, rows_of

import aircolumn
from aircolumn.dyno.calibration import with_values

SPEEDS = np.arange(2000.0, 4501.0, 250.0)


GAINS = np.array([0.998, 1.0, 1.002])  # of the pulls: standard deviation 0.2 %


HIDDEN = {"discharge": 0.95, "fmep": 0.12e5, "cam": 2.0}


AIR = {"long": (98.0e3, 301.15, 0.35), "short": (98.3e3, 302.15, 0.35)}  # Pa, K, share


AFR = {"long": 13.0 + 0.02 * np.arange(3), "short": 13.3 + 0.02 * np.arange(3)}


SPARK = {"long": 24.0 + 0.1 * np.arange(3), "short": 24.5 + 0.1 * np.arange(3)}


RATE = {"long": (299.0, 300.0, 301.0), "short": (299.0, 300.0, 301.0)}  # rpm/s


VAPOUR = {301.15: 3782.0, 302.15: 4008.0}  # saturation, Pa (IAPWS: 28 and 29 degC)


def dry(name):
    p, t, h = AIR[name]
    return p - h * VAPOUR[t]


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


def section(ran, start):
    """The printed report from the line that begins with ``start``."""
    return ran.said[re.search(f"^{re.escape(start)}", ran.said, re.MULTILINE).start() :]


def test_single_pulls_say_that_nothing_is_proved(demo, tmp_path):
    paths = []
    for name in ("long", "short"):
        path = write(tmp_path, demo, name, drop=("oil [degC]", "humidity [%]"))
        lines = path.read_text().splitlines(keepends=True)
        path.write_text("".join(lines[: 2 + SPEEDS.size]))
        paths.append(f"{name}={path}")
    with made_up.in_place():
        ran = command("pull", DEMO, *paths, out=tmp_path / "o")
    words = " ".join(ran.said.split())
    assert "Not logged, so not known to be alike: oil." in words
    assert "No pull was repeated: readings are taken as they stand" in words
    assert "Torque corrected to SAE J1349; one pull, so no interval." in words
    assert "drifts" not in words
    assert "which may mean nothing: no repeats" in words or "but not comparable" in words
    assert "humidity is neither logged nor stated: intake.ambient is taken" in words
    _, rows = right_aligned(section(ran, "long, measured and predicted"), "rpm")
    assert {row[2] for row in rows} == {"-"}
    table = left_aligned(section(ran, "Like for like?"), "channel")
    assert ["oil", "8 K", "", "", "not logged"] in table


def with_notes(folder, notes):
    path = folder / "engine.yaml"
    path.write_text(f"{DEMO.read_text()}\npull: {notes}\n")
    return path


def test_air_stated_in_the_engine_file(demo, tmp_path):
    data = write(
        tmp_path, demo, "long", drop=("inlet air [degC]", "barometer [kPa]", "humidity [%]")
    )
    engine = with_notes(tmp_path, "{barometer: 98 kPa, inlet_air: 28 degC, humidity: 35 %}")
    with made_up.in_place():
        command("pull", engine, f"long={data}", out=tmp_path / "o")
    (row, *_) = rows_of(tmp_path / "o" / "pull.csv")
    found = [
        float(row[h])
        for h in ("pressure [Pa]", "temperature [K]", "humidity [1]", "correction [1]")
    ]
    assert found == pytest.approx([98e3, 301.15, 0.35, j1349("long")], rel=2e-4)


def test_lambda_alone_is_an_air_fuel_ratio(demo, tmp_path):
    from aircolumn.dyno.measured_curve import stoichiometric_of

    path = write(tmp_path, demo, "long")
    stoichiometric = stoichiometric_of(demo.engine)
    assert 14.0 < stoichiometric < 15.0
    lines = path.read_text().replace(",AFR,", ",lambda,").splitlines()
    cells = [line.split(",") for line in lines]
    for row in cells[2:]:
        row[5] = f"{float(row[5]) / stoichiometric:.12g}"
    path.write_text("\n".join(map(",".join, cells)) + "\n")
    with made_up.in_place():
        command("pull", DEMO, f"long={path}", out=tmp_path / "o")
    (row, *_) = rows_of(tmp_path / "o" / "pull.csv")
    assert float(row["air-fuel ratio [1]"]) == pytest.approx(13.02, rel=1e-9)


@pytest.mark.parametrize("fuel", ["gasoline", "e85"])
def test_a_gauge_that_shows_lambda_times_a_ratio(demo, tmp_path, fuel):
    """13.02 on a gauge that has 14.7 at lambda 1 is lambda 0.886 of any fuel; not stated, the
    column is kilograms, and for a fuel far from 14.7 the report asks."""
    from aircolumn.dyno.measured_curve import stoichiometric_of

    path = write(tmp_path, demo, "long")
    text = DEMO.read_text().replace("fuel: gasoline", f"fuel: {fuel}")
    stated = "pull: {columns: {air_fuel_ratio: {name: AFR, at_lambda_one: 14.7}}}\n"
    said = {}
    for name, more in (("plain", ""), ("stated", stated)):
        (tmp_path / f"{name}.yaml").write_text(text + more)
        with made_up.in_place():
            ran = command("pull", tmp_path / f"{name}.yaml", f"long={path}", out=tmp_path / name)
        (row, *_) = rows_of(tmp_path / name / "pull.csv")
        said[name] = float(row["air-fuel ratio [1]"]), ran.said
    own = stoichiometric_of(aircolumn.load(tmp_path / "stated.yaml").engine)
    assert said["plain"][0] == pytest.approx(13.02, rel=1e-9)
    assert said["stated"][0] == pytest.approx(13.02 * own / 14.7, rel=1e-7)
    assert f"14.7 on the gauge is lambda 1, which is {own:.2f} of this fuel" in said["stated"][1]
    asked = "if the gauge shows lambda times a fixed ratio" in " ".join(said["plain"][1].split())
    assert asked == (fuel == "e85")


def test_torque_from_power(demo, files, tmp_path):
    """P = T omega; 1 kW = 1000 W."""
    lines = files["long"].read_text().replace("torque [N m]", "power [kW]").splitlines()
    cells = [line.split(",") for line in lines]
    for row in cells[2:-1]:
        row[3] = f"{float(row[3]) * float(row[2]) * np.pi / 30.0 * 1e-3:.12g}"
    path = tmp_path / "power.csv"
    path.write_text("\n".join(map(",".join, cells)) + "\n")
    with made_up.in_place():
        for name, data in (("one", path), ("other", files["long"])):
            ran = command("pull", DEMO, f"long={data}", out=tmp_path / name)
            assert ("- torque from power and speed" in ran.said) == (name == "one")
    one, other = (rows_of(tmp_path / n / "pull.csv") for n in ("one", "other"))
    for a, b in zip(one, other, strict=True):
        assert float(a["torque observed [N m]"]) == pytest.approx(
            float(b["torque observed [N m]"]), rel=1e-9
        )


def test_stated_and_wanted_standards_and_missing_prediction(demo, files, tmp_path):
    engine = with_notes(tmp_path, "{stated: j607}")
    with made_up.in_place(missing=(3000.0,)):
        ran = command("pull", engine, f"long={files['long']}", "--standard", "iso1585",
                      out=tmp_path / "o")  # fmt: skip
    assert ran.code == 1
    assert "torque stated as corrected to SAE J607" in ran.said
    assert "Torque corrected to ISO 1585, spark ignition" in " ".join(ran.said.split())
    assert "  no prediction at 3000 rpm: at 3000 rpm made up to fail" in ran.said
    t, pd = AIR["long"][1], dry("long")
    j607 = 29.92 * 3386.389 / pd * ((1.8 * (t - 273.15) + 492.0) / 520.0) ** 0.5
    iso = (99e3 / pd) ** 1.2 * ((t - 0.15) / 298.0) ** 0.6
    true = figures(with_values(demo.with_runner("long"), HIDDEN), "long", "torque")
    for row, written in zip(rows_of(tmp_path / "o" / "pull.csv"), true, strict=True):
        assert float(row["torque observed [N m]"]) == pytest.approx(written / j607, rel=2e-4)
        assert float(row["torque corrected [N m]"]) == pytest.approx(written / j607 * iso, rel=2e-4)
        assert float(row["correction [1]"]) == pytest.approx(iso, rel=2e-4)
        assert (row["torque predicted, corrected [N m]"] == "") == (row["rpm [rev/min]"] == "3000")


def test_many_omissions_are_cut_short_on_the_screen(demo, tmp_path):
    path = write(tmp_path, demo, "long")
    path.write_text(path.read_text() + "3,1,2\n" * 15)
    with made_up.in_place():
        ran = command("pull", DEMO, f"long={path}", out=tmp_path / "o")
    assert "left out: 16 rows, 0 single cells" in ran.said
    assert "  and 4 more, all in omitted.csv" in ran.said
    assert len([x for x in ran.said.splitlines() if x.startswith("  line ")]) == 12
    assert len(rows_of(tmp_path / "o" / "omitted.csv")) == 16

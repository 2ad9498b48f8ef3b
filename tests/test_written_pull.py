"""What pull prints, from made-up pulls of the made-up engine: three pulls of each manifold that
differ by a known share, with hidden values that the fit must find."""

import re

import numpy as np
import pytest
from scipy.stats import t as student
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, digits, left_aligned, right_aligned, rows_of

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


def section(ran, start):
    """The printed report from the line that begins with ``start``."""
    return ran.said[re.search(f"^{re.escape(start)}", ran.said, re.MULTILINE).start() :]


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


def near(cells, values, within):
    """Printed numbers and their hand calculation, to the last digit printed."""
    assert [float(c) for c in cells] == pytest.approx(list(values), abs=within)


def test_columns_found_and_rows_left_out(ran, files):
    for name, path in files.items():
        text = section(ran, f"{name}: {path}, torque stated as observed")
        table = left_aligned(text, "channel")
        assert table == [
            ["channel", "column", "unit", "found"],
            ["pull", "pull", "-", "guessed"], ["time", "time [s]", "s", "guessed"],
            ["rpm", "rpm", "rpm", "guessed"], ["torque", "torque [N m]", "N*m", "guessed"],
            ["air_flow", "air flow [kg/h]", "kg/h", "guessed"],
            ["air_fuel_ratio", "AFR", "-", "guessed"], ["spark", "spark [deg]", "deg", "guessed"],
            ["coolant", "coolant [degC]", "degC", "guessed"],
            ["oil", "oil [degC]", "degC", "guessed"],
            ["inlet_air", "inlet air [degC]", "degC", "guessed"],
            ["barometer", "barometer [kPa]", "kPa", "guessed"],
            ["humidity", "humidity [%]", "%", "guessed"],
        ]  # fmt: skip
        block = text.split("\n\n")[0]
        assert "not used: gear" in block
        assert "- 3 pulls (by the pull column), from lines 3, 14, 25" in block
        assert "left out: 1 rows, 0 single cells\n  line 36: no sound torque in it" in block
    rows = rows_of(ran.out / "omitted.csv")
    assert rows == [{"runner": n, "line": "36", "what": "row", "reason": "no sound torque in it"}
                    for n in AIR]  # fmt: skip


@pytest.mark.parametrize("name", AIR)
def test_measured_and_predicted(ran, due, name):
    text = section(ran, f"{name}, measured and predicted")
    headings, rows = right_aligned(text, "rpm")
    assert headings == ["rpm", "torque N m", "+-", "predicted", "off %", "VE %", "predicted",
                        "off %", "correction"]  # fmt: skip
    d = due[name]
    columns = list(zip(*rows, strict=True))
    off, ve_off = d["predicted"] / d["corrected"] - 1.0, d["ve_predicted"] / d["ve"] - 1.0
    for cells, values, within in zip(
        columns,
        (SPEEDS, d["corrected"], d["half"], d["predicted"], 100 * off, 100 * d["ve"],
         100 * d["ve_predicted"], 100 * ve_off, np.full(SPEEDS.size, d["correction"])),
        (0.0, 0.07, 0.051, 0.07, 0.06, 0.09, 0.06, 0.1, 2e-4), strict=True,
    ):  # fmt: skip
        near(cells, values, within)
    assert [{digits(c) for c in cells} for cells in columns] == [{0}, *[{1}] * 7, {4}]
    assert all(c[0] in "+-" for cells in (columns[4], columns[7]) for c in cells)
    words = " ".join(text.split("\n\n")[0].split())
    assert "Torque corrected to SAE J1349; +-: 95 % interval of the mean of 3 pulls." in words
    assert "VE from air flow, delivered air over swept volume" in words
    told = re.search(
        r"torque (\S+) % on average, (\S+) % scatter, VE (\S+) % on average, (\S+) % scatter", words
    )
    near(told.groups(), 100 * np.array([off.mean(), off.std(), ve_off.mean(), ve_off.std()]), 0.06)
    assert [digits(c) for c in told.groups()] == [1, 1, 1, 1]


def mean_over(values, start=2500.0, stop=4000.0):
    part = values[(start <= SPEEDS) & (stop >= SPEEDS)]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / (len(part) - 1)


def test_range_figures(ran, due):
    text = section(ran, "From 2500 to 4000 rpm; the sweep at 300 rpm/s")
    headings, *rows = [
        re.split(r"\s{2,}", x.strip()) for x in text.splitlines()[1:7] if x[0] != "-"
    ]
    assert headings == ["runner", "mean torque N m", "mean power kW", "work of a sweep kJ"]
    omega = SPEEDS * np.pi / 30.0
    expected = [
        (n, kind, due[n][key])
        for n in AIR
        for kind, key in (("measured", "corrected"), ("predicted", "predicted"))
    ]
    for (name, kind, *cells), (runner, what, torque) in zip(rows, expected, strict=True):
        assert (name, kind) == (runner, what)
        power = mean_over(torque * omega)
        near(cells, [mean_over(torque), 1e-3 * power, 1e-3 * power * 1500.0 / 300.0], 0.08)
        assert [digits(c) for c in cells] == [1, 2, 1]


def test_hidden_values_are_found_and_printed(ran, due):
    lines = section(ran, "Calibration on long").splitlines()
    assert lines[1].split() == ["unknown", "meaning", "value", "+-", "unit"]
    rows = {name: rest for name, *rest in (re.split(r"\s{2,}", x.strip()) for x in lines[2:5])}
    assert list(rows) == ["discharge", "fmep", "cam"]
    for name, scale, within in (("discharge", 1.0, 2e-3), ("fmep", 1e-5, 6e-3), ("cam", 1.0, 0.06)):
        _, value, wide, unit, judgement = rows[name]
        assert float(value) == pytest.approx(scale * HIDDEN[name], abs=within)
        assert float(wide) > 0.0
        assert [len(x.partition(".")[2]) for x in (value, wide)] == [3, 3]
        assert unit == {"discharge": "-", "fmep": "bar", "cam": "deg"}[name]
        assert judgement == "plausible"
    text = section(ran, "Calibration on long")
    for name, role in (("long", "fitted"), ("short", "not fitted, a test")):
        told = re.search(
            rf"{name} \({role}\), root mean square off:"
            r" torque (\S+) -> (\S+) %, VE (\S+) -> (\S+) %",
            text,
        )
        d = due[name]
        pairs = (("predicted", "corrected"), ("tuned", "corrected"), ("ve_predicted", "ve"),
                 ("ve_tuned", "ve"))  # fmt: skip
        near(
            told.groups(), [100 * np.sqrt(np.mean((d[p] / d[m] - 1) ** 2)) for p, m in pairs], 0.12
        )


def test_progress_is_told(demo, files):
    """Two curves of eleven speeds, one after the other."""
    import aircolumn

    seen = []
    with made_up.in_place():
        aircolumn.measure(demo, files, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(k, None) for k in range(1, 23)]

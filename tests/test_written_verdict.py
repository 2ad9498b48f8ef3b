"""Like for like, differences of torque and who wins, as pull prints them."""

import re

import numpy as np
import pytest
from scipy.stats import t as student
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, digits, left_aligned, right_aligned, significant

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


def mean_over(values, start=2500.0, stop=4000.0):
    part = values[(start <= SPEEDS) & (stop >= SPEEDS)]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / (len(part) - 1)


def test_checks(ran):
    """d +- t s sqrt(2/3), t at 4 degrees of freedom (docstring of dyno/like_for_like.py)."""
    table = left_aligned(section(ran, "Like for like? long against short"), "channel")
    assert table[0] == ["channel", "band", "largest difference", "+-", "verdict"]
    wide = student.ppf(0.975, 4) * (2.0 / 3.0) ** 0.5
    expected = {
        "air-fuel ratio": ("0.1", -0.3, wide * 0.02, "differs"),
        "spark": ("0.5 deg", -0.5, wide * 0.1, "unproven"),
        "coolant": ("5 K", 0.0, wide, "alike"), "oil": ("8 K", 0.0, 3 * wide, "alike"),
        "inlet air": ("3 K", -1.0, 0.0, "alike"), "barometer": ("1 kPa", -0.3, 0.0, "alike"),
        "sweep rate": ("10 %", 0.0, 100 * wide / 300.0, "alike"),
    }  # fmt: skip
    assert [row[0] for row in table[1:]] == list(expected)
    for title, band, difference, doubt, verdict in table[1:]:
        due = expected[title]
        assert (band, verdict) == (due[0], due[3])
        assert float(difference) == pytest.approx(due[1], abs=0.0051)
        assert float(doubt) == pytest.approx(due[2], rel=0.04, abs=1e-3)
        assert digits(difference) == 2
        assert significant(doubt) <= 2
    words = " ".join(section(ran, "More than the manifold changed").split("\n\n")[0].split())
    assert words == (
        "More than the manifold changed: air-fuel ratio; no speed can be compared. Not proven"
        " alike: spark: repeat the pulls to know. Torque repeats within 0.20 % (standard"
        " deviation between pulls, 4 degrees of freedom); a difference must exceed the figure in"
        " the table to mean anything at 95 % confidence. Torque drifts by +0.20 % a pull;"
        " the figure allows for it. Pulls in the order A B A would show it better."
    )


def test_difference_of_torque(ran, due):
    """t s sqrt(2/3) of the mean level, and the drift between the middles of the sets: 3 pulls."""
    text = section(ran, "Torque of long less short, N m")
    _, rows = right_aligned(text, "rpm")
    a, b = due["long"], due["short"]
    level = 0.5 * (a["corrected"] + b["corrected"])
    share = student.ppf(0.975, 4) * 0.002 * (2.0 / 3.0) ** 0.5 + 3 * 0.002
    columns = list(zip(*rows, strict=True))
    for cells, values in zip(
        columns,
        (SPEEDS, a["corrected"] - b["corrected"], share * level, a["predicted"] - b["predicted"]),
        strict=True,
    ):
        near(cells, values, 0.09)
    assert [{digits(c) for c in cells} for cells in columns] == [{0}, {1}, {1}, {1}]
    lines = text.splitlines()
    assert (
        sum(line.endswith("not comparable") for line in lines[3 : 3 + SPEEDS.size]) == SPEEDS.size
    )
    assert "  2000 to 4500 rpm: not comparable" in lines
    gain = mean_over(a["corrected"] - b["corrected"])
    told = next(x for x in lines if x.startswith("Mean torque from 2500 to 4000 rpm"))
    head, tail = (
        "Mean torque from 2500 to 4000 rpm: long less short ",
        (" N m, but not comparable all over it"),
    )
    assert told.startswith(head)
    assert told.endswith(tail)
    assert float(told[len(head) : -len(tail)]) == pytest.approx(gain, abs=0.09)


def test_who_wins_where_nothing_else_changed(demo, files, tmp_path, monkeypatch):
    monkeypatch.setitem(AFR, "short", AFR["long"])
    monkeypatch.setitem(SPARK, "short", SPARK["long"])
    short = write(tmp_path, demo, "short")
    with made_up.in_place():
        ran = command("pull", DEMO, f"short={short}", f"long={files['long']}", out=tmp_path / "o")
    text = section(ran, "Torque of short less long, N m")
    rows = right_aligned(text, "rpm")[1][: SPEEDS.size]
    measured, least = (np.array([float(r[k]) for r in rows]) for k in (1, 2))
    assert "No channel is shown to differ by more than its band." in ran.said
    labels = ["no difference shown" if abs(m) <= u else
              "short has more torque" if m > 0 else "long has more torque"
              for m, u in zip(measured, least, strict=True)]  # fmt: skip
    assert set(labels) >= {"short has more torque", "long has more torque"}
    expected, start = [], 0
    for k in range(1, len(labels) + 1):
        if k == len(labels) or labels[k] != labels[start]:
            a, b = SPEEDS[start], SPEEDS[k - 1]
            span = f"{a:.0f} rpm" if a == b else f"{a:.0f} to {b:.0f} rpm"
            expected.append(f"  {span}: {labels[start]}")
            start = k
    lines = text.splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith("  2000"))
    assert lines[at : at + len(expected)] == expected
    gain, most = mean_over(measured), mean_over(least)
    last = lines[at + len(expected)]
    told = re.fullmatch(
        r"Mean torque from 2500 to 4000 rpm: short less long (\S+) N m, must exceed (\S+): (.*)",
        last,
    )
    near(told.groups()[:2], [gain, most], 0.06)
    assert told[3] == "long wins"

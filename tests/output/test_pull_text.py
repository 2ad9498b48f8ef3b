"""What pull prints, from made-up pulls of the made-up engine: three pulls of each manifold that
differ by a known share, with hidden values that the fit must find."""

import re

import numpy as np
import pytest
from tests import made_up
from tests.made_up_pulls import AIR, HIDDEN, SPEEDS, near, section
from tests.printed import digits, left_aligned, right_aligned, rows_of


def test_columns_found_and_rows_left_out(pulled, pull_files):
    for name, path in pull_files.items():
        stated = "torque is taken as observed: nothing in the log speaks of a correction."
        assert f"{name}: {stated}" in pulled.said.splitlines()[:2]
        text = section(pulled, f"{name}: read from {path}\n")
        table = left_aligned(text, "channel")
        assert table == [
            ["channel", "column", "unit", "found"],
            ["pull", "pull", "-", "guessed"],
            ["time", "time [s]", "s", "guessed"],
            ["rpm", "rpm", "rpm", "guessed"],
            ["torque", "torque [N m]", "N*m", "guessed"],
            ["air_flow", "air flow [kg/h]", "kg/h", "guessed"],
            ["air_fuel_ratio", "AFR", "-", "guessed"],
            ["spark", "spark [deg]", "deg", "guessed"],
            ["coolant", "coolant [degC]", "degC", "guessed"],
            ["oil", "oil [degC]", "degC", "guessed"],
            ["inlet_air", "inlet air [degC]", "degC", "guessed"],
            ["barometer", "barometer [kPa]", "kPa", "guessed"],
            ["humidity", "humidity [%]", "%", "guessed"],
        ]
        block = text.split("\n\n")[0]
        assert "not used: gear" in block
        assert "- 3 pulls (by the pull column), from lines 3, 14, 25" in block
        assert "left out: 1 row, 0 single cells\n  line 36: no valid torque in it" in block
    rows = rows_of(pulled.out / "omitted.csv")
    assert rows == [
        {"runner": n, "from line": "36", "to line": "36", "what": "row", "reason": "no valid torque in it"}
        for n in AIR
    ]


@pytest.mark.parametrize("name", AIR)
def test_measured_and_predicted(pulled, pull_due, name):
    text = section(pulled, f"{name}, measured and predicted")
    headings, rows = right_aligned(text, "rpm")
    assert headings == [
        "rpm",
        "torque N m",
        "+-",
        "predicted",
        "off %",
        "VE %",
        "predicted",
        "off %",
        "correction",
    ]
    d = pull_due[name]
    columns = list(zip(*rows, strict=True))
    off, ve_off = d["predicted"] / d["corrected"] - 1.0, d["ve_predicted"] / d["ve"] - 1.0
    for cells, values, within in zip(
        columns,
        (
            SPEEDS,
            d["corrected"],
            d["half"],
            d["predicted"],
            100 * off,
            100 * d["ve"],
            100 * d["ve_predicted"],
            100 * ve_off,
            np.full(SPEEDS.size, d["correction"]),
        ),
        (0.0, 0.07, 0.051, 0.07, 0.06, 0.09, 0.06, 0.1, 2e-4),
        strict=True,
    ):
        near(cells, values, within)
    assert [{digits(c) for c in cells} for cells in columns] == [{0}, *[{1}] * 7, {4}]
    assert all(c[0] in "+-" for cells in (columns[4], columns[7]) for c in cells)
    words = " ".join(text.split("\n\n")[0].split())
    assert "Torque corrected to SAE J1349; +-: 95 % interval of the mean of 3 pulls." in words
    assert "VE from air flow, delivered air over swept volume" in words
    told = re.search(
        r"torque (\S+) % on average \(scatter (\S+) %\), VE (\S+) % on average \(scatter (\S+) %\)", words
    )
    near(told.groups(), 100 * np.array([off.mean(), off.std(), ve_off.mean(), ve_off.std()]), 0.06)
    assert [digits(c) for c in told.groups()] == [1, 1, 1, 1]


def mean_over(values, start=2500.0, stop=4000.0):
    part = values[(start <= SPEEDS) & (stop >= SPEEDS)]
    return (part.sum() - 0.5 * (part[0] + part[-1])) / (len(part) - 1)


def test_range_figures(pulled, pull_due):
    text = section(pulled, "From 2500 to 4000 rpm; the sweep at 300 rpm/s")
    headings, *rows = [re.split(r"\s{2,}", x.strip()) for x in text.splitlines()[1:7] if x[0] != "-"]
    assert headings == ["runner", "mean torque N m", "mean power kW", "work of a sweep kJ"]
    omega = SPEEDS * np.pi / 30.0
    expected = [
        (n, kind, pull_due[n][key])
        for n in AIR
        for kind, key in (("measured", "corrected"), ("predicted", "predicted"))
    ]
    for (name, kind, *cells), (runner, what, torque) in zip(rows, expected, strict=True):
        assert (name, kind) == (runner, what)
        power = mean_over(torque * omega)
        near(cells, [mean_over(torque), 1e-3 * power, 1e-3 * power * 1500.0 / 300.0], 0.08)
        assert [digits(c) for c in cells] == [1, 2, 1]


def test_hidden_values_are_found_and_printed(pulled, pull_due):
    lines = section(pulled, "Calibration on long").splitlines()
    assert lines[1].split() == ["unknown", "meaning", "value", "+-", "unit"]
    rows = {name: rest for name, *rest in (re.split(r"\s{2,}", x.strip()) for x in lines[2:5])}
    assert list(rows) == ["discharge", "fmep", "cam"]
    for name, scale, within in (("discharge", 1.0, 2e-3), ("fmep", 1e-5, 6e-3), ("cam", 1.0, 0.06)):
        _, value, wide, unit, judgement = rows[name]
        assert float(value) == pytest.approx(scale * HIDDEN[name], abs=within)
        assert float(wide) > 0.0
        assert [len(x.partition(".")[2]) for x in (value, wide)] == [3, 3]
        assert unit == {"discharge": "-", "fmep": "bar", "cam": "deg"}[name]
        settled = abs(float(value) - (name == "discharge")) > float(wide) or name == "cam"
        assert judgement.startswith("plausible" if settled else "not determined: "), name
    text = section(pulled, "Calibration on long")
    for name, role in (("long", "fitted"), ("short", "not fitted, a test")):
        told = re.search(
            rf"{name} \({role}\), root mean square off:"
            r" torque (\S+) -> (\S+) %, VE (\S+) -> (\S+) %",
            text,
        )
        d = pull_due[name]
        pairs = (
            ("predicted", "corrected"),
            ("tuned", "corrected"),
            ("ve_predicted", "ve"),
            ("ve_tuned", "ve"),
        )
        near(told.groups(), [100 * np.sqrt(np.mean((d[p] / d[m] - 1) ** 2)) for p, m in pairs], 0.12)


def test_progress_is_told(demo, pull_files):
    """Two curves of eleven speeds, one after the other."""
    import aircolumn

    seen = []
    with made_up.in_place():
        aircolumn.measure(demo, pull_files, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(k, None) for k in range(1, 23)]

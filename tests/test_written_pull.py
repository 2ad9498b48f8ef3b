"""What pull prints, writes and draws, from made-up pulls of the made-up engine: three pulls of each
manifold that differ by a known share, with hidden values that the fit must find. Every figure has
its hand calculation here."""

import re

import numpy as np
import pytest
import xarray as xr
from scipy.stats import t as student
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, left_aligned, lines_of, right_aligned, rows_of

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


# --- what was read


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


# --- the overlay


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
    words = " ".join(text.split("\n\n")[0].split())
    assert "Torque corrected to SAE J1349; +-: 95 % interval of the mean of 3 pulls." in words
    assert "VE from air flow, delivered air over swept volume" in words
    told = re.search(
        r"torque (\S+) % on average, (\S+) % scatter, VE (\S+) % on average, (\S+) % scatter", words
    )
    near(told.groups(), 100 * np.array([off.mean(), off.std(), ve_off.mean(), ve_off.std()]), 0.06)


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


# --- like for like


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


# --- calibration


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


# --- files and pictures


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


# --- what the file cannot say, and the engine file can


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

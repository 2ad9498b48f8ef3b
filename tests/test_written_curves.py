"""What curve, compare, map, account and check print, write and draw is what was computed: every
column, every row. The engine is made up (made_up.py), so that all of it is known beforehand."""

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.printed import command, lines_of, right_aligned, rows_of, spaced, texts_of

import aircolumn
from aircolumn.engine.piping import intake_piping

SPEEDS = np.arange(1500.0, 6001.0, 500.0)
RUNNERS = {"short": 0.29, "middle": 0.43, "long": 0.65}  # m
#: heading: (figure, factor from SI, digits)
COLUMNS = {
    "VE %": ("ve", 100.0, 1), "torque N m": ("torque", 1.0, 1), "power kW": ("power", 1e-3, 1),
    "corrected N m": ("torque_corrected", 1.0, 1), "corrected kW": ("power_corrected", 1e-3, 1),
    "BMEP bar": ("bmep", 1e-5, 2), "IMEP bar": ("imep", 1e-5, 2), "PMEP bar": ("pmep", 1e-5, 2),
    "FMEP bar": ("fmep", 1e-5, 2), "residual %": ("residual", 100.0, 1),
    "deliv. VE %": ("ve_delivered", 100.0, 1), "plenum kPa": ("plenum_pressure", 1e-3, 1),
    "BSFC g/kWh": ("bsfc", 1e3 * 3.6e6, 0), "p max bar": ("peak_pressure", 1e-5, 1),
    "cycles": ("cycles", 1.0, 0),
}  # fmt: skip
UNITS = {
    "ve": "1", "ve_delivered": "1", "ve_plenum": "1", "ve_spread": "1", "torque": "N m",
    "power": "W", "bmep": "Pa", "imep": "Pa", "pmep": "Pa", "fmep": "Pa", "residual": "1",
    "short_circuit": "1", "peak_pressure": "Pa", "air_flow": "kg/s", "fuel_flow": "kg/s",
    "bsfc": "kg/J", "charge_temperature": "K", "ca50": "deg", "plenum_pressure": "Pa",
    "wall_heat": "J", "cycles": "1", "cylinders_computed": "1", "alternation": "1",
    "mass_error": "1", "energy_error": "1", "periodicity": "1",
}  # fmt: skip
# SAE J607 at 99 kPa, 25 degC, 40 % (water's vapour pressure at 25 degC 3169.8 Pa, IAPWS).
J607 = 29.92 * 3386.389 / (99e3 - 0.4 * 3169.8) * (537.0 / 520.0) ** 0.5


@pytest.fixture(scope="module")
def due(demo):
    """{runner: [figures at each speed]} of the demo, with the corrected ones."""
    table = {}
    for name in RUNNERS:
        points = [made_up.point(demo.with_runner(name), n).figures for n in SPEEDS]
        table[name] = [p | {f"{k}_corrected": J607 * p[k] for k in ("torque", "power")}
                       for p in points]  # fmt: skip
    return table


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """Every command once."""
    folder = tmp_path_factory.mktemp("written")
    commands = {
        "curve": ("curve", DEMO, "--runner", "long", "--standard", "j607", "--verbose"),
        "compare": ("compare", DEMO, "--standard", "j607", "--verbose", "--uncertainty"),
        "manifold": ("compare", ROOT / "configs" / "rescue-four-manifold.yaml", "--rpm", "3000",
                     "4500"),
        "map": ("map", CLASSROOM, "--from", "200 mm", "--to", "800 mm", "--steps", "4"),
        "bore": ("map", CLASSROOM, "--vary", "bore", "--from", "36 mm", "--to", "44 mm",
                 "--steps", "3"),
        "account": ("account", DEMO, "--runner", "short", "--rpm", "2000", "3500", "5000"),
    }  # fmt: skip
    with made_up.in_place():
        found = {name: command(*c, out=folder / name) for name, c in commands.items()}
    assert not any(r.code for r in found.values()), [r.complaints for r in found.values()]
    return found


def netcdf(ran, name):
    (path,) = ran[name].out.glob("*.nc")
    return xr.load_dataset(path)


# --- curves and comparisons


def test_curve_table(ran, due):
    headings, rows = right_aligned(ran["curve"].said, "rpm")
    assert headings == ["rpm", *COLUMNS]
    data = netcdf(ran, "curve").sel(runner="long")
    corrected = ("torque_corrected", "power_corrected")
    for row, rpm, figures in zip(rows, SPEEDS, due["long"], strict=True):
        figures = figures | {n: float(data[n].sel(rpm=rpm)) for n in corrected}
        cells = [
            f"{factor * figures[name]:.{digits}f}" for name, factor, digits in COLUMNS.values()
        ]
        assert row == [f"{rpm:.0f}", *cells]
    head, _, factor = ran["curve"].said.splitlines()[0].rpartition(" x ")
    assert head == "SAE J607: observed"
    assert float(factor) == pytest.approx(J607, rel=2e-5)


@pytest.mark.parametrize(("name", "runners"), [("curve", ["long"]), ("compare", list(RUNNERS))])
def test_files_of_curves(ran, due, name, runners):
    data = netcdf(ran, name)
    assert list(data.runner.values) == runners
    assert list(data.rpm.values) == list(SPEEDS)
    rows = rows_of(ran[name].out / f"{name}.csv")
    points = [(r, n, f) for r in runners for n, f in zip(SPEEDS, due[r], strict=True)]
    columns = UNITS | {"torque_corrected": "N m", "power_corrected": "W"}
    for row, (runner, rpm, figures) in zip(rows, points, strict=True):
        assert (row["runner"], float(row["rpm [rev/min]"])) == (runner, rpm)
        there = data.sel(runner=runner, rpm=rpm)
        for figure, unit in columns.items():
            corrected = 2e-5 if figure.endswith("corrected") else 1e-12  # vapour from memory
            assert float(there[figure]) == pytest.approx(figures[figure], rel=corrected)
            assert data[figure].attrs["units"] == unit
            assert float(row[f"{figure} [{unit}]"]) == pytest.approx(float(there[figure]), rel=1e-9)
        assert float(there.ve_cylinder.squeeze()) == figures["ve"]
    assert data.torque_corrected.attrs["long_name"] == "brake torque of the engine at SAE J607"
    assert data.attrs["title"] == "Mountain-rescue 2.5-litre four (invented)"
    assert data.attrs["ambient_pressure_Pa"] == 99e3
    assert data.attrs["ambient_temperature_K"] == pytest.approx(298.15)
    assert data.attrs["relative_humidity"] == pytest.approx(0.4)
    assert data.attrs["model"].startswith("one cylinder computed")
    if name == "compare":
        index = 1.25 * 0.5e-3 / (1.0 - 0.5) / 1.001  # first order: see uncertainty.py
        assert data.ve_uncertainty.values == pytest.approx(np.hypot(index, 5e-4), rel=1e-6)
        stated = [float(r["ve_uncertainty [1]"]) for r in rows]
        assert stated == pytest.approx(data.ve_uncertainty.values.ravel(), rel=1e-9)
        assert "numerical uncertainty of VE: at most 0.13 %" in ran["compare"].said


def test_compare_table(ran, due):
    headings, rows = right_aligned(ran["compare"].said, "rpm")
    assert headings == ["rpm", *(f"{r} VE %" for r in RUNNERS), *(f"{r} N m" for r in RUNNERS)]
    for k, row in enumerate(rows):
        cells = [f"{SPEEDS[k]:.0f}"]
        for figure, factor in (("ve", 100.0), ("torque", 1.0)):
            values = [factor * due[r][k][figure] for r in RUNNERS]
            cells += [f"{v:.1f}{'*' if v == max(values) else ''}" for v in values]
        assert row == cells
    assert len(rows) == len(SPEEDS)


def crossing(first, second):
    """Speeds where one straight-line curve passes another, by hand."""
    gap = np.subtract(first, second)
    return [SPEEDS[k] + 500.0 * gap[k] / (gap[k] - gap[k + 1])
            for k in range(len(gap) - 1) if gap[k] * gap[k + 1] < 0.0]  # fmt: skip


def test_verdict(ran, due):
    said = ran["compare"].said.splitlines()
    torque = {r: [f["torque"] for f in due[r]] for r in RUNNERS}
    means = {}
    for r in RUNNERS:
        ve = [f["ve"] for f in due[r]]
        best = (f"peak VE {100 * max(ve):.1f} % at {SPEEDS[np.argmax(ve)]:.0f} rpm, peak torque"
                f" {max(torque[r]):.1f} N m at {SPEEDS[np.argmax(torque[r])]:.0f} rpm")  # fmt: skip
        assert f"{r}: {best}" in said
        part = torque[r][2:6]  # 2500 to 4000 rpm
        means[r] = (0.5 * part[0] + part[1] + part[2] + 0.5 * part[3]) / 3.0
    crossed = [line for line in said if "crosses at" in line]
    due_lines = [
        f"torque of {a} and {b} crosses at {at:.0f} rpm"
        for a, b in (("short", "middle"), ("short", "long"), ("middle", "long"))
        for at in crossing(torque[a], torque[b])
    ]
    assert crossed == due_lines
    assert len(crossed) == 3
    listed = ", ".join(f"{r} {m:.1f}" for r, m in means.items())
    best = max(means, key=means.get)
    assert best == "middle"  # neither the first nor the last
    assert f"mean torque from 2500 to 4000 rpm, N m: {listed}; {best} fills this range best" in said


@pytest.mark.parametrize("name", ["curve", "compare"])
def test_ledgers(ran, name):
    data = netcdf(ran, name)
    said = ran[name].said.splitlines()
    runners = list(RUNNERS) if name == "compare" else ["long"]
    for r in runners:
        at = f"{r} at " if name == "compare" else ""
        for rpm in SPEEDS:
            top = said.index(f"{at}{rpm:.0f} rpm, over the cycles accounted for:")
            one = data.sel(runner=r, rpm=rpm)
            expected = []
            for side, unit, factor in (("mass", "mg", 1e6), ("energy", "J", 1.0)):
                values = factor * one[f"{side}_ledger"].values
                names = one[f"{side}_entry"].values
                expected += [[side, str(n), f"{v:.4f}", unit]
                             for n, v in zip(names, values, strict=True)]  # fmt: skip
                expected.append([side, "does not close by", f"{sum(values):.2e}", unit])
            lines = said[top + 1 : top + 1 + len(expected)]
            assert [[x[2:8].strip(), x[9:49].strip(), *x[49:].split()] for x in lines] == expected
    point = made_up.point(aircolumn.load(DEMO).with_runner("long"), 3000.0)
    one = data.sel(runner="long", rpm=3000.0)
    assert (
        dict(zip(one.mass_entry.values, one.mass_ledger.values, strict=True)) == point.ledger.mass
    )
    assert list(one.energy_ledger.values) == list(point.ledger.energy.values())
    assert data.mass_ledger.attrs["units"] == "kg"
    assert data.energy_ledger.attrs["units"] == "J"


def test_manifold_table_and_files(ran):
    description = aircolumn.load(ROOT / "configs" / "rescue-four-manifold.yaml")
    data = netcdf(ran, "manifold")
    headings, rows = right_aligned(ran["manifold"].said, "runner")
    assert headings == ["runner", "rpm", "cyl. 1", "cyl. 2", "cyl. 3", "cyl. 4", "spread %"]
    written = rows_of(ran["manifold"].out / "compare.csv")
    expected = [(r, n) for r in ("equal", "unequal") for n in (3000.0, 4500.0)]
    for (r, rpm), row, line in zip(expected, rows, written, strict=True):
        point = made_up.point(description.with_runner(r), rpm)
        cells = [f"{100 * v:.1f}" for v in point.ve_cylinder]
        assert row == [r, f"{rpm:.0f}", *cells, f"{100 * point.figures['ve_spread']:.1f}"]
        each = data.ve_cylinder.sel(runner=r, rpm=rpm).values
        assert list(each) == list(point.ve_cylinder)
        assert [float(line[f"ve of cylinder {k} [1]"]) for k in (1, 2, 3, 4)] == pytest.approx(
            each, rel=1e-9
        )
    assert data.attrs["model"] == "whole manifold, every cylinder computed"


def test_two_cylinders_are_two(tmp_path):
    """A twin fired unevenly: both cylinders in table, files and picture."""
    text = DEMO.read_text()
    order, uneven = "firing_order: [1, 3, 4, 2]", "firing_angles: [0 deg, 270 deg]"
    for old, new in (("cylinders: 4", "cylinders: 2"), (order, uneven)):
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "twin.yaml").write_text(text)
    with made_up.in_place():
        ran = command("curve", tmp_path / "twin.yaml", "--rpm", "3000", out=tmp_path / "o")
    engine = aircolumn.load(tmp_path / "twin.yaml").engine
    each = made_up.point(engine, 3000.0).ve_cylinder
    (row,) = rows_of(tmp_path / "o" / "curve.csv")
    found = [float(row[f"ve of cylinder {k} [1]"]) for k in (1, 2)]
    assert found == pytest.approx(each, rel=1e-9)
    _, rows = right_aligned(ran.said, "runner")
    assert rows[0][2:] == [f"{100 * each[0]:.1f}", f"{100 * each[1]:.1f}", "1.0"]
    panel = ran.pictures["curve-cylinders.png"].axes[0]
    assert [list(y) for _, y in lines_of(panel).values()] == [[each[0]], [each[1]]]


# --- the map


@pytest.mark.parametrize(("name", "key"), [("map", "length"), ("bore", "bore")])
def test_map_table_and_files(ran, name, key):
    """Ridge by the parabola through the highest point, rules by their closed forms."""
    engine = aircolumn.load(CLASSROOM).engine
    data = netcdf(ran, name)
    sizes = np.linspace(0.2, 0.8, 4) if key == "length" else np.linspace(0.036, 0.044, 3)
    headings, rows = right_aligned(ran[name].said, "runner")
    assert headings == [f"runner {key} mm", "hump at rpm", "K that fits", "neck and volume off %",
                        "nearest order", "quarter wave off %"]  # fmt: skip
    written = rows_of(ran[name].out / "map.csv")
    swept = np.pi / 4 * 0.086**2 * 0.086
    assert data[key].values == pytest.approx(sizes)
    assert data[key].attrs["units"] == "m"
    found = 0
    for i, (size, row, line) in enumerate(zip(sizes, rows, written, strict=True)):
        changed = engine.intake.runner.changed(**(
            {"length": size} if key == "length" else
            {"bore": engine.intake.runner.bore.changed(start=size, end=size)}))  # fmt: skip
        ve = [made_up.point(engine.with_intake(runner=changed), n).figures["ve"] for n in SPEEDS]
        assert data.ve.values[i] == pytest.approx(ve, rel=1e-9)
        assert [float(line[f"VE at {n:.0f} rpm"]) for n in SPEEDS] == pytest.approx(ve, rel=1e-7)
        assert float(line[f"{key} [m]"]) == pytest.approx(size)
        length = float(data.acoustic_length[i])
        sound = np.sqrt(1.4 * 287.0 * 293.15)
        area = 1.0 / intake_piping(
            engine.with_intake(runner=changed, port=engine.intake.port.changed(
                bore=engine.intake.port.bore.changed(start=None)))
        ).shape.inertance()  # fmt: skip
        neck = {k: 60 * 2**0.5 / (2 * np.pi * k) * sound * (area / swept) ** 0.5 * 0.8**0.5
                for k in (2.0, 2.5)}  # fmt: skip
        wave = {q: 30.0 * sound / (length * q) for q in (2, 3, 4, 5)}
        for k, speed in neck.items():
            assert float(line[f"neck and volume K {k:g} [rev/min]"]) == pytest.approx(
                speed, rel=3e-3
            )
            assert float(data.neck_and_volume.sel(k=k)[i]) == pytest.approx(speed, rel=3e-3)
        for q, speed in wave.items():
            assert float(line[f"quarter wave order {q} [rev/min]"]) == pytest.approx(
                speed, rel=3e-3
            )
        top = int(np.argmax(ve))
        if top in (0, len(SPEEDS) - 1):
            assert row[1:] == ["outside", "", "", "", ""]
            assert line["ridge [rev/min]"] == ""
            continue
        found += 1
        a, b, c = ve[top - 1 : top + 2]
        ridge = SPEEDS[top] + 250.0 * (a - c) / (a - 2.0 * b + c)
        assert float(line["ridge [rev/min]"]) == pytest.approx(ridge, rel=1e-6)
        exact = {k: float(data.neck_and_volume.sel(k=k)[i]) for k in neck}
        low, high = min(exact.values()), max(exact.values())
        off = low / ridge - 1 if ridge < low else high / ridge - 1 if ridge > high else 0.0
        waves = {q: float(data.quarter_wave.sel(order=q)[i]) / ridge - 1 for q in wave}
        nearest = min(waves, key=lambda q: abs(waves[q]))
        assert row == [
            f"{1e3 * size:.0f}",
            f"{ridge:.0f}",
            f"{2.0 * exact[2.0] / ridge:.2f}",
            f"{100 * off:+.0f}",
            str(nearest),
            f"{100 * waves[nearest]:+.0f}",
        ]
    assert found >= 2


def test_hump_outside_the_map_is_said():
    from aircolumn.report.tables import map_table
    from aircolumn.tuning.tuning_map import tuning_map

    with made_up.in_place():
        data = tuning_map(aircolumn.load(CLASSROOM).engine, [0.2, 0.4], [1500.0, 2000.0, 2500.0])
    _, rows = right_aligned(map_table(data), "runner")
    assert rows == [["200", "outside", "", "", "", ""], ["400", "outside", "", "", "", ""]]


# --- the account

#: entry: what the made-up engine loses to it (made_up.TAKEN)
ENTRIES = {
    "heating in runner and port": ("runner heat", "port heat"),
    "heating in the cylinder": ("cylinder heat",),
    "fuel vapour and its cooling": ("vapour",),
    "backflow through the intake valve": ("reverse",),
    "throttle, plenum, mouth and pipe losses": (
        "mouth", "runner friction", "port friction", "throttle", "plenum",
    ),
    "intake valve losses": ("discharge",),
    "waves and back pressure in the exhaust": ("exhaust", "back pressure"),
}  # fmt: skip
# Cooling helps; so does the made-up plenum, by its 6 litres.
GIVEN = {"fuel vapour and its cooling": 1.001 * 0.9,
         "throttle, plenum, mouth and pipe losses": 0.3}  # fmt: skip


def test_account_table_and_files(ran, demo):
    """Each entry is what the made-up engine loses to the things it removes, and nothing else."""
    engine = demo.with_runner("short")
    speeds = [2000.0, 3500.0, 5000.0]
    data = netcdf(ran, "account")
    headings, *rows = spaced(ran["account"].said, "points of VE at rpm")
    assert headings == ["points of VE at rpm", "2000", "3500", "5000"]
    said = {row[0]: row[1:] for row in rows}
    written = {row["points of VE"]: row for row in rows_of(ran["account"].out / "account.csv")}
    loss = made_up.taken(engine)
    for k, rpm in enumerate(speeds):
        ve = made_up.point(engine, rpm).figures["ve"]
        assert said["full at ambient density"][k] == "100.0"
        assert said["VE, %"][k] == f"{100 * ve:.1f}"
        assert float(written["VE"][f"{rpm:.0f} rpm"]) == pytest.approx(100 * ve, rel=1e-9)
        assert float(data.ve[k]) == ve
        for entry in data.entry.values:
            value = 100 * float(data.account.sel(entry=entry)[k])
            assert said[str(entry)][k] == f"{value:+.1f}"
            assert float(written[str(entry)][f"{rpm:.0f} rpm"]) == pytest.approx(value, rel=1e-5)
            if entry in ENTRIES:
                taken = 1.001 * sum(loss[n] for n in ENTRIES[entry])
                given = GIVEN.get(entry, 0.0)
                assert value == pytest.approx(given - taken, abs=2e-3), entry
    assert list(said) == ["full at ambient density", *map(str, data.entry.values), "VE, %"]
    assert data.attrs["title"] == "Mountain-rescue 2.5-litre four (invented)"
    assert data.attrs["method"].startswith("the operating point is computed again with one effect")


# --- pictures


def test_curves_drawn(ran, due):
    fig = ran["compare"].pictures["compare.png"]
    for panel, figure in zip(fig.axes, ("ve", "torque"), strict=True):
        lines = lines_of(panel)
        assert len(lines) == len(RUNNERS)
        for (label, (x, y)), r in zip(lines.items(), RUNNERS, strict=True):
            values = [f[figure] for f in due[r]]
            assert list(x) == list(SPEEDS)
            assert list(y) == values
            part = values[2:6]
            mean = (0.5 * part[0] + part[1] + part[2] + 0.5 * part[3]) / 3.0
            shown = f"{100 * mean:.1f} %" if figure == "ve" else f"{mean:.1f} N m"
            assert label == f"{r} (mean {shown})"
            top = f"{100 * max(values):.1f} %" if figure == "ve" else f"{max(values):.0f} N m"
            assert top in texts_of(panel)
            ring = next(m for m in panel.lines if m.get_markersize() == 12
                        and m.get_ydata()[0] == max(values))  # fmt: skip
            assert ring.get_xdata()[0] == SPEEDS[np.argmax(values)]
        span = panel.patches[0]
        assert (span.get_x(), span.get_width()) == (2500.0, 1500.0)
    torque = {r: [f["torque"] for f in due[r]] for r in RUNNERS}
    at = crossing(torque["short"], torque["long"])[0]
    assert f"{at:.0f}" in texts_of(fig.axes[1])
    dotted = [m.get_xdata()[0] for m in fig.axes[1].lines if list(m.get_ydata()) == [0, 1]]
    assert any(x == pytest.approx(at) for x in dotted)
    assert "range of interest, 2500 to 4000 rev/min" in fig._supxlabel.get_text()
    assert ran["compare"].pictures["compare.svg"] is fig


def test_cylinders_drawn(ran):
    data = netcdf(ran, "manifold")
    fig = ran["manifold"].pictures["compare-cylinders.png"]
    for panel, r in zip(fig.axes, ("equal", "unequal"), strict=True):
        assert panel.get_ylabel().startswith(r)
        for k in (1, 2, 3, 4):
            x, y = lines_of(panel)[str(k)]
            assert list(x) == [3000.0, 4500.0]
            assert list(y) == list(data.ve_cylinder.sel(runner=r, cylinder=k).values)


@pytest.mark.parametrize(("name", "key"), [("map", "length"), ("bore", "bore")])
def test_map_drawn(ran, name, key):
    data = netcdf(ran, name)
    fig = ran[name].pictures["map.png"]
    panel, bar = fig.axes
    lines, size = lines_of(panel), 1e3 * data[key].values
    for label, due in (
        (f"highest VE at this {key}", data.ridge.values),
        ("neck and volume, K = 2", data.neck_and_volume.sel(k=2.0).values),
        ("neck and volume, K = 2.5", data.neck_and_volume.sel(k=2.5).values),
        ("quarter wave, by order", data.quarter_wave.sel(order=2).values),
    ):
        x, y = lines[label]
        np.testing.assert_array_equal(x, due)
        assert list(y) == list(size)
    for text in panel.texts:
        if text.get_text() in "2345":  # which order a dotted line is
            assert 1500.0 < text.xy[0] < 6000.0
    filled = panel.collections[0]
    low, high = (100 * f(data.ve.values) for f in (np.min, np.max))
    assert filled.zmin == pytest.approx(low)
    assert filled.zmax == pytest.approx(high)
    assert panel.get_xlim() == (1500.0, 6000.0)
    assert panel.get_ylim() == (size[0], size[-1])
    assert (panel.get_xlabel(), panel.get_ylabel()) == (
        "engine speed, rev/min",
        f"runner {key}, mm",
    )
    assert bar.get_ylabel() == "volumetric efficiency, % (ambient reference)"


def test_account_drawn(ran):
    data = netcdf(ran, "account")
    top, below = ran["account"].pictures["account.png"].axes
    lines = lines_of(top)
    assert list(lines) == list(data.entry.values)
    for entry, (x, y) in lines.items():
        assert list(x) == [2000.0, 3500.0, 5000.0]
        assert y == pytest.approx(100 * data.account.sel(entry=entry).values)
    assert list(below.lines[0].get_ydata()) == list(data.ve.values)


def test_every_picture_has_its_title_and_the_caution(ran):
    for name, r in ran.items():
        for fig in r.pictures.values():
            title = "Classroom 500 cc single" if name in ("map", "bore") else "Mountain-rescue"
            assert title in fig.axes[0].get_title()
            assert "A prediction is not a clearance to run." in fig._supxlabel.get_text()


def test_a_gap_far_from_the_hump_leaves_the_ridge():
    from aircolumn.tuning.tuning_map import tuning_map

    engine, speeds = aircolumn.load(CLASSROOM).engine, [2500.0, 3000.0, 3500.0, 4000.0, 6000.0]
    with made_up.in_place():
        whole = tuning_map(engine, [0.4, 0.45], speeds)
    with made_up.in_place(missing=(6000.0,)):
        gap = tuning_map(engine, [0.4, 0.45], speeds)
    assert np.isfinite(whole.ridge).all()
    assert np.array_equal(gap.ridge, whole.ridge)
    with made_up.in_place(missing=(3500.0,)):
        assert np.isnan(tuning_map(engine, [0.4, 0.45], speeds).ridge).all()


# --- gaps


@pytest.fixture(scope="module")
def gaps(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gaps")
    rpm = ("--rpm", "2500", "3000", "3500", "4000")
    with made_up.in_place(missing=(3000.0,)):
        options = {"curve": (), "compare": (), "map": ("--steps", "3"), "account": ()}
        return {n: command(n, DEMO, *rpm, *more, out=folder / n) for n, more in options.items()}


WHY = "at 3000 rpm made up to fail"


def test_gaps_are_gaps_everywhere(gaps):
    for name, names in (("curve", ["runner"]), ("compare", list(RUNNERS)), ("account", [""]),
                        ("map", ["200 mm", "550 mm", "900 mm"])):  # fmt: skip
        ran = gaps[name]
        assert ran.code == 1
        lines = [f"  {n + ', ' if n else ''}3000 rpm: {WHY}" for n in names]
        assert "\n".join(["Not computed (-):", *lines]) in ran.said
        total = {"curve": 4, "compare": 12, "account": 4, "map": 12}[name]
        assert f"{len(names)} of {total} points; the others are written" in ran.complaints
    rows = rows_of(gaps["curve"].out / "curve.csv")
    assert [r["failure"] for r in rows] == ["", WHY, "", ""]
    assert [bool(r["torque [N m]"]) for r in rows] == [True, False, True, True]
    _, table = right_aligned(gaps["compare"].said, "rpm")
    assert table[1] == ["3000", *["-"] * 6]
    assert all("-" not in cell for row in table[:1] + table[2:] for cell in row)
    said = gaps["compare"].said
    assert "mean torque from 2500 to 4000 rpm, N m: short not known, middle not known" in said
    fig = gaps["compare"].pictures["compare.png"]
    assert list(lines_of(fig.axes[0])) == [f"{r} (mean not known)" for r in RUNNERS]
    crosses = [m for m in fig.axes[0].lines if m.get_marker() == "x"]
    assert [list(m.get_xdata()) for m in crosses] == [[3000.0]] * 3
    assert "Crosses: speeds that could not be computed." in fig._supxlabel.get_text()
    assert "Blank: could not be computed." in gaps["map"].pictures["map.png"]._supxlabel.get_text()

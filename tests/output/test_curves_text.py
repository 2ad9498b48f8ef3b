"""What curve and compare print and write is what was computed: every column, every row. The engine
is made up (made_up.py), so that all of it is known beforehand."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.made_up_curves import J607, RUNNERS, SPEEDS, netcdf
from tests.printed import command, lines_of, right_aligned, rows_of, significant

import aircolumn

#: heading: (figure, factor from SI, digits)
COLUMNS = {
    "VE %": ("ve", 100.0, 1),
    "torque N m": ("torque", 1.0, 1),
    "power kW": ("power", 1e-3, 1),
    "corrected N m": ("torque_corrected", 1.0, 1),
    "corrected kW": ("power_corrected", 1e-3, 1),
    "BMEP bar": ("bmep", 1e-5, 2),
    "IMEP bar": ("imep", 1e-5, 2),
    "PMEP bar": ("pmep", 1e-5, 2),
    "FMEP bar": ("fmep", 1e-5, 2),
    "residual %": ("residual", 100.0, 1),
    "VE delivered %": ("ve_delivered", 100.0, 1),
    "plenum kPa": ("plenum_pressure", 1e-3, 1),
    "BSFC g/kWh": ("bsfc", 1e3 * 3.6e6, 0),
    "peak pressure bar": ("peak_pressure", 1e-5, 2),
    "cycles": ("cycles", 1.0, 0),
}


UNITS = {
    "ve": "1",
    "ve_delivered": "1",
    "ve_plenum": "1",
    "ve_spread": "1",
    "torque": "N m",
    "power": "W",
    "bmep": "Pa",
    "imep": "Pa",
    "pmep": "Pa",
    "fmep": "Pa",
    "residual": "1",
    "lost_in_overlap": "1",
    "blow_by": "1",
    "peak_pressure": "Pa",
    "air_flow": "kg/s",
    "fuel_flow": "kg/s",
    "bsfc": "kg/J",
    "charge_temperature": "K",
    "ca50": "deg",
    "inlet_mach": "1",
    "plenum_pressure": "Pa",
    "plenum_temperature": "K",
    "wall_heat": "J",
    "cycles": "1",
    "cylinders_computed": "1",
    "alternation": "1",
    "mass_error": "1",
    "energy_error": "1",
    "periodicity": "1",
}
#: what CSV files show in place of SI: (unit, factor, what is added)
SHOWN = {
    **dict.fromkeys(
        ("ve", "ve_delivered", "ve_plenum", "ve_spread", "residual", "lost_in_overlap", "blow_by"),
        ("%", 100.0, 0.0),
    ),
    **dict.fromkeys(("bmep", "imep", "pmep", "fmep", "peak_pressure"), ("bar", 1e-5, 0.0)),
    **dict.fromkeys(("air_flow", "fuel_flow"), ("g/s", 1e3, 0.0)),
    **dict.fromkeys(("power", "power_corrected"), ("kW", 1e-3, 0.0)),
    "bsfc": ("g/kWh", 3.6e9, 0.0),
    "charge_temperature": ("degC", 1.0, -273.15),
    "plenum_pressure": ("kPa", 1e-3, 0.0),
    "plenum_temperature": ("degC", 1.0, -273.15),
}


def in_csv(row, figure, si):
    """A figure of a CSV row, back in its SI unit."""
    if si == "1" and figure not in SHOWN:
        return float(row[figure])
    unit, factor, added = SHOWN.get(figure, (si, 1.0, 0.0))
    return (float(row[f"{figure} [{unit}]"]) - added) / factor


def test_curve_table(written, curves_due):
    headings, rows = right_aligned(written["curve"].said, "rpm")
    assert headings == ["rpm", *COLUMNS]
    data = netcdf(written, "curve").sel(runner="long")
    corrected = ("torque_corrected", "power_corrected")
    for row, rpm, figures in zip(rows, SPEEDS, curves_due["long"], strict=True):
        figures = figures | {n: float(data[n].sel(rpm=rpm)) for n in corrected}
        cells = [f"{factor * figures[name]:.{digits}f}" for name, factor, digits in COLUMNS.values()]
        assert row == [f"{rpm:.0f}", *cells]
    head, _, factor = written["curve"].said.splitlines()[0].rpartition(" x ")
    assert head == "torque and power at SAE J607: observed"
    assert float(factor) == pytest.approx(J607, rel=2e-5)


@pytest.mark.parametrize(("name", "runners"), [("curve", ["long"]), ("compare", list(RUNNERS))])
def test_files_of_curves(written, curves_due, name, runners):
    data = netcdf(written, name)
    assert list(data.runner.values) == runners
    assert list(data.rpm.values) == list(SPEEDS)
    (table,) = (p for p in written[name].out.glob("*.csv") if "switchable" not in p.name)
    rows = rows_of(table)
    points = [(r, n, f) for r in runners for n, f in zip(SPEEDS, curves_due[r], strict=True)]
    columns = UNITS | {"torque_corrected": "N m", "power_corrected": "W"}
    for row, (runner, rpm, figures) in zip(rows, points, strict=True):
        assert (row["runner"], float(row["rpm"])) == (runner, rpm)
        there = data.sel(runner=runner, rpm=rpm)
        for figure, unit in columns.items():
            corrected = 2e-5 if figure.endswith("corrected") else 1e-12  # vapour from memory
            assert float(there[figure]) == pytest.approx(figures[figure], rel=corrected)
            assert data[figure].attrs["units"] == unit
            stated = in_csv(row, figure, unit)
            assert stated == pytest.approx(float(there[figure]), rel=1e-9, abs=1e-14)
        assert max(significant(v) for k, v in row.items() if k != "runner") <= 10
        assert float(there.ve_cylinder.squeeze()) == figures["ve"]
        assert data.ve_cylinder.attrs["units"] == "1"
    assert data.torque_corrected.attrs["long_name"] == "brake torque of the engine at SAE J607"
    assert data.attrs["title"] == "Mountain-rescue 2.5-litre four (invented)"
    assert data.attrs["ambient_pressure_Pa"] == 99e3
    assert data.attrs["ambient_temperature_K"] == pytest.approx(298.15)
    assert data.attrs["relative_humidity"] == pytest.approx(0.4)
    assert data.attrs["model"].startswith("one cylinder computed")
    if name == "compare":
        index = 1.25 * 0.5e-3 / (1.0 - 0.5) / 1.001  # first order: see uncertainty.py
        assert data.ve_uncertainty.values == pytest.approx(np.hypot(index, 5e-4), rel=1e-6)
        stated = [float(r["ve_uncertainty [%]"]) / 100.0 for r in rows]
        assert stated == pytest.approx(data.ve_uncertainty.values.ravel(), rel=1e-9)
        assert "numerical uncertainty of VE: at most 0.13 %" in written["compare"].said


def test_compare_table(written):
    """As corrected; the best is marked where it leads by more than half a per cent."""
    headings, rows = right_aligned(written["compare"].said, "rpm")
    assert headings == ["rpm", *(f"{r} {u}" for u in ("VE %", "N m", "kW") for r in RUNNERS)]
    stars, data = 0, netcdf(written, "compare")  # the files are tested below
    for k, row in enumerate(rows):
        cells = [f"{SPEEDS[k]:.0f}"]
        for figure, factor in (("ve", 100.0), ("torque_corrected", 1.0), ("power_corrected", 1e-3)):
            values = list(factor * data[figure].isel(rpm=k).values)
            second, first = sorted(values)[-2:]
            leads = first > 1.005 * second
            stars += leads
            cells += [f"{v:.1f}{'*' if leads and v == first else ''}" for v in values]
        assert row == cells
    assert len(rows) == len(SPEEDS)
    assert stars > 0


def crossing(first, second):
    """Speeds where one straight-line curve passes another, by hand."""
    gap = np.subtract(first, second)
    return [
        SPEEDS[k] + 500.0 * gap[k] / (gap[k] - gap[k + 1])
        for k in range(len(gap) - 1)
        if gap[k] * gap[k + 1] < 0.0
    ]


def test_verdict(written, curves_due):
    said = written["compare"].said.splitlines()
    torque = {r: [f["torque_corrected"] for f in curves_due[r]] for r in RUNNERS}
    means = {}
    for r in RUNNERS:
        ve = [f["ve"] for f in curves_due[r]]
        power = [1e-3 * f["power_corrected"] for f in curves_due[r]]
        tops = []
        for word, values, unit in (
            ("peak VE", np.multiply(100.0, ve), "%"),
            ("torque", torque[r], "N m"),
            ("power", power, "kW"),
        ):
            at = SPEEDS[np.argmax(values)]
            end = f" (the top lies between {at - 500:.0f} and {at + 500:.0f} rpm)"
            if at in (SPEEDS[0], SPEEDS[-1]):
                end = " (where the range ends)"
            tops.append(f"{word} {max(values):.1f} {unit} at {at:.0f} rpm{end}")
        best = ", ".join(tops)
        assert f"{r}: {best}" in said
        part = torque[r][2:6]  # 2500 to 4000 rpm
        means[r] = (0.5 * part[0] + part[1] + part[2] + 0.5 * part[3]) / 3.0
    crossed = [line for line in said if " cross " in line]
    due_lines = [
        f"the torque curves of {a} and {b} cross "
        + " and ".join(
            f"between {500 * (at // 500):.0f} and {500 * (at // 500 + 1):.0f} rpm"
            for at in crossing(torque[a], torque[b])
        )
        for a, b in (("short", "middle"), ("short", "long"), ("middle", "long"))
    ]
    assert crossed == due_lines
    assert len(crossed) == 3
    listed = ", ".join(f"{r} {m:.1f}" for r, m in means.items())
    best = max(means, key=means.get)
    assert best == "middle"  # neither the first nor the last
    assert (
        f"mean torque from 2500 to 4000 rpm, N m: {listed}; {best} makes the most (from speeds"
        in " ".join(said)
    )


@pytest.mark.parametrize("name", ["curve", "compare"])
def test_ledgers(written, name):
    data = netcdf(written, name)
    said = written[name].said.splitlines()
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
                expected += [[side, str(n), f"{v:.4f}", unit] for n, v in zip(names, values, strict=True)]
                expected.append([side, "does not close by", f"{sum(values):.2e}", unit])
            lines = said[top + 1 : top + 1 + len(expected)]
            assert [[x[2:8].strip(), x[9:49].strip(), *x[49:].split()] for x in lines] == expected
    point = made_up.point(aircolumn.load(DEMO).with_runner("long"), 3000.0)
    one = data.sel(runner="long", rpm=3000.0)
    assert dict(zip(one.mass_entry.values, one.mass_ledger.values, strict=True)) == point.ledger.mass
    assert list(one.energy_ledger.values) == list(point.ledger.energy.values())
    assert data.mass_ledger.attrs["units"] == "kg"
    assert data.energy_ledger.attrs["units"] == "J"


def test_manifold_table_and_files(written):
    description = aircolumn.load(ROOT / "configs" / "rescue-four-manifold.yaml")
    data = netcdf(written, "manifold")
    headings, rows = right_aligned(written["manifold"].said, "runner")
    assert headings == ["runner", "rpm", "cyl. 1", "cyl. 2", "cyl. 3", "cyl. 4", "spread %"]
    written = rows_of(written["manifold"].out / "compare.csv")
    expected = [(r, n) for r in ("equal", "unequal") for n in (3000.0, 4500.0)]
    for (r, rpm), row, line in zip(expected, rows, written, strict=True):
        point = made_up.point(description.with_runner(r), rpm)
        cells = [f"{100 * v:.1f}" for v in point.ve_cylinder]
        assert row == [r, f"{rpm:.0f}", *cells, f"{100 * point.figures['ve_spread']:.1f}"]
        each = data.ve_cylinder.sel(runner=r, rpm=rpm).values
        assert list(each) == list(point.ve_cylinder)
        stated = [float(line[f"ve of cylinder {k} [%]"]) for k in (1, 2, 3, 4)]
        assert stated == pytest.approx(100.0 * each, rel=1e-9)
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
    found = [float(row[f"ve of cylinder {k} [%]"]) / 100.0 for k in (1, 2)]
    assert found == pytest.approx(each, rel=1e-9)
    _, rows = right_aligned(ran.said, "runner")
    assert rows[0][2:] == [f"{100 * each[0]:.1f}", f"{100 * each[1]:.1f}", "1.0"]
    panel = ran.pictures["curve-cylinders.png"].axes[0]
    assert [list(y) for _, y in lines_of(panel).values()] == [[100.0 * each[0]], [100.0 * each[1]]]


def test_progress_is_told_after_every_point(demo):
    seen = []
    with made_up.in_place(missing=(3000.0,)):
        aircolumn.compare(demo, [2500.0, 3000.0], lambda done, total: seen.append((done, total)))
    assert seen == [(k, 6) for k in range(1, 7)]

"""What map and account print, write and draw is what was computed."""

import re

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import CLASSROOM
from tests.made_up_curves import SPEEDS, netcdf
from tests.printed import lines_of, marked, right_aligned, rows_of, spaced

import aircolumn
from aircolumn.engine.model.piping import intake_piping


@pytest.mark.parametrize(("name", "key"), [("map", "length"), ("bore", "bore")])
def test_map_table_and_files(written, name, key):
    """Ridge by the parabola through the highest point, rules by their closed forms."""
    engine = aircolumn.load(CLASSROOM).engine
    data = netcdf(written, name)
    sizes = np.linspace(0.2, 0.8, 4) if key == "length" else np.linspace(0.036, 0.044, 3)
    headings, rows = right_aligned(written[name].said, "runner")
    assert headings[:3] == [f"runner {key} mm", "hump at rpm", "Helmholtz K"]
    order = int(re.fullmatch(r"quarter wave, order (\d), off %", headings[3])[1])
    errors = {q: [] for q in (2, 3, 4, 5)}
    stem = "map" if key == "length" else "map-bore"
    written = rows_of(written[name].out / f"{stem}.csv")
    swept = np.pi / 4 * 0.086**2 * 0.086
    assert data[key].values == pytest.approx(sizes)
    assert data[key].attrs["units"] == "m"
    found = 0
    for i, (size, row, line) in enumerate(zip(sizes, rows, written, strict=True)):
        changed = engine.intake.runner.changed(
            **(
                {"length": size}
                if key == "length"
                else {"bore": engine.intake.runner.bore.changed(start=size, end=size)}
            )
        )
        ve = [made_up.point(engine.with_intake(runner=changed), n).figures["ve"] for n in SPEEDS]
        assert data.ve.values[i] == pytest.approx(ve, rel=1e-9)
        assert [float(line[f"ve at {n:.0f} rpm [%]"]) for n in SPEEDS] == pytest.approx(
            np.multiply(100.0, ve), rel=1e-7
        )
        assert float(line[f"{key} [mm]"]) == pytest.approx(1e3 * size)
        length = float(data.acoustic_length[i])
        sound = np.sqrt(1.4 * 287.0 * 293.15)
        area = (
            1.0
            / intake_piping(
                engine.with_intake(
                    runner=changed,
                    port=engine.intake.port.changed(bore=engine.intake.port.bore.changed(start=None)),
                )
            ).shape.inertance()
        )
        neck = {
            k: 60 * 2**0.5 / (2 * np.pi * k) * sound * (area / swept) ** 0.5 * 0.8**0.5 for k in (2.0, 2.5)
        }
        wave = {q: 30.0 * sound / (length * q) for q in (2, 3, 4, 5)}
        for k, speed in neck.items():
            assert float(line[f"Helmholtz (neck and volume) K {k:g} [rpm]"]) == pytest.approx(speed, rel=3e-3)
            assert float(data.neck_and_volume.sel(k=k)[i]) == pytest.approx(speed, rel=3e-3)
        for q, speed in wave.items():
            assert float(line[f"quarter wave order {q} [rpm]"]) == pytest.approx(speed, rel=3e-3)
        top = int(np.argmax(ve))
        if top in (0, len(SPEEDS) - 1):
            assert row[1:] == ["outside", "", ""]
            assert line["ridge [rpm]"] == ""
            continue
        found += 1
        a, b, c = ve[top - 1 : top + 2]
        ridge = SPEEDS[top] + 250.0 * (a - c) / (a - 2.0 * b + c)
        assert float(line["ridge [rpm]"]) == pytest.approx(ridge, rel=1e-6)
        exact = {k: float(data.neck_and_volume.sel(k=k)[i]) for k in neck}
        for q in wave:
            errors[q].append(float(data.quarter_wave.sel(order=q)[i]) / ridge - 1)
        assert row == [
            f"{1e3 * size:.0f}",
            f"{ridge:.0f}",
            f"{2.0 * exact[2.0] / ridge:.2f}",
            f"{100 * errors[order][-1]:+.0f}",
        ]
    assert found >= 2
    assert order == min(errors, key=lambda q: np.mean(np.abs(errors[q])))


def test_hump_outside_the_map_is_said():
    from aircolumn.curves.tuning.tuning_map import tuning_map
    from aircolumn.output.map.text import map_table

    with made_up.in_place():
        data = tuning_map(aircolumn.load(CLASSROOM).engine, [0.2, 0.4], [1500.0, 2000.0, 2500.0])
    _, rows = right_aligned(map_table(data), "runner")
    assert rows == [["200", "outside", "", ""], ["400", "outside", "", ""]]


#: entry: what the made-up engine loses to it (made_up.TAKEN)
ENTRIES = {
    "heating in runner and port": ("runner heat", "port heat"),
    "heating in the cylinder": ("cylinder heat",),
    "fuel vapour and its cooling": ("vapour",),
    "backflow through the intake valve": ("reverse",),
    "throttle, plenum, mouth and pipe losses": (
        "mouth",
        "runner friction",
        "port friction",
        "throttle",
        "plenum",
    ),
    "intake valve losses": ("discharge",),
    "waves and back pressure in the exhaust": ("exhaust", "back pressure"),
}


# Cooling helps; so does the made-up plenum, by its 6 litres.
GIVEN = {"fuel vapour and its cooling": 1.001 * 0.1 * 0.9, "throttle, plenum, mouth and pipe losses": 0.3}


def test_account_table_and_files(written, demo):
    """Each entry is what the made-up engine loses to the things it removes, and nothing else."""
    engine = demo.with_runner("short")
    speeds = [2000.0, 3500.0, 5000.0]
    data = netcdf(written, "account")
    headings, *rows = spaced(written["account"].said, "points of VE at rpm")
    assert headings == ["points of VE at rpm", "2000", "3500", "5000"]
    said = {row[0]: row[1:] for row in rows}
    written = rows_of(written["account"].out / "account-short.csv")
    loss = made_up.taken(engine)
    for k, rpm in enumerate(speeds):
        ve = made_up.point(engine, rpm).figures["ve"]
        assert said["full at ambient density"][k] == "100.0"
        assert said["VE, %"][k] == f"{100 * ve:.1f}"
        assert float(written[k]["rpm"]) == rpm
        assert float(written[k]["ve [%]"]) == pytest.approx(100 * ve, rel=1e-9)
        assert float(data.ve[k]) == ve
        for entry in data.entry.values:
            value = 100 * float(data.account.sel(entry=entry)[k])
            assert said[str(entry)][k] == f"{value:+.1f}"
            stated = float(written[k][f"{entry} [points of VE]"])
            assert stated == pytest.approx(value, rel=1e-5)
            swing = 100 * float(data.swing.sel(entry=entry)[k])
            stated = float(written[k][f"swing of {entry} [points of VE]"])
            assert stated == pytest.approx(swing, rel=1e-5)
            assert abs(swing) < 0.5  # what is made up nearly adds up, whatever goes first
            if entry in ENTRIES:
                taken = 1.001 * sum(loss[n] for n in ENTRIES[entry])
                given = GIVEN.get(entry, 0.0)
                assert value + swing == pytest.approx(given - taken, abs=2e-3), entry
    assert list(said) == ["full at ambient density", *map(str, data.entry.values), "VE, %"]
    assert data.rpm.attrs == {"units": "rev/min", "long_name": "engine speed"}
    assert data.attrs["title"] == "Mountain-rescue 2.5-litre four (invented)"
    assert data.attrs["method"].startswith("the operating point is computed again with one effect")


@pytest.mark.parametrize(("name", "key"), [("map", "length"), ("bore", "bore")])
def test_map_drawn(written, name, key):
    data = netcdf(written, name)
    fig = written[name].pictures["map.png" if key == "length" else "map-bore.png"]
    panel, bar = fig.axes
    lines, size = lines_of(panel), 1e3 * data[key].values
    for label, due in (
        (f"highest VE at this {key}", data.ridge.values),
        ("Helmholtz (neck and volume), K = 2", data.neck_and_volume.sel(k=2.0).values),
        ("Helmholtz (neck and volume), K = 2.5", data.neck_and_volume.sel(k=2.5).values),
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
        "engine speed, rpm",
        f"runner {key}, mm",
    )
    assert bar.get_ylabel() == "volumetric efficiency, % (ambient reference)"


def test_account_drawn(written):
    data = netcdf(written, "account")
    first, *panels = written["account"].pictures["account-short.png"].axes
    assert [p.get_title() for p in panels] == list(data.entry.values)
    for panel, entry in zip(panels, data.entry.values, strict=True):
        x, y = marked(panel.lines[0])
        assert list(x) == [2000.0, 3500.0, 5000.0]
        assert y == pytest.approx(100 * data.account.sel(entry=entry).values)
    assert marked(first.lines[0])[1] == pytest.approx(100 * data.ve.values)


def test_a_hump_beside_the_end_is_inside_the_map():
    """The highest of four speeds is the last but one, or the second."""
    from aircolumn.curves.tuning.tuning_map import tuning_map

    engine = aircolumn.load(CLASSROOM).engine
    for speeds in ([2500.0, 3000.0, 3500.0, 4000.0], [3000.0, 3500.0, 4000.0, 4500.0]):
        with made_up.in_place():
            data = tuning_map(engine, [0.40, 0.41], speeds)
        top = data.ve.argmax("rpm").values
        assert set(top) <= {1, 2}
        assert np.isfinite(data.ridge).all()


@pytest.mark.parametrize(("bore", "fits"), [(0.2, True), (0.201, False), (0.01, True), (0.0099, False)])
def test_limits_of_a_map_over_bore(bore, fits):
    from aircolumn.curves.tuning.tuning_map import tuning_map

    engine = aircolumn.load(CLASSROOM).engine
    with made_up.in_place():
        if fits:
            assert tuning_map(engine, [0.05, bore], SPEEDS, vary="bore").sizes["bore"] == 2
        else:
            with pytest.raises(aircolumn.RequestError, match="10 mm to 200 mm"):
                tuning_map(engine, [0.05, bore], SPEEDS, vary="bore")


def test_a_gap_far_from_the_hump_leaves_the_ridge():
    from aircolumn.curves.tuning.tuning_map import tuning_map

    engine, speeds = aircolumn.load(CLASSROOM).engine, [2500.0, 3000.0, 3500.0, 4000.0, 6000.0]
    with made_up.in_place():
        whole = tuning_map(engine, [0.4, 0.45], speeds)
    with made_up.in_place(missing=(6000.0,)):
        gap = tuning_map(engine, [0.4, 0.45], speeds)
    assert np.isfinite(whole.ridge).all()
    assert np.array_equal(gap.ridge, whole.ridge)
    with made_up.in_place(missing=(3500.0,)):
        assert np.isnan(tuning_map(engine, [0.4, 0.45], speeds).ridge).all()


def test_a_ridge_that_passes_to_another_hump_is_told():
    """By its speed, which moves against the rules; a ridge that moves with them is not."""
    length, rpm = np.array([0.6, 0.7, 0.8, 0.9]), np.array([3000.0, 4000.0])
    speeds = np.sqrt(0.6 / length)
    data = xr.Dataset(
        {
            "ridge": ("length", [3500.0, 3100.0, 3400.0, 3200.0]),
            "neck_and_volume": (("k", "length"), np.array([3600.0 * speeds, 3000.0 * speeds])),
            "quarter_wave": (("order", "length"), [4000.0 * 0.6 / length * 4 / q for q in (2, 3, 4, 5)]),
        },
        coords={"length": length, "rpm": rpm},
        attrs={"vary": "length", "cells": ""},
    )
    said = aircolumn.map_table(data)
    assert said.count("another hump becomes the highest") == 1
    assert "From 700 to 800 mm another hump" in said
    data["ridge"] = ("length", [3500.0, 3300.0, 3100.0, 2900.0])
    assert "another hump" not in aircolumn.map_table(data)

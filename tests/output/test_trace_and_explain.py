"""What trace and explain print, write and draw, from cycles made up wave by wave."""

import re
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.printed import command, lines_of, rows_of, significant, texts_of

from aircolumn.curves.tuning.explain import cause
from aircolumn.curves.tuning.silenced import silent_exhaust, silent_mouth
from aircolumn.curves.tuning.trace import FIELDS, SERIES
from aircolumn.output.explain.sentences import sentences

ANGLE = np.arange(0.0, 720.0, 0.5)


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = tmp_path_factory.mktemp("known")
    with made_up.in_place():
        found = {
            "trace": command("trace", DEMO, "--runner", "long", "--rpm", "2750", out=folder / "t"),
            "explain": command("explain", DEMO, out=folder / "e"),
        }
    assert not any(r.code for r in found.values())
    return found


@pytest.fixture(scope="module")
def cycle(demo):
    return made_up.cycle(demo.with_runner("long"), 2750.0)


def test_trace_files(ran, cycle):
    said = ran["trace"].said
    due = 100 * cycle.attrs["ve"]
    assert said.startswith(f"runner long: VE {due:.1f} % (trapped air, ambient reference) at 2750 rpm")
    data = xr.load_dataset(ran["trace"].out / "trace-long-2750.nc")
    rows = rows_of(ran["trace"].out / "trace-long-2750.csv")
    assert [float(r["angle [deg]"]) for r in rows] == list(cycle.angle.values)
    columns = {}
    for name, (unit, _) in (FIELDS | SERIES).items():
        shown, factor, added = SHOWN.get("share" if name == "burned" else unit, (unit, 1.0, 0.0))
        values, where = cycle[name].values, ""
        if name in FIELDS:
            values, where = values[-1], " at the valve"
        columns[f"{name}{where} [{shown}]"] = factor * values + added
    assert list(rows[0]) == ["angle [deg]", *columns]
    for heading, values in columns.items():
        assert [float(r[heading]) for r in rows] == pytest.approx(values, rel=1e-7, abs=1e-9), heading
    assert max(significant(v) for r in rows for v in r.values()) == 8
    for name in cycle.data_vars:
        assert np.array_equal(data[name].values, cycle[name].values)
        assert data[name].attrs["units"] == cycle[name].attrs["units"]
    assert data.attrs["intake_seats"] == cycle.attrs["intake_seats"]


#: what CSV files show in place of SI: (unit, factor, what is added)
SHOWN = {
    "Pa": ("kPa", 1e-3, 0.0),
    "K": ("degC", 1.0, -273.15),
    "kg": ("mg", 1e6, 0.0),
    "m3": ("cm3", 1e6, 0.0),
    "kg/s": ("g/s", 1e3, 0.0),
    "m2": ("mm2", 1e6, 0.0),
    "share": ("%", 100.0, 0.0),
}
UNITS_OF_A_TRACE = {
    "p": "Pa",
    "u": "m/s",
    "a": "m/s",
    "forward": "Pa",
    "backward": "Pa",
    "burned": "1",
    "cylinder_p": "Pa",
    "cylinder_T": "K",
    "cylinder_mass": "kg",
    "volume": "m3",
    "plenum_p": "Pa",
    "exhaust_p": "Pa",
    "intake_flow": "kg/s",
    "exhaust_flow": "kg/s",
    "intake_area": "m2",
    "exhaust_area": "m2",
}


def test_trace_units():
    assert {n: u for n, (u, _) in (FIELDS | SERIES).items()} == UNITS_OF_A_TRACE


def test_trace_drawn(ran, cycle):
    pictures = ran["trace"].pictures
    pressures, waves, speed, flows, areas = pictures["trace-long-2750.png"].axes
    at_valve = cycle.isel(distance=-1)
    p0 = cycle.attrs["reference_pressure_Pa"]
    for panel, label, values in (
        (pressures, "port at the intake valve", 1e-3 * at_valve.p),
        (pressures, "cylinder", 1e-3 * cycle.cylinder_p),
        (pressures, "plenum", 1e-3 * cycle.plenum_p),
        (pressures, "exhaust port", 1e-3 * cycle.exhaust_p),
        (waves, "arriving from the mouth", 1e-3 * (at_valve.forward - p0)),
        (waves, "running back to the mouth", 1e-3 * (at_valve.backward - p0)),
        (speed, "port at the intake valve", at_valve.u),
        (flows, "in, intake valves", 1e3 * cycle.intake_flow),
        (flows, "out, exhaust valves", 1e3 * cycle.exhaust_flow),
        (areas, "intake valves", 1e6 * cycle.intake_area),
        (areas, "exhaust valves", 1e6 * cycle.exhaust_area),
    ):
        x, y = lines_of(panel)[label]
        assert np.array_equal(x, cycle.angle)
        assert np.asarray(y) == pytest.approx(values.values), label
    assert texts_of(pressures) == ["EVO", "EVC", "IVO", "IVC"]
    events = ("exhaust_opens", "exhaust_closes", "intake_opens", "intake_closes")
    dashed = [m.get_xdata()[0] for m in areas.lines if list(m.get_ydata()) == [0, 1]]
    assert dashed == [cycle.attrs[e] % 720.0 for e in events]
    low, high = pressures.get_ylim()
    shown = 1e-3 * np.concatenate([cycle.p.values.ravel(), cycle.exhaust_p.values])
    assert low < shown.min()
    assert high > shown.max()
    maps = [
        a for a in pictures["trace-long-2750-map.png"].axes if a.collections and a.get_ylabel()[:1] == "d"
    ]
    assert texts_of(maps[0]) == ["EVO", "EVC", "IVO", "IVC"]
    assert not texts_of(maps[1])
    for panel, name in zip(maps, ("p", "forward", "backward"), strict=True):
        mesh = panel.collections[0]
        over = 1e-3 * (cycle[name].values - p0)
        assert np.asarray(mesh.get_array()) == pytest.approx(over)
        corners = np.asarray(mesh.get_coordinates())
        middle = 0.5 * (corners[1:, 0, 1] + corners[:-1, 0, 1])
        assert middle == pytest.approx(1e3 * cycle.distance.values)
        assert mesh.get_clim() == pytest.approx((-np.abs(over).max(), np.abs(over).max()))
    whole, low = pictures["trace-long-2750-pv.png"].axes
    x, y = whole.lines[0].get_data()
    assert x[:-1] == pytest.approx(1e6 * cycle.volume.values)
    assert y[:-1] == pytest.approx(1e-3 * cycle.cylinder_p.values)
    assert (x[-1], y[-1]) == (x[0], y[0])
    x, y = low.lines[0].get_data()
    part = (ANGLE > 150.0) & (ANGLE < 600.0)
    assert x == pytest.approx(1e6 * cycle.volume.values[part])
    assert list(low.lines[1].get_ydata()) == [1e-3 * p0] * 2
    assert whole.get_title() == (
        "Mountain-rescue 2.5-litre four (invented)\nrunner long, cylinder 1, 2750 rpm"
    )


def test_explanation_printed_and_written(ran, demo):
    """One hump a runner, at the highest of the speeds; its sentences are those of its cycle."""
    first, *blocks = ran["explain"].said.split("\n\n")[:4]
    assert first == "Crank angles are degrees after firing top dead centre."
    speeds = np.arange(1500.0, 6001.0, 500.0)
    for block, name in zip(blocks, ("short", "middle", "long"), strict=True):
        engine = demo.with_runner(name)
        ve = [made_up.point(engine, n).figures["ve"] for n in speeds]
        top = speeds[np.argmax(ve)]
        told = cause(made_up.cycle(engine, top))
        worth = {
            side: told.ve - made_up.without_waves(engine, top, silent(engine, 1e5))
            for side, silent in (("intake", silent_mouth), ("exhaust", silent_exhaust))
        }
        told = replace(told, **worth)
        text = " ".join(" ".join(block.splitlines()).split())
        head, *rest = sentences("hump", told)
        span = f"{top - 500:.0f} to {top + 500:.0f} rpm"
        where = f"It may stand anywhere from {span}: no speed in between was computed."
        assert text == f"{name}: - " + " ".join([head, where, *rest])
        assert max(map(len, block.splitlines())) <= 80
        assert f"hump at {top:.0f} rpm, VE {100 * told.ve:.1f} %" in text
    written = (ran["explain"].out / "explain.txt").read_text()
    assert written.startswith("\n\n".join([first, *blocks]))
    assert "A prediction is not a clearance to run." in written


def test_explanation_drawn(ran, demo):
    top, *panels = ran["explain"].pictures["explain.png"].axes
    speeds = np.arange(1500.0, 6001.0, 500.0)
    marks = [m for m in top.lines if m.get_marker() == "^"]
    for k, name in enumerate(("short", "middle", "long")):
        engine = demo.with_runner(name)
        ve = [made_up.point(engine, n).figures["ve"] for n in speeds]
        x, y = top.lines[2 * k].get_data()  # a line, then its mark
        assert list(x) == list(speeds)
        assert list(y) == pytest.approx(np.multiply(100.0, ve))
        assert name in texts_of(top)
        best = speeds[np.argmax(ve)]
        (mark,) = marks[k : k + 1]
        assert mark.get_data() == ([best], pytest.approx([100.0 * max(ve)]))
        panel, cycle = panels[k], made_up.cycle(engine, best)
        told = cause(cycle)
        at_valve, p0 = cycle.isel(distance=-1), cycle.attrs["reference_pressure_Pa"]
        for label, wave in (("arriving", "forward"), ("running back", "backward")):
            assert lines_of(panel)[label][1] == pytest.approx(1e-3 * (at_valve[wave].values - p0))
        assert panel.get_title() == f"{name}: hump at {best:.0f} rpm, VE {100 * told.ve:.1f} %"
        arrow = next(t for t in panel.texts if t.get_text() == "")
        assert (arrow.xy[0], arrow.xyann[0]) == (told.due, told.launch)
        (travel,) = (t for t in panel.texts if t.get_text() == f"{told.travel:.0f} deg")
        assert travel.xy[0] == pytest.approx(0.5 * (told.launch + told.due))
        assert any(list(m.get_ydata()) == [0.0, 0.0] for m in panel.lines)
        span = panel.patches[0]
        assert (span.get_x(), span.get_x() + span.get_width()) == pytest.approx(
            (cycle.attrs["intake_opens"], told.shuts)
        )


def test_every_picture_has_its_title_and_the_caution(ran):
    titles = {
        "trace-long-2750.png": 0,
        "trace-long-2750-map.png": 0,
        "trace-long-2750-pv.png": 0,
        "explain.png": 0,
    }
    for name, k in titles.items():
        fig = next(r.pictures[name] for r in ran.values() if name in r.pictures)
        assert "Mountain-rescue 2.5-litre four (invented)" in fig.axes[k].get_title()
        assert "A prediction is not a clearance to run." in fig._supxlabel.get_text()


def test_one_runner_only(tmp_path):
    with made_up.in_place():
        ran = command("explain", DEMO, "--runner", "long", out=tmp_path / "o")
    assert re.findall(r"^\w+:", ran.said, re.MULTILINE) == ["long:"]

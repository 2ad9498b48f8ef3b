"""The explanation follows from computed figures, and changes when the cause is taken away."""

from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import CLASSROOM, DEMO
from tests.printed import is_picture

import aircolumn
from aircolumn.cli import main
from aircolumn.curves.tuning.explain import cause, explain, extrema
from aircolumn.curves.tuning.silenced import silent_mouth
from aircolumn.curves.tuning.trace import trace
from aircolumn.curves.tuning.tuning_map import with_length
from aircolumn.engine.model.operating_point import converged
from aircolumn.output.explain.sentences import sentences
from aircolumn.output.explain.text import explain_text


@pytest.fixture(scope="module")
def long(demo):
    return demo.with_runner("long")


@pytest.fixture(scope="module")
def told(long):
    return cause(trace(long, 3500.0))


def test_extrema_of_a_plain_curve():
    rpm = np.arange(1000.0, 8000.0, 500.0)
    ve = 0.9 + 0.1 * np.sin(rpm / 1000.0)
    found = extrema(rpm, ve)
    kinds = [e.kind for e in found]
    assert kinds == ["hump", "dip"]
    assert found[0].rpm == 1500.0
    assert found[1].rpm == pytest.approx(4712, abs=250)
    assert extrema(rpm, np.full(rpm.size, 0.9)) == []


def test_return_is_due_when_the_wave_arrives(told):
    """The arrival computed from the travel time falls within the arriving compression."""
    assert told.suction < -2e4
    assert told.compression > 1.5e4
    assert told.launch < told.peak < told.shuts
    # The widening from port to mouth sends part of it back on the way: early, never late.
    assert told.due - 0.45 * told.travel < told.peak <= told.due
    text = " ".join(sentences("hump", told))
    assert f"returns as compression at {told.due:.0f} deg" in text


def test_without_the_reflection_the_hump_goes_and_the_text_says_so(long, told):
    change = silent_mouth(long)
    speeds = np.arange(2500.0, 5001.0, 500.0)
    ve = [converged(long, n, change=change)[2].figures["ve"] for n in speeds]
    assert np.ptp(ve) < 0.1
    assert np.all(np.diff(ve) < 0.01)  # no hump: it only falls
    assert [e.kind for e in extrema(speeds, ve)] == []
    silent = cause(trace(long, 3500.0, change))
    assert silent.wave_part < 0.2 * told.wave_part
    assert silent.compression < 0.25 * told.compression
    assert silent.ve < told.ve - 0.15
    (extremum, told_here, _), *_ = explain(long, speeds, [1.0, 1.09, 1.12, 1.1, 0.95, 0.92])
    assert extremum.kind == "hump"
    without = converged(long, extremum.rpm, change=silent_mouth(long, told_here_pressure(long)))
    assert told_here.intake == pytest.approx(told_here.ve - without[2].figures["ve"], abs=2e-3)
    assert told_here.intake > 5.0 * abs(told_here.exhaust)


def told_here_pressure(engine):
    """Mean plenum pressure at 3500 rpm."""
    return float(trace(engine, 3500.0).attrs["reference_pressure_Pa"])


def test_every_sentence_follows_its_figure(told):
    """Change one figure: only what rests on it changes."""
    plain = sentences("hump", told)
    for name, value, said in (
        ("compression", 0.0, "No compression comes back"),
        ("due", told.shuts + 20.0, "20 deg after the valve shuts"),
        ("wave_part", -3e4, "the arriving wave brings -30.0 kPa"),
        ("left_over", -5e3, "hinders the start of filling"),
        ("backflow", 0.07, "7 % of the charge is pushed back"),
        ("overlap", 8e3, "keeps exhaust gas in the cylinder"),
    ):
        other = sentences("hump", replace(told, **{name: value}))
        assert any(said in line for line in other), said
        assert sum(line not in plain for line in other) <= 2


@pytest.mark.parametrize("length", [0.2, 0.4, 0.65, 0.9])
def test_order_agrees_with_the_swings_counted(length):
    """Order from the travel time against the swings of the computed pressure: within the fraction
    by which mean flow, heat and the taper shift a quarter wave."""
    engine = with_length(aircolumn.load(CLASSROOM).engine, length)
    for rpm in (3000.0, 4500.0):
        c = cause(trace(engine, rpm))
        assert c.order == pytest.approx(c.counted, rel=0.08)


@pytest.mark.parametrize(("length", "rpm"), [(0.2, 6000.0), (0.4, 4000.0), (0.8, 3000.0)])
def test_suction_comes_back_after_the_travel_time(length, rpm):
    """A straight runner: what arrives has the shape of what left, turned over, and lags behind it
    by the time to the mouth and back, within what the port's change of bore shifts it."""
    cycle = trace(with_length(aircolumn.load(CLASSROOM).engine, length), rpm)
    c, at_valve = cause(cycle), cycle.isel(distance=-1)
    angle, reference = cycle.angle.values, cycle.attrs["reference_pressure_Pa"]
    near = np.abs(angle - c.launch) < 60.0
    left = reference - at_valve.backward.values[near]
    lags = np.arange(0.0, 200.0)
    like = [
        np.corrcoef(left, np.interp(angle[near] + lag, angle, at_valve.forward.values))[0, 1] for lag in lags
    ]
    assert max(like) > 0.98
    assert lags[np.argmax(like)] == pytest.approx(c.travel, rel=0.06)


def test_explain_takes_every_extremum(long):
    speeds = np.array([2500.0, 3000.0, 3500.0, 4500.0, 5000.0, 5250.0, 5500.0])
    ve = np.array([0.99, 1.07, 1.13, 0.96, 0.918, 0.936, 0.921])
    found = explain(long, speeds, ve)
    assert [(e.kind, e.rpm) for e, _, _ in found] == [
        ("hump", 3500.0),
        ("dip", 5000.0),
        ("hump", 5250.0),
    ]
    assert [c.rpm for _, c, _ in found] == [3500.0, 5000.0, 5250.0]


def test_explain_command(tmp_path, capsys):
    out = tmp_path / "out"
    given = ["--runner", "long", "--rpm", "2500", "3000", "3500", "4500", "--out", str(out)]
    assert main(["explain", str(DEMO), *given]) == 0
    said = capsys.readouterr().out
    assert "hump at 3500 rpm" in said
    assert "not a clearance to run" in (out / "explain-long.txt").read_text()
    assert is_picture(out / "explain-long.png")


def test_explain_of_a_curve_without_humps(tmp_path, capsys):
    out = tmp_path / "out"
    given = ["--runner", "short", "--rpm", "2000", "3000", "--out", str(out)]
    assert main(["explain", str(DEMO), *given]) == 0
    assert "a hump needs three or more speeds to show" in capsys.readouterr().out


def test_explain_unknown_runner(tmp_path, capsys):
    assert main(["explain", str(DEMO), "--runner", "longest", "--out", str(tmp_path / "o")]) == 2
    assert "there are: short, middle, long" in capsys.readouterr().err


def test_what_there_is_to_say_at_the_ends():
    """One speed shows no hump; a curve highest at its end may have one beyond."""
    rpm = np.array([2000.0, 3000.0, 4000.0])
    rising, flat = np.array([0.8, 0.9, 1.071]), np.array([0.8, 0.9, 0.85])
    curves = {"a": (rpm, rising), "b": (rpm, flat), "c": (rpm[:1], flat[:1])}
    text = explain_text({name: [] for name in curves}, curves)
    first, a, b, c = text.split("\n\n")
    assert first == "Crank angles are degrees after firing top dead centre."
    assert " ".join(a.split()).endswith(
        "VE is highest where the range ends: 107.1 % at 4000 rpm. A hump may lie beyond."
    )
    assert b.splitlines()[1:] == ["  no hump or dip stands out in this range"]
    assert c.splitlines()[1:] == ["  a hump needs three or more speeds to show"]


def test_ripples_are_not_told():
    rpm = np.arange(2000.0, 6000.0, 500.0)
    ve = np.array([0.80, 0.808, 0.80, 0.9, 1.0, 0.9, 0.895, 0.902])
    assert [(e.kind, e.rpm) for e in extrema(rpm, ve)] == [("hump", 4000.0)]

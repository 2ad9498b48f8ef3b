"""The wave split and the trace of a cycle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.conftest import DEMO

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.cli import main
from aircolumn.curves.tuning.trace import trace
from aircolumn.curves.tuning.waves import together, wave_split
from aircolumn.engine.model.operating_point import operating_point

G, R, P, T = 1.4, 287.05, 1e5, 300.0
A = np.sqrt(G * R * T)
RHO = P / (R * T)


@given(p=st.floats(3e4, 4e5), mach=st.floats(-0.8, 0.8), gamma=st.floats(1.25, 1.67))
def test_split_adds_up_at_any_amplitude(p, mach, gamma):
    a = 340.0
    forward, backward = wave_split(p, mach * a, a, gamma, 1e5)
    assert together(forward, backward, gamma, 1e5) == pytest.approx(p, rel=1e-9)


def test_a_simple_wave_is_all_forward():
    """u = 2 (a - a0)/(gamma - 1): one wave alone, the other stays at the reference."""
    p = np.linspace(0.6e5, 2e5, 9)
    a = A * (p / P) ** ((G - 1) / (2 * G))
    forward, backward = wave_split(p, 2 * (a - A) / (G - 1), a, G, P)
    assert forward == pytest.approx(p, rel=1e-12)
    assert backward == pytest.approx(np.full(9, P), rel=1e-12)


def test_acoustic_limit():
    """Small disturbances: p' = (p' + rho a u)/2 + (p' - rho a u)/2."""
    dp, u = 3.0, 0.02
    a = A * (1 + (G - 1) / (2 * G) * dp / P)
    forward, backward = wave_split(P + dp, u, a, G, P)
    assert forward - P == pytest.approx(0.5 * (dp + RHO * A * u), rel=1e-4)
    assert backward - P == pytest.approx(0.5 * (dp - RHO * A * u), rel=1e-4)


def test_against_two_microphones():
    """A single-frequency field between a piston and a narrower pipe that goes on: the split at one
    place gives the reflection that the two-microphone method finds from pressures at two places
    (Seybert & Ross, J. Acoust. Soc. Am. 61, 1977; ISO 10534-2): with H = p2/p1 at x1 < x2, s apart,

        reflection at x1 = (H - exp(-i k s)) / (exp(i k s) - H).
    """
    frequency, s = 200.0, 0.1
    net = Network(perfect_gas(G, R))
    net.duct("pipe", straight(1.0, 0.04), 200, GasState(pressure=P, temperature=T))
    net.duct("narrow", straight(1.0, 0.02), 100, GasState(pressure=P, temperature=T))
    net.piston("pipe", "left", 0.05, frequency)
    net.junction(("pipe", "right"), ("narrow", "left"))
    net.calm("narrow", "right", P, T)
    run = net.ready()
    run.march(0.2)
    record = run.march(0.05, probes={"one": ("pipe", 0.4), "two": ("pipe", 0.4 + s)})
    time = record.time
    even = time[0] + np.arange(9 * 512) / (512 * frequency)  # nine periods

    def phasor(signal):
        wave = np.interp(even, time, signal)
        return np.mean((wave - wave.mean()) * np.exp(-2j * np.pi * frequency * even))

    p1, p2 = (phasor(record.probes[k].p) for k in ("one", "two"))
    k = 2 * np.pi * frequency / A
    h = p2 / p1
    microphones = (h - np.exp(-1j * k * s)) / (np.exp(1j * k * s) - h)
    one = record.probes["one"]
    forward, backward = wave_split(one.p, one.u, one.a, G, P)
    split = phasor(backward) / phasor(forward)
    assert abs(split - microphones) < 0.01 * abs(microphones)
    assert abs(microphones) == pytest.approx(0.6, rel=0.01)  # (A1 - A2)/(A1 + A2)


@pytest.fixture(scope="module")
def cycle(demo):
    return trace(demo.with_runner("long"), 3500.0)


def test_trace_agrees_with_the_point(demo, cycle):
    point = operating_point(demo.with_runner("long"), 3500.0).figures
    assert cycle.attrs["ve"] == pytest.approx(point["ve"])
    step = np.radians(0.5)
    seconds = step / (3500.0 * np.pi / 30.0)
    drawn = float(cycle.intake_flow.sum()) * seconds  # port injection: air
    assert drawn == pytest.approx(point["air_flow"] / 4 / (3500.0 / 120.0), rel=2e-3)
    work = float((cycle.cylinder_p * cycle.volume.differentiate("angle") * 0.5).sum())
    swept = float(np.ptp(cycle.volume.values))
    assert work / swept == pytest.approx(point["imep"], rel=5e-3)


def test_suction_returns_as_compression(demo, cycle):
    """Near its tuned speed: after the suction wave has left the valve a compression arrives before
    the valve shuts (how long after: test_explain.py)."""
    at_valve = cycle.isel(distance=-1)
    reference = cycle.attrs["reference_pressure_Pa"]
    open_ = (cycle.angle > cycle.attrs["intake_opens"]) & (cycle.angle < cycle.attrs["intake_seats"])
    leaving = (at_valve.backward - reference).where(open_)
    arriving = (at_valve.forward - reference).where(open_)
    assert float(leaving.min()) < -2e4
    assert float(arriving.max()) > 1.5e4
    launched = float(cycle.angle[np.nanargmin(leaving.values)])
    returned = float(cycle.angle[np.nanargmax(arriving.values)])
    assert launched < returned < cycle.attrs["intake_seats"]
    shut = at_valve.sel(angle=slice(620, 700))
    assert np.allclose(shut.forward, shut.backward, rtol=1e-6)  # a shut valve reflects everything


def test_trace_command(tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["trace", str(DEMO), "--rpm", "3000", "--out", str(out)]) == 0
    assert "VE" in capsys.readouterr().out
    names = {p.name for p in out.iterdir()}
    pictures = {f"{n}.{k}" for n in ("trace-3000", "trace-3000-map", "trace-3000-pv") for k in ("png", "svg")}
    files = {"trace-3000.csv", "trace-3000.nc", "origin.json", "rescue-four.yaml"}
    assert names == pictures | files
    header = (out / "trace-3000.csv").read_text().splitlines()[0]
    assert header.startswith("angle [deg],p at the valve [kPa],")


def test_trace_refuses_what_no_engine_turns(tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["trace", str(DEMO), "--rpm", "-5", "--out", str(out)]) == 2
    assert "rpm" in capsys.readouterr().err
    assert not out.exists()

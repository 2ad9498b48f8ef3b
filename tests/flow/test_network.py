"""Networks: what they refuse, what they record, where they settle."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aircolumn import GasState, Network, Shape, Wall, perfect_gas, straight
from aircolumn.errors import MarchError

P, T, R, G = 1e5, 300.0, 287.05, 1.4


def pipe(cells=40, wall=None, **state):
    net = Network(perfect_gas(G, R))
    gas = GasState(**{"pressure": P, "temperature": T, **state})
    net.duct("pipe", straight(1.0, 0.04), cells, gas, wall or Wall())
    return net


def test_blowdown_step_stays_positive_and_monotone():
    """Pressure ratio 4, hot into cold, as at exhaust opening."""
    net = Network(perfect_gas(G, R))
    net.duct(
        "pipe",
        straight(1.0, 0.04),
        150,
        GasState(
            pressure=lambda x: np.where(x < 0.3, 4 * P, P),
            temperature=lambda x: np.where(x < 0.3, 1000.0, T),
            burned=lambda x: np.where(x < 0.3, 1.0, 0.0),
        ),
    )
    net.closed("pipe", "left")
    net.calm("pipe", "right", P, P / (R * T))
    run = net.ready()
    run.march(6e-4)
    prof = run.profile("pipe")
    assert prof.p.min() > 0.99 * P * (prof.p.min() > 0)
    assert prof.rho.min() > 0
    assert prof.burned.min() > -1e-3
    assert prof.burned.max() < 1.001
    assert np.max(np.diff(prof.p)) < 0.01 * 4 * P  # falls all the way


@settings(max_examples=40, deadline=None)
@given(
    lengths=st.lists(st.floats(0.02, 0.4), min_size=1, max_size=4),
    bores=st.lists(st.floats(0.01, 0.1), min_size=5, max_size=5),
    cells=st.integers(2, 60),
)
def test_gas_at_rest_in_any_duct(lengths, bores, cells):
    distance = np.concatenate([[0.0], np.cumsum(lengths)])
    net = Network(perfect_gas(G, R))
    net.duct("pipe", Shape(distance, bores[: distance.size]), cells, GasState(pressure=P, temperature=T))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    run = net.ready()
    run.march(0.02)
    assert np.max(np.abs(run.profile("pipe").u)) < 1e-9 * 347


def test_network_refuses_nonsense():
    net = pipe()
    with pytest.raises(ValueError, match="leads nowhere"):
        net.ready()
    net.closed("pipe", "left")
    with pytest.raises(ValueError, match="is taken"):
        net.closed("pipe", "left")
    with pytest.raises(ValueError, match="no end"):
        net.closed("pipe", "middle")
    with pytest.raises(ValueError, match="already"):
        net.duct("pipe", straight(1.0, 0.04), 10, GasState(pressure=P, temperature=T))
    net.opening("pipe", "right", "nowhere")
    with pytest.raises(ValueError, match="no volume"):
        net.ready()
    with pytest.raises(ValueError, match="rise"):
        Shape([0.0, 0.2, 0.1], [0.04, 0.04, 0.04])
    with pytest.raises(ValueError, match="not at an end"):
        Shape([0.0, 0.0, 0.1], [0.04, 0.05, 0.05])
    net = pipe()
    net.closed("pipe", "left")
    net.reservoir("air", P, T)
    net.opening("pipe", "right", "air")
    record = net.ready().march(1e-4, probes={"air": ("pipe", 0.5)})  # apart from the volume
    assert record.probes["air"].x == pytest.approx(0.5)
    assert np.all(record.volumes["air"].p == P)


def test_state_that_is_not_finite_is_an_error():
    net = pipe(pressure=lambda x: np.where(x < 0.5, np.nan, P))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    with pytest.raises(MarchError):
        net.ready().march(1e-3)


def test_records_are_labelled():
    net = pipe()
    net.reservoir("air", P, T)
    net.vessel("box", 1e-3, 1.1 * P, T)
    net.opening("pipe", "left", "box")
    net.opening("pipe", "right", "air")
    record = net.ready().march(5e-4, probes={"middle": ("pipe", 0.51)}, room=7)
    assert record.probes["middle"].x == pytest.approx(0.5)
    assert record.time.size == record.volumes["box"].p.size
    assert np.all(np.diff(record.time) > 0)


@pytest.mark.parametrize("ratio", [3.0, 4.0, 6.0])
def test_pipe_choked_at_its_mouth_settles(ratio):
    """Hot gas through a throat into a pipe that runs near or at sonic speed to its open end: the
    nodes there must settle (each on one side of the sonic point), and a choked mouth be sonic."""
    net = Network(perfect_gas(G, R))
    net.duct("pipe", straight(0.4, 0.04), 20, GasState(pressure=ratio * P, temperature=1200.0))
    net.reservoir("hot", ratio * P, 1200.0)
    net.reservoir("air", P, 900.0)
    net.restriction("pipe", "left", "hot", 0.6 * np.pi / 4 * 0.04**2)
    net.opening("pipe", "right", "air")
    run = net.ready()
    run.march(6e-3)
    mach = []
    for _ in range(50):
        run.march(4e-5)
        prof = run.profile("pipe")
        mach.append(prof.u / prof.a)
    assert np.max(np.abs(np.diff(mach, axis=0))) < 1e-3
    if ratio > 3.5:
        assert mach[-1][-1] == pytest.approx(1.0, abs=1e-3)
    assert np.max(mach[-1]) < 1.001

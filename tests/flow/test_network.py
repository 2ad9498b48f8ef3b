"""Networks: what they refuse, what they record, where they settle."""

import re

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
    net.calm("pipe", "right", P, T)
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


def over(net, time, pressure, *more, **named):
    net.pressure_over_time("pipe", "right", time, pressure, *(more or (T,)), **named)


@pytest.mark.parametrize(
    ("declare", "said"),
    [
        (lambda n: n.calm("pipe", "right", P, 1.2), "temperature 1.2 K: from 100 to 6000 K"),
        (lambda n: n.calm("pipe", "right", -P, T), "pressure -100000.0 Pa: a finite number above 0"),
        (lambda n: n.reservoir("more", P, 27.0), "volume 'more': temperature 27.0 K: from 100 to 6000 K"),
        (lambda n: n.vessel("more", -1.0, P, T), "volume 'more': size -1.0 m3"),
        (lambda n: n.vessel("more", 1.0, P, T, conductance=np.nan), "conductance nan"),
        (lambda n: n.opening("pipe", "right", "air", loss=-0.5), "loss -0.5: a finite number of 0 or more"),
        (lambda n: n.restriction("pipe", "right", "air", -1e-3), "an area of -0.001 m2; from 0 to the"),
        (lambda n: n.restriction("pipe", "right", "air", 0.01), "0.001257 m2 of the bore is expected"),
        (lambda n: n.restriction("pipe", "middle", "air", 1e-4), "no end 'middle' of duct 'pipe'"),
        (lambda n: n.piston("pipe", "right", np.inf, 50.0), "speed inf: a finite number"),
        (lambda n: over(n, [0.0, 1.0], [P]), "two or more instants are expected, and a value for each"),
        (lambda n: over(n, [1.0, 0.0], [P, P]), "finite numbers are expected, at instants that rise"),
        (lambda n: over(n, [0.0, 1.0], [P, -P]), "-100000 Pa: numbers above 0"),
        (lambda n: over(n, [0.0, 1.0], [P, P], 20.0), "temperature 20.0 K: from 100 to 6000 K"),
        (lambda n: over(n, [0.0, 1.0], [P, P], T, 2.0), "burned 2.0: from 0 to 1"),
        (lambda n: over(n, [0.0, 1.0], [P, P], T, period=0.5), "period 0.5 s: 1 s or more is expected"),
        (lambda n: n.velocity_over_time("pipe", "right", [0.0, np.nan], [0.0, 0.0]), "finite numbers"),
        (lambda n: n.orifice("air", "air", -1e-4), "area -0.0001: a finite number of 0 or more"),
        (lambda n: n.duct("b", straight(1.0, 0.04), 10, P), "duct 'b': a GasState is expected"),
        (lambda n: n.ready().profile("zzz"), "no duct 'zzz'; there are: pipe"),
        (lambda n: n.ready().held("zzz"), "no duct 'zzz'; there are: pipe"),
    ],
)
def test_an_end_that_cannot_be_is_refused(declare, said):
    """Nothing of it is left: what is right can be declared in its place."""
    net = pipe()
    net.reservoir("air", P, T)
    net.closed("pipe", "left")
    if "no duct" in said:
        net.closed("pipe", "right")
    with pytest.raises(ValueError, match=re.escape(said)):
        declare(net)
    if "no duct" not in said:
        net.opening("pipe", "right", "air")
        net.ready().march(1e-4)


def test_a_function_that_takes_no_array_is_named():
    net = Network(perfect_gas())
    net.duct("inlet", straight(1.0, 0.04), 10, GasState(lambda x: P if x < 0.5 else 2 * P, T))
    net.closed("inlet", "left")
    net.closed("inlet", "right")
    with pytest.raises(ValueError, match="duct 'inlet': its pressure: a function of distance gets an array"):
        net.ready()


def test_what_comes_in_under_a_pressure():
    """Steady flow through a pipe that is cut: by its signal's pressure the end has the entropy and the
    composition stated; without repeating the signal stays as it ends."""
    net = pipe()
    net.pressure_over_time("pipe", "left", [0.0, 0.01], [P, 1.05 * P], 400.0, burned=1.0)
    net.reservoir("air", P, T)
    net.opening("pipe", "right", "air")
    run = net.ready()
    run.march(0.4)
    end, mean = run.profile("pipe"), 1.025 * P
    assert end.p[0] == pytest.approx(1.05 * P, rel=1e-12)
    assert end.rho[0] == pytest.approx(mean / (R * 400.0) * (1.05 * P / mean) ** (1 / 1.4), rel=1e-9)
    assert end.burned == pytest.approx(1.0)
    assert np.ptp(end.u) < 0.01 * end.u.mean()


def test_a_wall_moves_by_its_signal():
    """Slowly, with gas at rest: the gas follows (acoustic at most: rho a u of pressure)."""
    net = pipe()
    net.velocity_over_time("pipe", "left", [0.0, 1e-4, 1.0], [0.0, 0.5, 0.5])
    net.calm("pipe", "right", P, T)
    run = net.ready()
    run.march(2e-3)
    profile = run.profile("pipe")
    assert profile.u[0] == pytest.approx(0.5, rel=1e-12)
    a = np.sqrt(1.4 * R * T)
    assert profile.p[0] - P == pytest.approx(P / (R * T) * a * 0.5, rel=2e-3)


def test_the_ends_of_a_duct_are_probed_by_name():
    net = pipe()
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    probes = {"one": ("pipe", "left"), "other": ("pipe", "right")}
    record = net.ready().march(1e-4, probes=probes)
    assert [record.probes[name].x for name in probes] == [0.0, 1.0]


def test_state_that_is_not_finite_is_an_error():
    net = pipe()
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    run = net.ready()
    run.nodes.p[run.ducts["pipe"].nodes[3]] = np.nan
    with pytest.raises(MarchError, match="in duct 'pipe', 75 mm from its beginning"):
        run.march(1e-3)


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


@pytest.mark.parametrize("cells", [20, 100, 400])
def test_gas_that_runs_against_a_wall_is_kept(cells):
    """Moving at t = 0, towards one wall and off the other, at different speeds: nothing passes either."""
    net = pipe(cells, velocity=lambda x: 100.0 * (x < 0.5) - 20.0 * (x >= 0.5))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    run = net.ready()
    before = run.held("pipe")
    run.march(2e-3)
    after = run.held("pipe")
    assert after.mass == pytest.approx(before.mass, rel=1e-14)
    assert after.energy == pytest.approx(before.energy, rel=1e-14)


@pytest.mark.parametrize(
    ("mach", "tolerance"), [(0.5, 1e-3), (1.0, 5e-3), (1.5, 0.02), (2.5, 1.0), (4.5, 100.0)]
)
def test_gas_pulled_off_a_wall(mach, tolerance):
    """p = p0 (1 - (g - 1)/2 M)^(2g/(g - 1)) at the wall (Toro 1999, 4.3.2); near vacuum, that it goes on."""
    a = np.sqrt(G * R * T)
    net = pipe(100, velocity=lambda x: mach * a * (x < 0.7))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    run = net.ready()
    before = run.held("pipe")
    record = run.march(0.2 / a / max(mach, 1.0), probes={"wall": ("pipe", 0.0)})
    exact = P * (1.0 - 0.5 * (G - 1.0) * mach) ** (2.0 * G / (G - 1.0))
    assert record.probes["wall"].p[-1] == pytest.approx(exact, rel=tolerance)
    assert run.held("pipe").mass == pytest.approx(before.mass, rel=1e-14)


def test_gas_that_runs_against_a_wall_is_stopped_by_a_shock():
    """p*/p of the Riemann problem with a wall (Toro 1999, 6.3.3)."""
    u, a = 100.0, np.sqrt(G * R * T)
    net = pipe(200, velocity=u)
    net.closed("pipe", "right")
    net.opening("pipe", "left", "air")
    net.reservoir("air", P, T)
    record = net.ready().march(2e-4, probes={"wall": ("pipe", 1.0)})
    mach, k = u / a, 0.25 * (G + 1.0)
    ratio = 1.0 + G * mach**2 * (k + np.sqrt(k * k + 1.0 / mach**2))
    off = np.abs(record.probes["wall"].p / (P * ratio) - 1.0)
    assert off.max() < 0.015  # while the shock is one cell wide
    assert off[15:].max() < 2e-3


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"duration": np.nan}, "a duration of nan s"),
        ({"duration": -1.0}, "a duration of -1.0 s"),
        ({"duration": np.inf}, "a duration of inf s"),
        ({"duration": 1e9}, "would take some"),
        ({"duration": 1e-3, "courant": 5.0}, "a Courant number of 5.0: above 0 and at most 1"),
        ({"duration": 1e-3, "courant": 0.0}, "a Courant number of 0.0"),
        ({"duration": 1e-3, "omega": np.nan}, "omega is nan rad/s"),
        ({"duration": 1e-3, "probes": {"a": ("q", 0.5)}}, "probe 'a': no duct 'q'; there are: pipe"),
        (
            {"duration": 1e-3, "probes": {"a": ("pipe", 5.0)}},
            "5 m is not within duct 'pipe', from 0 to 1 m",
        ),
        ({"duration": 1e-3, "probes": {"a": ("pipe", -1e-3)}}, "not within duct 'pipe'"),
        ({"duration": 1e-3, "probes": {"a": ("pipe", np.nan)}}, "nan m is not within"),
    ],
)
def test_no_number_hangs_the_march(asked, said):
    net = pipe()
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    with pytest.raises(ValueError, match=re.escape(said)):
        net.ready().march(**asked)


@pytest.mark.parametrize(
    "state",
    [
        {"temperature": 0.0},
        {"temperature": np.nan},
        {"pressure": -P},
        {"pressure": lambda x: np.where(x < 0.5, np.nan, P)},
        {"velocity": np.inf},
        {"burned": 1.5},
        {"fuel": -0.1},
    ],
)
def test_gas_that_cannot_be_is_refused(state):
    net = pipe(**state)
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    with pytest.raises(ValueError, match="duct 'pipe'"):
        net.ready()


def test_no_such_perfect_gas_or_volume():
    for gamma, constant in ((1.0, R), (0.9, R), (np.nan, R), (G, 0.0)):
        with pytest.raises(ValueError, match="is expected"):
            perfect_gas(gamma, constant)
    for pressure, temperature in ((0.0, T), (P, np.nan)):
        with pytest.raises(ValueError, match="volume 'air'"):
            pipe().reservoir("air", pressure, temperature)


def test_steps_end_where_asked_and_are_recorded_once(monkeypatch):
    """In many calls of the compiled march as in one."""
    net = pipe(pressure=lambda x: P * (1.0 + 0.1 * (x < 0.3)))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    due = net.ready().march(1e-3, probes={"wall": ("pipe", 0.0)})
    monkeypatch.setattr("aircolumn.flow.network.run.AT_A_TIME", 7)
    found = net.ready().march(1e-3, probes={"wall": ("pipe", 0.0)})
    assert np.array_equal(found.time, due.time)
    assert np.array_equal(found.probes["wall"].p, due.probes["wall"].p)
    run = net.ready()
    assert run.march(1e-3, probes={"wall": ("pipe", 0.0)}, max_steps=5).time.size == 5
    assert run.steps == 5


def test_both_sides_of_a_step_of_bore_can_be_recorded():
    net = Network(perfect_gas(G, R))
    shape = Shape([0.0, 0.5, 0.5, 1.0], [0.04, 0.04, 0.03, 0.03])
    net.duct("pipe", shape, 20, GasState(lambda x: P * (1.0 + 0.1 * (x < 0.3)), T))
    net.closed("pipe", "left")
    net.closed("pipe", "right")
    run = net.ready()
    duct = run.ducts["pipe"]
    (k,) = np.flatnonzero(np.diff(duct.node_positions) == 0.0)
    record = run.march(2e-3, probes={"before": int(duct.nodes[k]), "behind": int(duct.nodes[k + 1])})
    before, behind = record.probes["before"], record.probes["behind"]
    assert before.x == behind.x == 0.5
    flow = np.pi / 4 * np.array([0.04**2 * before.rho * before.u, 0.03**2 * behind.rho * behind.u])
    moving = np.abs(flow[0]) > 1e-3
    assert flow[1, moving] == pytest.approx(flow[0, moving], rel=1e-6)
    assert np.max(np.abs(before.u - behind.u)) > 1.0

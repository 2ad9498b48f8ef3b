"""Every figure of an operating point by hand, from a recorded cycle."""

import numpy as np
import pytest

from aircolumn.curves.tuning.trace import trace
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.operating_point import converged, operating_point
from aircolumn.point_figures import FIGURES

RPM, N, R, STROKE, RATIO = 3500.0, 4, 287.055, 0.1, 9.2


SWEPT = np.pi / 4 * 0.089**2 * STROKE


CLEARANCE = SWEPT / (RATIO - 1.0)


SPEED = 2.0 * STROKE * RPM / 60.0  # mean piston speed, m/s


@pytest.fixture(scope="module")
def marched(demo):
    """(figures, run at intake-valve closing, recorded cycle) of the demo's long runner, without crevices
    (which tests/flow/test_crevices.py has)."""
    engine = demo.with_runner("long")
    engine = engine.changed(rings=engine.rings.changed(crevice_volume=0.0))
    _, run, point = converged(engine, RPM)
    return point, run, trace(engine, RPM)


def round_trip(values, volume):
    """Integral of values dV over the cycle, J."""
    v, p = np.append(volume, volume[0]), np.append(values, values[0])
    return float(np.sum(0.5 * (p[1:] + p[:-1]) * np.diff(v)))


def test_volume_of_the_trace(marched):
    """Slider and crank (Heywood eq. 2.4)."""
    _, _, recorded = marched
    a, throw, rod = np.radians(recorded.angle.values), 0.05, 0.152
    x = throw + rod - throw * np.cos(a) - np.sqrt(rod**2 - (throw * np.sin(a)) ** 2)
    volume = CLEARANCE + np.pi / 4 * 0.089**2 * x
    assert recorded.volume.values == pytest.approx(volume, rel=1e-9)


def test_work_of_the_strokes(marched):
    """IMEP over all strokes, pumping from exhaust BDC to intake BDC, both from p dV."""
    point, _, recorded = marched
    p, v = recorded.cylinder_p.values, recorded.volume.values
    assert point.figures["imep"] == pytest.approx(round_trip(p, v) / SWEPT, rel=1e-3)
    k = (recorded.angle.values >= 180.0) & (recorded.angle.values <= 540.0)
    loop = np.sum(0.5 * (p[k][1:] + p[k][:-1]) * np.diff(v[k]))
    assert point.figures["pmep"] == pytest.approx(-loop / SWEPT, rel=0.01)
    assert point.figures["peak_pressure"] == pytest.approx(p.max(), rel=2e-3)


def test_friction_torque_and_power(marched):
    """FMEP = A + B p_max + C Sp + D Sp^2 with the defaults; T = BMEP n Vd / (4 pi); P = T omega."""
    f = marched[0].figures
    fmep = 0.5e5 + 0.005 * f["peak_pressure"] + 0.06e5 * SPEED + 80.0 * SPEED**2
    assert f["fmep"] == pytest.approx(fmep, rel=1e-12)
    assert f["bmep"] == pytest.approx(f["imep"] - fmep, rel=1e-12)
    assert f["torque"] == pytest.approx(f["bmep"] * N * SWEPT / (4.0 * np.pi), rel=1e-9)
    assert f["power"] == pytest.approx(f["torque"] * RPM * np.pi / 30.0, rel=1e-12)


def ambient_density():
    """Moist air at 99 kPa, 25 degC, 40 %: saturation 3169.8 Pa (IAPWS)."""
    vapour = 0.4 * 3169.8
    return (99e3 - vapour) / (R * 298.15) + vapour / (461.52 * 298.15)


def contents(run, name):
    """(mass, fresh share, burned share) of a volume, now."""
    b = list(run.network.volumes).index(name)
    yf, yb = run.states.yf[b], run.states.yb[b]
    return run.states.rho[b] * run.states.volume[b], 1.0 - yf - yb, yb


def test_charge_at_intake_closing(marched):
    point, run, recorded = marched
    f = point.figures
    mass, air, burned = contents(run, "cylinder 1")
    shuts = recorded.attrs["intake_seats"]
    trapped = np.interp(shuts, recorded.angle, recorded.cylinder_mass)
    assert trapped == pytest.approx(mass, rel=1e-3)
    full = ambient_density() * SWEPT
    assert f["ve"] == pytest.approx(mass * air / full, rel=1e-3)
    assert point.ve_cylinder == pytest.approx([f["ve"]])
    assert f["residual"] == pytest.approx(burned, rel=1e-3)
    temperature = np.interp(shuts, recorded.angle, recorded.cylinder_T)
    assert f["charge_temperature"] == pytest.approx(temperature, rel=1e-3)
    # ... and the ideal gas law there, gas constant of air within what vapour and residuals do
    p, v = (np.interp(shuts, recorded.angle, recorded[q]) for q in ("cylinder_p", "volume"))
    assert p * v / (mass * temperature) == pytest.approx(R, rel=0.05)


def test_plenum_reference(marched, demo):
    """Pressure and density are those of the whole cycle, not of one moment."""
    point, _, recorded = marched
    f = point.figures
    mean = float(recorded.plenum_p.mean())
    assert f["plenum_pressure"] == pytest.approx(mean, rel=1e-4)
    _, run, _ = converged(demo.with_runner("long"), RPM)
    _, share, _ = contents(run, "plenum")
    over = run.march(120.0 / RPM, omega=RPM * np.pi / 30.0, probes={})
    warm = np.trapezoid(over.volumes["plenum"].T, over.time) / np.ptp(over.time)
    assert f["plenum_temperature"] == pytest.approx(warm, rel=1e-3)
    density = share * np.trapezoid(over.volumes["plenum"].mass, over.time) / np.ptp(over.time)
    density /= run.states.volume[run.volume("plenum")]
    assert f["ve_plenum"] == pytest.approx(f["ve"] * ambient_density() / density, rel=1e-3)


def test_flows_and_fuel(marched):
    """Air through the valve from the recorded flow; port fuel at 13.8; BSFC = fuel / power."""
    point, _, recorded = marched
    f = point.figures
    seconds = np.radians(0.5) / (RPM * np.pi / 30.0)
    air = float(recorded.intake_flow.sum()) * seconds  # kg a cycle
    assert f["air_flow"] == pytest.approx(N * air * RPM / 120.0, rel=2e-3)
    assert f["fuel_flow"] == pytest.approx(f["air_flow"] / 13.8, rel=1e-6)
    assert f["bsfc"] == pytest.approx(f["fuel_flow"] / f["power"], rel=1e-12)
    per_cycle = f["air_flow"] / N / (RPM / 120.0)
    assert f["ve_delivered"] == pytest.approx(per_cycle / (ambient_density() * SWEPT), rel=2e-4)
    assert f["ve"] == pytest.approx(f["ve_delivered"] * (1.0 - f["lost_in_overlap"]), rel=1e-3)
    # What comes in leaves through the exhaust, but for what leaks past the rings.
    leaked = f["blow_by"] * float(recorded.cylinder_mass.max())
    out = float(recorded.exhaust_flow.sum()) * seconds
    assert out == pytest.approx(air * (1.0 + 1.0 / 13.8) - leaked, rel=3e-3)
    assert f["ca50"] == 8.0


def test_heat_to_the_walls(demo, marched):
    """Woschni's law along the recorded cycle (Heywood eqs. 12.19, 12.20), walls at 470, 500 and
    410 K."""
    point, _, recorded = marched
    angle, p, t, v = (recorded[n].values for n in ("angle", "cylinder_p", "cylinder_T", "volume"))
    shuts = recorded.attrs["intake_seats"]
    opens = geometry_of(demo.engine).exhaust_lifts
    closed = (angle > shuts) | (angle < opens)
    p_r, t_r, v_r = (np.interp(shuts, angle, x) for x in (p, t, v))
    combustion = 3.24e-3 * SWEPT * t_r / (p_r * v_r) * np.maximum(p - p_r * (v_r / v) ** 1.32, 0.0)
    burning = closed & ((angle < opens) | (angle > 700.0))
    w = np.where(closed, 2.28, 6.18) * SPEED + np.where(burning, combustion, 0.0)
    h = 3.26 * 0.089**-0.2 * (1e-3 * p) ** 0.8 * t**-0.53 * w**0.8
    area, liner = np.pi / 4 * 0.089**2, 4.0 * (v - CLEARANCE) / 0.089
    watts = h * (area * (t - 470.0) + area * (t - 500.0) + liner * (t - 410.0))
    joules = float(watts.sum()) * np.radians(0.5) / (RPM * np.pi / 30.0)
    assert point.figures["wall_heat"] == pytest.approx(joules, rel=5e-3)
    assert point.figures["wall_heat"] == pytest.approx(-point.ledger.energy["heat to cylinder walls"])


#: What differs between one cylinder and the whole: how it was computed, not what came of it.
HOW = {"cycles", "cylinders_computed", "mass_error", "energy_error", "periodicity", "alternation"}


@pytest.mark.parametrize("rpm", [1500.0, 3000.0, 4500.0, 6000.0])
def test_one_cylinder_with_its_echoes_is_the_manifold(demo, rpm):
    """Equal runners, separate exhausts, any plenum: the single model says what the whole says, in
    every figure."""
    four = demo.engine.changed(model="manifold")
    one, whole = (operating_point(e, rpm) for e in (demo.engine, four))
    for name in FIGURES:
        if name in HOW:
            continue
        near = {"ve": 5e-4, "plenum_pressure": 1e-4}.get(name, 2e-3)
        least = {"ve_spread": 1e-3, "lost_in_overlap": 1e-4, "pmep": 50.0}.get(name, 0.0)
        found, due = one.figures[name], whole.figures[name]
        assert found == pytest.approx(due, rel=near, abs=least), name
    assert one.figures["cylinders_computed"] == 1.0
    assert whole.figures["cylinders_computed"] == 4.0
    assert whole.ve_cylinder == pytest.approx(one.figures["ve"], rel=5e-4)
    # What is stored in a cycle, of what all four draw: the plenum fills for all of them.
    drawn = one.figures["ve_delivered"] * ambient_density() * SWEPT
    stored = abs(one.ledger.mass["stored in ducts, plenum and cylinders"])
    assert one.figures["periodicity"] == pytest.approx(stored / (4.0 * drawn), rel=1e-3)
    for point in (one, whole):
        assert point.figures["mass_error"] < 1e-9
        assert point.figures["energy_error"] < 1e-9

"""Figures and ledgers of a point from sums that are made up, so that each has a closed form; when
cycles repeat."""

from dataclasses import replace

import numpy as np
import pytest

from aircolumn.engine.model import figures
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.figures import Repeated, account
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.plenum_mean import PlenumMean
from aircolumn.engine.model.snapshot import Snapshot
from aircolumn.point_figures import FIGURES

RPM, N, R, STROKE, RATIO = 3500.0, 4, 287.055, 0.1, 9.2


SWEPT = np.pi / 4 * 0.089**2 * STROKE


def ambient_density():
    """Moist air at 99 kPa, 25 degC, 40 %: saturation 3169.8 Pa (IAPWS)."""
    vapour = 0.4 * 3169.8
    return (99e3 - vapour) / (R * 298.15) + vapour / (461.52 * 298.15)


def made_up_sums(run, k):
    """What a manifold of four has summed up and holds after ``k`` cycles; the second cylinder does
    a little more than the first and so on."""
    ends = np.zeros((run.blocks.tally_ends.shape[0], 4))
    names = list(run.network.ends)
    each = 1.0 + 0.1 * np.arange(4)
    for c in range(4):
        # left through the valve: mass, energy, fuel, burned
        ends[names.index((f"intake {c + 1}", "right"))] = (
            each[c] * k * np.array([7.0e-4, 90.0, 5.0e-5, 1.0e-5])
        )
        ends[names.index((f"exhaust {c + 1}", "left"))] = (
            each[c] * k * np.array([-7.2e-4, -500.0, -1.0e-6, -6.89e-4])
        )
    volumes = {name: np.zeros(4) for name in run.network.volumes}
    volumes["air"] = -4.6 * k * np.array([6.51e-4, 80.0, 0.0, 0.0])
    volumes["outlet"] = 4.6 * k * np.array([7.2e-4, 400.0, 0.0, 0.0])
    volumes["crankcase"] = 4.6 * k * np.array([3e-6, 2.0, 0.0, 0.0])
    volumes["plenum"] = np.array([7e-3 + 1e-7 * k, 1500.0 + 0.01 * k, 5e-4, 1e-5])
    return Snapshot(
        duct_mass=2e-3 + 2e-7 * k,
        duct_energy=900.0 + 0.02 * k,
        contents=volumes,
        reservoirs=frozenset(("air", "outlet", "crankcase")),
        plenum=volumes["plenum"],
        ends=ends,
        echo=k * np.array([3e-5, 11.0, 0.0, 0.0]),
        vessel_heat=3.0 * k,
        duct_heat=8.0 * k,
        residual=each * (0.05 + 0.01 * (k % 2)),
        pressures=np.ones(3),
        work=700.0 * each * k,
        pumping=-30.0 * each * k,
        wall_heat=250.0 * each * k,
        burned_fuel=4.4e-5 * each * k,
        injected=2e-6 * each * k,
        injected_energy=-0.5 * each * k,
        crevice_mass=np.zeros(4),
        crevice_energy=np.zeros(4),
        charge_fuel=4.4e-5 * each,
        trapped_mass=8e-4 * each,
        trapped_air=each * (6.2e-4 + 4e-5 * (k % 2)),
        charge_temperature=np.full(4, 370.0) + k,
        peak_pressure=each * (5e6 + 1e5 * k),
    )


@pytest.fixture(scope="module")
def accounted(demo):
    """The account of two cycles that alternate, from made-up sums."""
    engine = demo.engine.changed(model="manifold")
    g = geometry_of(engine)
    run = build(engine).ready(angle=g.intake_seats)
    snapshots = [made_up_sums(run, k) for k in range(3)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(figures, "_check_balance", lambda *_: None)  # made-up sums do not balance
        return account(engine, run, 4000.0, g, Repeated(snapshots, 7, PlenumMean(96e3, 1.02, 306.0))), run


def test_figures_of_known_sums(accounted):
    """Means over both cycles and all four cylinders; flows are those of the whole engine."""
    point, _ = accounted
    f = point.figures
    mean = 1.15  # of the four cylinders
    full = ambient_density() * SWEPT
    per_second = 4000.0 / 120.0
    delivered = mean * (7.0e-4 - 5.0e-5 - 1.0e-5)
    fuel = mean * (5.0e-5 + 2e-6)
    imep = mean * 700.0 / SWEPT
    peak = mean * 5.15e6  # of the two cycles 5.1 and 5.2 MPa
    speed = 2.0 * STROKE * 4000.0 / 60.0
    fmep = 0.5e5 + 0.005 * peak + 0.06e5 * speed + 80.0 * speed**2
    torque = (imep - fmep) * SWEPT * N / (4.0 * np.pi)
    trapped = mean * 6.4e-4
    ledger = point.ledger
    due = {
        "ve": trapped / full,
        "ve_delivered": delivered / full,
        "ve_plenum": trapped / (SWEPT * 1.02),
        "ve_spread": 0.3 / 1.15,
        "torque": torque,
        "power": torque * 4000.0 * np.pi / 30.0,
        "bmep": imep - fmep,
        "imep": imep,
        "pmep": mean * 30.0 / SWEPT,
        "fmep": fmep,
        "residual": mean * 0.055,
        "lost_in_overlap": (7.2e-4 - 1.0e-6 - 6.89e-4) / (7.0e-4 - 5.0e-5 - 1.0e-5),
        "blow_by": 3e-6 / 8e-4,
        "peak_pressure": peak,
        "air_flow": delivered * per_second * N,
        "fuel_flow": fuel * per_second * N,
        "bsfc": fuel * per_second * N / (torque * 4000.0 * np.pi / 30.0),
        "charge_temperature": 371.5,
        "ca50": 8.0,
        "inlet_mach": 0.0,
        "plenum_pressure": 96e3,
        "plenum_temperature": 306.0,
        "wall_heat": mean * 250.0,
        "cycles": 7.0,
        "cylinders_computed": 4.0,
        "alternation": 1.3 * 4e-5 / trapped,
        "mass_error": abs(sum(ledger.mass.values())) / (8.0 * delivered),
        "energy_error": abs(sum(ledger.energy.values())) / (8.0 * fuel * 43.1e6),
        "periodicity": 6e-7 / (8.0 * delivered),
    }
    assert set(due) == set(FIGURES)
    for name, value in due.items():
        assert f[name] == pytest.approx(value, rel=1e-4), name
    assert point.ve_cylinder == pytest.approx(6.4e-4 * np.array([1.0, 1.1, 1.2, 1.3]) / full, rel=1e-4)
    assert point.rpm == 4000.0


def test_ledgers_of_known_sums(accounted):
    """Over both cycles and all cylinders; in is positive."""
    ledger, all_four = accounted[0].ledger, 4.6
    assert ledger.mass == pytest.approx(
        {
            "in from the air": 2 * all_four * 6.51e-4,
            "to the other cylinders": 6e-5,
            "injected fuel": 2 * all_four * 2e-6,
            "past the rings": -2 * all_four * 3e-6,
            "out through the exhaust": -2 * all_four * 7.2e-4,
            "stored in ducts, plenum and cylinders": -6e-7,
        }
    )
    heat = accounted[1].chambers.heat_release[0]
    assert 0.88 * 43.1e6 < heat < 0.97 * 43.1e6  # rich: CO and H2 are left; 3 % stays unburned
    assert ledger.energy == pytest.approx(
        {
            "in from the air": 2 * all_four * 80.0,
            "heat released": 2 * all_four * 4.4e-5 * heat,
            "to the other cylinders": 22.0,
            "injected fuel": -2 * all_four * 0.5,
            "work on the piston": -2 * all_four * 700.0,
            "heat to cylinder walls": -2 * all_four * 250.0,
            "heat from duct walls": 16.0,
            "heat to the plenum wall": -6.0,
            "past the rings": -2 * all_four * 2.0,
            "out through the exhaust": -2 * all_four * 400.0,
            "stored in ducts, plenum and cylinders": -0.06,
        }
    )
    assert ledger.mass_gap == pytest.approx(sum(ledger.mass.values()))
    assert ledger.energy_gap == pytest.approx(sum(ledger.energy.values()))


@pytest.mark.parametrize(
    "changed", ["trapped_mass", "work", "residual", "burned", "stored", "pressures", "plenum"]
)
def test_nothing_may_drift_alone(demo, changed):
    """Cycles that agree in all but one thing do not repeat; in all things they do."""
    from aircolumn.engine.model.repetition import CycleConvergence

    engine = demo.engine.changed(model="manifold")
    run = build(engine).ready(angle=geometry_of(engine).intake_seats)

    def cycles(rate):
        """Six cycles in which ``changed`` moves by ``rate`` (relative) a cycle."""
        found = []
        for k in range(6):
            s = made_up_sums(run, 2 * k)
            plenum = np.array([7e-3, 1500.0, 5e-4, 1e-4])
            same = {
                "contents": {},
                "plenum": plenum,
                "duct_mass": 2e-3,
                "duct_energy": 900.0,
                "pressures": np.full(5, 1e5),
            }
            s = replace(s, **same)
            if changed in ("trapped_mass", "residual", "pressures"):
                s = replace(s, **{changed: getattr(s, changed) * (1.0 + rate * k)})
            elif changed == "work":
                s = replace(s, work=s.work * (1.0 + 0.5 * rate * k))  # summed up: changes grow
            elif changed == "burned":
                plenum[3] += 7e-3 * rate * k
            elif changed == "stored":
                s = replace(s, duct_mass=2e-3 + 3.68e-3 * rate * k)
            found.append(s)
        return found

    def period(rate, off=(0.0, 0.0)):
        judge = CycleConvergence(5e-4, run)
        snapshots = cycles(rate)
        return [judge.period(snapshots[: k + 1], np.array(off)) for k in range(1, 6)]

    assert period(0.0) == [0, 0, 1, 1, 1]
    if changed == "plenum":
        assert not any(period(0.0, (0.0, 2e-3)))
        assert not any(period(0.0, (2e-3, 0.0)))
        return
    assert not any(period(0.02))
    assert any(period(1e-6))


def test_what_starves_is_judged_against_a_fifth_of_a_charge(demo):
    """Trapped mass of less than 0.2 of a full cylinder, work of less than 1 bar mean pressure."""
    from aircolumn.engine.model.repetition import CycleConvergence

    engine = demo.engine.changed(model="manifold")
    run = build(engine).ready(angle=geometry_of(engine).intake_seats)
    judge = CycleConvergence(5e-4, run)
    full = ambient_density() * SWEPT  # the air drawn holds fuel vapour
    assert judge.least[0] == pytest.approx(0.2 * full, rel=0.06)
    assert judge.least[1] == pytest.approx(1e5 * SWEPT, rel=1e-9)

"""The main job on the demo engine, against facts of the trade and handbook ranges."""

import numpy as np
import pytest
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn.curves.curve import curve
from aircolumn.curves.summary import all_crossings, peak
from aircolumn.engine.model import operating_point as marching
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.engine.model.piping import intake_piping, pipe_sections
from aircolumn.errors import ComputationError


def test_longer_runner_has_its_hump_lower_and_the_curves_cross(compared):
    """Common practice, no source: the longer runner's hump lies lower, and between the humps the
    curves cross once."""
    short, long = (compared.torque.sel(runner=r).values for r in ("short", "long"))
    rpm = compared.rpm.values
    humps = [peak(rpm, compared.ve.sel(runner=r).values).rpm for r in ("long", "middle", "short")]
    assert humps == sorted(humps)
    assert humps[0] < humps[-1]
    low = rpm <= humps[0]
    assert long[low].mean() > short[low].mean()
    assert long[-1] < short[-1]
    crossed = [at for *pair, at in all_crossings(compared, "torque") if pair == ["short", "long"]]
    assert len([at for at in crossed if humps[0] < at < humps[-1]]) == 1


def test_handbook_ranges(compared):
    """Heywood, Taylor, from memory: sanity limits for naturally aspirated spark ignition."""
    for name in compared.runner.values:
        one = compared.sel(runner=name)
        top = one.isel(rpm=int(np.argmax(one.torque.values)))
        assert 8e5 <= float(top.bmep) <= 14e5
        assert 0.80 <= float(one.ve.max()) <= 1.20
        assert np.all((one.fmep >= 1e5) & (one.fmep <= 2.5e5))
        assert 255.0 <= float(top.bsfc) * 3.6e9 <= 300.0
        # More where friction eats most and burning takes longest: at the top of the range.
        assert np.all((one.bsfc.values * 3.6e9 >= 250) & (one.bsfc.values * 3.6e9 <= 330))
        assert 0.03 <= float(one.residual.mean()) <= 0.10
        assert np.all((one.residual >= 0.02) & (one.residual <= 0.10))


def test_halving_mesh_and_step_changes_ve_little(demo, compared):
    """The uncertainty of the index is three to six times the change where that is small."""
    assert float(compared.ve_uncertainty.max()) <= 0.004
    for name, rpm in (("long", 2500.0), ("short", 4500.0)):
        fine = operating_point(demo.with_runner(name), rpm, 2.0).figures["ve"]
        assert fine == pytest.approx(float(compared.ve.sel(runner=name, rpm=rpm)), rel=0.002)


def test_ledgers_close(compared):
    assert float(compared.mass_error.max()) <= 1e-6
    assert float(compared.energy_error.max()) <= 1e-3
    # ... and close to rounding, because cells and volumes exchange the same numbers
    assert float(compared.mass_error.max()) <= 1e-11
    assert float(compared.periodicity.max()) <= 6e-4


def test_air_goes_in_or_past(compared):
    """Delivered air is trapped or short-circuited, at the converged cycle."""
    past = compared.ve_delivered * (1.0 - compared.lost_in_overlap)
    assert np.allclose(past, compared.ve, rtol=2e-3)


def test_work_and_torque_agree(compared):
    """Torque = BMEP Vd / (4 pi); power = torque times angular speed."""
    swept = np.pi / 4 * 0.089**2 * 0.1 * 4
    assert np.allclose(compared.torque, compared.bmep * swept / (4 * np.pi), rtol=1e-6)
    omega = compared.rpm * np.pi / 30
    assert np.allclose(compared.power, compared.torque * omega, rtol=1e-12)


def test_convergence_tolerance_is_honest(demo):
    """A point accepted at 0.05 % lies within it of the one marched far longer."""
    engine = demo.with_runner("long")
    numerics = engine.numerics.model_copy(update={"repeat_within": 2e-5, "most_cycles": 200})
    tight = engine.model_copy(update={"numerics": numerics})
    for rpm in (2500, 5000):
        loose, exact = (operating_point(e, rpm).figures["ve"] for e in (engine, tight))
        assert loose == pytest.approx(exact, rel=5e-4)


def test_unconverged_point_is_an_error(demo):
    numerics = demo.engine.numerics.changed(most_cycles=3, repeat_within=1e-5)
    engine = demo.engine.model_copy(update={"numerics": numerics})
    with pytest.raises(ComputationError, match="does not repeat"):
        operating_point(engine, 3000)


def test_same_input_same_bits(demo):
    first, second = (operating_point(demo.engine, 3500).figures for _ in range(2))
    assert first == second


def test_direct_injection_keeps_the_vapour_out_of_the_runner(demo):
    """Without vapour in the runner there is more room for air, but also less heat capacity, so the
    charge is warmer at intake closing; on the mean over speed the room wins. (Fuel that comes as
    the valve shuts, against vapour that has cooled nothing.)"""
    wet, dry = (
        demo.engine.changed(mixture=demo.engine.mixture.changed(**changes))
        for changes in (
            {"delivery": "premixed", "latent_heat": 0.0},
            {"delivery": "direct", "charge_cooling": 0.0, "injection_start": 0.0},
        )
    )
    rpm = [2000.0, 3000.0, 4500.0, 6000.0]
    wet, dry = curve(wet, rpm), curve(dry, rpm)
    assert 1.002 < float((dry.ve / wet.ve).mean()) < 1.02
    assert np.all(dry.charge_temperature > wet.charge_temperature + 2.0)
    assert float(dry.mass_error.max()) < 1e-9
    assert float(dry.energy_error.max()) < 1e-9
    ratio = dry.air_flow / dry.fuel_flow
    assert np.allclose(ratio, demo.engine.mixture.air_fuel_ratio, rtol=2e-3)


def test_part_throttle_costs_air_and_work(demo):
    throttle = demo.engine.intake.throttle.model_copy(update={"angle": 14.0})
    intake = demo.engine.intake.model_copy(update={"throttle": throttle})
    closed = demo.engine.model_copy(update={"intake": intake})
    wide, part = (operating_point(e, 3000).figures for e in (demo.engine, closed))
    assert part["plenum_pressure"] < 0.8 * wide["plenum_pressure"]
    assert part["ve"] < 0.8 * wide["ve"]
    assert part["pmep"] > wide["pmep"]
    assert part["residual"] > wide["residual"]


def test_mesh_method_runs_an_engine_but_loses_mass(demo):
    """The classical member gives nearly the same engine; its ledger shows that it does not
    conserve, which is why it is not the default."""
    numerics = demo.engine.numerics.model_copy(update={"method": "mesh"})
    classical = demo.engine.model_copy(update={"numerics": numerics})
    ours, theirs = (operating_point(e, 4000).figures for e in (demo.engine, classical))
    assert theirs["ve"] == pytest.approx(ours["ve"], rel=0.05)
    assert theirs["mass_error"] > 1e-5 > 1e-9 > ours["mass_error"]


def test_classroom_engine_follows_its_runners():
    description = aircolumn.load(CLASSROOM)
    data = aircolumn.compare(description, [2000, 2500, 3000, 3500, 4000, 5000, 6000])
    humps = [peak(data.rpm.values, data.ve.sel(runner=r).values).rpm for r in data.runner.values]
    assert humps == sorted(humps, reverse=True)
    assert humps[0] > humps[-1]


def test_curve_of_a_description_uses_the_intake_runner(demo, compared):
    """intake.runner of the demo is the middle candidate."""
    data = curve(demo, [3000.0])
    middle = compared.sel(runner="middle", rpm=3000.0)
    # One point has cells of the usual length, a whole comparison those of the accuracy asked for.
    assert float(data.ve[0]) == pytest.approx(float(middle.ve), rel=demo.engine.numerics.accuracy)
    assert data.ve.attrs["units"] == "1"
    assert data.rpm.attrs["units"] == "rev/min"


def test_workers_do_not_change_results(demo):
    one = aircolumn.compare(demo, [4000.0], workers=1)
    two = aircolumn.compare(demo, [4000.0], workers=2)
    assert one.equals(two)


def test_each_pipe_has_its_own_wall(demo):
    """Multipliers, roughness and wall temperature hold for their pipe only; the end correction is
    open air and has no wall."""
    intake = demo.engine.intake
    runner = intake.runner.model_copy(update={"friction_factor": 0.0, "heat_factor": 3.0})
    engine = demo.engine.model_copy(update={"intake": intake.model_copy(update={"runner": runner})})
    run = intake_piping(engine)
    x = np.array([0.005, 0.2, run.shape.length - 0.01])
    assert run.wall().friction(x).tolist() == [0.0, 0.0, 1.0]
    assert run.wall().heat(x).tolist() == [0.0, 3.0, 2.0]
    assert run.wall().temperature(x)[1:].tolist() == [
        runner.wall_temperature,
        intake.port.wall_temperature,
    ]
    assert run.shape.length > pipe_sections(runner, None)[0][0] + intake.port.length


def test_friction_costs_air(demo):
    """A smooth adiabatic intake breathes more."""
    update = {"friction_factor": 0.0, "heat_factor": 0.0}
    intake = demo.engine.intake
    pipes = {
        "runner": intake.runner.model_copy(update=update),
        "port": intake.port.model_copy(update=update),
    }
    ideal = demo.engine.model_copy(update={"intake": intake.model_copy(update=pipes)})
    real = operating_point(demo.engine, 3000).figures["ve"]
    assert operating_point(ideal, 3000).figures["ve"] > real


def test_coarse_start_changes_the_way_and_not_the_answer(demo, monkeypatch):
    """Started from rest, the fine mesh comes to the same cycle: both within the tolerance."""
    for runner, rpm in (("long", 1500.0), ("long", 4000.0), ("short", 5500.0)):
        engine = demo.with_runner(runner)
        quick = operating_point(engine, rpm).figures
        with monkeypatch.context() as patch:
            patch.setattr(marching, "_approach", lambda *_: (None, None))
            slow = operating_point(engine, rpm).figures
        assert quick["cycles"] < slow["cycles"]
        for name in ("ve", "torque", "residual", "plenum_pressure"):
            assert quick[name] == pytest.approx(slow[name], rel=2.0 * engine.numerics.repeat_within)

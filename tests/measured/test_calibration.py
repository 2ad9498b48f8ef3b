"""Calibration finds what was hidden, says how well, and refuses what the data cannot tell."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn.errors import RequestError
from aircolumn.measured.calibration import UNKNOWNS, Predictor, calibrate, with_values
from aircolumn.measured.invented_pulls import DynoCell, true_curve, write_pulls
from aircolumn.measured.logs.pull_file import Pull, PullFile
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import measured_curve

SPEEDS = np.arange(1500.0, 6001.0, 250.0)


@pytest.fixture(scope="module")
def engine():
    """The classroom engine, compared at few speeds; its mixture as an air-fuel ratio."""
    engine = aircolumn.load(CLASSROOM).with_runner("middle")
    mixture = engine.mixture.changed(air_fuel_ratio=13.2, relative_air_fuel_ratio=None)
    return engine.changed(pull=engine.pull.changed(step=500.0), mixture=mixture)


@pytest.fixture(scope="module")
def pulls(engine, tmp_path_factory):
    """Quiet pulls with a hidden discharge factor and friction."""
    path = tmp_path_factory.mktemp("p") / "p.csv"
    hidden = {"discharge": 0.94, "fmep": 0.2e5}
    curve = true_curve(with_values(engine, hidden), np.arange(2000.0, 5501.0, 250.0))
    write_pulls(path, curve, engine, np.random.default_rng(3), 3, DynoCell())
    return measured_curve(read_pulls(path), engine, "middle", "j1349"), hidden


def test_finds_discharge_and_friction(engine, pulls):
    curve, hidden = pulls
    found = calibrate(engine, curve, ["discharge", "fmep"])
    for name, value in hidden.items():
        assert abs(found.values[name] - value) <= found.half_widths[name]
        assert found.judgement(name) == "plausible"
    assert found.half_widths["discharge"] < 0.05
    assert found.misfit < 3.0
    assert found.engine.intake.valve.discharge.factor == found.values["discharge"]


def test_the_four_unknowns_do_what_they_say(engine):
    changed = with_values(engine, {"discharge": 0.9, "walls": 10.0, "cam": 3.0, "fmep": 1e4})
    assert changed.intake.valve.discharge.factor == pytest.approx(0.9)
    assert changed.intake.runner.wall_temperature == engine.intake.runner.wall_temperature + 10.0
    assert changed.intake.port.wall_temperature == engine.intake.port.wall_temperature + 10.0
    assert np.subtract(changed.intake_events(), engine.intake_events()) == pytest.approx([3.0, 3.0])
    assert changed.exhaust_events() == engine.exhaust_events()
    point, plain = (
        aircolumn.operating_point(e, 3000.0).figures for e in (with_values(engine, {"fmep": 1e4}), engine)
    )
    assert point["fmep"] - plain["fmep"] == pytest.approx(1e4)


def test_friction_without_marching_is_the_same(engine, pulls):
    predictor = Predictor(engine, pulls[0], ["fmep"])
    plain, more = predictor.many([[0.0], [2e4]])
    assert len(predictor.kept) == 1
    k = list(predictor.rpm).index(3000.0)
    engine_then = with_values(predictor.engines[k], {"fmep": 2e4})
    assert aircolumn.operating_point(engine_then, 3000.0).figures["torque"] == pytest.approx(more[0, k])
    assert np.all(more[1] == plain[1])


def test_collinear_unknowns_are_refused(engine, pulls):
    """An unknown that does what another does already cannot be told from it."""
    curve, _ = pulls
    twin = replace(UNKNOWNS["discharge"], apply=lambda e, v: with_values(e, {"discharge": v}))
    UNKNOWNS["twin"] = twin
    try:
        with pytest.raises(RequestError, match="discharge and twin apart"):
            calibrate(engine, curve, ["discharge", "twin"])
    finally:
        del UNKNOWNS["twin"]


def test_refuses_what_the_data_cannot_tell(engine, pulls):
    curve, _ = pulls
    torque_only = {c: v for c, v in curve.readings.items() if c != "air_flow"}
    blind = replace(curve, readings=torque_only)
    with pytest.raises(RequestError, match=r"cannot tell .* better than \+-[\d.]+.* \(plausible: \+-"):
        calibrate(engine, blind, ["discharge", "fmep", "walls", "cam"])
    few = measured_curve(_first_rows(curve), engine, "middle", "j1349")
    with pytest.raises(RequestError, match="too few"):
        calibrate(engine, few, ["discharge", "fmep"])
    with pytest.raises(RequestError, match="there are: discharge, fmep, walls, cam"):
        calibrate(engine, curve, ["spark"])


def _first_rows(curve):
    """A file of one pull with one speed and no air flow."""
    readings = {"rpm": np.array([2990.0, 3000.0, 3010.0]), "torque": np.array([40.0, 40.1, 40.2])}
    return PullFile(Path("none.csv"), [Pull(np.arange(3), readings)], {}, [])


class Emulator(Predictor):
    """Predictions read off a grid of marched curves, so that a hundred fits take seconds.

    grid: (2, s) of torque and air flow at each discharge factor and cam timing, in the engine
    file's air; another barometer scales them by their marched answer to pressure.
    """

    def __init__(self, engine, curve, names, axes, grid, effect):
        super().__init__(engine, curve, names)
        self.read = RegularGridInterpolator(axes, grid, "cubic", False, None)
        self.effect = effect
        due = engine.intake.ambient.pressure
        stated = np.array([e.intake.ambient.pressure for e in self.engines])
        self.scale = 1.0 + effect * (stated / due - 1.0)

    def pressure_effect(self):
        return self.effect

    def _march(self, curves):
        return []

    def many(self, rows):
        at = {n: k for k, n in enumerate(self.names)}
        found = []
        for row in rows:
            values = self.scale * self.read([row[at["discharge"]], row[at["cam"]]])[0]
            values[0] -= row[at["fmep"]] * self.per_fmep
            found.append(values)
        return found


@pytest.mark.slow
def test_hidden_values_lie_within_the_stated_uncertainty(engine, tmp_path):
    """100 seeded trials with noise, drift and a wrong barometer: discharge factor, friction and
    cam timing all within their intervals in at least 90; the curves are marched, 25 hidden sets."""
    engine = engine.changed(
        pull=engine.pull.changed(step=250.0, accuracy=engine.pull.accuracy.changed(barometer=600.0))
    )
    names = ["discharge", "fmep", "cam"]
    blank = measured_curve(_blank(), engine, "middle", "j1349")
    marcher = Predictor(engine, blank, names)
    axes = (np.linspace(0.85, 1.15, 5), np.linspace(-8.0, 8.0, 5))
    rows = [[d, 0.0, c] for d in axes[0] for c in axes[1]]
    grid = np.array(marcher.many(rows)).reshape(5, 5, 2, SPEEDS.size)
    effect = marcher.pressure_effect()
    rng = np.random.default_rng(2026)
    within, kinds, trial = 0, dict.fromkeys(names, 0), 0
    sizes = []
    for _ in range(25):
        hidden = {
            "discharge": rng.uniform(0.92, 1.06),
            "fmep": rng.uniform(-2e4, 2e4),
            "cam": rng.uniform(-3.0, 3.0),
        }
        curve = true_curve(with_values(engine, hidden), SPEEDS)
        for _ in range(4):
            cell = DynoCell(
                drift=rng.uniform(-0.01, 0.01),
                barometer_error=rng.uniform(-1000.0, 1000.0),
                torque_scale=rng.normal(0.0, 0.005),
                air_scale=rng.normal(0.0, 0.01),
            )
            path = tmp_path / "p.csv"
            write_pulls(path, curve, engine, np.random.default_rng([7, trial]), 4, cell)
            measured = measured_curve(read_pulls(path), engine, "middle", "j1349")
            assert list(measured.rpm) == list(SPEEDS)
            emulator = Emulator(engine, measured, names, axes, grid, effect)
            found = calibrate(engine, measured, names, predictor=emulator)
            hits = {n: abs(found.values[n] - hidden[n]) <= found.half_widths[n] for n in names}
            within += all(hits.values())
            sizes.append([found.half_widths[n] for n in names])
            for n, hit in hits.items():
                kinds[n] += hit
            trial += 1
    widths = dict(zip(names, np.mean(sizes, axis=0), strict=True))
    print(f"within {within} of {trial}, each {kinds}, mean half-widths {widths}")
    assert within >= 90
    # The intervals say something: they are narrower than what is plausible.
    for n in names:
        low, high = UNKNOWNS[n].plausible
        assert widths[n] < 0.5 * (high - low)


def _blank():
    """A pull over SPEEDS whose readings play no part."""
    readings = {"rpm": SPEEDS, "torque": np.full(SPEEDS.size, 40.0)}
    return PullFile(Path("none.csv"), [Pull(np.arange(SPEEDS.size), readings)], {}, [])

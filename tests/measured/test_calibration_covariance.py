"""The calibration's covariance by hand, and what the barometer's part is worth."""

from pathlib import Path

import numpy as np
import pytest
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn.measured.calibration import UNKNOWNS, Predictor, calibrate, with_values
from aircolumn.measured.invented_pulls import DynoCell, true_curve, write_pulls
from aircolumn.measured.logs.pull_file import Pull, PullFile
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.measured.measured_curve import measured_curve


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


LINES = np.arange(2000.0, 5001.0, 250.0)


class Straight(Predictor):
    """An engine whose torque and air flow are straight lines in discharge factor, friction and cam
    timing, and whose barometer counts: everything about its fit has a closed form."""

    def __init__(self, engine, curve, names):
        super().__init__(engine, curve, names)
        n = (self.rpm - 3500.0) / 1500.0
        self.base = np.array([40.0 - 6.0 * n**2, (0.012 + 0.008 * n) * np.ones_like(n)])
        by_discharge = np.array([0.55 - 0.2 * n**2, 0.5 + 0.25 * n])
        by_cam = np.array([0.004 * n, 0.003 * n - 0.0005])
        self.slopes = {
            "discharge": by_discharge * self.base,
            "cam": by_cam * self.base,
            "fmep": np.array([-np.full_like(n, self.per_fmep), 0.0 * n]),
        }
        self.effect = np.array([1.15 + 0.1 * n, 0.95 - 0.2 * n])

    def pressure_effect(self):
        return self.effect

    def many(self, rows):
        neutral = [UNKNOWNS[n].neutral for n in self.names]
        moved = [dict(zip(self.names, np.subtract(r, neutral), strict=True)) for r in rows]
        return [self.base + sum(self.slopes[n] * x for n, x in m.items()) for m in moved]


def straight_curve(engine, rng, hidden, accuracy, pulls=4, seen=None):
    """Pulls of that engine with noise from pull to pull and from speed to speed, a wrong scale of
    torque and of air flow, and a wrong barometer."""
    blank = _curve_of(engine, np.ones((pulls, LINES.size)), np.ones((pulls, LINES.size)))
    truth = Straight(engine, blank, list(hidden))
    torque, air = truth.many([list(hidden.values())])[0]
    wrong = rng.normal(0.0, accuracy.barometer) / 99e3
    torque = torque * (1.0 + rng.normal(0.0, accuracy.torque) + truth.effect[0] * wrong)
    air = air * (1.0 + rng.normal(0.0, accuracy.air_flow) + truth.effect[1] * wrong)
    noise = rng.normal(0.0, 0.004, (2, pulls, LINES.size))
    return _curve_of(engine, torque * (1 + noise[0]), air * (1 + noise[1]))


def _curve_of(engine, torque, air):
    pulls = []
    for t, a in zip(torque, air, strict=True):
        readings = {"rpm": LINES, "torque": t, "air_flow": a}
        pulls.append(Pull(np.arange(LINES.size), readings))
    curve = measured_curve(PullFile(Path("none.csv"), pulls, {}, []), engine, "middle", "j1349")
    assert list(curve.rpm) == list(LINES)
    return curve


@pytest.fixture(scope="module")
def lines_engine(engine):
    accuracy = engine.pull.accuracy.changed(torque=0.004, air_flow=0.008, barometer=900.0)
    return engine.changed(pull=engine.pull.changed(step=250.0, accuracy=accuracy))


def covariance_by_hand(engine, curve, effect):
    """diag(s^2/n + model^2) + g_T g_T^T + g_a g_a^T + g_p g_p^T, torque first, then air flow."""
    speeds, n = LINES.size, curve.pulls
    c = np.zeros((2 * speeds, 2 * speeds))
    accuracy = engine.pull.accuracy
    air = curve.readings["air_flow"]
    for k, (values, scale) in enumerate(((curve.observed, accuracy.torque), (air, accuracy.air_flow))):
        relative = values / values.mean(axis=0)
        s2 = relative.var(axis=0, ddof=1).mean()
        block = slice(k * speeds, (k + 1) * speeds)
        c[block, block] += np.eye(speeds) * (s2 / n + 1e-3**2)
        levels = (values / values.mean(axis=0)).mean(axis=1)
        assert _drift_not_shown(levels)
        c[block, block] += scale**2
    g = (effect * accuracy.barometer / curve.air.pressure.mean()).ravel()
    return c + np.outer(g, g)


def _drift_not_shown(levels):
    x = np.arange(levels.size) - (levels.size - 1) / 2.0
    slope = x @ levels / (x @ x)
    rest = levels - levels.mean() - slope * x
    error = np.sqrt(rest @ rest / (levels.size - 2) / (x @ x))
    return abs(slope) < 4.3 * error  # t at 2 degrees of freedom, 95 %


def test_covariance_and_intervals_by_hand(lines_engine):
    """Generalised least squares of straight lines: x = (J^T C^-1 J)^-1 J^T C^-1 d, its covariance
    enlarged by chi^2 per degree of freedom above 1, and Bonferroni's t for three unknowns."""
    from scipy.stats import t as student

    engine, names = lines_engine, ["discharge", "fmep", "cam"]
    hidden = {"discharge": 0.97, "fmep": 0.8e4, "cam": 1.0}
    curve = straight_curve(engine, np.random.default_rng(5), hidden, engine.pull.accuracy)
    predictor = Straight(engine, curve, names)
    found = calibrate(engine, curve, names, predictor=predictor)
    measured = np.concatenate([curve.observed.mean(axis=0), curve.readings["air_flow"].mean(axis=0)])
    j = np.array([predictor.slopes[n].ravel() for n in names]).T / measured[:, None]
    d = 1.0 - predictor.base.ravel() / measured
    inverse = np.linalg.inv(covariance_by_hand(engine, curve, predictor.effect))
    information = j.T @ inverse @ j
    x = np.linalg.solve(information, j.T @ inverse @ d)
    chi2 = (d - j @ x) @ inverse @ (d - j @ x) / (measured.size - 3)
    wide = student.ppf(1.0 - 0.05 / 6.0, measured.size - 3) * np.sqrt(
        np.diag(np.linalg.inv(information)) * max(1.0, chi2)
    )
    for k, name in enumerate(names):
        assert found.values[name] - UNKNOWNS[name].neutral == pytest.approx(x[k], rel=2e-3)
        assert found.half_widths[name] == pytest.approx(wide[k], rel=2e-3)
    assert found.misfit == pytest.approx(chi2, rel=2e-3)


@pytest.mark.slow
def test_the_barometers_part_makes_the_intervals_honest(lines_engine, monkeypatch):
    """200 trials with a barometer that is wrong by 2 kPa while scales are good: with its part in
    the covariance nearly all hidden values lie within their intervals, without it few do."""
    accuracy = lines_engine.pull.accuracy.changed(torque=0.001, air_flow=0.001, barometer=2000.0)
    engine = lines_engine.changed(pull=lines_engine.pull.changed(accuracy=accuracy))
    names = ["discharge", "cam"]
    hidden = {"discharge": 0.98, "cam": 0.5}
    hits = {}
    for counted in (True, False):
        rng, within = np.random.default_rng(11), 0
        for _ in range(200):
            curve = straight_curve(engine, rng, hidden, engine.pull.accuracy)
            predictor = Straight(engine, curve, names)
            if not counted:
                predictor.pressure_effect = lambda: np.zeros((2, LINES.size))
            found = calibrate(engine, curve, names, predictor=predictor)
            within += all(abs(found.values[n] - v) <= found.half_widths[n] for n, v in hidden.items())
        hits[counted] = within
    print(f"within: {hits} of 200")
    assert hits[True] >= 0.93 * 200
    assert hits[False] <= 0.6 * 200


def test_pressure_effect_is_what_another_march_says(engine, pulls):
    predictor = Predictor(engine, pulls[0], ["discharge"])
    effect = predictor.pressure_effect()
    k = list(predictor.rpm).index(4000.0)
    plain = predictor.engines[k]
    air = plain.intake.ambient
    raised = plain.with_intake(ambient=air.changed(pressure=1.02 * air.pressure))
    one, other = (aircolumn.operating_point(e, 4000.0).figures for e in (plain, raised))
    for row, name in zip(effect, ("torque", "air_flow"), strict=True):
        assert row[k] == pytest.approx((other[name] / one[name] - 1.0) / 0.02, rel=0.03)


@pytest.mark.parametrize(
    ("value", "wide", "said"),
    [
        (1.05, 0.01, "plausible"),
        (0.9, 0.01, "plausible"),
        (1.12, 0.03, "just plausible"),
        (1.04, 0.08, "not determined: put the head on a flow bench, or log the air flow"),
        (0.89, 0.02, "just plausible"),
        (1.15, 0.03, "not plausible: look for another cause"),
        (1.2999, 0.5, "at its bound: something else is wrong"),
        (0.7001, 0.5, "at its bound: something else is wrong"),
        (1.298, 0.2, "just plausible"),
    ],
)
def test_judgement_of_a_fitted_value(value, wide, said):
    """Bounds 0.7 to 1.3, plausible 0.9 to 1.1."""
    from aircolumn.measured.calibration import Calibration

    found = Calibration({"discharge": value}, {"discharge": wide}, {}, np.eye(1), 1.0, 1, None)
    assert found.judgement("discharge") == said


def test_the_unknowns_as_documented():
    """Bounds of the fit, what is plausible, kind of quantity (SI inside)."""
    found = {n: (u.bounds, u.plausible, u.neutral, u.kind) for n, u in UNKNOWNS.items()}
    assert found == {
        "discharge": ((0.7, 1.3), (0.9, 1.1), 1.0, "number"),
        "fmep": ((-1e5, 1e5), (-0.3e5, 0.3e5), 0.0, "mean pressure"),
        "walls": ((-60.0, 120.0), (-20.0, 40.0), 0.0, "temperature difference"),
        "cam": ((-15.0, 15.0), (-5.0, 5.0), 0.0, "angle"),
    }

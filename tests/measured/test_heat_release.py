"""The burn read back from pressures whose burn is known, and what cycles say."""

import json

import numpy as np
import pytest
from tests.conftest import CLASSROOM
from tests.printed import command

import aircolumn
from aircolumn.engine.description.traces import TraceChannel
from aircolumn.errors import RequestError
from aircolumn.flow.cylinder.burn import wiebe_share, wiebe_timing
from aircolumn.measured.traces.cycles import AT
from aircolumn.measured.traces.heat_release import SHARES, heat_release
from aircolumn.measured.traces.indicated import burn_of, indicated, with_burn
from aircolumn.measured.traces.invented_traces import LASTING
from aircolumn.measured.traces.predicted import predicted

CYLINDER = {"p cyl": TraceChannel.model_validate({"place": "cylinder"})}


@pytest.fixture(scope="module")
def engine():
    return aircolumn.load(CLASSROOM).engine


def burning(engine, **keys):
    return engine.changed(combustion=engine.combustion.changed(**keys))


def noisy(signal, count, rng, size=3e3):
    """Cycles with noise that lasts along each."""
    from scipy.signal import lfilter

    white = rng.normal(size=(count, AT.size))
    return signal + size * lfilter([1.0], [1.0, -LASTING], white, axis=1) * np.sqrt(1.0 - LASTING**2)


@pytest.mark.parametrize(
    ("rpm", "keys"),
    [
        (4000.0, {"ca50": 8.0, "duration_10_90": 25.0}),
        (1500.0, {"ca50": 20.0, "duration_10_90": 20.0, "ca50_scatter": 0.0}),
        (5500.0, {"ca50": 2.0, "duration_10_90": 22.0, "residual_factor": 1.0}),
        (3000.0, {"ca50": 12.0, "duration_10_90": 28.0, "form": 3.0, "zones": 2}),
    ],
)
def test_a_known_burn_is_read_back(engine, rpm, keys):
    """10, 50, 90 % within 0.3 deg with noise of 3 kPa, the mean of 30 cycles; without noise the heat is that
    of the fuel that burned within 0.5 %."""
    one = burning(engine, **keys)
    model = predicted(one, rpm, CYLINDER)
    rng = np.random.default_rng(11)
    found = heat_release(noisy(model.signals[0], 30, rng), model.volume, model.charge)
    assert found.angles.mean(axis=0) == pytest.approx(model.charge.due, abs=0.3)
    clean = heat_release(model.signals, model.volume, model.charge)
    assert clean.angles[0] == pytest.approx(model.charge.due, abs=0.25)
    assert clean.heat[0] == pytest.approx(clean.heat_due, rel=5e-3)


def test_pressures_below_nothing_have_no_burn(engine):
    model = predicted(engine, 3000.0, CYLINDER)
    with pytest.raises(RequestError, match="its level is wrong"):
        heat_release(model.signals - 3e5, model.volume, model.charge)


def test_what_is_due_is_the_wiebe_law(engine):
    """Without scatter the angles are those of the law: half at ca50, 10 to 90 % in its duration."""
    one = burning(engine, ca50=9.0, duration_10_90=24.0, ca50_scatter=0.0, reference_speed=3000.0)
    one = one.changed(combustion=one.combustion.changed(mixture_exponent=0.0))
    due = predicted(one, 3000.0, CYLINDER).charge.due
    start, total = wiebe_timing(9.0, 24.0, one.combustion.form)
    assert wiebe_share(np.array(due), start, total, one.combustion.form) == pytest.approx(SHARES, abs=2e-3)
    assert due[1] == pytest.approx(9.0, abs=0.02)
    assert due[2] - due[0] == pytest.approx(24.0, abs=0.05)


def test_walls_and_crevices_are_in_the_balance(engine):
    """A burn without them in the reckoning would come out otherwise: half the heat to the walls, or none
    hidden, moves the heat by more than its error."""
    model = predicted(engine, 2000.0, CYLINDER)
    whole = heat_release(model.signals, model.volume, model.charge).heat[0]
    from dataclasses import replace

    c = model.charge
    for other in (
        replace(c, cylinder=replace(c.cylinder, heat_factor=0.5 * c.cylinder.heat_factor)),
        replace(c, cylinder=replace(c.cylinder, crevice_volume=0.0)),
    ):
        assert abs(heat_release(model.signals, model.volume, other).heat[0] / whole - 1.0) > 0.01


def test_cycles_that_burn_unlike_each_other(engine):
    """Each cycle has a burn of its own: scatter, mean and duration for the engine file."""
    at = [4.0, 7.0, 9.0, 12.0, 13.0]
    models = [predicted(burning(engine, ca50=a, ca50_scatter=0.0), 3000.0, CYLINDER) for a in at]
    cycles = np.concatenate([m.signals for m in models])
    found = heat_release(cycles, models[2].volume, models[2].charge)
    assert found.scatter == pytest.approx(np.std(at, ddof=1), rel=0.03)
    assert found.angles[:, 1] == pytest.approx(at, abs=0.15)
    burn = burn_of(engine, found, 3000.0, models[2].charge.stretch)
    again = with_burn(engine, burn, 3000.0)
    model = predicted(again, 3000.0, CYLINDER)
    assert model.signals[0] == pytest.approx(cycles.mean(axis=0), abs=0.015 * cycles.max())
    assert again.combustion.ca50_scatter == pytest.approx(3.67, abs=0.15)


def test_mean_pressures_by_hand():
    """A polytropic loop: p V^1.3 up, 3 times as high down, 1 bar in between: work from the integral."""
    volume = 5e-5 + 4.5e-4 * 0.5 * (1.0 - np.cos(np.radians(AT)))
    up, down = 1e5 * (5e-4 / volume) ** 1.3, 3e5 * (5e-4 / volume) ** 1.3
    p = np.where(AT < 180.0, down, np.where(AT >= 540.0, up, 1e5))
    found = indicated(np.array([p, 1.02 * p, 0.98 * p]), p, volume, 130.0)
    by_hand = 2e5 * 5e-4 * (10.0**0.3 - 1.0) / 0.3 / 4.5e-4
    assert found.gross[0] == pytest.approx(by_hand, rel=2e-3)
    assert found.imep[0] == pytest.approx(by_hand, rel=5e-3)
    assert found.variation == pytest.approx(0.02, rel=1e-3)
    assert found.exponents == pytest.approx((1.3, 1.3), abs=1e-6)


def test_the_burn_is_fitted_into_the_engine_file(tmp_path, engine):
    """A burn 5 deg later than the file says, in the lab's file: --fit burn writes it."""
    section = "\ntraces:\n  channels:\n    p cyl: {place: cylinder}\n"
    path = tmp_path / "engine.yaml"
    path.write_text(CLASSROOM.read_text() + section)
    late = burning(engine, ca50=engine.combustion.ca50 + 5.0, ca50_scatter=0.0)
    model = predicted(late, 3000.0, CYLINDER)
    readings = noisy(model.signals[0], 8, np.random.default_rng(2))
    angle = np.arange(readings.size) * 0.5
    rows = "".join(f"{a:.1f},{p / 1e3:.4f}\n" for a, p in zip(angle, readings.ravel(), strict=True))
    (tmp_path / "lab.csv").write_text("crank angle [deg],p cyl [kPa]\n" + rows)
    data = ["--measured", tmp_path / "lab.csv", "--fit", "burn"]
    out = tmp_path / "o"
    found = command("trace", path, "--rpm", "3000", *data, out=out, only_given=False)
    assert found.code == 0, found.complaints
    assert "fitted: combustion: {ca50: " in found.said
    fitted = aircolumn.load(out / "engine-fitted.yaml").engine.combustion
    assert fitted.ca50 == pytest.approx(late.combustion.ca50, abs=0.15)
    assert fitted.reference_speed == 3000.0
    assert fitted.ca50_scatter < 0.2
    over_volume, share = found.pictures["trace-3000-measured-cylinder.png"].axes
    assert over_volume.get_xscale() == over_volume.get_yscale() == "log"
    assert share.lines[-2].get_xdata()[1] == pytest.approx(engine.combustion.ca50, abs=0.1)  # the model's
    said = command("trace", path, "--rpm", "3000", *data, "--json", out=tmp_path / "p", only_given=False)
    plain = json.loads(said.said)["result"]["cylinder"]
    assert plain["burned_10_50_90"][1] == pytest.approx(late.combustion.ca50, abs=0.15)
    assert plain["imep_variation"] < 0.01

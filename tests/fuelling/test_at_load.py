"""Filling over speed and load: the throttle where it gives the pressure; what VE means."""

import numpy as np
import pytest
from tests.conftest import CLASSROOM, DEMO

from aircolumn.engine.description.reader import load
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.errors import RequestError
from aircolumn.fuelling.at_load import Throttled, filling_at_load
from aircolumn.fuelling.filling import air_of, filling_of
from aircolumn.study.executors import Cores
from aircolumn.study.tasks import NAMES

RPM, LOADS = np.array([2000.0, 4500.0]), np.array([35e3, 60e3, 90e3, 102e3])


@pytest.fixture(scope="module")
def engine():
    one = load(CLASSROOM).engine
    return one.changed(numerics=one.numerics.changed(cell_scale=8.0))


@pytest.fixture(scope="module")
def found(engine, tmp_path_factory):
    from aircolumn.study.store import Store

    store = Store(tmp_path_factory.mktemp("load") / "points.sqlite")
    yield filling_at_load(Throttled(engine, None), RPM, LOADS, False, store, Cores())
    store.close()


def test_every_pressure_is_as_asked_or_marked(found):
    """Within 0.2 kPa; what the open throttle does not give is marked."""
    pressure = found.figures["plenum_pressure"]
    assert np.abs(pressure - LOADS)[found.reached] == pytest.approx(0.0, abs=200.0)
    assert found.reached[:, :3].all()
    assert not found.reached[:, 3].any()
    assert np.isnan(found.figures["ve"][:, 3]).all()
    assert np.all(found.open["plenum_pressure"] < 102e3)
    assert np.all(np.diff(found.angle[:, :3], axis=1) > 0.0)


def test_a_cell_is_the_point_at_its_angle(found, engine):
    """From rest, cycles repeating ten times as well."""
    at = Throttled(engine, None).at(found.angle[1, 1])
    strict = at.changed(numerics=at.numerics.changed(repeat_within=1e-4))
    point = operating_point(strict, 4500.0)
    assert found.figures["ve"][1, 1] == pytest.approx(point.figures["ve"], rel=0.003)
    assert found.figures["residual"][1, 1] == pytest.approx(point.figures["residual"], rel=0.01)


def test_what_ve_means_by_hand(found, engine):
    """Of one cell: the air drawn in, over what each reference would fill of the swept volume."""
    f = {name: values[:1, 1:2] for name, values in found.figures.items()}
    swept = np.pi / 4 * engine.block.bore**2 * engine.block.stroke
    air = float(air_of(f, engine, np.array([[2000.0]]))[0, 0])
    assert air == pytest.approx(float(f["air_flow"][0, 0]) / (2000.0 / 120.0))
    ambient = engine.intake.ambient
    outside = float(f["ve_delivered"][0, 0]) / air * swept  # swept volume over its mass of air
    constant = outside * ambient.pressure / ambient.temperature  # of moist air
    assert constant == pytest.approx(287.05, rel=0.01)
    pm, tm = float(f["plenum_pressure"][0, 0]), float(f["plenum_temperature"][0, 0])
    by_hand = air * constant * tm / (pm * swept)
    assert float(filling_of(f, engine, "manifold")[0, 0]) == pytest.approx(by_hand, rel=1e-9)
    assert filling_of(f, engine, "ambient") == pytest.approx(f["ve_delivered"])
    fresh = filling_of(f, engine, "fresh")
    assert fresh == pytest.approx(f["ve_plenum"] * f["ve_delivered"] / f["ve"])
    # Little else than air is in the plenum: the two references are close.
    assert float(fresh[0, 0]) == pytest.approx(by_hand, rel=0.03)


def test_by_throttle_opening(engine, store):
    at = filling_at_load(Throttled(engine, None), RPM[:1], np.array([0.15, 0.4, 1.0]), True, store, Cores())
    assert at.angle[0] == pytest.approx([13.5, 36.0, 90.0])
    assert np.all(np.diff(at.figures["plenum_pressure"][0]) > 0.0)
    assert set(at.figures) == set(NAMES)


def test_an_engine_without_throttle_is_refused(engine):
    with pytest.raises(RequestError, match=r"needs intake.throttle and intake.plenum"):
        Throttled(engine.with_intake(throttle=None), None)


def test_the_demo_has_what_is_needed():
    assert Throttled(load(DEMO).engine, None).opened(0.5) == 45.0

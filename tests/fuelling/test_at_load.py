"""Filling over speed and load: the throttle where it gives the pressure; what VE means."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import CLASSROOM, DEMO, ROOT

from aircolumn.engine.description.reader import load
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.errors import RequestError
from aircolumn.fuelling import at_load
from aircolumn.fuelling.at_load import LEAST_FILLING, MOST_RESIDUAL, Throttled, filling_at_load
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


def test_what_holds_too_much_burned_gas_is_marked(store, monkeypatch):
    """Made up: 7 % at 2000 rpm and 4.5 % at 4500 rpm."""
    monkeypatch.setattr(at_load, "MOST_RESIDUAL", 0.05)
    with made_up.in_place():
        found = filling_at_load(Throttled(load(DEMO).engine, None), RPM, LOADS[:3], False, store, Cores())
    assert found.reached.any(axis=1).tolist() == [False, True]


@pytest.mark.slow
def test_where_most_of_the_charge_is_burned_gas_nothing_is_told(store):
    """Much overlap, a low speed: at 70 kPa the cylinders are filled from the exhaust."""
    one = load(ROOT / "configs" / "student-four.yaml").with_runner("short")
    coarse = one.changed(numerics=one.numerics.changed(cell_scale=8.0))
    loads = np.array([70e3, 95e3])
    found = filling_at_load(Throttled(coarse, None), np.array([3000.0]), loads, False, store, Cores())
    assert found.reached.tolist() == [[False, True]]
    assert found.figures["residual"][0, 1] < MOST_RESIDUAL
    assert np.isnan(found.figures["ve"][0, 0])


@pytest.mark.parametrize("rpm", [3000.0, 6000.0])
def test_the_least_area_is_choked_by_what_is_left_to_draw(engine, rpm):
    """Isentropic flow through a throat as CoolProp has it for air, against the air that LEAST_FILLING of the
    lowest pressure is."""
    from CoolProp.CoolProp import PropsSI

    throttled = Throttled(engine, None)
    least = throttled.area(throttled.down_from_open(rpm, 60e3)[-1])
    air = engine.intake.ambient
    state = ("P", air.pressure, "T", air.temperature, "Air")
    h, s = (PropsSI(name, *state) for name in ("H", "S"))
    down = np.linspace(0.4, 0.7, 301) * air.pressure
    density, enthalpy = (PropsSI(name, "P", down, "S", s, "Air") for name in ("D", "H"))
    flux = density * np.sqrt(2.0 * (h - enthalpy))
    swept = np.pi / 4 * engine.block.bore**2 * engine.block.stroke * engine.block.cylinders
    drawn = LEAST_FILLING * 60e3 / air.pressure * PropsSI("D", *state) * swept * rpm / 120.0
    assert throttled.throttle.discharge_coefficient * least * max(flux) == pytest.approx(drawn, rel=5e-3)

"""What an engine file means where it says nothing: a changed default is a changed result of every
file that relies on it, so each is written out here."""

import json

import pytest
from tests.frozen_defaults import FILE, defaults

from aircolumn.engine.description.reader import load

LEAST = """\
engine: {cylinders: 1, bore: 86 mm, stroke: 86 mm, rod: 143.5 mm, compression_ratio: 9.0}
intake:
  runner: {length: 400 mm, bore: 40 mm, wall_temperature: 30 degC}
  port: {length: 80 mm, bore: 40 mm, wall_temperature: 70 degC}
  valve:
    diameter: 40 mm
    opens_btdc: 4 deg
    closes_abdc: 48 deg
    lift: {maximum: 9 mm, events_at: 0.2 mm}
    discharge: {lift_ratio: [0.05, 0.3], forward: [0.7, 0.5]}
exhaust:
  valve:
    diameter: 33 mm
    opens_bbdc: 44 deg
    closes_atdc: 6 deg
    lift: {maximum: 9 mm, events_at: 0.2 mm}
    discharge: {lift_ratio: [0.05, 0.3], forward: [0.7, 0.5]}
  port: {length: 70 mm, bore: 36 mm, wall_temperature: 250 degC}
  primary: {length: 500 mm, bore: 36 mm, wall_temperature: 400 degC}
mixture: {relative_air_fuel_ratio: 0.9, delivery: port}
"""
#: place: {key: default, SI and degrees}
DEFAULTS = {
    "": {"title": "", "model": None, "cam": None},
    "block": {"pin_offset": 0.0, "firing_order": None, "firing_angles": None},
    "intake": {"throttle": None, "plenum": None},
    "intake.ambient": {"pressure": 101325.0, "temperature": 298.15, "humidity": 0.0},
    "intake.runner": {
        "roughness": 2e-5,
        "friction_factor": 1.0,
        "heat_factor": 2.0,
        "lengths": None,
        "surroundings": None,
    },
    "intake.runner.entry": {
        "shape": "flanged",
        "radius": None,
        "loss": None,
        "end_correction": True,
        "free": False,
        "wall_thickness": 0.0015,
    },
    "intake.valve": {"count": 1, "stem": 0.006, "seat_angle": 45.0, "seat_width": 0.0015},
    "intake.valve.lift": {"rocker_ratio": 1.0, "lash": 0.0, "events_lift": 2e-4},
    "intake.valve.discharge": {"factor": 1.0, "reference": "curtain", "reverse": None, "with_port": None},
    "exhaust": {"collector": None},
    "exhaust.outlet": {"pressure": None, "temperature": 600.0},
    "mixture": {
        "charge_cooling": None,
        "evaporated": None,
        "heating_value": None,
        "latent_heat": None,
        "injection_start": 300.0,
        "injection_duration": 60.0,
    },
    "mixture.fuel": {"name": "gasoline"},
    "mixture.burnt": {
        "heating_value": 43.1e6,
        "latent_heat": 350e3,
        "carbon": 8.26,
        "hydrogen": 15.5,
        "oxygen": 0.0,
    },
    "rings": {"leak_area": None, "crevice_volume": None},
    "combustion": {
        "ca50": 8.0,
        "duration_10_90": 25.0,
        "ca50_scatter": 3.0,
        "reference_speed": None,
        "speed_exponent": 0.3,
        "mixture_exponent": 0.5,
        "zones": 2,
        "residual_factor": 0.0,
        "form": 2.0,
        "efficiency": 0.985,
    },
    "cylinder_walls": {
        "model": "woschni",
        "factor": 1.0,
        "exchange_factor": 1.0,
        "head": 470.0,
        "piston": 500.0,
        "liner": 410.0,
    },
    "friction": {"constant": 0.5e5, "peak_pressure": 0.005, "speed": 0.06e5, "speed_squared": 0.0008e5},
    "speeds": {
        "start": 1500.0,
        "stop": 6000.0,
        "step": 500.0,
        "interest_from": None,
        "interest_to": None,
        "locate_within": 25.0,
        "most_added": 40,
    },
    "numerics": {
        "intake_cell": None,
        "exhaust_cell": None,
        "courant": 0.9,
        "method": "conservative",
        "repeat_within": 5e-4,
        "most_cycles": 300,
    },
    "pull": {
        "columns": {},
        "stated": None,
        "barometer": None,
        "inlet_air": None,
        "humidity": None,
        "altitude": None,
        "step": 250.0,
    },
    "pull.bands": {
        "air_fuel_ratio": 0.1,
        "spark": 0.5,
        "coolant": 5.0,
        "oil": 8.0,
        "inlet_air": 3.0,
        "barometer": 1e3,
        "sweep_rate": 0.1,
    },
    "pull.accuracy": {"torque": 0.005, "air_flow": 0.01, "barometer": 300.0},
}


@pytest.fixture(scope="module")
def least(tmp_path_factory):
    path = tmp_path_factory.mktemp("least") / "engine.yaml"
    path.write_text(LEAST)
    return load(path).engine


@pytest.mark.parametrize("place", DEFAULTS)
def test_defaults(least, place):
    part = least
    for name in filter(None, place.split(".")):
        part = getattr(part, name)
    for key, value in DEFAULTS[place].items():
        assert getattr(part, key) == value, f"{place}.{key}"
        assert type(getattr(part, key)) is type(value)


def test_throttle_and_bench(tmp_path):
    text = LEAST.replace(
        "intake:\n", "intake:\n  throttle: {bore: 55 mm}\n  plenum: {volume: 8 L}\n", 1
    ).replace(
        "discharge: {lift_ratio: [0.05, 0.3], forward: [0.7, 0.5]}",
        "discharge: {bench: {depression: 28 inH2O, lift: [2 mm, 8 mm], flow: [30 L/s, 80 L/s]}}",
        1,
    )
    (tmp_path / "engine.yaml").write_text(text)
    intake = load(tmp_path / "engine.yaml").engine.intake
    throttle, bench = intake.throttle, intake.valve.discharge.bench
    assert (throttle.shaft, throttle.angle, throttle.closed_angle) == (0.01, 90.0, 0.0)
    assert throttle.discharge_coefficient == 0.85
    assert intake.valve.discharge.holds_port
    assert (bench.pressure, bench.temperature, bench.reverse_flow) == (101325.0, 293.15, None)


def test_cells_follow_the_cylinder(least):
    """12 mm and 20 mm from 450 cm3 up; below, as the cube root of the swept volume."""
    assert least.cells == (0.012, 0.020)
    small = least.changed(block=least.block.changed(bore=0.04, stroke=0.04))
    swept = 3.141592653589793 / 4 * 0.04**3
    scale = (swept / 450e-6) ** (1 / 3)
    assert small.cells == pytest.approx((0.012 * scale, 0.020 * scale))


@pytest.mark.parametrize(
    ("delivery", "fuel", "vapour", "charge"),
    [
        ("premixed", "gasoline", 0.6, 0.1),
        ("premixed", "methane", 1.0, 0.1),
        ("port", "gasoline", 0.0, 0.1),
        ("direct", "gasoline", 0.0, 0.9),
    ],
)
def test_delivery(tmp_path, delivery, fuel, vapour, charge):
    """Shares of the fuel that come as vapour, and of the latent heat that the charge supplies."""
    text = LEAST.replace("delivery: port", f"delivery: {delivery}, fuel: {fuel}")
    (tmp_path / "engine.yaml").write_text(text)
    mixture = load(tmp_path / "engine.yaml").engine.mixture
    assert (mixture.vapour_share, mixture.from_charge) == (vapour, charge)


def test_leak_and_port(least):
    """2 mm2 of leak to a metre of bore; coefficients of a table do not hold the port."""
    assert least.rings.area(0.086) == pytest.approx(0.172e-6)
    assert not least.intake.valve.discharge.holds_port


def test_no_default_has_changed():
    """Of all keys; made anew by: python -m tests.frozen_defaults"""
    assert defaults() == json.loads(FILE.read_text(encoding="utf-8"))

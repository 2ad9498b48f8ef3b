"""Branches in engines: what no choice of angle or model may change, and ledgers that close."""

import numpy as np
import pytest
from tests.conftest import DEMO, throttled
from tests.engine.test_log_plenum import log_engine

import aircolumn
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.flow.ends.legs import PIPE, law, with_total

PRIMARY = "  primary:"
POT = "plenum: {volume: 6 L}"
#: as much, so wide that its air hardly moves
WIDE = (
    "plenum: {log: {length: 84.88 mm, bore: 300 mm, runners_at: [42.44 mm, 42.44 mm, 42.44 mm,"
    " 42.44 mm], wall_temperature: 25 degC, heat_factor: 0, friction_factor: 0}}"
)
SLIM = (
    ("bore: {from: 46 mm, to: 42 mm}", "bore: {from: 40 mm, to: 37 mm}"),
    ("entry: {shape: bellmouth, radius: 8 mm}", "entry: {shape: flanged}"),
    ("bore: {to: 38 mm}", "bore: {to: 36 mm}"),
)


def collected(folder, angle):
    """The demo with its primaries in one collector that they enter at ``angle``."""
    rows = DEMO.read_text().splitlines()
    k = next(i for i, row in enumerate(rows) if row.startswith(PRIMARY))
    rows.insert(
        k + 1, f"  collector: {{length: 900 mm, bore: 55 mm, angle: {angle}, wall_temperature: 350 degC}}"
    )
    path = folder / "collected.yaml"
    path.write_text("\n".join(rows) + "\n")
    return aircolumn.load(path).engine


@pytest.mark.parametrize("rpm", [3500.0, 5500.0])
def test_primaries_that_go_straight_on(tmp_path, rpm):
    """0 degrees is the limit of small angles, and conserves."""
    straight, nearly = (
        operating_point(collected(tmp_path, angle), rpm).figures for angle in ("0 deg", "0.01 deg")
    )
    assert straight["mass_error"] < 1e-11
    assert straight["energy_error"] < 1e-11
    assert straight["ve"] == pytest.approx(nearly["ve"], rel=1e-4)
    assert straight["torque"] == pytest.approx(nearly["torque"], rel=1e-4)


def test_a_log_that_should_equal_the_pot_does(tmp_path):
    """300 mm wide and 85 mm long it has next to no sound of its own: mouths lose alike on both."""
    text = DEMO.read_text()
    for old, new in SLIM:
        assert old in text
        text = text.replace(old, new)
    found = []
    for plenum in (POT, WIDE):
        path = tmp_path / "engine.yaml"
        path.write_text(text.replace(POT, plenum) + "model: manifold\n")
        engine = aircolumn.load(path).with_runner("middle")
        found.append([operating_point(engine, rpm).figures["ve"] for rpm in (3500.0, 5500.0)])
    assert found[1] == pytest.approx(found[0], rel=1e-3)


def test_ledger_of_a_throttled_log_closes(tmp_path):
    """Its contents are moved between cycles; nothing is lost where it meets the runners."""
    point = operating_point(throttled(log_engine(tmp_path), 25.0), 3000.0)
    assert point.figures["ve"] < 0.8
    assert point.figures["mass_error"] < 1e-11
    assert point.figures["energy_error"] < 1e-11


@pytest.mark.parametrize("along", [-120.0, 0.0, 60.0, 180.0])
@pytest.mark.parametrize("rise", [0.0, 3000.0])
def test_law_of_a_pipe_has_no_jump(along, rise):
    """Its pressure falls or rises smoothly with the speed, and its slope is what is said."""
    mixture, part = (287.05 * 300.0, 0.4 / 1.4, 316.0), 0.005
    w, stream = np.linspace(0.0, 310.0, 6001), with_total(*mixture[:2], along)
    p, slope = np.array([law(PIPE, 1e5, mixture, (along, 0.0, rise), stream, part, v) for v in w]).T
    assert np.abs(np.diff(p)).max() < 40.0  # Pa a step of 0.05 m/s: at most rho w
    off = np.abs(np.gradient(p, w) - slope)[1:-1]
    assert np.sort(off)[-5:].max() < 40.0  # at the corner where nothing turns off any more
    assert np.sort(off)[:-4].max() < 0.05


@pytest.mark.parametrize("loss", [0.04, 0.5])
def test_a_mouth_never_gains(loss):
    """Stagnation pressure at most that of the duct, whatever the angle brings back."""
    mixture, cp = (287.05 * 300.0, 0.4 / 1.4, 316.0), 1004.675
    for turned in (-2.0, 0.0, 0.5, 1.0):
        for w in np.linspace(5.0, 310.0, 40):
            p, _ = law(loss, 1e5, mixture, (0.0, turned, 0.0), (0.0, 0.0, 1.0, 1.0), 0.0, w)
            t = 300.0 - w * w / (2.0 * cp)
            total = p * (300.0 / t) ** 3.5
            density = p / (287.05 * t)
            speed = w * density / (1e5 / mixture[0])  # in a duct as wide, all of it turned off
            assert total <= 1e5 + max(turned, 0.0) * 0.5 * 1e5 / mixture[0] * speed**2 + 1e-6

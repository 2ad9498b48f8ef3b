"""Injectors by hand."""

import numpy as np
import pytest
from tests.conftest import DEMO

from aircolumn.engine.description.fuelling import Fuelling, Injectors
from aircolumn.engine.description.reader import load
from aircolumn.fuelling.metering import dead_time, metered, rated_flow

FLOW = {"flow": "240 g/min"}


def injectors(**keys):
    return Injectors.model_validate({**FLOW, **keys})


def test_pulse_and_duty_by_hand():
    """480 mg of air at lambda 0.9 and 14.6: 36.5 mg; at 4 g/s 9.13 ms, and 0.9 ms shut, of 20 ms a cycle."""
    engine = load(DEMO).engine
    ratio = engine.mixture.stoichiometric_ratio
    assert ratio == pytest.approx(14.6, abs=0.15)
    air, manifold = np.array([[480e-6, 120e-6]]), np.array([[98e3, 40e3]])
    found = metered(engine, injectors(), air, manifold, np.array([6000.0]), np.full((1, 2), 0.9))
    fuel = 480e-6 / (0.9 * ratio)
    assert found.fuel[0, 0] == pytest.approx(fuel)
    assert found.pulse[0, 0] == pytest.approx(fuel / 4e-3 + 0.9e-3)
    assert found.duty[0, 0] == pytest.approx((fuel / 4e-3 + 0.9e-3) / 0.02)
    assert found.worst == (0, 0)
    # At the size that is told the duty is just what is allowed.
    open_for = fuel / found.size
    assert (open_for + 0.9e-3) / 0.02 == pytest.approx(0.85)


def test_flow_goes_with_the_root_of_the_pressure_across():
    """Kept 300 kPa above the open air, 99 kPa, a manifold of 40 kPa has 359 kPa across."""
    engine = load(DEMO).engine
    air, rpm, target = np.full((1, 1), 1e-4), np.array([2000.0]), np.ones((1, 1))

    def pulse(**keys):
        found = metered(engine, injectors(**keys), air, np.full((1, 1), 40e3), rpm, target)
        return float(found.pulse[0, 0]) - 0.9e-3

    assert pulse(regulated_to="air") == pytest.approx(pulse() * np.sqrt(300.0 / 359.0))
    assert pulse(rail="400 kPa") == pytest.approx(pulse() * np.sqrt(3.0 / 4.0))
    assert pulse(per_cylinder=2) == pytest.approx(0.5 * pulse())


def test_flow_by_volume_and_dead_times():
    by_volume = Injectors.model_validate({"volume_flow": "300 cc/min", "fluid_density": "690 kg/m3"})
    assert rated_flow(by_volume) == pytest.approx(300e-6 / 60.0 * np.sqrt(690.0 * 745.0))
    table = {"dead_times": ["1.4 ms", "0.8 ms"], "voltages": ["10 V", "14 V"], "battery": "12 V"}
    assert dead_time(injectors(**table)) == pytest.approx(1.1e-3)
    assert dead_time(injectors(**table, dead_time="3 ms")) == pytest.approx(1.1e-3)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"injectors": {}}, "give flow or volume_flow"),
        ({"injectors": {**FLOW, "dead_times": ["1 ms"]}}, "one of dead_times for each of voltages"),
        (
            {"injectors": {**FLOW, "dead_times": ["1 ms", "2 ms"], "voltages": ["14 V", "10 V"]}},
            "voltages must rise",
        ),
        ({"speeds": ["3000 rpm", "2000 rpm"]}, "speeds must rise"),
        ({"pressures": ["30 kPa", "50 kPa"], "openings": ["5 %", "50 %"]}, "give pressures or openings"),
    ],
)
def test_wrong_keys(keys, said):
    with pytest.raises(ValueError, match=said):
        Fuelling.model_validate(keys)

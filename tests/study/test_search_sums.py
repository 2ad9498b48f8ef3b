"""How well an aim is known by its speeds, and that speeds are put between where it is not."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.studies import analytic
from tests.study.test_search import searched
from tests.study.test_search_limits import told

from aircolumn.questions.aims import Aim, check_aim, value_of
from aircolumn.questions.search.sums import denser, error_of, with_needed

RPM = np.arange(2000.0, 5001.0, 250.0)


def test_the_error_of_a_mean_against_the_integral():
    """Of a parabola straight lines miss h^2/12 of the second derivative: told to a per cent of that."""
    aim = check_aim(Aim(), RPM, None)
    torque = 200.0 - 30.0 * ((RPM - 3400.0) / 1000.0) ** 2
    fine = np.linspace(2000.0, 5000.0, 200_001)
    exact = value_of(aim, fine, 200.0 - 30.0 * ((fine - 3400.0) / 1000.0) ** 2)
    off = abs(value_of(aim, RPM, torque) - exact)
    assert off == pytest.approx(60.0 * 0.25**2 / 12.0, rel=1e-3)
    assert error_of(aim, RPM, torque) == pytest.approx(off, rel=0.01)


def test_where_there_are_too_few_speeds_nothing_is_claimed():
    few = RPM[:4]
    assert np.isnan(error_of(check_aim(Aim(), few, None), few, np.full(4, 200.0)))


def test_speeds_at_which_something_is_read_are_computed():
    at = Aim.model_validate({"of": "torque", "at": "3137 rpm"})
    assert 3137.0 in with_needed(RPM, [at])
    assert error_of(at, RPM, np.sin(RPM)) == 0.0
    assert denser(np.array([1000.0, 1500.0, 2000.0]), 1500.0, 2000.0).tolist() == [1000, 1500, 1750, 2000]


def narrow(rpm, length):
    """A hump 260 rpm wide whose speed goes with the length, on a slope that favours short runners: speeds
    500 rpm apart see it or not by chance."""
    at = 4600.0 - 4.0 * (length - 300.0)
    return 200.0 + 60.0 * np.exp(-(((rpm - at) / 260.0) ** 2)) + 1e-3 * (rpm - 3000.0)


NARROW = f"""engine: {DEMO}
vary:
  intake.runner.length: {{from: 300 mm, to: 600 mm}}
speeds: {{from: 3000 rpm, to: 5000 rpm, step: 500 rpm}}
search: {{aim: {{of: AIM, FROM}}, evaluations: 30}}
"""


@pytest.mark.parametrize("of", ["peak_torque", "mean_torque, from: 3000 rpm, to: 4200 rpm"])
def test_a_hump_between_speeds_does_not_fall_out(of, tmp_path, monkeypatch):
    """The best at speeds 500 rpm apart is another than at speeds 10 rpm apart; with those put between, what
    is found is worth what the true best is within what is told."""
    analytic(monkeypatch, narrow)
    text = NARROW.replace("AIM, FROM", of)
    found, said = told(tmp_path, text)
    aim = check_aim(Aim.model_validate(_as_keys(of)), np.arange(3000.0, 5001.0, 500.0), None)
    fine = np.arange(3000.0, 5001.0, 10.0)
    true = {length: value_of(aim, fine, narrow(fine, length)) for length in np.arange(300.0, 601.0, 2.0)}
    best = max(true.values())
    got = value_of(aim, fine, narrow(fine, found.values[0]))
    assert got >= best - 0.5
    assert abs(found.best.aims[0] - got) <= max(3.0 * found.errors[0], 0.1)
    assert len(found.best.rpm) > 5
    assert "of them put between for the best" in said


def _as_keys(of):
    name, *more = of.split(", ")
    return {"of": name, **dict(pair.split(": ") for pair in more)}


def test_speeds_enough_are_left_as_they_are(tmp_path, monkeypatch):
    """A smooth curve at 125 rpm: nothing is put between."""
    analytic(
        monkeypatch,
        lambda rpm, length: 200.0 - ((length - 450.0) / 50.0) ** 2 - ((rpm - 3400.0) / 1000.0) ** 2,
        stands=lambda rpm, _: np.full_like(rpm, 190.0),
    )
    text = NARROW.replace("step: 500", "step: 125").replace("AIM, FROM", "mean_torque")
    found = searched(tmp_path, text)
    assert len(found.best.rpm) == 17
    assert found.errors[0] < 0.01

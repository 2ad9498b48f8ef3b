"""Correction standards: their ranges, conversion between them, and the command."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aircolumn.cli import main
from aircolumn.measured.atmosphere import (
    STANDARDS,
    STATEMENTS,
    Atmosphere,
    convert,
    factor,
    pressure_at_altitude,
    warnings,
)

AIR = st.builds(Atmosphere, st.floats(60e3, 110e3), st.floats(263.0, 318.0), st.floats(0.0, 1.0))


@given(air=AIR, a=st.sampled_from(STATEMENTS), b=st.sampled_from(STATEMENTS))
def test_converting_there_and_back_changes_nothing(air, a, b):
    assert convert(convert(200.0, a, b, air), b, a, air) == pytest.approx(200.0, rel=1e-12)


@given(air=AIR, name=st.sampled_from(list(STANDARDS)))
def test_thinner_and_warmer_air_is_corrected_upwards(air, name):
    thinner = Atmosphere(0.98 * air.pressure, air.temperature, air.humidity)
    warmer = Atmosphere(air.pressure, air.temperature + 5.0, air.humidity)
    assert factor(name, thinner) > factor(name, air)
    assert factor(name, warmer) > factor(name, air)


def test_warns_outside_what_the_standard_allows():
    fine = Atmosphere(98e3, 298.15, 0.3)
    assert all(not warnings(name, fine) for name in STANDARDS)
    high_up = Atmosphere(85e3, 298.15, 0.3)  # 1450 m
    assert any("dry pressure" in w for w in warnings("j1349", high_up))
    assert any("factor" in w for w in warnings("iso1585", high_up))
    hot = Atmosphere(np.array([98e3, 98e3]), np.array([298.15, 312.0]), 0.3)
    assert all(any("temperature" in w for w in warnings(name, hot)) for name in STANDARDS)
    assert warnings("observed", high_up) == []
    assert any(
        "pressure 111 kPa is outside 80 to 110 kPa" in w
        for w in warnings("iso1585", Atmosphere(111e3, 298.15, 0.0))
    )
    climbing = Atmosphere(np.array([85e3, 98e3, 98e3]), 298.15, 0.0)
    (told,) = (w for w in warnings("j1349", climbing) if "dry pressure" in w)
    assert told.endswith("dry pressure 85 kPa is outside 90 to 105 kPa")


def test_command_converts_between_standards(capsys):
    at = ["--pressure", "97.5 kPa", "--temperature", "30 degC", "--humidity", "40 %"]
    assert main(["atmosphere", "108.372 lbf ft", "--stated", "j607", *at]) == 0
    printed = capsys.readouterr().out
    assert "104.96 lbf ft" in printed
    assert "100 lbf ft" in printed


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["250", "--pressure", "97 kPa", "--temperature", "30 degC"], "not a torque or power"),
        (["250 kg", "--pressure", "97 kPa", "--temperature", "30 degC"], "not a torque or power"),
        (["250 N m", "--pressure", "97", "--temperature", "30 degC"], "97 kPa"),
        (["250 N m", "--pressure", "97 kPa", "--temperature", "300 degC"], "-50 to 60 degC"),
        (["9 N m", "--pressure", "97 kPa", "--temperature", "3 degC", "--stated", "x"], "j607"),
    ],
)
def test_wrong_requests(arguments, said, capsys):
    assert main(["atmosphere", *arguments]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(("altitude", "pressure"), [(0.0, 101325.0), (1000.0, 89875.0), (2000.0, 79495.0)])
def test_standard_atmosphere(altitude, pressure):
    """ISO 2533, table 1."""
    assert pressure_at_altitude(altitude) == pytest.approx(pressure, rel=1e-4)

"""Peaks, crossings and means; units."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from aircolumn.curves.humps import humps
from aircolumn.curves.interest import Range
from aircolumn.curves.speeds import speeds_of
from aircolumn.curves.summary import crossings, peak
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.units import split_quantity, to_si
from aircolumn.errors import RequestError

RPM = np.array([1000.0, 2000.0, 3000.0, 4000.0])


def test_peak():
    assert peak(RPM, [1, 4, 3, 2]).rpm == 2000


def test_crossings():
    assert crossings(RPM, [3, 3, 1, 1], [2, 2, 2, 2]) == [2500.0]
    assert crossings(RPM, [3, 2, 1, 1], [2, 2, 2, 2]) == [2000.0]
    assert crossings(RPM, [3, 3, 3, 3], [2, 2, 2, 2]) == []
    assert crossings(RPM, [3, 1, 3, 1], [2, 2, 2, 2]) == [1500.0, 2500.0, 3500.0]


def test_curves_on_each_other_do_not_cross():
    assert crossings(RPM, [3, 2.004, 1.996, 3], [2, 2, 2, 2]) == []
    (at,) = crossings(RPM, [3, 2.004, 1.996, 1], [2, 2, 2, 2])
    assert at == pytest.approx(2500.0)


def test_a_lead_counts_from_half_a_per_cent():
    assert crossings(RPM, [2.0104, 2, 2, 1.9], [2, 2, 2, 2]) == [3000.0]
    assert crossings(RPM, [2.0096, 2, 2, 1.9], [2, 2, 2, 2]) == []


@pytest.mark.parametrize(("text", "pascal"), [("28 inH2O", 28 * 249.08891), ("1 inHg", 3386.389)])
def test_columns_of_water_and_mercury(text, pascal):
    """At 4 degC and 0 degC, standard gravity (ASTM E380, from memory)."""
    assert to_si(text, "pressure") == pytest.approx(pascal, rel=1e-6)


@given(st.lists(st.floats(-10, 10), min_size=4, max_size=4), st.floats(-5, 5))
def test_mean_of_a_shifted_curve_shifts(values, shift):
    plain = Range.between(1500, 3700).mean(RPM, values)
    moved = Range.between(1500, 3700).mean(RPM, np.array(values) + shift)
    assert moved == pytest.approx(plain + shift, abs=1e-9)


def test_mean_of_a_line_and_range_check():
    assert Range.between(1500, 3500).mean(RPM, RPM) == pytest.approx(2500)
    with pytest.raises(ValueError, match="does not lie"):
        Range.between(500, 3500).mean(RPM, RPM)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("420 mm", "length", 0.42),
        ("30 in", "length", 0.762),
        ("600 cc", "volume", 6e-4),
        ("3.2 L", "volume", 3.2e-3),
        ("101.3 kPa", "pressure", 101300.0),
        ("28 inH2O", "pressure", 6974.5),
        ("29.92 inHg", "pressure", 101320.6),
        ("25 degC", "temperature", 298.15),
        ("77 degF", "temperature", 298.15),
        ("-5 degC", "temperature", 268.15),
        ("40 %", "share", 0.4),
        ("3500 rpm", "speed of rotation", 3500.0),
        ("44 MJ/kg", "specific energy", 44e6),
        ("12 deg", "angle", 12.0),
    ],
)
def test_units(text, kind, value):
    assert to_si(text, kind) == pytest.approx(value, rel=1e-4)


@given(st.text(max_size=30))
def test_any_text_is_a_number_or_a_clear_error(text):
    try:
        value = to_si(text, "length")
    except ValueError as error:
        value = 0.0 if str(error) else np.nan
    assert np.isfinite(value)


@pytest.mark.parametrize(
    ("rpm", "fits"), [(100.0, True), (99.9, False), (30000.0, True), (30000.5, False), (np.nan, False)]
)
def test_speeds_an_engine_turns_at(rpm, fits):
    if fits:
        assert list(check_speeds([rpm, 3000.0, 3000.0])) == sorted({rpm, 3000.0})
    else:
        with pytest.raises(RequestError):
            check_speeds([3000.0, rpm])


def test_what_is_no_number_is_shown_by_its_first_sixty_letters():
    with pytest.raises(ValueError, match="^'" + 60 * "x" + "' is not a number with a unit"):
        split_quantity(61 * "x")


@pytest.mark.parametrize(
    ("stop", "step", "due"),
    [
        (3000.0, 500.0, [1500, 2000, 2500, 3000]),
        (3100.0, 500.0, [1500, 2000, 2500, 3000, 3100]),
        (1500.0, 500.0, [1500]),
        (2000.0, 900.0, [1500, 2000]),
    ],
)
def test_speeds_of_a_file(demo, stop, step, due):
    """The last one too, and once."""
    speeds = demo.engine.speeds.changed(start=1500.0, stop=stop, step=step)
    assert list(speeds_of(demo.engine.changed(speeds=speeds))) == due


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("20 C", "temperature", "write '20 degC'"),
        ("68 F", "temperature", "write '68 degF'"),
        ("99 kpa", "pressure", "write '99 kPa'"),
        ("28 inh2o", "pressure", "write '28 inH2O'"),
        ("180 bhp", "power", "write '180 hp'"),
        ("69,6 mm", "length", "with a point, not a comma"),
    ],
)
def test_what_people_type_is_answered_with_the_right_spelling(text, kind, said):
    with pytest.raises(ValueError, match=re.escape(said)):
        to_si(text, kind)


def test_right_spellings_are_read():
    assert to_si("20 degC", "temperature") == pytest.approx(293.15)
    assert to_si("990 mbar", "pressure") == pytest.approx(99e3)
    assert to_si("28 inH2O", "pressure") == pytest.approx(28 * 249.08891)
    assert to_si("250 N m", "torque") == 250.0


@given(st.lists(st.integers(0, 6), min_size=1, max_size=14), st.sampled_from([0.5, 1.0, 2.0]))
def test_humps_are_those_of_scipy(values, prominence):
    y = np.array(values, dtype=float)
    assert humps(y, prominence) == list(find_peaks(y, prominence=prominence)[0])

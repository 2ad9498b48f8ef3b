"""What the public functions are given: an Engine or a Description, sizes and speeds that can be."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import CLASSROOM

import aircolumn
from aircolumn import RequestError
from aircolumn.curves.tuning.tuning_map import with_bore

DESCRIPTION = aircolumn.load(CLASSROOM)
ENGINE = DESCRIPTION.engine


@pytest.mark.parametrize(
    "ask",
    [
        lambda one: aircolumn.curve(one, [3000.0]).ve.values,
        lambda one: aircolumn.filling_account(one, [3000.0]).account.values,
        lambda one: aircolumn.tuning_map(one, [0.3, 0.4], [3000.0]).ve.values,
        lambda one: aircolumn.operating_point(one, 3000.0).figures["ve"],
        lambda one: aircolumn.with_length(one, 0.4).intake.runner.length,
        lambda one: aircolumn.trace(one, 3000.0).p.values,
    ],
    ids=["curve", "account", "map", "point", "length", "trace"],
)
def test_an_engine_or_a_description_will_do(ask):
    assert np.array_equal(ask(ENGINE), ask(DESCRIPTION))
    for wrong in ({"engine": 1}, None, "engine.yaml"):
        with pytest.raises(RequestError, match=r"an Engine or a Description \(aircolumn.load\) is expected"):
            ask(wrong)


@pytest.mark.parametrize(
    "ask",
    [
        lambda one: aircolumn.compare(one),
        lambda one: aircolumn.how_sure(one, [3000.0], "nowhere"),
        lambda one: aircolumn.measure(one, {}),
    ],
    ids=["compare", "bands", "pulls"],
)
def test_candidates_are_of_a_description(ask):
    with pytest.raises(RequestError, match=r"a Description \(aircolumn.load\) is expected, not an Engine: "):
        ask(ENGINE)


@pytest.mark.parametrize("length", [400.0, 0.0, -0.4, np.nan])
def test_a_length_that_no_runner_has(length):
    """400 was meant in mm: it was computed without an end."""
    with pytest.raises(RequestError, match="from 30 mm to 5 m is expected"):
        aircolumn.with_length(ENGINE, length)


def test_other_sizes_and_names_that_cannot_be():
    with pytest.raises(RequestError, match="from 10 mm to 200 mm is expected"):
        with_bore(ENGINE, 40.0)
    with pytest.raises(RequestError, match=r"no size 'with'.*length, bore"):
        aircolumn.tuning_map(ENGINE, [0.3, 0.4], vary="with")
    with pytest.raises(RequestError, match="a runner length of 400 m: from 30 mm to 5 m"):
        aircolumn.tuning_map(ENGINE, [0.3, 400.0])
    with pytest.raises(RequestError, match=r"no runner 'middel' \(did you mean 'middle'\?\)"):
        DESCRIPTION.with_runner("middel")


@pytest.mark.parametrize("rpm", [-100.0, 0.0, np.nan, 1e6])
def test_a_speed_at_which_no_engine_turns(rpm):
    for ask in (aircolumn.operating_point, aircolumn.trace):
        with pytest.raises(RequestError, match="engine speed"):
            ask(ENGINE, rpm)


def test_a_curve_to_explain_has_a_ve_for_each_speed():
    with made_up.in_place(), pytest.raises(RequestError, match="a VE for each speed"):
        aircolumn.explain(DESCRIPTION, [2000.0, 3000.0], [0.9])


def test_a_key_that_there_is_not_is_not_changed():
    with pytest.raises(RequestError, match="no key 'lenght' \\(did you mean 'length'\\?\\)"):
        ENGINE.intake.runner.changed(lenght=0.4)
    assert ENGINE.intake.runner.changed(length=0.4).length == 0.4

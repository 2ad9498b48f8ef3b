"""Roughness by how a pipe was made, against the tables of an independent library."""

import pytest
from tests.edited import demo_with

import aircolumn
from aircolumn.engine.description.make import ROUGHNESS
from aircolumn.engine.uncertain.inputs import assumed


def test_table_against_the_handbooks_of_fluids():
    friction = pytest.importorskip("fluids.friction", reason="fluids is not installed (test extra)")
    plain, ranges = friction._roughness, friction.HHR_roughness
    smooth = ranges["Seamless tubes made from brass, copper, lead, aluminum, Commercially smooth"]
    steel = ranges["Seamless steel tubes, New and unused"]
    due = {
        "drawn": smooth[:2],
        "machined": smooth[:2],
        "steel": steel[:2],
        "cast": (plain["Asphalted cast iron"], plain["Cast iron"]),
    }
    for make, (low, high) in due.items():
        assert ROUGHNESS[make] == pytest.approx((low * high) ** 0.5, rel=0.05), make


def test_make_takes_the_place_of_a_roughness(tmp_path):
    path = demo_with(
        tmp_path, ("bore: {from: 46 mm, to: 42 mm}", "bore: {from: 46 mm, to: 42 mm}\n    make: cast")
    )
    made = aircolumn.load(path)
    runner = made.engine.intake.runner
    assert runner.wall_values()["roughness"] == 1.8e-4
    assert runner.changed(roughness=1e-5).wall_values()["roughness"] == 1e-5
    rows = {r.one: r for r in assumed(made.candidates["long"])}
    by_make, unknown = rows["intake.runner.roughness by make"], rows["intake.runner.roughness"]
    assert by_make.values == {("intake", "runner", "roughness"): 1.8e-4}
    assert ("intake", "runner", "roughness") not in unknown.values
    assert unknown.half_width > 4 * by_make.half_width

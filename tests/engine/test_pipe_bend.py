"""The bend of a whole pipe: the same loss as that of a section, spread along it."""

import pytest
from tests.conftest import DEMO

from aircolumn import load
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.engine.model.piping import pipe_sections
from aircolumn.errors import InputError
from aircolumn.flow.duct.bends import bend_loss
from aircolumn.output.check.text import doubts

LINE = "    wall_temperature: 45 degC\n"


def bent(folder, keys, length=None):
    text = DEMO.read_text()
    assert LINE in text
    path = folder / "engine.yaml"
    path.write_text(text.replace(LINE, LINE + "".join(f"    {k}\n" for k in keys)))
    return load(path).engine


def test_loss_as_that_of_a_section(tmp_path):
    runner = bent(tmp_path, ["bend_angle: 90 deg", "bend_radius: 80 mm"]).intake.runner
    bore = 0.5 * (runner.first_bore + runner.last_bore)
    found = sum(c.bend for c in pipe_sections(runner, None))
    assert found == pytest.approx(bend_loss(90.0, 0.08, bore), rel=1e-9)


def test_radius_left_out_is_a_usual_one(tmp_path):
    one = bent(tmp_path, ["bend_angle: 90 deg"]).intake.runner
    bore = 0.5 * (one.first_bore + one.last_bore)
    assert sum(c.bend for c in pipe_sections(one, None)) == pytest.approx(bend_loss(90.0, 1.5, 1.0), rel=1e-9)
    assert bore > 0.0


def test_it_costs_filling_at_speed(tmp_path):
    straight = operating_point(bent(tmp_path, ["bend_angle: 0 deg"]), 5000.0).figures["ve"]
    turned = operating_point(bent(tmp_path, ["bend_angle: 180 deg"]), 5000.0).figures["ve"]
    assert 0.93 * straight < turned < 0.995 * straight


def test_a_long_straight_runner_is_doubted(tmp_path):
    assert any("without a bend" in said for said in doubts(load(DEMO).engine))
    assert not any("without a bend" in said for said in doubts(bent(tmp_path, ["bend_angle: 0 deg"])))


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (["bend_radius: 80 mm"], "bend_angle is missing"),
        (["bend_angle: 400 deg"], "at most 360 deg"),
    ],
)
def test_wrong_ones_are_told(tmp_path, keys, said):
    with pytest.raises(InputError, match=said):
        bent(tmp_path, keys)
